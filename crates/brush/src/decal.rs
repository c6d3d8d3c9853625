//! An image laid on the surface like a transfer: around a point, by the surface laid flat there.

use glam::{DVec2, DVec3};
use raster::{Observer, TILE_TEXELS, Tile, TileAt, from_unit};
use rayon::prelude::*;
use surface::{DecodedTile, ExponentialMap, Surface, TexelFrame, TexelMap};

use crate::image::Levels;
use crate::tile_tree::{Span, TileTree};
use crate::{Anchor, BrushError, Coverage, GreyImage, LeftOut};

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Decal {
    /// White is covered.
    pub image: GreyImage,
    /// Its middle, on the surface.
    pub middle: Anchor,
    /// Which way its top is, as near as the surface allows; where that is along the normal, -Z.
    pub up: DVec3,
    /// Half of its longer edge, in model units, along the surface.
    pub half: f64,
    /// How far it is turned, in radians, counterclockwise as seen from outside.
    pub turn: f64,
    /// The most that it covers, 0..1.
    pub opacity: f32,
    /// Parts that it does not cover.
    pub left_out: LeftOut,
}

impl Decal {
    /// # Errors
    /// [`BrushError::Setting`] naming the first number that can't be.
    pub fn check(&self) -> Result<(), BrushError> {
        let told = |what, value, range| Err(BrushError::Setting { what, value, range });
        if !(self.half > 0.0 && self.half.is_finite()) {
            return told("size of the decal", self.half, "more than 0");
        }
        if !(-10.0..=10.0).contains(&self.turn) {
            return told("turn of the decal", self.turn, "-10 to 10 radians");
        }
        if !(0.0..=1.0).contains(&self.opacity) {
            return told("opacity", f64::from(self.opacity), "0 to 1");
        }
        let Anchor { position, normal } = self.middle;
        if !(position.is_finite() && normal.is_finite() && self.up.is_finite()) {
            return told("place of the decal", f64::NAN, "numbers that are finite");
        }
        Ok(())
    }

    /// Half of its width and half of its height, in model units.
    pub fn halves(&self) -> DVec2 {
        let extent = self.image.extent();
        let size = DVec2::new(f64::from(extent.width), f64::from(extent.height));
        size * (self.half / size.max_element())
    }

    /// The surface around it, laid flat: +x to its right, +y to its top.
    pub fn laid(&self, surface: &Surface) -> Option<ExponentialMap> {
        let on = surface.nearest(self.middle.position)?;
        let own = || surface.smooth_normal(on.triangle, on.barycentric);
        let normal = self.middle.normal.try_normalize().unwrap_or_else(own);
        // On a floor nothing of +Y is left: there the top is away from the viewer.
        let across = |up: DVec3| {
            let up = up - normal * up.dot(normal);
            (up.length() > 1e-3).then(|| up.normalize_or_zero().cross(normal))
        };
        let up = self.up.normalize_or_zero();
        let right = [up, DVec3::NEG_Z, DVec3::X].into_iter().find_map(across)?;
        let turned = glam::DQuat::from_axis_angle(normal, self.turn) * right;
        // Its corners, and a little for what bends away.
        let reach = self.halves().length() * 1.1;
        Some(surface.exponential_map(&on, turned, reach))
    }
}

/// What a decal covers.
///
/// # Errors
/// [`BrushError`] for a decal that can't be, or when the observer stops it.
pub fn decal_coverage(
    decal: &Decal,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    decal.check()?;
    let extent = map.size().extent();
    let Some(laid) = decal.laid(surface) else { return Ok(Coverage::new(extent, Vec::new())) };
    let tree = TileTree::new(map);
    let mut places: Vec<TileAt> = Vec::new();
    let ball = Span::round(decal.middle.position, decal.halves().length() * 1.1);
    tree.near(&ball, &mut |at, _| places.push(at));
    places.sort_unstable_by_key(|at| (at.y, at.x));
    let print = Print { decal, surface, laid: &laid };
    let tiles: Vec<(TileAt, Tile)> = places
        .par_iter()
        .map_init(DecodedTile::default, |decoded, &at| {
            observer.check()?;
            map.decode(surface, at, decoded);
            Ok((at, print.tile(decoded)))
        })
        .collect::<Result<_, BrushError>>()?;
    let tiles = tiles.into_iter().filter(|(_, tile)| !tile.same(&Tile::Uniform(0))).collect();
    Ok(Coverage::new(extent, tiles))
}

