//! Parts, materials and sides of sheets.

use glam::Vec3;
use surface::MaterialSlot;
use viewport::{KeyLight, ModelView, Shown};

use crate::stage::{Stage, facing, quads, square};

/// A small square before a large one; and a large one beside them that shades both.
fn two() -> Stage {
    let small = square(0.5).map(|corner| corner * Vec3::new(0.5, 0.5, 1.0));
    let mut stage = Stage::with_mesh(1, quads(&[(square(0.0), 0), (small, 1)]));
    stage.put_material(MaterialSlot(0), [200, 10, 10], [128, 0]);
    stage.put_material(MaterialSlot(1), [10, 10, 200], [128, 0]);
    stage
}

#[test]
fn a_hidden_part_is_gone_and_what_lies_behind_it_is_seen() {
    let mut stage = two();
    let mut view = facing(Shown::Colour, 64);
    let all = stage.model(&view);
    assert_eq!((all.texel(32, 32), all.texel(4, 4)), (&[10, 10, 200][..], &[200, 10, 10][..]));
    view.hidden_parts = vec![false, true];
    let behind = stage.model(&view);
    assert!(behind.values().chunks(3).all(|texel| texel == [200, 10, 10]));
    view.hidden_parts = vec![true];
    let front = stage.model(&view);
    assert_eq!((front.texel(32, 32), front.texel(4, 4)), (&[10, 10, 200][..], &[0, 255, 0][..]));
}

fn lit_from_the_upper_left(view: &mut ModelView) {
    view.lighting.environment_strength = 0.0;
    view.lighting.key = KeyLight {
        azimuth_rad: -0.6,
        elevation_rad: 0.3,
        strength: 1.0,
        radius_rad: 0.02,
        tint: [1.0; 3],
    };
}

#[test]
fn a_part_casts_a_shadow_and_a_hidden_one_none() {
    let mut stage = two();
    let mut view = facing(Shown::Lit, 64);
    lit_from_the_upper_left(&mut view);
    let red =
        |stage: &mut Stage, view: &ModelView, x: u32, y: u32| stage.model(view).texel(x, y)[0];
    // The small square stands half a unit before the large one: its shadow falls to the right, by
    // 0.5 tan(0.6) units or 11 pixels.
    let shaded = red(&mut stage, &view, 54, 36);
    let open = red(&mut stage, &view, 8, 36);
    assert!(shaded < 3 && open > 120, "{shaded} against {open}");
    view.hidden_parts = vec![false, true];
    let unshaded = red(&mut stage, &view, 54, 36);
    assert!(unshaded.abs_diff(open) <= 6, "{unshaded} against {open}");
}

#[test]
fn nothing_of_an_even_surface_shades_itself() {
    for tilt in [0.0f32, 0.5, 1.0, 1.3] {
        let turned = square(0.0).map(|p| Vec3::new(p.x * tilt.cos(), p.y, p.x * tilt.sin()));
        let mut stage = Stage::with_mesh(1, quads(&[(turned, 0)]));
        stage.put_material(MaterialSlot(0), [200; 3], [255, 0]);
        let mut view = facing(Shown::Lit, 96);
        lit_from_the_upper_left(&mut view);
        view.lighting.key.azimuth_rad = 0.2;
        let drawn = stage.model(&view);
        let half = (48.0 * tilt.cos()) as u32;
        let across: Vec<u8> = (50 - half..46 + half).map(|x| drawn.texel(x, 48)[0]).collect();
        let (least, most) = (across.iter().min().unwrap(), across.iter().max().unwrap());
        assert!(most - least <= 8, "tilt {tilt}: {least} to {most}");
    }
}

#[test]
fn the_back_of_a_sheet_is_lit_as_its_front_would_be() {
    let mut turned_away = square(0.0);
    turned_away.reverse();
    let pixel = |corners| {
        let mut stage = Stage::with_mesh(1, quads(&[(corners, 0)]));
        stage.put_material(MaterialSlot(0), [180, 90, 40], [100, 0]);
        let mut view = facing(Shown::Lit, 32);
        lit_from_the_upper_left(&mut view);
        stage.model(&view).texel(16, 16).to_vec()
    };
    let (front, back) = (pixel(square(0.0)), pixel(turned_away));
    assert!(front[0] > 100);
    for (a, b) in front.iter().zip(&back) {
        assert!(a.abs_diff(*b) <= 2, "{front:?} {back:?}");
    }
}

#[test]
fn wire_shows_edges_of_polygons_and_no_diagonals() {
    let mut stage = Stage::with_mesh(4, quads(&[(square(0.0), 0)]));
    stage.put_material(MaterialSlot(0), [200; 3], [128, 0]);
    let mut view = facing(Shown::Colour, 128);
    view.camera.projection = brush::Projection::Orthographic { height: 2.5 };
    view.wire = true;
    let drawn = stage.model(&view);
    let dark = |x: u32, y: u32| drawn.texel(x, y)[1] < 150;
    // The square reaches from 12.8 to 115.2; its diagonal would go through the middle.
    assert!((11..15).any(|x| dark(x, 40)), "left edge");
    assert!((30..100).all(|x| !dark(x, x) && !dark(x, 127 - x)), "no diagonal");
}
