//! The brush's footprint.

use glam::{DVec2, DVec3};
use raster::Bitmap;
use surface::MaterialSlot;
use viewport::{Footprint, Shown};

use crate::stage::{MATERIAL, Stage, facing, laid_flat, quads, square};

fn stage(rgb: [u8; 3]) -> Stage {
    let mut stage = Stage::with_mesh(1, quads(&[(square(0.0), 0)]));
    stage.put_material(MATERIAL, rgb, [128, 0]);
    stage
}

/// Brightest and darkest value within two pixels of a place.
fn around(picture: &Bitmap<u8>, x: u32, y: u32) -> (u8, u8) {
    let values = (x - 2..=x + 2).flat_map(|x| (y - 2..=y + 2).map(move |y| picture.texel(x, y)[1]));
    values.fold((0, 255), |(high, low), value| (high.max(value), low.min(value)))
}

#[test]
fn the_ring_lies_at_the_brushs_radius_in_both_views_and_shows_on_white_and_black() {
    // A quarter of the square's edge, in model units and in UV.
    let surface = Footprint::Surface { centre: DVec3::ZERO, radius: 0.5, hardness: 0.0 };
    let texture = Footprint::Texture {
        material: MATERIAL,
        centre: DVec2::splat(0.5),
        radius: 0.25,
        hardness: 0.0,
    };
    for grey in [255, 0] {
        let mut stage = stage([grey; 3]);
        for footprint in [surface, texture] {
            let mut view = facing(Shown::Colour, 200);
            view.footprint = Some(footprint);
            let mut picture = laid_flat(Shown::Colour, 200);
            picture.footprint = Some(footprint);
            for drawn in [stage.model(&view), stage.flat(&picture)] {
                for (x, y) in [(150, 100), (50, 100), (100, 50), (135, 135)] {
                    let (high, low) = around(&drawn, x, y);
                    assert!(
                        high - low > 120,
                        "{footprint:?} on {grey} at {x} {y}: {low} to {high}"
                    );
                }
                for (x, y) in [(100, 100), (120, 100), (10, 10), (170, 100)] {
                    assert_eq!(around(&drawn, x, y), (grey, grey), "{footprint:?} at {x} {y}");
                }
            }
        }
    }
}

#[test]
fn a_ring_on_another_materials_texture_is_not_shown() {
    let mut stage = stage([255; 3]);
    let mut view = facing(Shown::Colour, 100);
    view.footprint = Some(Footprint::Texture {
        material: MaterialSlot(3),
        centre: DVec2::splat(0.5),
        radius: 0.25,
        hardness: 0.0,
    });
    assert!(stage.model(&view).values().iter().all(|&value| value == 255));
}
