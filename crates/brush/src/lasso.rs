//! What lies in a line that was drawn round it, in either view.

use std::sync::Arc;

use glam::{DVec2, DVec3};
use raster::{Observer, TILE_TEXELS, Tile, TileAt};
use rayon::prelude::*;
use surface::{BLOCK_TEXELS, DecodedTile, Sight, Surface, Sweep, TexelBlock, TexelMap};

use crate::fill::cover_shown;
use crate::{BrushError, Camera, Coverage, LeftOut};

/// A line drawn round something. It closes itself; what it winds round, in whichever direction, lies in it.
#[derive(Debug, Clone, PartialEq)]
pub enum Lasso {
    /// On the model: the surface points that are seen in it.
    Model {
        /// Where the model was seen from.
        camera: Camera,
        /// The line, in pixels of the camera's viewport.
        outline: Arc<[DVec2]>,
    },
    /// On the texture laid flat.
    Flat {
        /// The line, in UV units.
        outline: Arc<[DVec2]>,
    },
}

impl Lasso {
    /// # Errors
    /// [`BrushError`] for a line of less than three points, a number that is not finite or a camera that sees nothing.
    pub fn check(&self) -> Result<(), BrushError> {
        let outline = self.outline();
        if outline.len() < 3 {
            let value = outline.len() as f64;
            let (what, range) = ("number of points of the lasso", "3 or more");
            return Err(BrushError::Setting { what, value, range });
        }
        if let Some(index) = outline.iter().position(|point| !point.is_finite()) {
            return Err(BrushError::NotFinite { index });
        }
        match self {
            Self::Model { camera, .. } => camera.check(),
            Self::Flat { .. } => Ok(()),
        }
    }

    fn outline(&self) -> &[DVec2] {
        match self {
            Self::Model { outline, .. } | Self::Flat { outline } => outline,
        }
    }
}

/// What lies in a lasso, fully covered, but for parts that are left out. On the model hidden parts are passed through,
/// and what another part or the surface itself hides from the camera does not lie in it.
///
/// # Errors
/// [`BrushError`] for a lasso that is not valid, or when the observer stops it.
pub fn lasso_coverage(
    lasso: &Lasso,
    left_out: &LeftOut,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    lasso.check()?;
    let outline = Outline::new(lasso.outline());
    match lasso {
        Lasso::Flat { .. } => cover_shown(map, surface, observer, |_, texel| {
            let inside = outline.winds_round(texel.uv.as_dvec2());
            let paints = || left_out.is_empty() || left_out.paints(surface.part_of(texel.owner));
            if inside && paints() { u16::MAX } else { 0 }
        }),
        Lasso::Model { camera, .. } => {
            let (low, high) = surface.mesh().bounds();
            let diagonal = f64::from(low.distance(high));
            let (camera, eye) = (*camera, camera.viewpoint(diagonal));
            Look { camera, eye, outline, left_out, surface, map }.covered(observer)
        }
    }
}

/// A closed line, and the box around it.
#[derive(Debug)]
struct Outline<'a> {
    points: &'a [DVec2],
    low: DVec2,
    high: DVec2,
}

impl<'a> Outline<'a> {
    fn new(points: &'a [DVec2]) -> Self {
        let none = (DVec2::INFINITY, DVec2::NEG_INFINITY);
        let fold = |(low, high): (DVec2, DVec2), point: &DVec2| (low.min(*point), high.max(*point));
        let (low, high) = points.iter().fold(none, fold);
        Self { points, low, high }
    }

    /// The winding number is not 0 (Hormann and Agathos, 2001): crossings of the ray to the right, upward ones less
    /// downward ones.
    fn winds_round(&self, at: DVec2) -> bool {
        let boxed = at.cmpge(self.low).all() && at.cmple(self.high).all();
        if !boxed {
            return false;
        }
        let mut winding = 0;
        let mut from = self.points[self.points.len() - 1];
        for &to in self.points {
            if (from.y <= at.y) != (to.y <= at.y) {
                let side = (to - from).perp_dot(at - from);
                if to.y > from.y && side > 0.0 {
                    winding += 1;
                } else if to.y < from.y && side < 0.0 {
                    winding -= 1;
                }
            }
            from = to;
        }
        winding != 0
    }
}

/// A look at the surface through a lasso.
struct Look<'a> {
    camera: Camera,
    eye: DVec3,
    outline: Outline<'a>,
    left_out: &'a LeftOut,
    surface: &'a Surface,
    map: &'a TexelMap,
}

