//! Planes at another size: bilinear when they grow, area average when they shrink.

use rayon::prelude::*;

use crate::{Bitmap, Extent, Plane, RasterError, decode_stored, encode_stored, from_unit, to_unit};

/// A scalar plane at another size.
///
/// # Errors
/// [`RasterError::Page`] when a tile can't be read.
pub fn resample_scalar(plane: &Plane, extent: Extent) -> Result<Plane, RasterError> {
    if plane.extent() == extent {
        return Ok(plane.clone());
    }
    let image = Bitmap::from_planes(&[plane])?;
    let values: Vec<f32> = image.values().iter().map(|&value| to_unit(value)).collect();
    let resized = resized(&values, plane.extent(), extent);
    let at = |x: u32, y: u32| from_unit(resized[texel(x, y, extent)]);
    Ok(Plane::from_fn(extent, at))
}

/// Straight value planes and their coverage at another size, premultiplied for the average.
/// `encoded` values are averaged in linear light. What nothing covers comes out as 0.
///
/// # Errors
/// [`RasterError::Page`] when a tile can't be read.
pub fn resample_covered(
    values: &[Plane],
    coverage: &Plane,
    extent: Extent,
    encoded: bool,
) -> Result<(Vec<Plane>, Plane), RasterError> {
    let from = coverage.extent();
    if from == extent {
        return Ok((values.to_vec(), coverage.clone()));
    }
    let covered: Vec<f32> =
        Bitmap::from_planes(&[coverage])?.values().iter().map(|&value| to_unit(value)).collect();
    let new_coverage = resized(&covered, from, extent);
    let mut new_values = Vec::with_capacity(values.len());
    for plane in values {
        let image = Bitmap::from_planes(&[plane])?;
        let premultiplied: Vec<f32> = image
            .values()
            .iter()
            .zip(&covered)
            .map(|(&value, &coverage)| {
                coverage * if encoded { decode_stored(value) } else { to_unit(value) }
            })
            .collect();
        let sums = resized(&premultiplied, from, extent);
        new_values.push(Plane::from_fn(extent, |x, y| {
            let at = texel(x, y, extent);
            let value = if new_coverage[at] > 0.0 { sums[at] / new_coverage[at] } else { 0.0 };
            if encoded { encode_stored(value) } else { from_unit(value) }
        }));
    }
    let coverage = Plane::from_fn(extent, |x, y| from_unit(new_coverage[texel(x, y, extent)]));
    Ok((new_values, coverage))
}

fn texel(x: u32, y: u32, extent: Extent) -> usize {
    y as usize * extent.width as usize + x as usize
}

/// Which source texels make one destination texel along an axis, and how much of each.
struct Taps {
    first: usize,
    weights: Vec<f32>,
}

fn taps(from: u32, to: u32) -> Vec<Taps> {
    let scale = f64::from(from) / f64::from(to);
    (0..to)
        .map(|index| {
            let middle = (f64::from(index) + 0.5) * scale;
            let half = (scale * 0.5).max(0.5);
            let (low, high) = (middle - half, middle + half);
            let first = low.floor().max(0.0);
            let last = high.ceil().min(f64::from(from));
            let share = |texel: f64| {
                let covered = (high.min(texel + 1.0) - low.max(texel)).max(0.0);
                (covered / (2.0 * half)) as f32
            };
            let mut weights: Vec<f32> =
                (first as usize..last as usize).map(|texel| share(texel as f64)).collect();
            let sum: f32 = weights.iter().sum();
            for weight in &mut weights {
                *weight /= sum;
            }
            Taps { first: first as usize, weights }
        })
        .collect()
}

fn resized(values: &[f32], from: Extent, to: Extent) -> Vec<f32> {
    let (across, down) = (taps(from.width, to.width), taps(from.height, to.height));
    let (from_width, to_width) = (from.width as usize, to.width as usize);
    let mut resized = vec![0.0; to.texels()];
    resized.par_chunks_mut(to_width).zip(&down).for_each(|(row, rows)| {
        for (value, columns) in row.iter_mut().zip(&across) {
            *value = rows.weights.iter().enumerate().fold(0.0, |sum, (y, &row_weight)| {
                let start = (rows.first + y) * from_width + columns.first;
                let line = &values[start..start + columns.weights.len()];
                let along: f32 = line.iter().zip(&columns.weights).map(|(v, w)| v * w).sum();
                sum + row_weight * along
            });
        }
    });
    resized
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: Extent = Extent { width: 64, height: 64 };
    const LARGE: Extent = Extent { width: 128, height: 128 };

    #[test]
    fn one_value_stays_one_value() {
        let plane = Plane::uniform(SMALL, 12_345);
        for extent in [LARGE, Extent { width: 100, height: 37 }] {
            let resized = resample_scalar(&plane, extent).unwrap();
            assert!(resized.tiles_other_than(12_345).is_empty());
        }
    }

    #[test]
    fn a_ramp_stays_a_ramp() {
        let plane = Plane::from_fn(SMALL, |x, _| (x * 1000) as u16);
        let large = resample_scalar(&plane, LARGE).unwrap();
        assert_eq!(large.texel(64, 5).unwrap(), 31_750);
        let back = resample_scalar(&large, SMALL).unwrap();
        assert!(back.texel(32, 5).unwrap().abs_diff(32_000) <= 1);
    }

    #[test]
    fn what_is_not_covered_does_not_bleed_in() {
        let value = Plane::from_fn(LARGE, |x, _| if x < 64 { 50_000 } else { 0 });
        let coverage = Plane::from_fn(LARGE, |x, _| if x < 63 { 65_535 } else { 0 });
        let (values, coverage) = resample_covered(&[value], &coverage, SMALL, false).unwrap();
        assert_eq!(values[0].texel(31, 0).unwrap(), 50_000);
        assert_eq!(coverage.texel(31, 0).unwrap(), 32_768);
    }
}
