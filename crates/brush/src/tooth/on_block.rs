//! A tooth over one block of texels.

use glam::{DMat3, DVec3, Vec3};
use raster::{Lanes, Work};
use surface::{BLOCK_TEXELS, DecodedTile, Surface, TexelBlock, TriangleId};

use super::noise::Space;
use super::{Places, Tooth};
use crate::kernel::Lane;

impl Tooth {
    /// The shares of a dab that the texels of the block at a position take.
    pub(crate) fn on_block(
        &self,
        surface: &Surface,
        decoded: &DecodedTile,
        position: usize,
    ) -> Lane {
        let block = &decoded.blocks[position];
        Lanes::widest().run(Shares { tooth: self, surface, decoded, block })
    }
}

/// Works out a block.
struct Shares<'a> {
    tooth: &'a Tooth,
    surface: &'a Surface,
    decoded: &'a DecodedTile,
    block: &'a TexelBlock,
}

impl Work for Shares<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> Lane {
        let Self { tooth, surface, decoded, block } = self;
        let parts = surface.mesh().parts();
        let axis = |number: usize| {
            let triangle = decoded.frames[block.frame[number] as usize].triangle;
            let part = parts.get(surface.part_of(triangle).0 as usize);
            part.map_or(Vec3::Y, |part| part.axis)
        };
        let follows = tooth.along_axis && tooth.relief.has_direction();
        let of = |lane: &[Lane; 3]| Space { x: lane[0], y: lane[1], z: lane[2] };
        let origin = decoded.origin;
        let mut position = of(&block.offset).map(|offset| (origin + offset.as_dvec3()).as_vec3());
        let mut normal = of(&block.normal);
        if surface.is_posed() {
            (position, normal) = at_rest(surface, decoded, block);
        }
        let axis = follows.then(|| Space::of(axis));
        tooth.shares(&Places { position, normal, axis })
    }
}

/// Where the points of a block were at rest, and their normals.
fn at_rest(surface: &Surface, decoded: &DecodedTile, block: &TexelBlock) -> (Space, Space) {
    let mut last: Option<(u16, AtRest)> = None;
    let mut found = [(Vec3::ZERO, Vec3::ZERO); BLOCK_TEXELS];
    for (n, found) in found.iter_mut().enumerate() {
        let frame = block.frame[n];
        let known = last.filter(|(known, _)| *known == frame).map(|(_, rest)| rest);
        let triangle = decoded.frames[frame as usize].triangle;
        let rest = known.unwrap_or_else(|| AtRest::of(surface, triangle));
        last = Some((frame, rest));
        let point = decoded.origin + block.offset_of(n).as_dvec3();
        *found = (rest.point(point), rest.normal(block.normal_of(n)));
    }
    (Space::of(|n| found[n].0), Space::of(|n| found[n].1))
}

/// A triangle as it was at rest.
#[derive(Clone, Copy)]
struct AtRest {
    from: DVec3,
    to: DVec3,
    /// Takes ways in the triangle's plane, and along its normal, to those at rest.
    ways: DMat3,
    turn: DMat3,
}

impl AtRest {
    fn of(surface: &Surface, triangle: TriangleId) -> Self {
        let (now, then) = (surface.positions_of(triangle), surface.rest_positions_of(triangle));
        let [sides, sides_then] = [now, then].map(sides);
        let [frame, frame_then] = [sides, sides_then].map(frame);
        let ways = if sides.determinant().abs() > 1e-300 {
            sides_then * sides.inverse()
        } else {
            DMat3::ZERO
        };
        Self { from: now[0], to: then[0], ways, turn: frame_then * frame.transpose() }
    }

    fn point(&self, point: DVec3) -> Vec3 {
        (self.to + self.ways * (point - self.from)).as_vec3()
    }

    fn normal(&self, normal: Vec3) -> Vec3 {
        (self.turn * normal.as_dvec3()).as_vec3()
    }
}

/// Two sides of a triangle, and its unit normal.
fn sides([a, b, c]: [DVec3; 3]) -> DMat3 {
    let (ab, ac) = (b - a, c - a);
    DMat3::from_cols(ab, ac, ab.cross(ac).normalize_or_zero())
}

/// The directions of its first side, across it, and of its normal.
fn frame(sides: DMat3) -> DMat3 {
    let (along, normal) = (sides.x_axis.normalize_or_zero(), sides.z_axis);
    DMat3::from_cols(along, normal.cross(along), normal)
}
