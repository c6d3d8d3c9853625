//! What a stroke sees: a texel that something hides, or whose triangle turns away, is not painted.
//!
//! With an eye, what is seen does not change during a stroke: it is found out once for each texel. Without
//! one, each dab looks along its own normal.

use glam::DVec3;
use surface::{BLOCK_TEXELS, DecodedTile, Surface, TexelBlock, TexelFrame};

use crate::Dab;

/// Blocks in a tile.
const BLOCKS: usize = raster::TILE_TEXELS / BLOCK_TEXELS;

/// What is known of what the eye sees of one tile: a bit a texel, by place of the block.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// The blocks that were looked at.
    looked: u64,
    /// Texels of which it is known whether something lies between them and the eye.
    known: [u64; BLOCKS],
    /// Those of them with nothing between.
    open: [u64; BLOCKS],
    /// Texels whose triangle turns its front towards the eye; those without a plane too.
    front: [u64; BLOCKS],
    /// The same for its back.
    back: [u64; BLOCKS],
}

impl Seen {
    pub(crate) const NOTHING: Self = Self {
        looked: 0,
        known: [0; BLOCKS],
        open: [0; BLOCKS],
        front: [0; BLOCKS],
        back: [0; BLOCKS],
    };

    fn faces(&self, place: usize, side: f32) -> u64 {
        if side > 0.0 { self.front[place] } else { self.back[place] }
    }
}

/// From where a stroke looks at a surface.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sight<'a> {
    pub(crate) surface: &'a Surface,
    pub(crate) eye: Option<DVec3>,
}

impl Sight<'_> {
    /// True when every texel of the block is seen for sure, for this dab.
    pub(crate) fn sees_all(
        &self,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
        seen: &mut Seen,
    ) -> bool {
        let place = block.place as usize;
        match self.eye {
            Some(eye) => {
                if seen.looked >> place & 1 == 0 {
                    seen.looked |= 1 << place;
                    note_facing(decoded, block, eye, seen);
                }
                block.shown & !(seen.faces(place, dab.side) & seen.open[place]) == 0
            }
            None => false,
        }
    }

    /// Those of the `wanted` texels that are seen. Comes after [`Sight::sees_all`].
    pub(crate) fn seen_of(
        &self,
        wanted: u64,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
        seen: &mut Seen,
    ) -> u64 {
        let place = block.place as usize;
        let Some(eye) = self.eye else {
            return self.seen_along_normal(wanted, decoded, block, dab);
        };
        let wanted = wanted & seen.faces(place, dab.side);
        for number in bits(wanted & !seen.known[place]) {
            let frame = &decoded.frames[block.frame[number] as usize];
            let point = point_of(decoded, block, number);
            let open = !self.is_hidden(point, eye - point, frame);
            seen.known[place] |= 1 << number;
            seen.open[place] |= u64::from(open) << number;
        }
        wanted & seen.open[place]
    }

    /// From above the dab along its normal, as far as the dab's own width.
    fn seen_along_normal(
        &self,
        wanted: u64,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
    ) -> u64 {
        let towards = dab.normal * (2.0 * dab.touch.radius);
        let mut seen = 0;
        for number in bits(wanted) {
            let outward = outward(decoded, block, number) * f64::from(dab.side);
            if outward != DVec3::ZERO && outward.dot(towards) <= 0.0 {
                continue;
            }
            let frame = &decoded.frames[block.frame[number] as usize];
            let open = !self.is_hidden(point_of(decoded, block, number), towards, frame);
            seen |= u64::from(open) << number;
        }
        seen
    }

    fn is_hidden(&self, point: DVec3, towards: DVec3, frame: &TexelFrame) -> bool {
        let distance = towards.length();
        let direction = towards / distance.max(f64::MIN_POSITIVE);
        let lift = 0.01 * f64::from(frame.du.length().min(frame.dv.length()));
        self.surface.is_blocked(point + direction * lift, direction, distance, frame.triangle)
    }
}

/// Notes which way the triangles of a block's texels turn.
fn note_facing(decoded: &DecodedTile, block: &TexelBlock, eye: DVec3, seen: &mut Seen) {
    let place = block.place as usize;
    for number in 0..BLOCK_TEXELS {
        let outward = outward(decoded, block, number);
        let towards = (eye - point_of(decoded, block, number)).dot(outward);
        let flat = outward == DVec3::ZERO;
        seen.front[place] |= u64::from(flat || towards > 0.0) << number;
        seen.back[place] |= u64::from(flat || towards < 0.0) << number;
    }
}

fn point_of(decoded: &DecodedTile, block: &TexelBlock, number: usize) -> DVec3 {
    decoded.origin + block.offset_of(number).as_dvec3()
}

fn outward(decoded: &DecodedTile, block: &TexelBlock, number: usize) -> DVec3 {
    decoded.frames[block.frame[number] as usize].geometric_normal.as_dvec3()
}

/// The numbers of the bits that are set, ascending.
fn bits(mut set: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let lowest = set.trailing_zeros() as usize;
            set &= set - 1;
            lowest
        })
    })
}
