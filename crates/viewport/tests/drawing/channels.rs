//! What is shown as stored is shown exactly.

use glam::DVec2;
use raster::{TILE_TEXELS, TextureSize, TileAt};
use viewport::{Shown, TextureKind, TilePixels};

use crate::stage::{MATERIAL, Stage, facing, laid_flat, quads, square};

/// Every byte value, scattered.
fn scattered(index: usize) -> u8 {
    (index as u32).wrapping_mul(2_654_435_761).to_be_bytes()[0]
}

fn painted(samples: u32) -> Stage {
    let mut stage = Stage::with_mesh(samples, quads(&[(square(0.0), 0)]));
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(64).unwrap());
    let rgba = std::array::from_fn(scattered);
    let [rough, metal, mask] =
        [1, 2, 3].map(|n| std::array::from_fn::<_, TILE_TEXELS, _>(|i| scattered(i + n * 10_007)));
    let tile = TilePixels::new(TileAt { x: 0, y: 0 })
        .with_base_colour(&rgba)
        .with_scalar(TextureKind::Roughness, &rough)
        .with_scalar(TextureKind::Metalness, &metal)
        .with_scalar(TextureKind::Mask, &mask);
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[tile]);
    stage
}

/// What a texel of a view must be.
fn stored(shown: Shown, index: usize) -> [u8; 3] {
    let plane = match shown {
        Shown::Roughness => 1,
        Shown::Metalness => 2,
        Shown::Mask => 3,
        _ => return [0, 1, 2].map(|k| scattered(index * 4 + k)),
    };
    [scattered(index + plane * 10_007); 3]
}

const SHOWN: [Shown; 4] = [Shown::Colour, Shown::Roughness, Shown::Metalness, Shown::Mask];

#[test]
fn each_byte_of_a_channel_is_shown_as_it_is_stored() {
    for samples in [1, 4] {
        let mut stage = painted(samples);
        for shown in SHOWN {
            let pictures = [stage.model(&facing(shown, 256)), stage.flat(&laid_flat(shown, 256))];
            for picture in pictures {
                for y in 0..256 {
                    for x in 0..256 {
                        let expected = stored(shown, (y / 4 * 64 + x / 4) as usize);
                        assert_eq!(picture.texel(x, y), expected, "{shown:?} {x} {y}");
                    }
                }
            }
        }
    }
}

#[test]
fn at_one_to_one_each_pixel_is_a_texel() {
    let mut stage = painted(1);
    let picture = stage.flat(&laid_flat(Shown::Lit, 64));
    for index in 0..TILE_TEXELS {
        let at = picture.texel(index as u32 % 64, index as u32 / 64);
        assert_eq!(at, stored(Shown::Colour, index), "lit shows base colour on the flat texture");
    }
}

#[test]
fn smaller_than_one_to_one_pixels_are_the_tiles_own_levels() {
    let mut stage = painted(1);
    let picture = stage.flat(&laid_flat(Shown::Roughness, 16));
    let values = std::array::from_fn(|i| scattered(i + 10_007));
    let tile = TilePixels::new(TileAt { x: 0, y: 0 }).with_scalar(TextureKind::Roughness, &values);
    let level = tile.level(TextureKind::Roughness, 2);
    for index in 0..256 {
        let at = picture.texel(index % 16, index / 16)[0];
        assert!(at.abs_diff(level[index as usize]) <= 1, "{index}: {at}");
    }
}

#[test]
fn outside_of_the_texture_lies_the_background() {
    let mut stage = painted(1);
    let mut picture = laid_flat(Shown::Colour, 100);
    picture.camera.top_left = DVec2::splat(-0.5);
    picture.camera.uv_per_px = 0.02;
    let drawn = stage.flat(&picture);
    for (x, y) in [(0, 0), (20, 50), (50, 20), (80, 50), (50, 99)] {
        assert_eq!(drawn.texel(x, y), [0, 255, 0], "{x} {y}");
    }
    let corner = drawn.texel(26, 26);
    assert_ne!(corner, [0, 255, 0]);
}

#[test]
fn a_mirrored_view_shows_left_on_the_right() {
    let mut stage = painted(1);
    let mut view = facing(Shown::Colour, 256);
    let plain = stage.model(&view);
    view.mirrored = true;
    let mirrored = stage.model(&view);
    for (x, y) in [(2, 2), (100, 30), (250, 200)] {
        assert_eq!(plain.texel(x, y), mirrored.texel(255 - x, y));
    }
}
