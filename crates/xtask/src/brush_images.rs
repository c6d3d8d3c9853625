//! The images of the brushes that come with the program: made here, from numbers alone.

use brush::GreyImage;
use document::wire::png_of;
use raster::Extent;

/// Every image, by its file's name, as a PNG.
pub(crate) fn files() -> Result<Vec<(&'static str, Vec<u8>)>, String> {
    let all: [(&str, u32, u32, Shade); 8] = [
        ("bristles.png", 160, 64, bristles),
        ("chips.png", 128, 128, chips),
        ("sponge.png", 128, 128, sponge),
        ("stitch.png", 48, 128, stitch),
        ("bead.png", 128, 96, bead),
        ("crust.png", 256, 256, crust),
        ("sailcloth.png", 128, 128, sailcloth),
        ("deck.png", 192, 192, deck),
    ];
    let one = |(name, width, height, shade): (&'static str, u32, u32, Shade)| {
        let value = |n: u32| {
            let at = |n: u32, edge: u32| (f64::from(n) + 0.5) / f64::from(edge);
            let grey = shade(at(n % width, width), at(n / width, height));
            // In 8 bits, which an image of a brush needs no more than.
            (grey.clamp(0.0, 1.0) * 255.0).round() as u16 * 257
        };
        let image =
            GreyImage::new(Extent { width, height }, (0..width * height).map(value).collect());
        let image = image.map_err(|fault| format!("{name}: {fault}"))?;
        Ok((name, png_of(&image)))
    };
    all.into_iter().map(one).collect()
}

/// The grey, 0..1, at a place from the upper left corner, each 0..1.
type Shade = fn(f64, f64) -> f64;

