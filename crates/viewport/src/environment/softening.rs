//! Suns made larger: radiance that half floats can't hold, and that reflections would show as specks.

use glam::Vec3A;

use super::cube::{CubeLevel, CubeTexel, FACES, solid_angles};
use crate::shading::luminance;

/// Brightest radiance that stays as it is, where the mean of the sphere is 1. What is spread over a place may bring
/// it to twice as much.
const CEILING: f32 = 2048.0;

/// Spreads what exceeds the ceiling over the least square block of texels that can take it, so that no light is
/// lost. Gives the share of all light that moved.
pub(super) fn soften(sky: &mut CubeLevel) -> f32 {
    let areas = solid_angles(sky.edge);
    let mut excess = vec![Vec3A::ZERO; FACES * sky.edge * sky.edge];
    let mut all = 0.0;
    for (texel, excess) in CubeTexel::all(sky.edge).zip(&mut excess) {
        let area = areas[texel.row * sky.edge + texel.column];
        let index = sky.index(texel);
        let radiance = sky.texels[index];
        all += f64::from(luminance(radiance.into()) * area);
        if radiance.max_element() > 2.0 * CEILING {
            let kept = radiance * (CEILING / radiance.max_element());
            *excess = (radiance - kept) * area;
            sky.texels[index] = kept;
        }
    }
    let moved: f64 = excess.iter().map(|flux| f64::from(luminance((*flux).into()))).sum();
    if moved == 0.0 {
        return 0.0;
    }
    let spread = spread(sky.edge, &excess, &areas);
    for (texel, more) in CubeTexel::all(sky.edge).zip(spread) {
        let index = sky.index(texel);
        sky.texels[index] += more;
    }
    (moved / all) as f32
}

/// Radiance to add to each texel: `flux` of a block goes into that block if its radiance stays below the ceiling
/// there, else on to the block of four that it lies in.
fn spread(edge: usize, flux: &[Vec3A], areas: &[f32]) -> Vec<Vec3A> {
    let last = edge == 1;
    let mut here = vec![Vec3A::ZERO; flux.len()];
    let (half, mut above) = (edge / 2, Vec::new());
    let (mut flux_above, mut areas_above) = (Vec::new(), vec![0.0; half * half]);
    flux_above.resize(FACES * half * half, Vec3A::ZERO);
    let parent = |texel: CubeTexel| texel.row / 2 * half + texel.column / 2;
    for (texel, (flux, here)) in CubeTexel::all(edge).zip(flux.iter().zip(&mut here)) {
        let radiance = *flux / areas[texel.row * edge + texel.column];
        if last || radiance.max_element() <= CEILING {
            *here = radiance;
        } else {
            flux_above[texel.face * half * half + parent(texel)] += *flux;
        }
        if !last && texel.face == 0 {
            areas_above[parent(texel)] += areas[texel.row * edge + texel.column];
        }
    }
    if !last {
        above = spread(half, &flux_above, &areas_above);
    }
    for (texel, here) in CubeTexel::all(edge).zip(&mut here) {
        if let Some(more) = above.get(texel.face * half * half + parent(texel)) {
            *here += *more;
        }
    }
    here
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::Vec3;

    #[test]
    fn a_sun_is_spread_and_keeps_its_light_and_colour() {
        let sun = CubeTexel { edge: 64, face: 2, row: 20, column: 33 };
        let mut sky = CubeLevel::from_texels(64, |texel| {
            if texel == sun { Vec3::new(4e6, 2e6, 1e6) } else { Vec3::ONE }
        });
        let before = sky.mean();
        let share = soften(&mut sky);
        let after = sky.mean();
        assert!(((after - before) / before).abs().max_element() < 1e-5, "{before} {after}");
        let brightest = sky.texels.iter().map(|texel| texel.max_element()).fold(0.0, f32::max);
        assert!(brightest <= 2.0 * CEILING + 1.0, "{brightest}");
        assert!(share > 0.9 && share < 1.0, "{share}");
    }

    #[test]
    fn what_half_floats_hold_is_left_alone() {
        let mut sky = CubeLevel::from_texels(8, |texel| Vec3::splat(texel.row as f32 * 500.0));
        let before = sky.texels.clone();
        assert_eq!(soften(&mut sky), 0.0);
        assert_eq!(sky.texels, before);
    }
}