impl Look<'_> {
    fn covered(&self, observer: &dyn Observer) -> Result<Coverage, BrushError> {
        let places: Vec<TileAt> = self.map.tiles().collect();
        let tiles: Vec<(TileAt, Tile)> = places
            .par_iter()
            .map_init(DecodedTile::default, |decoded, &at| {
                observer.check()?;
                self.map.decode(self.surface, at, decoded);
                let mut texels = [0; TILE_TEXELS];
                for block in &decoded.blocks {
                    for number in self.seen(decoded, block) {
                        texels[block.texel_index(number)] = u16::MAX;
                    }
                }
                Ok((at, Tile::of(&texels)))
            })
            .collect::<Result<_, BrushError>>()?;
        let tiles = tiles.into_iter().filter(|(_, tile)| !tile.same(&Tile::Uniform(0))).collect();
        Ok(Coverage::new(self.map.size().extent(), tiles))
    }

    /// The texels of a block that are seen in the lasso.
    fn seen(&self, decoded: &DecodedTile, block: &TexelBlock) -> Vec<usize> {
        let inside: Vec<usize> =
            block.numbers().filter(|number| self.is_inside(decoded, block, *number)).collect();
        if inside.is_empty() || self.is_open(decoded, block) {
            return inside;
        }
        inside.into_iter().filter(|number| !self.is_hidden(decoded, block, *number)).collect()
    }

    fn is_inside(&self, decoded: &DecodedTile, block: &TexelBlock, number: usize) -> bool {
        let point = decoded.origin + block.offset_of(number).as_dvec3();
        let seen = self.camera.project(point);
        seen.is_some_and(|seen| self.outline.winds_round(seen))
            && (self.left_out.is_empty()
                || self.left_out.paints(self.surface.part_of(block.owner[number])))
    }

    /// True where one question tells that nothing hides any texel of the block.
    fn is_open(&self, decoded: &DecodedTile, block: &TexelBlock) -> bool {
        let faces = |number: usize| {
            let frame = &decoded.frames[block.frame[number] as usize];
            let point = decoded.origin + block.offset_of(number).as_dvec3();
            frame.geometric_normal.as_dvec3().dot(self.eye - point) > 0.0
        };
        if block.beyond != 0 || !(0..BLOCK_TEXELS).all(faces) {
            return false;
        }
        let centre = decoded.origin + block.centre.as_dvec3();
        let sight = Sight::Eye(self.eye);
        let sweep = Sweep { centre, radius: f64::from(block.radius), sight };
        let ground = block.frame.iter().map(|&frame| decoded.frames[frame as usize].triangle);
        !self.surface.may_be_blocked_where(&sweep, 1.0, &ground, |part| !self.left_out.hides(part))
    }

    fn is_hidden(&self, decoded: &DecodedTile, block: &TexelBlock, number: usize) -> bool {
        let frame = &decoded.frames[block.frame[number] as usize];
        let point = decoded.origin + block.offset_of(number).as_dvec3();
        let towards = self.eye - point;
        let distance = towards.length();
        let direction = towards / distance.max(f64::MIN_POSITIVE);
        let lift = 0.01 * f64::from(frame.du.length().min(frame.dv.length()));
        let (from, except) = (point + direction * lift, frame.triangle);
        let counts = |part| !self.left_out.hides(part);
        self.surface.is_blocked_where(from, direction, distance, except, counts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[[f64; 2]]) -> Vec<DVec2> {
        list.iter().map(|point| DVec2::from_array(*point)).collect()
    }

    /// A pentagram's middle is wound round twice, so it lies in the line; a point between two of its tips does not.
    #[test]
    fn what_a_line_crosses_over_twice_lies_in_it_and_what_it_leaves_out_does_not() {
        let tip = |step: u32| {
            let angle = f64::from(step) * 0.8 * std::f64::consts::PI;
            [libm::cos(angle), libm::sin(angle)]
        };
        let star: Vec<[f64; 2]> = (0..5).map(tip).collect();
        for star in [star.clone(), star.into_iter().rev().collect()] {
            let star = points(&star);
            let outline = Outline::new(&star);
            assert!(outline.winds_round(DVec2::new(0.01, -0.02)));
            assert!(outline.winds_round(DVec2::new(0.9, 0.0)));
            assert!(!outline.winds_round(DVec2::new(-0.9, 0.0)));
            assert!(!outline.winds_round(DVec2::new(2.0, 0.0)));
        }
    }

    #[test]
    fn two_points_or_one_that_is_nowhere_are_no_lasso() {
        for wrong in [&[[0.0, 0.0], [1.0, 1.0]][..], &[[0.0, 0.0], [1.0, f64::NAN], [0.0, 1.0]]] {
            assert!(Lasso::Flat { outline: points(wrong).into() }.check().is_err());
        }
        let triangle = points(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]);
        assert!(Lasso::Flat { outline: triangle.into() }.check().is_ok());
    }
}
