//! What is selected is seen, and nothing else is changed by it.

use raster::{TILE_TEXELS, TextureSize, TileAt};
use viewport::{Shown, TextureKind, TilePixels};

use crate::stage::{MATERIAL, Stage, facing, laid_flat, quads, square};

const DARK: u8 = 60;

/// A dark square of which the left half is selected.
fn half_selected(samples: u32) -> Stage {
    let mut stage = Stage::with_mesh(samples, quads(&[(square(0.0), 0)]));
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(64).unwrap());
    let selected = std::array::from_fn::<u8, TILE_TEXELS, _>(|i| if i % 64 < 32 { 255 } else { 0 });
    let tile = TilePixels::new(TileAt { x: 0, y: 0 })
        .with_base_colour(&[DARK; 4 * TILE_TEXELS])
        .with_scalar(TextureKind::Selection, &selected);
    stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[tile]);
    stage
}

#[test]
fn what_is_not_selected_is_dimmed_in_both_views_once_the_selection_is_shown() {
    for samples in [1, 4] {
        let mut stage = half_selected(samples);
        for shown in [false, true, false] {
            stage.scene.show_selection(&stage.gpu, MATERIAL, shown);
            let (model, flat) = (facing(Shown::Colour, 256), laid_flat(Shown::Colour, 256));
            for picture in [stage.model(&model), stage.flat(&flat)] {
                for y in [20, 128, 230] {
                    assert_eq!(picture.texel(60, y), [DARK; 3], "selected");
                    let beyond = picture.texel(200, y);
                    assert_eq!(beyond != [DARK; 3], shown, "{beyond:?}");
                    let line = (124..=132).map(|x| picture.texel(x, y)[0]).max().unwrap();
                    assert_eq!(line > 200, shown, "a light line: {line}");
                }
            }
        }
    }
}
