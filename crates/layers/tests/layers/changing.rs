//! Which tiles a change touches: all that look other, and no more than the layer that changed covers.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, ChannelKind, Combine, Content, Isolation,
    Layer, LayerId, Mask, MaskSource, NoFields, PaintedCell, Value, changed_tiles,
};
use raster::{Plane, Tile, TileAt, TileSet};

use crate::bench::{Bench, extent, half, painted_term, rough, term};

/// A painted layer of full coverage in one tile only.
fn spot(id: u32, at: TileAt) -> Layer {
    let mut cell = PaintedCell::empty(ChannelKind::Scalar, extent());
    cell.coverage.set_tile(at, Tile::Uniform(u16::MAX));
    let content = Content::Painted(BTreeMap::from([(ChannelId::ROUGHNESS, cell)]));
    Layer::new(LayerId(id), "spot", content)
}

fn tiles(places: &[TileAt]) -> TileSet {
    let mut set = TileSet::none(extent());
    for &at in places {
        set.insert(at);
    }
    set
}

#[test]
fn a_layer_that_comes_goes_moves_or_changes_touches_only_its_own_tiles() {
    let [a, b] = [TileAt { x: 0, y: 1 }, TileAt { x: 1, y: 0 }];
    let base = || rough(0, 9);
    let before = Bench::new(vec![base(), spot(1, a), spot(2, b)]);
    let changed = |layers: Vec<Layer>| {
        let mut now = Bench::new(layers);
        // What did not change is shared, as an edit shares it.
        now.stack.layers[0] = Arc::clone(&before.stack.layers[0]);
        let (before, now) = (before.composition(&NoFields), now.composition(&NoFields));
        changed_tiles(&before, &now, ChannelId::ROUGHNESS)
    };
    let faint = Layer { opacity: half(), ..spot(2, b) };
    assert_eq!(changed(vec![base(), spot(1, a), faint]), tiles(&[b]));
    assert_eq!(changed(vec![base(), spot(1, a)]), tiles(&[b]));
    assert_eq!(changed(vec![base(), spot(1, a), spot(2, b), spot(3, a)]), tiles(&[a]));
    let swapped = changed(vec![base(), spot(2, b), spot(1, a)]);
    assert!(swapped == tiles(&[a]) || swapped == tiles(&[b]));
    assert_eq!(changed(vec![base(), spot(1, a), spot(2, b)]), tiles(&[]));
}

#[test]
fn a_solid_layer_under_a_mask_touches_only_where_the_mask_lets_it_through() {
    let at = TileAt { x: 1, y: 1 };
    let mut plane = Plane::uniform(extent(), 0);
    plane.set_tile(at, Tile::Uniform(50_000));
    let mut layer = rough(0, 9);
    layer.mask.terms.push(term(Combine::Multiply, MaskSource::Painted(plane)));
    let before = Bench::new(vec![layer.clone()]);
    let now = Bench::new(vec![Layer { opacity: half(), ..layer }]);
    let (before, now) = (before.composition(&NoFields), now.composition(&NoFields));
    assert_eq!(changed_tiles(&before, &now, ChannelId::ROUGHNESS), tiles(&[at]));
    assert!(changed_tiles(&before, &now, ChannelId::METALNESS).is_empty());
}

#[test]
fn the_ground_touches_every_tile_of_its_channel_and_the_blend_space_of_colours_only() {
    let before = Bench::new(vec![rough(0, 9)]);
    let mut ground = Bench::new(vec![rough(0, 9)]);
    ground.ground.insert(ChannelId::METALNESS, Value::Scalar(1));
    let mut linear = Bench::new(vec![rough(0, 9)]);
    linear.blend_space = BlendSpace::Linear;
    let changed = |now: &Bench, channel| {
        let (before, now) = (before.composition(&NoFields), now.composition(&NoFields));
        changed_tiles(&before, &now, channel).len()
    };
    assert_eq!(changed(&ground, ChannelId::METALNESS), 4);
    assert_eq!(changed(&ground, ChannelId::BASE_COLOUR), 0);
    assert_eq!(changed(&linear, ChannelId::BASE_COLOUR), 4);
    assert_eq!(changed(&linear, ChannelId::ROUGHNESS), 0);
}

/// Where the layer of these tests is painted.
const AT: TileAt = TileAt { x: 0, y: 1 };

type Change = fn(&mut Layer);

fn cell(layer: &mut Layer) -> &mut CellSettings {
    layer.cells.entry(ChannelId::ROUGHNESS).or_default()
}

fn painted(layer: &mut Layer) -> &mut PaintedCell {
    let Content::Painted(cells) = &mut layer.content else { panic!("a spot is painted") };
    cells.get_mut(&ChannelId::ROUGHNESS).unwrap()
}

fn mask() -> Mask {
    Mask { terms: vec![painted_term(Combine::Multiply, 30_000)] }
}

#[test]
fn each_part_of_a_layer_touches_its_tiles_when_it_changes_alone() {
    let changes: [(&str, Change); 9] = [
        ("values", |layer| painted(layer).values[0].set_tile(AT, Tile::Uniform(5))),
        ("coverage", |layer| painted(layer).coverage.set_tile(AT, Tile::Uniform(5))),
        ("visible", |layer| layer.visible = false),
        ("opacity", |layer| layer.opacity = half()),
        ("mask", |layer| layer.mask = mask()),
        ("cell on", |layer| cell(layer).on = false),
        ("cell opacity", |layer| cell(layer).opacity = half()),
        ("cell mask", |layer| cell(layer).mask = mask()),
        ("blend", |layer| cell(layer).blend = BlendMode::Screen),
    ];
    for isolation in [Isolation::Isolated, Isolation::PassThrough] {
        let scene = |layer| {
            let content = Content::Group { isolation, children: vec![Arc::new(layer)] };
            Bench::new(vec![Layer::new(LayerId(1), "group", content)])
        };
        let before = scene(spot(0, AT));
        for (what, change) in &changes {
            let mut layer = spot(0, AT);
            change(&mut layer);
            let now = scene(layer);
            let (before, now) = (before.composition(&NoFields), now.composition(&NoFields));
            let changed = changed_tiles(&before, &now, ChannelId::ROUGHNESS);
            assert_eq!(changed, tiles(&[AT]), "{what}");
        }
    }
}
