//! Strokes in the flat view: dabs are discs in UV space.
//!
//! A padding texel shows a surface point across the seam, and is covered as that point is: so paint in
//! the flat view leaves no break on the model either.

use glam::DVec3;
use raster::{Observer, TileAt};
use surface::{Bounds, DecodedTile, Surface, TexelMap};

use crate::coverage::{Buffers, Coverage, covered_tiles};
use crate::dab::{TextureDab, texture_dabs};
use crate::falloff::{dab_reach, dab_weight};
use crate::{BrushError, BrushSettings, TexturePoint};

/// A box of surface points.
struct Reached {
    low: DVec3,
    high: DVec3,
}

pub(crate) fn texture_coverage(
    runs: &[Vec<TexturePoint>],
    brush: &BrushSettings,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    let dabs = texture_dabs(runs, brush)?;
    let texel = 1.0 / map.size().edge() as f32;
    let touched = touched_tiles(&dabs, texel, surface, map);
    covered_tiles(map, surface, &touched, brush.opacity, observer, |near, buffers| {
        for &number in near {
            stamp(&dabs[number as usize], brush, texel, buffers);
        }
    })
}

fn stamp(dab: &TextureDab, brush: &BrushSettings, texel: f32, buffers: &mut Buffers) {
    let radius = dab.touch.radius as f32;
    let centre = dab.centre.as_vec2();
    buffers.near_uv(centre, dab_reach(radius, texel), |buffers, shown| {
        let weight = dab_weight(shown.uv.distance(centre), radius, brush.hardness, texel);
        if weight > 0.0 {
            buffers.build_up(shown.index, weight, &dab.touch, brush.build_up);
        }
    });
}

/// Tiles under the dabs with the dabs that touch them, and the tiles whose padding shows what lies under
/// the dabs: those whose 3D bounds meet the bounds of what was touched.
fn touched_tiles(
    dabs: &[TextureDab],
    texel: f32,
    surface: &Surface,
    map: &TexelMap,
) -> Vec<(TileAt, Vec<u32>)> {
    let all: Vec<u32> = (0u32..).zip(dabs).map(|(number, _)| number).collect();
    let mut touched = Vec::new();
    let mut reached: Vec<Reached> = Vec::new();
    let mut decoded = DecodedTile::default();
    for at in map.tiles() {
        let near: Vec<u32> = all
            .iter()
            .copied()
            .filter(|&number| under(&dabs[number as usize], at, texel))
            .collect();
        if !near.is_empty() {
            map.decode(surface, at, &mut decoded);
            reached.extend(touched_bounds(&decoded, dabs, &near, texel));
            touched.push((at, all.clone()));
        }
    }
    let beside = map.tiles().filter(|at| !touched.iter().any(|(known, _)| known == at));
    let beside: Vec<TileAt> = beside
        .filter(|&at| map.bounds(at).is_some_and(|b| reached.iter().any(|r| overlap(r, &b))))
        .collect();
    touched.extend(beside.into_iter().map(|at| (at, all.clone())));
    touched.sort_by_key(|(at, _)| (at.y, at.x));
    touched
}

/// True when the dab's square meets the tile's.
fn under(dab: &TextureDab, at: TileAt, texel: f32) -> bool {
    let tile = 64.0 * f64::from(texel);
    let reach = f64::from(dab_reach(dab.touch.radius as f32, texel));
    let (left, top) = (f64::from(at.x) * tile, f64::from(at.y) * tile);
    dab.centre.x + reach >= left
        && dab.centre.x - reach <= left + tile
        && dab.centre.y + reach >= top
        && dab.centre.y - reach <= top + tile
}

/// The box of the surface points of one tile that the dabs may cover, a texel wider all round.
fn touched_bounds(
    decoded: &DecodedTile,
    dabs: &[TextureDab],
    near: &[u32],
    texel: f32,
) -> Option<Reached> {
    let mut found: Option<Reached> = None;
    for shown in decoded.texels() {
        let covers = |&number: &u32| {
            let dab = &dabs[number as usize];
            let reach = dab_reach(dab.touch.radius as f32, texel) + texel;
            shown.uv.distance_squared(dab.centre.as_vec2()) <= reach * reach
        };
        if near.iter().any(covers) {
            let frame = &decoded.frames[shown.frame as usize];
            let wide = DVec3::splat(f64::from(frame.du.length() + frame.dv.length()));
            let point = decoded.origin + shown.offset.as_dvec3();
            let (low, high) = (point - wide, point + wide);
            found = Some(found.map_or(Reached { low, high }, |reached| Reached {
                low: reached.low.min(low),
                high: reached.high.max(high),
            }));
        }
    }
    found
}

fn overlap(reached: &Reached, bounds: &Bounds) -> bool {
    reached.low.cmple(bounds.high).all() && bounds.low.cmple(reached.high).all()
}
