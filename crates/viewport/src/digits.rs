//! The digits 0 to 9 side by side in one small texture, drawn here as strokes of a round pen.

use glam::Vec2;

/// Pixels of one digit.
const WIDTH: u32 = 32;
/// Pixels of all digits.
pub(crate) const DIGITS_WIDTH: u32 = WIDTH * 10;
pub(crate) const DIGITS_HEIGHT: u32 = 64;

/// The pen's radius, in heights of a digit.
const PEN: f32 = 0.055;

/// Strokes of each digit as runs of points: x 0 to 5, y 0 (top) to 10.
#[rustfmt::skip]
const STROKES: [&[&[(f32, f32)]]; 10] = [
    &[&[(2.5, 0.0), (1.0, 0.6), (0.2, 2.6), (0.2, 7.4), (1.0, 9.4), (2.5, 10.0), (4.0, 9.4), (4.8, 7.4), (4.8, 2.6), (4.0, 0.6), (2.5, 0.0)]],
    &[&[(0.9, 2.0), (2.8, 0.0), (2.8, 10.0)]],
    &[&[(0.3, 2.2), (0.9, 0.7), (2.4, 0.0), (4.0, 0.6), (4.6, 2.3), (4.0, 4.2), (0.3, 10.0), (4.8, 10.0)]],
    &[&[(0.4, 1.2), (1.4, 0.2), (2.8, 0.0), (4.2, 0.8), (4.4, 2.4), (3.8, 4.0), (2.2, 4.6), (3.9, 5.3), (4.8, 7.2), (4.2, 9.2), (2.6, 10.0), (1.2, 9.8), (0.2, 8.8)]],
    &[&[(3.8, 10.0), (3.8, 0.0), (0.2, 7.0), (4.9, 7.0)]],
    &[&[(4.4, 0.0), (0.9, 0.0), (0.6, 4.6), (2.4, 3.9), (4.1, 4.8), (4.8, 6.9), (4.1, 9.1), (2.4, 10.0), (1.1, 9.7), (0.2, 8.6)]],
    &[&[(4.0, 0.2), (1.6, 2.6), (0.4, 5.4), (0.2, 7.4), (1.0, 9.4), (2.5, 10.0), (4.1, 9.3), (4.8, 7.2), (4.1, 5.1), (2.5, 4.4), (1.0, 5.0), (0.3, 6.6)]],
    &[&[(0.2, 0.0), (4.8, 0.0), (1.8, 10.0)]],
    &[&[(2.5, 4.6), (0.9, 3.8), (0.5, 2.2), (1.1, 0.6), (2.5, 0.0), (3.9, 0.6), (4.5, 2.2), (4.1, 3.8), (2.5, 4.6), (0.8, 5.5), (0.2, 7.4), (0.9, 9.3), (2.5, 10.0), (4.1, 9.3), (4.8, 7.4), (4.2, 5.5), (2.5, 4.6)]],
    &[&[(1.0, 9.8), (3.4, 7.4), (4.6, 4.6), (4.8, 2.6), (4.0, 0.6), (2.5, 0.0), (0.9, 0.7), (0.2, 2.8), (0.9, 4.9), (2.5, 5.6), (4.0, 5.0), (4.7, 3.4)]],
];

/// Levels of the texture, each row by row: how much of a pixel the pen covers.
pub(crate) fn digits() -> Vec<Vec<u8>> {
    let (mut width, mut height) = (DIGITS_WIDTH as usize, DIGITS_HEIGHT as usize);
    let first: Vec<u8> =
        (0..width * height).map(|index| ink(index % width, index / width)).collect();
    let mut levels: Vec<Vec<u8>> = vec![first];
    // Down to the size at which a digit is two pixels wide: below that neighbours would run into each other.
    while height > 4 {
        let Some(finer) = levels.last() else { break };
        let (half_width, half_height) = (width / 2, height / 2);
        let coarser = (0..half_width * half_height).map(|index| {
            let at = index / half_width * 2 * width + index % half_width * 2;
            let sum: u32 =
                [at, at + 1, at + width, at + width + 1].iter().map(|&i| u32::from(finer[i])).sum();
            ((sum + 2) / 4) as u8
        });
        let coarser = coarser.collect();
        levels.push(coarser);
        (width, height) = (half_width, half_height);
    }
    levels
}

fn ink(x: usize, y: usize) -> u8 {
    let digit = x / WIDTH as usize;
    // A digit takes the middle 70 % of its height.
    let scale = DIGITS_HEIGHT as f32 * 0.07;
    let place = |(x, y): (f32, f32)| {
        Vec2::new(WIDTH as f32 * 0.5, DIGITS_HEIGHT as f32 * 0.5)
            + Vec2::new(x - 2.5, y - 5.0) * scale
    };
    let at = Vec2::new((x % WIDTH as usize) as f32 + 0.5, y as f32 + 0.5);
    let away = STROKES[digit]
        .iter()
        .flat_map(|stroke| stroke.windows(2))
        .map(|ends| distance(at, place(ends[0]), place(ends[1])))
        .fold(f32::INFINITY, f32::min);
    let radius = PEN * DIGITS_HEIGHT as f32;
    ((radius - away + 0.5).clamp(0.0, 1.0) * 255.0).round() as u8
}

fn distance(at: Vec2, a: Vec2, b: Vec2) -> f32 {
    let (along, from) = (b - a, at - a);
    let share = (from.dot(along) / along.length_squared().max(1e-9)).clamp(0.0, 1.0);
    (from - along * share).length()
}
