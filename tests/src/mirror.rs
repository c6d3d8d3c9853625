//! Paint fetched from across a plane.

use std::sync::Arc;

use brush::{Axis, BrushSettings, LeftOut, Mirror, Path, SurfacePath};
use document::{
    Deposit, LayerEdit, MaskAt, MaskOwner, MaterialEdit, NewTerm, NewTermSource, SelectMode, Shape,
    Step, Target,
};
use glam::DVec3;
use layers::{ChannelId, Combine, Content, LayerId, MaskSource, TermId};
use raster::TextureSize;
use surface::PartId;

use crate::compared::difference;
use crate::meshes::{cut_plane, plane};
use crate::selection::{Table, paint, texels};
use crate::strokes::stroke;

fn roughness() -> Target {
    Target::Cells(vec![ChannelId::ROUGHNESS])
}

fn mirror(at: f32, moves: bool) -> MaterialEdit {
    let mirror = Mirror { axis: Axis::X, at, moves, left_out: LeftOut::default() };
    let step = Step::Mirror { target: roughness(), mirror };
    MaterialEdit::Layer(LayerId(1), LayerEdit::Paint(Arc::new(step)))
}

/// A soft stroke on the left half.
fn painted(mesh: Arc<surface::Mesh>, edge: u32) -> Table {
    let mut table = Table::new(mesh, edge);
    let brush = BrushSettings { hardness: 0.3, opacity: 0.9, ..BrushSettings::default() };
    let run = [(0.15, 0.3), (0.3, 0.5), (0.2, 0.7)]
        .map(|(x, z)| table.bench.point(DVec3::new(x, 0.0, z), 0.1));
    let path = Path::Surface(SurfacePath { runs: vec![run.to_vec()], eye: None });
    table.done(paint(Shape::Stroke(stroke(path, brush))));
    table
}

fn value(table: &Table, x: u32, y: u32) -> u16 {
    let layer = table.document.materials[0].stack.find(LayerId(1)).unwrap();
    let Content::Painted(cells) = &layer.content else { panic!("not painted") };
    cells[&ChannelId::ROUGHNESS].values[0].texel(x, y).unwrap()
}

/// The layout of [`plane`] is its own mirror image about the middle of the texture: texel x shows what 511 - x does.
#[test]
fn a_copy_is_the_mirror_image_within_the_selection_and_a_move_leaves_nothing_behind() {
    for moves in [false, true] {
        let mut table = painted(plane(0.75), 512);
        table.select(texels(512.0, [256.0, 512.0], [0.0, 512.0]), SelectMode::Replace);
        let original = painted(plane(0.75), 512);
        table.done(mirror(0.5, moves));
        let mut covered = 0;
        for (x, y) in (64..448).flat_map(|x| (64..448).map(move |y| (x, y))) {
            let (found, left) = (table.coverage(x, y), original.coverage(511 - x, y));
            if x >= 256 {
                assert!(found.abs_diff(left) <= 1, "{found} for {left} at {x}, {y}");
                covered += usize::from(found > 0);
                if found > 10 {
                    assert!(value(&table, x, y).abs_diff(60_000) <= 1);
                }
            } else {
                let expected = if moves { 0 } else { original.coverage(x, y) };
                assert_eq!(found, expected, "at {x}, {y}");
            }
        }
        assert!(covered > 5_000);
        // With everything selected it goes back and forth: twice mirrored it is what it was.
        let mut turned = painted(plane(0.75), 512);
        turned.done(mirror(0.5, moves));
        assert!(turned.coverage(511 - 160, 256) > 0 && turned.coverage(160, 256) == 0);
        turned.done(mirror(0.5, moves));
        for (x, y) in (64..448).flat_map(|x| (64..448).map(move |y| (x, y))) {
            let (now, then) = (turned.coverage(x, y), original.coverage(x, y));
            assert!(now.abs_diff(then) <= 1, "{now} for {then} at {x}, {y}");
        }
    }
}

