//! What the views are handed, tile by tile, is what the document looks like: after any edit, undo or
//! stroke, with all that is kept between them.

use std::collections::BTreeMap;
use std::sync::Mutex;

use brush::BrushSettings;
use document::MaterialId;
use editor::{Editor, EditorError, Settings};
use layers::{ChannelId, DisplayTile, Value};
use proptest::prelude::*;
use raster::{TileAt, Unobserved};

use crate::compared::whole_composite;
use crate::pen::{draw, samples, start, target};
use crate::random_edits::{Desk, op};

/// What a view holds of one material: the tiles that it was handed last.
#[derive(Default)]
struct View(Mutex<BTreeMap<(ChannelId, usize, TileAt), Vec<u16>>>);

impl View {
    /// Takes what changed, and gives how many tiles there were.
    fn show(&self, editor: &mut Editor, material: MaterialId) -> usize {
        let sink = |at: TileAt, tile: &DisplayTile| {
            let mut held = self.0.lock().unwrap();
            for channel in tile.channels() {
                for component in 0..3 {
                    if let Some(texels) = tile.component(channel, component) {
                        held.insert((channel, component, at), texels.to_vec());
                    }
                }
            }
        };
        editor.display(material, &sink).unwrap()
    }

    /// The greatest difference from the exact composite of what is shown, 1 being all of it.
    fn error(&self, editor: &Editor, material: MaterialId) -> f32 {
        let exact = whole_composite(editor.shown(), material);
        let held = self.0.lock().unwrap();
        let mut worst = 0.0_f32;
        for (id, channel) in &exact.channels {
            for (component, plane) in channel.values.iter().enumerate() {
                for at in plane.extent().tile_places() {
                    let (exact, shown) =
                        (plane.tile(at).read().unwrap(), &held[&(*id, component, at)]);
                    for (index, &value) in shown.iter().enumerate() {
                        let shown = f32::from(value) / f32::from(DisplayTile::ONE);
                        worst = worst.max((shown - raster::to_unit(exact.at(index))).abs());
                    }
                }
            }
        }
        worst
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_view_that_takes_only_what_changed_shows_the_document(
        ops in prop::collection::vec(op(), 10..25),
        tight in any::<bool>(),
    ) {
        let desk = Desk::new();
        let memory_bytes = if tight { 1 << 20 } else { 1 << 30 };
        let mut editor = desk.editor(Settings { memory_bytes, ..Settings::default() });
        let views = [View::default(), View::default()];
        for op in &ops {
            let edit = desk.edit(op, editor.document());
            let before = editor.document().materials.len();
            prop_assert!(editor.apply(&edit, &Unobserved).is_ok() || before == 2);
            if op.kind == 28 {
                editor.undo();
            }
            if op.kind > 23 {
                let layer = editor.document().materials[0].stack.ids().next();
                let painted = target(op.b.max(1), layer.map_or(0, |layer| layer.0));
                let brush = BrushSettings::default();
                if editor.begin_stroke(&painted, &start(0.06, brush), &Unobserved).is_ok() {
                    draw(&mut editor, &samples(op.x * 6.0, 12), &[5]);
                    views[0].show(&mut editor, MaterialId(0));
                    prop_assert!(views[0].error(&editor, MaterialId(0)) <= 1.0 / 4096.0);
                    editor.end_stroke().unwrap();
                }
            }
            if tight {
                editor.settle_and_wait().unwrap();
            }
            for (view, material) in views.iter().zip([0, 1].map(MaterialId)) {
                let sizes = |editor: &Editor| editor.document().materials[material.0 as usize].size;
                if op.kind == 8 && sizes(&editor).edge() == 64 {
                    view.0.lock().unwrap().clear();
                    editor.display_anew(material);
                }
                view.show(&mut editor, material);
                prop_assert!(view.error(&editor, material) <= 1.0 / 4096.0);
                prop_assert_eq!(view.show(&mut editor, material), 0);
            }
        }
    }
}

/// Every channel of one texel, taken out of the exact composite of all texels.
fn values_at(editor: &Editor, material: MaterialId, x: u32, y: u32) -> Vec<(ChannelId, Value)> {
    let exact = whole_composite(editor.shown(), material);
    let value = |(id, channel): (&ChannelId, &layers::ChannelComposite)| {
        let at = |plane: &raster::Plane| plane.texel(x, y).unwrap();
        let values: Vec<u16> = channel.values.iter().map(at).collect();
        let value = match values[..] {
            [red, green, blue] => Value::Colour([red, green, blue]),
            _ => Value::Scalar(values[0]),
        };
        (*id, value)
    };
    exact.channels.iter().map(value).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    #[test]
    fn the_values_of_a_texel_are_those_of_the_exact_composite_wet_or_dry(
        ops in prop::collection::vec(op(), 10..25),
        places in prop::collection::vec((0..64_u32, 0..64_u32), 8),
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let _refused = editor.apply(&desk.edit(op, editor.document()), &Unobserved);
        }
        let layer = editor.document().materials[0].stack.ids().next();
        let painted = target(7, layer.map_or(0, |layer| layer.0));
        if editor.begin_stroke(&painted, &start(0.2, BrushSettings::default()), &Unobserved).is_ok() {
            draw(&mut editor, &samples(3.0, 12), &[5]);
        }
        for material in [0, 1].map(MaterialId) {
            for &(x, y) in &places {
                let found = editor.texel_values(material, x, y).unwrap();
                prop_assert_eq!(found, values_at(&editor, material, x, y));
            }
        }
        let beyond = editor.texel_values(MaterialId(0), 0, 128);
        prop_assert!(matches!(beyond, Err(EditorError::NoTexel { edge: 64 | 128, .. })));
    }
}

#[test]
fn a_layer_that_was_made_ready_is_shown_no_otherwise() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let (view, material) = (View::default(), MaterialId(0));
    view.show(&mut editor, material);
    for layer in [0, 2] {
        let painted = target(7, layer);
        editor.make_ready(material, painted.layer, TileAt { x: 0, y: 0 }).unwrap();
        editor.wait_until_ready(material).unwrap();
        editor.begin_stroke(&painted, &start(0.08, BrushSettings::default()), &Unobserved).unwrap();
        draw(&mut editor, &samples(3.0, 20), &[4]);
        assert!(view.show(&mut editor, material) > 0);
        assert!(view.error(&editor, material) <= 1.0 / 4096.0);
        editor.end_stroke().unwrap();
        view.show(&mut editor, material);
        assert!(view.error(&editor, material) <= 1.0 / 4096.0);
    }
}