/// A random number of 0..1 for a place in a list.
fn random(x: i64, y: i64, seed: u64) -> f64 {
    let mut word = (x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ (y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
        ^ seed.wrapping_mul(0x1656_67B1_9E37_79F9);
    // The finisher of splitmix64 (Steele, Lea, Flood 2014).
    word = (word ^ word >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    word = (word ^ word >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((word ^ word >> 31) >> 11) as f64 / (1_u64 << 53) as f64
}

fn smooth(from: f64, to: f64, at: f64) -> f64 {
    let t = ((at - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Value noise in `cells` cells an image, which meets itself at the edges.
fn noise(x: f64, y: f64, cells: i64, seed: u64) -> f64 {
    let (x, y) = (x * cells as f64, y * cells as f64);
    let (column, row) = (x.floor(), y.floor());
    let (tx, ty) = (smooth(0.0, 1.0, x - column), smooth(0.0, 1.0, y - row));
    let corner = |dx: i64, dy: i64| {
        let wrap = |at: f64, by: i64| (at as i64 + by).rem_euclid(cells);
        random(wrap(column, dx), wrap(row, dy), seed)
    };
    let line = |dy| corner(0, dy) + (corner(1, dy) - corner(0, dy)) * tx;
    line(0) + (line(1) - line(0)) * ty
}

/// Octaves of it, each of half the height.
fn clouds(x: f64, y: f64, cells: i64, octaves: u32, seed: u64) -> f64 {
    let (mut sum, mut height, mut most) = (0.0, 1.0, 0.0);
    for octave in 0..octaves {
        sum += height * noise(x, y, cells << octave, seed + u64::from(octave));
        (most, height) = (most + height, height * 0.5);
    }
    sum / most
}

/// Distances to the nearest and second nearest of points, one a cell, around the edges, in cells.
fn nearest(x: f64, y: f64, cells: i64, seed: u64) -> (f64, f64, f64) {
    let (x, y) = (x * cells as f64, y * cells as f64);
    let (column, row) = (x.floor() as i64, y.floor() as i64);
    let (mut first, mut second, mut its) = (f64::MAX, f64::MAX, 0.0);
    for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
        let (cx, cy) = ((column + dx).rem_euclid(cells), (row + dy).rem_euclid(cells));
        let at = |along, seed| along as f64 + 0.1 + 0.8 * random(cx, cy, seed);
        let away = (at(column + dx, seed) - x).hypot(at(row + dy, seed + 1) - y);
        if away < first {
            (second, first, its) = (first, away, random(cx, cy, seed + 2));
        } else {
            second = second.min(away);
        }
    }
    (first, second, its)
}

/// The end of a flat brush: hairs in rows, some of them gone, thicker in the middle.
fn bristles(x: f64, y: f64) -> f64 {
    let (u, v) = (2.0 * x - 1.0, 2.0 * y - 1.0);
    let hairs = (x * 34.0).floor();
    let there = random(hairs as i64, 0, 5);
    let (middle, length) =
        (0.5 * (random(hairs as i64, 1, 5) - 0.5), 0.35 + 0.6 * random(hairs as i64, 2, 5));
    let across = (x * 34.0 - hairs - 0.5).abs() * 2.0;
    let hair =
        (1.0 - smooth(0.35, 1.0, across)) * (1.0 - smooth(0.5, 1.0, (v - middle).abs() / length));
    let inked = if there < 0.2 { 0.1 } else { 0.4 + 0.6 * there };
    hair * inked * (1.0 - smooth(0.8, 1.0, u.abs()))
}

/// Broken flakes: plates with sharp borders, whole in the middle and scattered outside.
fn chips(x: f64, y: f64) -> f64 {
    let (u, v) = (2.0 * x - 1.0, 2.0 * y - 1.0);
    let bent = 0.05 * (noise(x, y, 6, 9) - 0.5);
    let (first, second, its) = nearest(x + bent, y - bent, 7, 21);
    let gap = smooth(0.06, 0.14, second - first);
    let away = u.hypot(v) + 0.25 * (noise(x, y, 4, 3) - 0.5);
    let kept = if its > smooth(0.15, 0.95, away) * 1.15 { 1.0 } else { 0.0 };
    gap * kept * (1.0 - smooth(0.88, 0.98, u.abs().max(v.abs()))) * (0.75 + 0.25 * its)
}

/// A wet sponge: a lump with holes of three sizes.
fn sponge(x: f64, y: f64) -> f64 {
    let (u, v) = (2.0 * x - 1.0, 2.0 * y - 1.0);
    let rim = u.hypot(v) + 0.5 * (clouds(x, y, 4, 3, 31) - 0.5);
    let mut kept = 1.0 - smooth(0.6, 0.78, rim);
    for (cells, size, seed) in [(6, 0.34, 41), (11, 0.3, 51), (19, 0.3, 61)] {
        let (first, _, its) = nearest(x, y, cells, seed);
        let hole = size * (0.4 + its);
        kept *= smooth(hole * 0.75, hole, first);
    }
    kept * (0.7 + 0.3 * noise(x, y, 9, 71))
}

/// One stitch of twisted thread, upright.
fn stitch(x: f64, y: f64) -> f64 {
    let (u, v) = (2.0 * x - 1.0, 2.0 * y - 1.0);
    // As long as 8 of 3 wide; round at its ends.
    let along = (v.abs() * 2.67 - 1.75).max(0.0);
    let edge = (u * 1.15).hypot(along);
    let round = (1.0 - edge * edge).max(0.0).sqrt();
    let twist = 0.5 + 0.5 * (std::f64::consts::TAU * (v * 2.6 + u * 0.55)).cos();
    smooth(0.0, 0.35, round) * (0.45 + 0.55 * round * (0.35 + 0.65 * twist))
}

/// One scale of a weld: a crescent that bulges upwards.
fn bead(x: f64, y: f64) -> f64 {
    let (u, v) = (2.0 * x - 1.0, 2.0 * y - 1.0);
    let outer = (u / 0.95).hypot((v - 0.15) / 0.9);
    let inner = (u / 0.85).hypot((v - 0.75) / 0.95);
    let rim = 1.0 - smooth(0.82, 1.0, outer);
    let hollow = smooth(0.55, 1.05, inner);
    let grain = 0.85 + 0.15 * noise(x, y, 12, 81);
    rim * (0.25 + 0.75 * hollow) * grain
}

/// Rust as it blisters: plates of crust with raised rims, and pits.
fn crust(x: f64, y: f64) -> f64 {
    let bend = |seed| 0.06 * (clouds(x, y, 5, 3, seed) - 0.5);
    let (bx, by) = (x + bend(101), y + bend(111));
    let (first, second, its) = nearest(bx, by, 9, 121);
    let plate = smooth(0.03, 0.3, second - first);
    let fine = clouds(x, y, 22, 3, 131);
    let (pit, _, size) = nearest(x, y, 26, 141);
    let pits = smooth(0.1, 0.16 + 0.3 * size, pit);
    let body = 0.25 + 0.35 * its + 0.5 * (fine - 0.4) - 0.12 * first;
    (body * (0.3 + 0.7 * plate) * (0.45 + 0.55 * pits)).clamp(0.0, 1.0) * 1.35
}

/// Plain weave: threads over and under, 8 by 8, each with its own thickness.
fn sailcloth(x: f64, y: f64) -> f64 {
    const THREADS: f64 = 8.0;
    let (u, v) = (x * THREADS, y * THREADS);
    let (column, row) = (u.floor(), v.floor());
    let over = (column as i64 + row as i64) % 2 == 0;
    // Which thread lies above here, and where across and along it.
    let (across, along, number) =
        if over { (u - column, v - row, column) } else { (v - row, u - column, row) };
    let width = 0.8 + 0.2 * random(number as i64, i64::from(over), 151);
    let round = 1.0 - ((across - 0.5) * 2.0 / width).powi(2);
    let bow = (std::f64::consts::PI * along).sin();
    let twist = 0.9 + 0.1 * (std::f64::consts::TAU * (along * 2.0 + across * 1.5)).cos();
    round.max(0.0).sqrt() * (0.35 + 0.65 * bow.sqrt()) * twist
}

/// Boards side by side, upright, with dark joints, butted ends and a little grain.
fn deck(x: f64, y: f64) -> f64 {
    const BOARDS: f64 = 4.0;
    let board = (x * BOARDS).floor();
    let (across, seed) = (x * BOARDS - board, 160 + board as u64);
    let joint = smooth(0.0, 0.07, across) * smooth(0.0, 0.07, 1.0 - across);
    let shifted = (y + 0.27 + 0.5 * (board % 2.0) + 0.11 * board).fract();
    let end = smooth(0.0, 0.02, shifted) * smooth(0.0, 0.02, 1.0 - shifted);
    // Grain: noise that is drawn out along the board.
    let strands = |cells: f64, seed: u64| {
        let at = across * cells + 1.5 * noise(x, y, 3, seed + 7);
        let low = at.floor();
        let t = smooth(0.0, 1.0, at - low);
        let each = |n: f64| {
            random(n as i64, board as i64, seed) * 0.7 + 0.3 * noise(n * 0.37, y, 6, seed + 1)
        };
        each(low) + (each(low + 1.0) - each(low)) * t
    };
    let grain = 0.55 * strands(7.0, seed) + 0.45 * strands(17.0, seed + 10);
    joint * end * (0.45 + 0.55 * grain)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The files in assets-demo are what this makes, and small.
    #[test]
    fn the_images_that_are_there_are_those_that_are_made() {
        for (name, png) in files().unwrap() {
            let kept = std::fs::read(crate::root().join("assets-demo/brushes").join(name)).unwrap();
            let [made, kept] = [&png, &kept].map(|png| document::wire::image_of_png(png).unwrap());
            assert_eq!(made, kept, "{name}: run cargo xtask brush-images");
            assert!(png.len() < 70_000, "{name}: {} bytes", png.len());
        }
    }
}
