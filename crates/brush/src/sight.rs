//! What a stroke sees: a texel that something hides, or whose triangle turns away, is not painted.
//!
//! What hides a texel is told by a ray from it. One question for a whole tile or block spares most rays: it
//! gives what they would. With an eye, what is seen does not change during a stroke: it is found out once
//! for each texel. Without one, each dab looks along its own normal.

use glam::DVec3;
use surface::{BLOCK_TEXELS, DecodedTile, Sight, Surface, Sweep, TexelBlock, TexelFrame};

use crate::{Dab, LeftOut};

/// Blocks in a tile.
const BLOCKS: usize = raster::TILE_TEXELS / BLOCK_TEXELS;

/// What is known of what the eye sees of one tile: a bit a texel, by place of the block.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// Whether something may lie between a texel of the tile and the eye: seen from its front, its back.
    tile: [Option<bool>; 2],
    /// The blocks that were looked at, from the front and from the back: a bit a block.
    looked: [u64; 2],
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
        tile: [None; 2],
        looked: [0; 2],
        known: [0; BLOCKS],
        open: [0; BLOCKS],
        front: [0; BLOCKS],
        back: [0; BLOCKS],
    };

    #[inline]
    fn faces(&self, place: usize, side: f32) -> u64 {
        if side > 0.0 { self.front[place] } else { self.back[place] }
    }
}

/// From where a stroke looks at a surface.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lookout<'a> {
    pub(crate) surface: &'a Surface,
    pub(crate) eye: Option<DVec3>,
    /// Hidden parts hide nothing.
    pub(crate) left_out: &'a LeftOut,
}

impl Lookout<'_> {
    /// True when every texel of the block is seen for sure, for this dab. `open` is what
    /// [`Lookout::is_open_along_normal`] told of the tile.
    #[inline]
    pub(crate) fn sees_all(
        &self,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
        open: bool,
        seen: &mut Seen,
    ) -> bool {
        let Some(eye) = self.eye else {
            return self.sees_all_along_normal(decoded, block, dab, open);
        };
        let (place, turned) = (block.place as usize, usize::from(dab.side < 0.0));
        if seen.looked[turned] >> place & 1 == 0 {
            self.look(decoded, block, (eye, dab.side), seen);
            seen.looked[turned] |= 1 << place;
        }
        block.shown & !(seen.faces(place, dab.side) & seen.open[place]) == 0
    }

    /// Those of the `wanted` texels that are seen. Comes after [`Lookout::sees_all`].
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
            let frame = frame_of(decoded, block, number);
            let point = point_of(decoded, block, number);
            let open = !self.is_hidden(point, eye - point, frame);
            seen.known[place] |= 1 << number;
            seen.open[place] |= u64::from(open) << number;
        }
        wanted & seen.open[place]
    }

    /// Finds out what one question tells of the block.
    fn look(
        &self,
        decoded: &DecodedTile,
        block: &TexelBlock,
        (eye, side): (DVec3, f32),
        seen: &mut Seen,
    ) {
        let (place, turned) = (block.place as usize, usize::from(side < 0.0));
        if seen.front[place] | seen.back[place] == 0 {
            note_facing(decoded, block, eye, seen);
        }
        let sight = Sight::Eye(eye);
        let tile_may =
            *seen.tile[turned].get_or_insert_with(|| self.tile_may_be_hidden(decoded, sight, side));
        let certain = seen.faces(place, side) & block.shown & !block.beyond;
        if certain != 0 && !(tile_may && self.may_be_hidden(certain, decoded, block, sight, side)) {
            seen.known[place] |= certain;
            seen.open[place] |= certain;
        }
    }

    fn tile_may_be_hidden(&self, decoded: &DecodedTile, sight: Sight, side: f32) -> bool {
        let reach = |block: &TexelBlock| block.centre.length() + block.radius;
        let radius = decoded.blocks.iter().map(reach).fold(0.0, f32::max) * 1.000_01;
        let sweep = Sweep { centre: decoded.origin, radius: f64::from(radius), sight };
        let ground = decoded.frames.iter().map(|frame| frame.triangle);
        let counts = |part| !self.left_out.hides(part);
        self.surface.may_be_blocked_where(&sweep, f64::from(side), &ground, counts)
    }

    fn may_be_hidden(
        &self,
        texels: u64,
        decoded: &DecodedTile,
        block: &TexelBlock,
        sight: Sight,
        side: f32,
    ) -> bool {
        let centre = decoded.origin + block.centre.as_dvec3();
        let sweep = Sweep { centre, radius: f64::from(block.radius), sight };
        let ground = bits(texels).map(|number| frame_of(decoded, block, number).triangle);
        let counts = |part| !self.left_out.hides(part);
        self.surface.may_be_blocked_where(&sweep, f64::from(side), &ground, counts)
    }

    /// True when a stroke has no eye, and nothing hides any texel of the tile from this dab, which looks
    /// from above along its normal, as far as its own width. Texels that turn away or lie beyond their
    /// triangle excepted.
    pub(crate) fn is_open_along_normal(&self, decoded: &DecodedTile, dab: &Dab) -> bool {
        let sight = Sight::Along(along_normal(dab));
        self.eye.is_none() && !self.tile_may_be_hidden(decoded, sight, dab.side)
    }

    fn sees_all_along_normal(
        &self,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
        open: bool,
    ) -> bool {
        let towards = along_normal(dab);
        let sight = Sight::Along(towards);
        block.beyond == 0
            && (0..BLOCK_TEXELS).all(|number| faces(decoded, block, number, dab, towards))
            && (open || !self.may_be_hidden(block.shown, decoded, block, sight, dab.side))
    }

    fn seen_along_normal(
        &self,
        wanted: u64,
        decoded: &DecodedTile,
        block: &TexelBlock,
        dab: &Dab,
    ) -> u64 {
        let towards = along_normal(dab);
        let mut seen = 0;
        for number in bits(wanted) {
            if faces(decoded, block, number, dab, towards) {
                let frame = frame_of(decoded, block, number);
                let open = !self.is_hidden(point_of(decoded, block, number), towards, frame);
                seen |= u64::from(open) << number;
            }
        }
        seen
    }

    fn is_hidden(&self, point: DVec3, towards: DVec3, frame: &TexelFrame) -> bool {
        let distance = towards.length();
        let direction = towards / distance.max(f64::MIN_POSITIVE);
        let lift = 0.01 * f64::from(frame.du.length().min(frame.dv.length()));
        let (from, except) = (point + direction * lift, frame.triangle);
        let counts = |part| !self.left_out.hides(part);
        self.surface.is_blocked_where(from, direction, distance, except, counts)
    }
}