/// A mask is amounts as coverage is: it goes over by the same numbers, and where it is taken away nothing stays.
#[test]
fn a_mask_goes_across_as_paint_does() {
    let at = MaskAt { owner: MaskOwner::Layer, term: TermId(1) };
    for moves in [false, true] {
        let mut table = painted(plane(0.75), 256);
        let source = NewTermSource::Painted(0);
        let term = NewTerm { id: at.term, combine: Combine::Multiply, source };
        table.done(MaterialEdit::Layer(LayerId(1), LayerEdit::AddMaskTerm(at.owner, term)));
        let brush = BrushSettings { hardness: 0.3, opacity: 0.9, ..BrushSettings::default() };
        let run = [(0.15, 0.3), (0.3, 0.5), (0.2, 0.7)]
            .map(|(x, z)| table.bench.point(DVec3::new(x, 0.0, z), 0.1));
        let path = Path::Surface(SurfacePath { runs: vec![run.to_vec()], eye: None });
        let (deposit, shape) =
            (Deposit::Mask { at, value: u16::MAX }, Shape::Stroke(stroke(path, brush)));
        let step = Step::Deposit { deposit, shape };
        table.done(MaterialEdit::Layer(LayerId(1), LayerEdit::Paint(Arc::new(step))));
        table.select(texels(256.0, [128.0, 256.0], [0.0, 256.0]), SelectMode::Replace);
        let mirror = Mirror { axis: Axis::X, at: 0.5, moves, left_out: LeftOut::default() };
        for target in [roughness(), Target::Mask(at)] {
            let step = Step::Mirror { target, mirror: mirror.clone() };
            table.done(MaterialEdit::Layer(LayerId(1), LayerEdit::Paint(Arc::new(step))));
        }
        let layer = table.document.materials[0].stack.find(LayerId(1)).unwrap();
        let MaskSource::Painted(mask) = &layer.mask.terms[0].source else { panic!("no mask") };
        let places = (32..224).flat_map(|x| (32..224).map(move |y| (x, y)));
        let covered = places.filter(|&(x, y)| {
            let (paint, mask) = (table.coverage(x, y), mask.texel(x, y).unwrap());
            assert_eq!(paint, mask, "at {x}, {y}");
            mask > 0
        });
        assert!(covered.count() > 1_000);
    }
}

/// Strips that are laid out at four angles: what is fetched is what a stroke over there would have painted, but for the
/// softness of a texel.
#[test]
fn the_layout_does_not_matter() {
    let mut table = painted(cut_plane(0.4, [0.0, 0.7, 2.0, -0.4]), 512);
    let fetched = |table: &Table, x: f64| {
        let on = table.bench.surface.nearest(DVec3::new(x, 0.0, 0.5)).unwrap();
        let uv = table.bench.surface.uv(on.triangle, on.barycentric).unwrap() * 512.0;
        table.coverage(uv.x as u32, uv.y as u32)
    };
    let there: Vec<u16> =
        (0..9).map(|step| fetched(&table, 0.1 + 0.03 * f64::from(step))).collect();
    table.done(mirror(0.5, false));
    for (step, there) in (0..9).zip(there) {
        let here = fetched(&table, 0.9 - 0.03 * f64::from(step));
        assert!(here.abs_diff(there) < 65_535 / 8, "{here} for {there}");
    }
}

#[test]
fn it_is_made_again_at_another_size_and_nonsense_is_refused() {
    let size = |edge| MaterialEdit::TextureSize(TextureSize::new(edge).unwrap());
    let mut grown = painted(plane(0.75), 256);
    grown.done(mirror(0.5, true));
    grown.done(size(512));
    let mut large = painted(plane(0.75), 512);
    large.done(mirror(0.5, true));
    assert_eq!(difference(&grown.document, &large.document), None);
    assert!(grown.tried(mirror(f32::NAN, false)).unwrap_err().to_string().contains("plane"));
    let left_out = LeftOut::new([PartId(7)], []);
    let wrong = Mirror { axis: Axis::X, at: 0.5, moves: false, left_out };
    let step = Step::Mirror { target: roughness(), mirror: wrong };
    let edit = MaterialEdit::Layer(LayerId(1), LayerEdit::Paint(Arc::new(step)));
    assert!(grown.tried(edit).unwrap_err().to_string().contains("no part 7"));
    // Far from the surface there is nothing to fetch.
    let mut far = painted(plane(0.75), 256);
    let before = far.document.clone();
    far.done(mirror(40.0, true));
    assert_eq!(difference(&before, &far.document), None);
}
