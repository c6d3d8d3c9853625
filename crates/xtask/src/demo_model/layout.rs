//! Where each island goes in its material's square.
//!
//! Islands are not turned: they come as they should lie. All islands of a material get one scale, so their
//! texel density is the same.

use glam::DVec2;

/// Space between islands and to the square's edge: 33 and 17 texels of 2048, for 16 texels of padding.
const GAP: f64 = 33.0 / 2048.0;
const MARGIN: f64 = 17.0 / 2048.0;

/// The scale, and where the lower left corner of each box goes in the unit square, y up.
pub(crate) struct Packing {
    /// Square sides a metre.
    pub(crate) scale: f64,
    /// One corner for each box.
    pub(crate) corners: Vec<DVec2>,
}

/// Packs boxes of these sizes (metres) at the largest scale that fits, within a thousandth.
pub(crate) fn pack(sizes: &[DVec2]) -> Packing {
    let mut best = Packing { scale: 0.0, corners: vec![DVec2::ZERO; sizes.len()] };
    let (mut low, mut high) = (0.0, 64.0);
    while high - low > high * 1e-3 {
        let scale = f64::midpoint(low, high);
        if let Some(corners) = place(sizes, scale) {
            best = Packing { scale, corners };
            low = scale;
        } else {
            high = scale;
        }
    }
    best
}

/// Places boxes from the tallest to the lowest, each where its top comes to lie lowest above a skyline.
fn place(sizes: &[DVec2], scale: f64) -> Option<Vec<DVec2>> {
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by(|&a, &b| sizes[b].y.total_cmp(&sizes[a].y).then(a.cmp(&b)));
    let mut skyline = vec![(MARGIN, MARGIN)];
    let mut corners = vec![DVec2::ZERO; sizes.len()];
    for index in order {
        let size = sizes[index] * scale;
        let corner = lowest(&skyline, size)?;
        corners[index] = corner;
        raise(&mut skyline, corner, size + GAP);
    }
    Some(corners)
}

/// A skyline is steps of (left edge, height), each up to the next one's left edge.
fn lowest(skyline: &[(f64, f64)], size: DVec2) -> Option<DVec2> {
    let fits = |step: usize| {
        let left = skyline[step].0;
        let under = skyline[step..].iter().take_while(|(x, _)| *x < left + size.x + GAP);
        let bottom = under.fold(0.0, |highest: f64, (_, height)| highest.max(*height));
        (left + size.x <= 1.0 - MARGIN && bottom + size.y <= 1.0 - MARGIN)
            .then_some(DVec2::new(left, bottom))
    };
    (0..skyline.len()).filter_map(fits).min_by(|a, b| a.y.total_cmp(&b.y))
}

fn raise(skyline: &mut Vec<(f64, f64)>, corner: DVec2, size: DVec2) {
    let right = corner.x + size.x;
    let after = skyline.iter().rev().find(|(x, _)| *x <= right).map_or(MARGIN, |step| step.1);
    skyline.retain(|(x, _)| *x < corner.x || *x > right);
    skyline.extend([(corner.x, corner.y + size.y), (right, after)]);
    skyline.sort_by(|a, b| a.0.total_cmp(&b.0));
}