struct Print<'a> {
    decal: &'a Decal,
    surface: &'a Surface,
    laid: &'a ExponentialMap,
}

/// Where the points of one triangle lie in the decal's image, 0..1.
struct OnTriangle {
    origin: DVec2,
    from: DVec3,
    /// How far one model unit along x, y, z goes.
    across: DVec3,
    down: DVec3,
    /// Pixels of the image a texel, at the most.
    pixels: f32,
}

impl Print<'_> {
    fn tile(&self, decoded: &DecodedTile) -> Tile {
        let frames: Vec<Option<OnTriangle>> =
            decoded.frames.iter().map(|frame| self.on_triangle(frame)).collect();
        let mut texels = [0; TILE_TEXELS];
        for texel in decoded.texels() {
            let Some(on) = &frames[texel.frame as usize] else { continue };
            let away = decoded.point(&texel) - on.from;
            let at = on.origin + DVec2::new(away.dot(on.across), away.dot(on.down));
            let value = sampled(self.decal.image.levels(), at, on.pixels);
            texels[texel.index as usize] = from_unit(value * self.decal.opacity);
        }
        Tile::of(&texels)
    }

    fn on_triangle(&self, frame: &TexelFrame) -> Option<OnTriangle> {
        if !self.decal.left_out.paints(self.surface.part_of(frame.triangle)) {
            return None;
        }
        let corners = self.laid.corners(self.surface, frame.triangle)?;
        let [a, b, c] = self.surface.positions_of(frame.triangle);
        let halves = self.decal.halves();
        let [qa, qb, qc] =
            corners.map(|at| DVec2::new(0.5 + 0.5 * at.x / halves.x, 0.5 - 0.5 * at.y / halves.y));
        let (ab, ac) = (b - a, c - a);
        let (aa, bb, mixed) = (ab.length_squared(), ac.length_squared(), ab.dot(ac));
        let determinant = aa * bb - mixed * mixed;
        if determinant <= 1e-14 * aa * bb {
            return None;
        }
        // Weights of b and c for a way in the triangle's plane.
        let of_b = (ab * bb - ac * mixed) / determinant;
        let of_c = (ac * aa - ab * mixed) / determinant;
        let (to_b, to_c) = (qb - qa, qc - qa);
        let (across, down) = (of_b * to_b.x + of_c * to_c.x, of_b * to_b.y + of_c * to_c.y);
        let extent = self.decal.image.extent();
        let (width, height) = (f64::from(extent.width), f64::from(extent.height));
        let step = |way: DVec3| {
            DVec2::new(way.dot(across) * width, way.dot(down) * height).length() as f32
        };
        let pixels = step(frame.du.as_dvec3()).max(step(frame.dv.as_dvec3()));
        Some(OnTriangle { origin: qa, from: a, across, down, pixels })
    }
}

/// The image at a place of 0..1, 0 outside of it, smooth over a texel that is so many pixels wide.
fn sampled(levels: &Levels, at: DVec2, pixels: f32) -> f32 {
    if at.min_element() < 0.0 || at.max_element() > 1.0 {
        return 0.0;
    }
    let (_, level) = levels.fitting(pixels);
    let (columns, rows) = (level.columns(), level.rows());
    let x = at.x * (columns - 1) as f64 + 0.5;
    let y = at.y * (rows - 1) as f64 + 0.5;
    let (left, top) = ((x as usize).min(columns - 1), (y as usize).min(rows - 1));
    let (fx, fy) = ((x - left as f64) as f32, (y - top as f64) as f32);
    let [a, b, c, d] = level.quad(left, top).map(raster::to_unit);
    let (upper, lower) = (a + (b - a) * fx, c + (d - c) * fx);
    upper + (lower - upper) * fy
}
