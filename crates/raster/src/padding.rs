//! Push-pull: fills every texel that no island owns, so that no mip level reads something foreign.
//!
//! Gortler, Grzeszczuk, Szeliski, Cohen, "The Lumigraph", 1996, section 4.2: *pull* averages owned
//! texels into ever smaller levels, *push* fills what is empty from the next smaller level. Owned
//! texels are never changed.

use crate::{Bitmap, decode_stored, encode_stored, from_unit, to_unit};

/// Fills what is not owned in a scalar image. `owned` has one value a texel, row by row.
/// Nothing owned leaves the image as it is.
pub fn push_pull_scalar(image: &mut Bitmap<u16>, owned: &[bool]) {
    push_pull(image, owned, to_unit, from_unit);
}

/// Fills what is not owned in an sRGB-encoded colour image, averaging in linear light.
/// `owned` has one value a texel, row by row. Nothing owned leaves the image as it is.
pub fn push_pull_colour(image: &mut Bitmap<u16>, owned: &[bool]) {
    push_pull(image, owned, decode_stored, encode_stored);
}

struct Level {
    width: usize,
    height: usize,
    values: Vec<f32>,
    filled: Vec<bool>,
}

fn push_pull(
    image: &mut Bitmap<u16>,
    owned: &[bool],
    read: impl Fn(u16) -> f32,
    write: impl Fn(f32) -> u16,
) {
    let extent = image.extent();
    debug_assert_eq!(owned.len(), extent.texels());
    if !owned.contains(&true) {
        return;
    }
    let components = image.components();
    for component in 0..components {
        let values = image.values().iter().skip(component).step_by(components);
        let first = Level {
            width: extent.width as usize,
            height: extent.height as usize,
            values: values.map(|&value| read(value)).collect(),
            filled: owned.to_vec(),
        };
        let full = push(pull(first));
        for (index, &was_owned) in owned.iter().enumerate() {
            if !was_owned {
                image.values_mut()[index * components + component] = write(full.values[index]);
            }
        }
    }
}

fn pull(first: Level) -> Vec<Level> {
    let mut levels = vec![first];
    while let Some(finest) = levels.last().filter(|level| level.width > 1 || level.height > 1) {
        let (width, height) = (finest.width.div_ceil(2), finest.height.div_ceil(2));
        let mut next = Level {
            width,
            height,
            values: vec![0.0; width * height],
            filled: vec![false; width * height],
        };
        for index in 0..width * height {
            let (sum, count) = four_below(finest, index % width, index / width);
            if count > 0 {
                next.values[index] = sum / count as f32;
                next.filled[index] = true;
            }
        }
        levels.push(next);
    }
    levels
}

fn four_below(level: &Level, x: usize, y: usize) -> (f32, u32) {
    let mut sum = 0.0;
    let mut count = 0;
    for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
        let (x, y) = (2 * x + dx, 2 * y + dy);
        if x < level.width && y < level.height && level.filled[y * level.width + x] {
            sum += level.values[y * level.width + x];
            count += 1;
        }
    }
    (sum, count)
}

fn push(mut levels: Vec<Level>) -> Level {
    while levels.len() > 1 {
        let Some(coarse) = levels.pop() else { break };
        let Some(fine) = levels.last_mut() else { return coarse };
        for y in 0..fine.height {
            for x in 0..fine.width {
                let index = y * fine.width + x;
                if !fine.filled[index] {
                    fine.values[index] = bilinear(&coarse, x, y);
                    fine.filled[index] = true;
                }
            }
        }
    }
    levels.remove(0)
}

/// The coarse level at the centre of fine texel (`x`, `y`): weights 9, 3, 3, 1 of 16.
fn bilinear(coarse: &Level, x: usize, y: usize) -> f32 {
    let towards = |index: usize, limit: usize| {
        let near = index / 2;
        let far = if index.is_multiple_of(2) { near.saturating_sub(1) } else { near + 1 };
        (near, far.min(limit - 1))
    };
    let (near_x, far_x) = towards(x, coarse.width);
    let (near_y, far_y) = towards(y, coarse.height);
    let at = |x: usize, y: usize| coarse.values[y * coarse.width + x];
    (9.0 * at(near_x, near_y)
        + 3.0 * at(far_x, near_y)
        + 3.0 * at(near_x, far_y)
        + at(far_x, far_y))
        / 16.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Extent;

    fn one_owned_patch(extent: Extent) -> (Bitmap<u16>, Vec<bool>) {
        let mut image = Bitmap::filled(extent, 1, 0);
        let mut owned = vec![false; extent.texels()];
        for y in 10..20 {
            for x in 10..20 {
                image.texel_mut(x, y)[0] = 40_000;
                owned[(y * extent.width + x) as usize] = true;
            }
        }
        (image, owned)
    }

    #[test]
    fn a_patch_of_one_value_fills_everything_with_that_value() {
        let (mut image, owned) = one_owned_patch(Extent { width: 77, height: 50 });
        push_pull_scalar(&mut image, &owned);
        assert!(image.values().iter().all(|&value| value == 40_000));
        let (mut image, owned) = one_owned_patch(Extent { width: 64, height: 64 });
        push_pull_colour(&mut image, &owned);
        assert!(image.values().iter().all(|&value| value.abs_diff(40_000) <= 1));
    }

    #[test]
    fn owned_texels_stay_as_they_are() {
        let extent = Extent { width: 64, height: 64 };
        let mut image = Bitmap::filled(extent, 3, 0);
        let mut owned = vec![false; extent.texels()];
        for index in (0..extent.texels()).step_by(5) {
            owned[index] = true;
            image.values_mut()[index * 3] = index as u16;
        }
        let before = image.clone();
        push_pull_colour(&mut image, &owned);
        for index in (0..extent.texels()).step_by(5) {
            assert_eq!(image.values()[index * 3..][..3], before.values()[index * 3..][..3]);
        }
    }

    #[test]
    fn nothing_owned_changes_nothing() {
        let mut image = Bitmap::filled(Extent { width: 8, height: 8 }, 1, 123);
        push_pull_scalar(&mut image, &[false; 64]);
        assert!(image.values().iter().all(|&value| value == 123));
    }
}
