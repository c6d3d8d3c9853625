//! An image whose histogram is made that of a normal distribution, so that pieces of it can be blended without
//! losing contrast, and the table that leads back: Heitz and Neyret 2018, "High-Performance By-Example Noise using
//! a Histogram-Preserving Blending Operator".

use raster::Extent;

/// Deviations to each side that the table back covers.
const REACH: f32 = 4.0;
/// Its steps.
const STEPS: usize = 2048;

/// See the module.
pub(crate) struct Bell {
    width: usize,
    height: usize,
    /// Row by row, mean 0, variance 1.
    values: Vec<f32>,
    /// The image's value, 0..1, for values from -[`REACH`] to [`REACH`].
    back: Vec<f32>,
}

impl Bell {
    pub(crate) fn of(Extent { width, height }: Extent, image: &[u16]) -> Self {
        let (width, height) = (width as usize, height as usize);
        let around = blurred(image, width, height);
        let mut order: Vec<u32> = (0..image.len() as u32).collect();
        // Equal values are told apart by what lies around them, so that flat places get no noise.
        let key = |at: u32| (image[at as usize], around[at as usize], at);
        order.sort_unstable_by_key(|&at| key(at));
        let count = image.len() as f64;
        let (mut values, quantiles) = (vec![0.0; image.len()], Quantiles::new(image.len()));
        for (rank, &at) in order.iter().enumerate() {
            values[at as usize] = quantiles.at((rank as f64 + 0.5) / count);
        }
        let back = |step: usize| {
            let deviations = (2.0 * step as f64 / STEPS as f64 - 1.0) * f64::from(REACH);
            let place = share_below(deviations) * count - 0.5;
            let (below, t) =
                (place.floor().clamp(0.0, count - 1.0), (place - place.floor()) as f32);
            let at = |rank: f64| f32::from(image[order[rank.min(count - 1.0) as usize] as usize]);
            (at(below) + (at(below + 1.0) - at(below)) * t) / 65_535.0
        };
        Self { width, height, values, back: (0..=STEPS).map(back).collect() }
    }

    /// Width and height in pixels.
    pub(crate) fn size(&self) -> (usize, usize) {
        (self.width, self.height)
    }

    /// The values, row by row.
    pub(crate) fn values(&self) -> &[f32] {
        &self.values
    }

    /// The image's value, 0..1, where this one would stand.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn back(&self, value: f32) -> f32 {
        let place = (value + REACH) * (STEPS as f32 / (2.0 * REACH));
        let place = place.clamp(0.0, STEPS as f32 - 0.001);
        let below = place as usize;
        let t = place - below as f32;
        self.back[below] + (self.back[below + 1] - self.back[below]) * t
    }
}

/// Means over squares about an eighth of the image wide, taken three times, around its edges.
fn blurred(image: &[u16], width: usize, height: usize) -> Vec<u64> {
    let mut values: Vec<u64> = image.iter().map(|value| u64::from(*value) << 16).collect();
    let reach = |edge: usize| (edge / 16).max(1).min(edge.saturating_sub(1) / 2);
    for _ in 0..3 {
        for row in values.chunks_mut(width) {
            mean_around(row, reach(width));
        }
        for x in 0..width {
            let mut column: Vec<u64> = (0..height).map(|y| values[y * width + x]).collect();
            mean_around(&mut column, reach(height));
            column.iter().enumerate().for_each(|(y, value)| values[y * width + x] = *value);
        }
    }
    values
}

/// The mean of each value and `reach` to each side of it, the ends joined.
fn mean_around(line: &mut [u64], reach: usize) {
    let count = line.len();
    let at: Vec<u64> = line.to_vec();
    let mut sum: u64 = (0..=2 * reach).map(|n| at[(n + count - reach) % count]).sum();
    for (n, value) in line.iter_mut().enumerate() {
        *value = sum / (2 * reach as u64 + 1);
        sum = sum + at[(n + reach + 1) % count] - at[(n + count - reach) % count];
    }
}

