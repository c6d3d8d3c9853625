//! Only what changed goes up.

use raster::{TILE_TEXELS, TextureSize, TileAt};
use viewport::{Shown, TextureKind, TilePixels};

use crate::stage::{MATERIAL, Stage, laid_flat, quads, square};

fn grey(x: u32, y: u32, value: u8) -> TilePixels {
    TilePixels::new(TileAt { x, y }).with_scalar(TextureKind::Roughness, &[value; TILE_TEXELS])
}

#[test]
fn a_changed_tile_brings_up_its_own_levels_and_a_texel_of_each_above() {
    let mut stage = Stage::new(1);
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(1024).unwrap());
    let before = stage.scene.uploaded_bytes();
    let bytes = stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[grey(5, 9, 80)]);
    // 64^2 + 32^2 + .. + 1, then one texel in each of the levels of 8, 4, 2 and 1 a side.
    assert_eq!(bytes, 5461 + 4);
    assert_eq!(stage.scene.uploaded_bytes() - before, bytes);
    let bytes = stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[grey(2, 2, 1), grey(3, 2, 1)]);
    assert_eq!(bytes, 2 * 5461 + 4, "two that have one texel in common above");
}

#[test]
fn tiles_lie_where_they_belong_and_others_stay() {
    let mut stage = Stage::new(1);
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(256).unwrap());
    let all = (0..16).map(|n| grey(n % 4, n / 4, 16 * n as u8)).collect::<Vec<_>>();
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &all);
    let changed = [grey(1, 2, 250), grey(2, 2, 251), grey(9, 0, 7)];
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &changed);
    let drawn = stage.flat(&laid_flat(Shown::Roughness, 256));
    for y in 0..256 {
        for x in 0..256 {
            let expected = match (x / 64, y / 64) {
                (1, 2) => 250,
                (2, 2) => 251,
                (x, y) => 16 * (y * 4 + x) as u8,
            };
            assert_eq!(drawn.texel(x, y), [expected; 3], "{x} {y}");
        }
    }
}

#[test]
fn levels_above_the_tiles_are_averages_of_all_of_it() {
    let mut stage = Stage::new(1);
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(1024).unwrap());
    let value = |x: u32, y: u32| (x * 13 + y * 3) as u8;
    let all: Vec<_> = (0..256).map(|n| grey(n % 16, n / 16, value(n % 16, n / 16))).collect();
    for some in all.chunks(100) {
        stage.scene.upload_tiles(&stage.gpu, MATERIAL, some);
    }
    // Four tiles a pixel.
    let drawn = stage.flat(&laid_flat(Shown::Roughness, 8));
    for y in 0..8 {
        for x in 0..8 {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let sum: u32 = four.iter().map(|&(i, j)| u32::from(value(2 * x + i, 2 * y + j))).sum();
            let at = u32::from(drawn.texel(x, y)[0]);
            assert!((at * 4).abs_diff(sum) <= 6, "{x} {y}: {at} for {sum}");
        }
    }
}

#[test]
fn a_texture_beyond_the_limit_is_shown_by_its_smaller_levels() {
    let mut stage = Stage::with_mesh(1, quads(&[(square(0.0), 0)]));
    stage.scene.limit_textures(128);
    let shown = stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(512).unwrap());
    assert_eq!(shown, 128);
    assert_eq!(stage.scene.material_edges(MATERIAL), Some((512, 128)));
    let all: Vec<_> = (0..64).map(|n| grey(n % 8, n / 8, 4 * n as u8)).collect();
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &all);
    let drawn = stage.flat(&laid_flat(Shown::Roughness, 128));
    for n in 0..64u32 {
        assert_eq!(drawn.texel(n % 8 * 16 + 8, n / 8 * 16 + 8), [4 * n as u8; 3]);
    }
    let least = u64::from(128u32 * 128 * 6);
    assert!((least..least * 3 / 2).contains(&(stage.scene.bytes() - mesh_bytes())));
}

/// Four vertices, six indices, four edges, four outlines: 32, 4, 8 and 8 bytes.
fn mesh_bytes() -> u64 {
    4 * 32 + 6 * 4 + 4 * 8 + 4 * 8
}

#[test]
fn a_mask_takes_memory_only_once_there_is_one() {
    let mut stage = Stage::new(1);
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(512).unwrap());
    let before = stage.scene.bytes();
    let mask = |value| {
        TilePixels::new(TileAt { x: 1, y: 1 }).with_scalar(TextureKind::Mask, &[value; TILE_TEXELS])
    };
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[grey(0, 0, 9)]);
    assert_eq!(stage.scene.bytes(), before);
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[mask(200)]);
    assert!(stage.scene.bytes() >= before + 512 * 512);
    let drawn = stage.flat(&laid_flat(Shown::Mask, 512));
    assert_eq!((drawn.texel(100, 100), drawn.texel(10, 10)), (&[200; 3][..], &[0; 3][..]));
    let rough = stage.flat(&laid_flat(Shown::Roughness, 512));
    assert_eq!(rough.texel(10, 10), [9; 3], "the other textures stay");
}