/// Notes which way the triangles of a block's texels turn.
fn note_facing(decoded: &DecodedTile, block: &TexelBlock, eye: DVec3, seen: &mut Seen) {
    // All points of one plane look at the eye from one height above it, but for rounding.
    let rounding = 1e-5 * f64::from(block.centre.length() + 2.0 * block.radius);
    let (mut front, mut back) = (0, 0);
    let mut last: Option<(u16, [bool; 2])> = None;
    for number in 0..BLOCK_TEXELS {
        let frame = block.frame[number];
        let turns = match last {
            Some((known, turns)) if known == frame => turns,
            _ => {
                let outward = outward(decoded, block, number);
                let height = (eye - point_of(decoded, block, number)).dot(outward);
                let flat = outward == DVec3::ZERO;
                let turns = [flat || height > 0.0, flat || height < 0.0];
                last = (flat || height.abs() > rounding).then_some((frame, turns));
                turns
            }
        };
        front |= u64::from(turns[0]) << number;
        back |= u64::from(turns[1]) << number;
    }
    (seen.front[block.place as usize], seen.back[block.place as usize]) = (front, back);
}

/// Where a dab without an eye looks from, as seen from the surface.
fn along_normal(dab: &Dab) -> DVec3 {
    dab.normal * (2.0 * dab.touch.radius)
}

/// True where the texel's triangle turns the dab's side to where the dab looks from.
fn faces(
    decoded: &DecodedTile,
    block: &TexelBlock,
    number: usize,
    dab: &Dab,
    towards: DVec3,
) -> bool {
    let outward = outward(decoded, block, number) * f64::from(dab.side);
    outward == DVec3::ZERO || outward.dot(towards) > 0.0
}

fn frame_of<'a>(decoded: &'a DecodedTile, block: &TexelBlock, number: usize) -> &'a TexelFrame {
    &decoded.frames[block.frame[number] as usize]
}

fn point_of(decoded: &DecodedTile, block: &TexelBlock, number: usize) -> DVec3 {
    decoded.origin + block.offset_of(number).as_dvec3()
}

fn outward(decoded: &DecodedTile, block: &TexelBlock, number: usize) -> DVec3 {
    frame_of(decoded, block, number).geometric_normal.as_dvec3()
}

/// The numbers of the bits that are set, ascending.
fn bits(mut set: u64) -> impl Iterator<Item = usize> + Clone {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let lowest = set.trailing_zeros() as usize;
            set &= set - 1;
            lowest
        })
    })
}