/// The share of a normal distribution that lies below so many deviations.
fn share_below(deviations: f64) -> f64 {
    0.5 * libm::erfc(-deviations * std::f64::consts::FRAC_1_SQRT_2)
}

/// Quantiles at even shares, of which there need not be as many as an image has pixels.
struct Quantiles(Vec<f32>);

impl Quantiles {
    fn new(count: usize) -> Self {
        let count = count.min(1 << 16);
        Self((0..count).map(|n| quantile((n as f64 + 0.5) / count as f64) as f32).collect())
    }

    fn at(&self, share: f64) -> f32 {
        let place = (share * self.0.len() as f64 - 0.5).max(0.0);
        let (below, t) = (place as usize, (place - place.floor()) as f32);
        let above = self.0[(below + 1).min(self.0.len() - 1)];
        self.0[below] + (above - self.0[below]) * t
    }
}

/// The deviations below which a share of 0..1, both ends excluded, lies: Newton's method on
/// [`share_below`], from a bound.
fn quantile(share: f64) -> f64 {
    let (mut low, mut high) = (-9.0, 9.0);
    let mut at = 0.0;
    for _ in 0..60 {
        let error = share_below(at) - share;
        if error > 0.0 {
            high = at;
        } else {
            low = at;
        }
        let slope = libm::exp(-0.5 * at * at) / (2.0 * std::f64::consts::PI).sqrt();
        let next = at - error / slope;
        let next = if next > low && next < high { next } else { 0.5 * (low + high) };
        if (next - at).abs() < 1e-9 {
            return next;
        }
        at = next;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of the normal distribution: 0.975 lies at 1.959964, 0.999 at 3.090232 (any table).
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (share, deviations) in [(0.5, 0.0), (0.975, 1.959_964), (0.001, -3.090_232)] {
            assert!((quantile(share) - deviations).abs() < 1e-6);
        }
    }

    #[test]
    fn the_bell_has_mean_0_and_variance_1_and_leads_back() {
        let image: Vec<u16> = (0..64 * 64_u32).map(|n| (n * n * 7 % 40_000) as u16).collect();
        let bell = Bell::of(Extent { width: 64, height: 64 }, &image);
        let count = image.len() as f32;
        let mean = bell.values.iter().sum::<f32>() / count;
        let variance = bell.values.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / count;
        assert!(mean.abs() < 1e-3 && (variance - 1.0).abs() < 0.01, "{mean} {variance}");
        for (value, bell_value) in image.iter().zip(&bell.values) {
            let back = bell.back(*bell_value);
            assert!((back - f32::from(*value) / 65_535.0).abs() < 2e-3, "{back} for {value}");
        }
    }

    /// A disc on black: the black around it has no noise, but a slope.
    #[test]
    fn flat_places_stay_smooth() {
        let disc = |n: i32| {
            let (x, y) = (n % 64 - 32, n / 64 - 32);
            if x * x + y * y < 200 { u16::MAX } else { 0 }
        };
        let image: Vec<u16> = (0..64 * 64).map(disc).collect();
        let bell = Bell::of(Extent { width: 64, height: 64 }, &image);
        let steps =
            (0..32 * 64 - 1).filter(|n| image[*n] == 0 && image[n + 1] == 0 && n % 64 != 63);
        let worst = steps.map(|n| (bell.values[n] - bell.values[n + 1]).abs()).fold(0.0, f32::max);
        // Neighbours that are told apart by chance differ by 5 and more.
        assert!(worst < 1.2, "{worst}");
    }

    #[test]
    fn an_image_of_one_pixel_is_that_value() {
        let bell = Bell::of(Extent { width: 1, height: 1 }, &[30_000]);
        assert!((bell.back(bell.values[0]) - 30_000.0 / 65_535.0).abs() < 1e-6);
        assert!((bell.back(2.5) - 30_000.0 / 65_535.0).abs() < 1e-6);
    }
}
