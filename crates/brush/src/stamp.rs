//! Dabs, stamped onto the blocks of one tile.
//!
//! Each texel gets its dabs in their order. A block is read once for as many dabs as follow one another
//! without a question of what is seen or reached.

use std::ops::Range;

use glam::{DVec3, Vec3};
use raster::{Lanes, TILE_TEXELS};
use rayon::prelude::*;
use surface::{BLOCK_TEXELS, DecodedTile, PartId, Surface, TexelBlock, TexelFrame, TriangleId};

use crate::block_bounds::{BlockBounds, Classes, Classify};
use crate::built_up::{Canvas, OnBlock};
use crate::imprint::Imprint;
use crate::kernel::{AddGiven, AddShaded, Ball, Balls, Deposit, Lane, LeftBy, Place, Radii, Steps};
use crate::shares_on_tile::SharesOnTile;
use crate::sight::{Lookout, Seen};
use crate::stencil::Through;
use crate::tile_lists::TileLists;
use crate::tile_tree::{Span, TileTree};
use crate::tip::across;
use crate::{BrushSettings, Dab, Image, LeftOut, Reach, Stencil};

/// Dabs that are looked at together.
const CHUNK: usize = 16;

/// Dabs that follow one another, and how they are stamped onto tiles.
pub(crate) trait Stamps: Sync {
    /// A dab.
    type Dab: Sync;
    /// What is to be known of dabs before they are stamped.
    type Prepared: Sync;

    /// How far a dab reaches, in radii.
    fn reach(&self) -> f64;

    /// Lists the tiles that the dabs may touch.
    fn list(&self, dabs: &[Self::Dab], lists: &mut TileLists);

    /// Looks up what the dabs need.
    fn prepare(&self, dabs: &[Self::Dab]) -> Self::Prepared;

    /// Adds the dabs of these numbers to what has built up on a tile.
    fn stamp(
        &self,
        decoded: &DecodedTile,
        dabs: &[Self::Dab],
        prepared: &Self::Prepared,
        numbers: &[u32],
        facts: &mut TileFacts,
        canvas: &mut Canvas<'_>,
    );
}

/// What a stroke finds out once of a tile.
#[derive(Debug, Clone)]
pub(crate) struct TileFacts {
    /// None before the tile was looked at.
    bounds: Option<BlockBounds>,
    /// The most that a point moves from one texel to the next.
    widest: f32,
    /// The part that all of it shows.
    only_part: Option<PartId>,
    seen: SeenFrom,
    /// What the stroke's copies see.
    seen_by_copies: Vec<SeenFrom>,
    /// What the tooth takes.
    pub(crate) tooth: SharesOnTile,
    /// What the stencil lets through to each copy.
    through: Vec<SharesOnTile>,
}

/// What is seen of a tile from one eye.
#[derive(Debug, Clone)]
struct SeenFrom {
    texels: Seen,
    /// The blocks, by position, that the eye sees as a whole, from the front and from the back: a bit a
    /// block.
    whole: [u64; 2],
}

impl SeenFrom {
    const NOTHING: Self = Self { texels: Seen::NOTHING, whole: [0; 2] };
}

impl TileFacts {
    /// What the copy of this number sees; the stroke itself is number 0.
    fn seen_by(&mut self, copy: u8) -> &mut SeenFrom {
        let Some(number) = (copy as usize).checked_sub(1) else { return &mut self.seen };
        if self.seen_by_copies.len() <= number {
            self.seen_by_copies.resize(number + 1, SeenFrom::NOTHING);
        }
        &mut self.seen_by_copies[number]
    }

    pub(crate) const NOTHING: Self = Self {
        bounds: None,
        widest: 0.0,
        only_part: None,
        seen: SeenFrom::NOTHING,
        seen_by_copies: Vec::new(),
        tooth: SharesOnTile::NOTHING,
        through: Vec::new(),
    };

    /// What the stencil lets through to the copy of this number.
    pub(crate) fn through(&mut self, copy: usize) -> &mut SharesOnTile {
        if self.through.len() <= copy {
            self.through.resize(copy + 1, SharesOnTile::NOTHING);
        }
        &mut self.through[copy]
    }
}

/// What is in the hand.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tool<'a> {
    pub(crate) brush: &'a BrushSettings,
    pub(crate) imprint: Option<&'a Imprint>,
    pub(crate) stencil: Option<&'a Stencil>,
}

/// Stamping over the surface.
#[derive(Debug)]
pub(crate) struct OnTiles<'a> {
    surface: &'a Surface,
    tree: &'a TileTree,
    brush: &'a BrushSettings,
    imprint: Option<&'a Imprint>,
    /// How far a dab reaches, in radii.
    reach: f64,
    left_out: &'a LeftOut,
    /// The eyes of the stroke and its copies; none where dabs look along their normals.
    eyes: Vec<DVec3>,
    /// The stencil of the stroke and its copies, if it has one.
    through: Vec<Through<'a>>,
    lanes: Lanes,
}

impl<'a> OnTiles<'a> {
    pub(crate) fn new(
        (surface, tree): (&'a Surface, &'a TileTree),
        &Tool { brush, imprint, stencil }: &Tool<'a>,
        (eye, images): (Option<DVec3>, &[Image]),
        left_out: &'a LeftOut,
    ) -> Self {
        let copies = images.iter().skip(1).filter_map(|image| Some(image.point(eye?)));
        let eyes = eye.into_iter().chain(copies).collect();
        let reach = imprint.map_or(1.0, Imprint::reach);
        let copies = images.iter().skip(1);
        let through = stencil.map(|stencil| {
            [&Image::ITSELF].into_iter().chain(copies).map(|copy| stencil.through(copy)).collect()
        });
        let (through, lanes) = (through.unwrap_or_default(), Lanes::widest());
        Self { surface, tree, brush, imprint, reach, left_out, eyes, through, lanes }
    }

    /// From where a dab looks.
    fn sight(&self, dab: &Dab) -> Lookout<'a> {
        let eye = self.eyes.get(dab.copy.image as usize).copied();
        Lookout { surface: self.surface, eye, left_out: self.left_out }
    }
}

/// For each dab of a batch, by number, the triangles that connected reach allows, sorted; nothing for
/// other reaches.
pub(crate) type Connected = Vec<Vec<TriangleId>>;

impl Stamps for OnTiles<'_> {
    type Dab = Dab;
    type Prepared = Connected;

    fn reach(&self) -> f64 {
        self.reach
    }

    fn list(&self, dabs: &[Dab], lists: &mut TileLists) {
        let reach = |dab: &Dab| dab.touch.radius * self.reach;
        let ball = |dab: &Dab| Span::round(dab.centre, reach(dab));
        for (chunk, first) in dabs.chunks(CHUNK).zip((0..).step_by(CHUNK)) {
            let all = chunk.iter().fold(Span::NOTHING, |all, dab| all.with(ball(dab)));
            self.tree.near(&all, &mut |at, span| {
                for (number, dab) in (first..).zip(chunk) {
                    if span.meets_ball(dab.centre, reach(dab)) {
                        lists.add(at, number);
                    }
                }
            });
        }
    }

    fn prepare(&self, dabs: &[Dab]) -> Connected {
        if self.brush.reach != Reach::Connected {
            return Vec::new();
        }
        dabs.par_iter()
            .map_init(
                || self.surface.connected(),
                |flood, dab| {
                    let (centre, radius) = (dab.centre, dab.touch.radius * self.reach);
                    self.surface.connect_in_ball(&dab.triangles, centre, radius, flood);
                    let mut found: Vec<TriangleId> = flood.triangles().collect();
                    found.sort_unstable();
                    found
                },
            )
            .collect()
    }

    fn stamp(
        &self,
        decoded: &DecodedTile,
        dabs: &[Dab],
        connected: &Connected,
        numbers: &[u32],
        facts: &mut TileFacts,
        canvas: &mut Canvas<'_>,
    ) {
        let bounds = facts.bounds.take().unwrap_or_else(|| {
            facts.only_part = self.only_part(decoded);
            let width = |frame: &TexelFrame| frame.du.length() + frame.dv.length();
            facts.widest = decoded.frames.iter().map(width).fold(0.0, f32::max);
            BlockBounds::of(&decoded.blocks)
        });
        let (widest, only_part) = (facts.widest, facts.only_part);
        for numbers in numbers.chunks(CHUNK) {
            let ball = |number: &u32| self.ball(&dabs[*number as usize], decoded, widest);
            let mut balls = [ball(&numbers[0]); CHUNK];
            for (place, number) in balls.iter_mut().zip(numbers).skip(1) {
                *place = ball(number);
            }
            let mut classes: [Classes; CHUNK] = [[0; _]; CHUNK];
            let mut any: Classes = [0; _];
            self.lanes.run(Classify {
                bounds: &bounds,
                balls: &balls[..numbers.len()],
                classes: &mut classes,
            });
            for classes in &classes[..numbers.len()] {
                any.iter_mut().zip(classes).for_each(|(any, class)| *any |= *class);
            }
            let balls = &balls;
            let open = std::array::from_fn(|index| {
                let dab = numbers.get(index).map(|&number| &dabs[number as usize]);
                dab.is_some_and(|dab| self.sight(dab).is_open_along_normal(decoded, dab))
            });
            let chunk = Chunk {
                stamps: self,
                decoded,
                bounds: &bounds,
                dabs,
                connected,
                numbers,
                balls,
                open,
                only_part,
            };
            let all_here = decoded.blocks.len() == TILE_TEXELS / BLOCK_TEXELS;
            for (position, block) in decoded.blocks.iter().enumerate() {
                if any[position] != 0 {
                    let mut class = classes.each_ref().map(|classes| classes[position]);
                    if self.imprint.is_some() {
                        for (class, ball) in class.iter_mut().zip(&balls[..numbers.len()]) {
                            *class *= u8::from(ball.meets(block));
                        }
                        if class == [0; CHUNK] {
                            continue;
                        }
                    }
                    let place = if all_here { position as u8 } else { block.place };
                    chunk.stamp_block(position, &class, facts, canvas.block(place));
                }
            }
        }
        facts.bounds = Some(bounds);
    }
}

impl OnTiles<'_> {
    /// The shares of the dabs of one copy that the texels of a block take; none where they take all.
    fn shares(
        &self,
        (decoded, position): (&DecodedTile, usize),
        copy: u8,
        facts: &mut TileFacts,
    ) -> Option<Lane> {
        let tooth = self.brush.anchored_tooth().map(|tooth| {
            *facts.tooth.block(position, || tooth.on_block(self.surface, decoded, position))
        });
        let Some(through) = self.through.get(copy as usize) else { return tooth };
        let open = facts.through(copy as usize);
        let open = open.block(position, || through.on_block(decoded, position));
        Some(tooth.map_or(*open, |tooth| std::array::from_fn(|n| tooth[n] * open[n])))
    }

    /// The part that all of a tile shows, where it matters.
    fn only_part(&self, decoded: &DecodedTile) -> Option<PartId> {
        if self.brush.reach != Reach::Part {
            return None;
        }
        let mut parts = decoded.frames.iter().map(|frame| self.surface.part_of(frame.triangle));
        parts.next().filter(|first| parts.all(|part| part == *first))
    }

    fn ball(&self, dab: &Dab, decoded: &DecodedTile, widest: f32) -> Ball<'_> {
        let normal: Vec3 = dab.normal.as_vec3();
        let radius = dab.touch.radius as f32;
        let mut radii = Radii::new(radius, self.brush.hardness, widest);
        let mut short = None;
        let print = self.imprint.map(|imprint| {
            radii = Radii::within(radius * self.reach as f32 * 1.0001);
            let print = imprint.pressed(radius, self.texel(dab, widest));
            print.lying(dab.long, dab.normal, dab.mirrored)
        });
        if print.is_none() && dab.long != DVec3::ZERO {
            short = Some(across(dab.normal, dab.long, self.brush.tip.squeeze()).as_vec3());
            // A texel is as much longer along the short axis as that is shorter.
            radii.edge = radii.edge.at_least(widest / self.brush.tip.aspect);
            radii.narrow = false;
        }
        Ball {
            centre: (dab.centre - decoded.origin).as_vec3(),
            normal: normal * dab.side,
            radii,
            deposit: Deposit::new(&dab.touch, self.brush.build_up),
            across: short,
            print,
        }
    }

    /// The width of a texel under a dab's middle, so that all of the dab is as sharp; `usual` where that has no
    /// place in the layout.
    fn texel(&self, dab: &Dab, usual: f32) -> f32 {
        let triangle = dab.triangles[0];
        let [a, b, c] = self.surface.positions_of(triangle);
        let Some([s, t, u]) = self.surface.uvs_of(triangle) else { return usual };
        let (on_surface, on_texture) = ((b - a).cross(c - a).length(), (t - s).perp_dot(u - s));
        let width = (on_surface / on_texture.abs()).sqrt() / f64::from(self.tree.edge());
        if width.is_finite() { width as f32 } else { usual }
    }
}

/// Some dabs, on their way onto one tile.
struct Chunk<'a> {
    stamps: &'a OnTiles<'a>,
    decoded: &'a DecodedTile,
    bounds: &'a BlockBounds,
    dabs: &'a [Dab],
    connected: &'a Connected,
    numbers: &'a [u32],
    balls: &'a [Ball<'a>; CHUNK],
    /// See [`Lookout::is_open_along_normal`].
    open: [bool; CHUNK],
    only_part: Option<PartId>,
}

impl Chunk<'_> {
    fn stamp_block(
        &self,
        position: usize,
        class: &[u8; CHUNK],
        facts: &mut TileFacts,
        mut onto: OnBlock<'_>,
    ) {
        let block = &self.decoded.blocks[position];
        let narrow = |index: usize| class[index] != 0 && self.balls[index].radii.narrow;
        let steps =
            (0..self.numbers.len()).any(narrow).then(|| Steps::of(block, &self.decoded.frames));
        let grid = self.bounds.grid(position);
        let mut copy = self.dabs[self.numbers[0] as usize].copy.image;
        let mut tooth = self.stamps.shares((self.decoded, position), copy, facts);
        let mut whole = *class;
        let mut first = 0;
        for (index, &number) in self.numbers.iter().enumerate() {
            if class[index] == 0 {
                continue;
            }
            let dab = &self.dabs[number as usize];
            if dab.copy.image != copy && !self.stamps.through.is_empty() {
                let on = Place { block, steps: steps.as_ref(), grid, tooth: tooth.as_ref() };
                self.add_whole(&on, &whole, first..index, onto.bare);
                (first, copy) = (index, dab.copy.image);
                tooth = self.stamps.shares((self.decoded, position), copy, facts);
            }
            let on = &Place { block, steps: steps.as_ref(), grid, tooth: tooth.as_ref() };
            let reached = self.reached(number, block) & self.nearest_of_copies(number, block);
            let SeenFrom { texels: seen, whole: all_seen } = facts.seen_by(dab.copy.image);
            let all_seen = &mut all_seen[usize::from(dab.side < 0.0)];
            let sight = self.stamps.sight(dab);
            let sees_all = *all_seen >> position & 1 == 1
                || sight.sees_all(self.decoded, block, dab, self.open[index], seen);
            if sees_all && sight.eye.is_some() {
                *all_seen |= 1 << position;
            }
            let all = sees_all && (reached == u64::MAX || reached & block.shown == block.shown);
            if all && onto.shades.is_none() {
                continue;
            }
            whole[index] = 0;
            if reached != 0 {
                self.add_whole(on, &whole, first..index, onto.bare);
                first = index;
                let seen = (!all).then_some(seen);
                self.add_seen((index, reached), on, class[index], seen, &mut onto);
            }
        }
        let on = &Place { block, steps: steps.as_ref(), grid, tooth: tooth.as_ref() };
        self.add_whole(on, &whole, first..self.numbers.len(), onto.bare);
    }

    /// Dabs that reach and see all of the block, but for those with class 0.
    fn add_whole(&self, on: &Place<'_>, class: &[u8; CHUNK], which: Range<usize>, bare: &mut Lane) {
        let (dabs, class) = (&self.balls[which.clone()], &class[which]);
        if class.iter().any(|&class| class != 0) {
            self.stamps.lanes.run(Balls { dabs, class, on, bare });
        }
    }

    /// One dab by itself, of which it has to be asked what it sees, where that is not all.
    fn add_seen(
        &self,
        (index, reached): (usize, u64),
        on: &Place<'_>,
        class: u8,
        seen: Option<&mut Seen>,
        onto: &mut OnBlock<'_>,
    ) {
        let (ball, block, lanes) = (&self.balls[index], on.block, self.stamps.lanes);
        let mut left: Lane = lanes.run(LeftBy { ball, class, on });
        let dab = &self.dabs[self.numbers[index] as usize];
        if let Some(seen) = seen {
            let wanted = touched(&left) & reached & block.shown;
            if wanted == 0 {
                return;
            }
            let kept = self.stamps.sight(dab).seen_of(wanted, self.decoded, block, dab, seen);
            for (number, left) in left.iter_mut().enumerate() {
                if kept >> number & 1 == 0 {
                    *left = 1.0;
                }
            }
            if kept == 0 {
                return;
            }
        }
        let (left, tooth) = (&left, on.tooth);
        if let Some(shades) = &mut onto.shades {
            lanes.run(AddShaded { left, tooth, touch: &dab.touch, shades });
        }
        lanes.run(AddGiven { deposit: &ball.deposit, left, tooth, bare: onto.bare });
    }

    /// The texels of a block that the brush's reach allows.
    fn reached(&self, number: u32, block: &TexelBlock) -> u64 {
        let dab = &self.dabs[number as usize];
        match (self.stamps.brush.reach, self.only_part) {
            (Reach::Material, _) => u64::MAX,
            (Reach::Part, Some(only)) => {
                if only == dab.part {
                    u64::MAX
                } else {
                    0
                }
            }
            (Reach::Part, None) => {
                self.texels_of(block, |triangle| self.stamps.surface.part_of(triangle) == dab.part)
            }
            (Reach::Connected, _) => {
                let connected = &self.connected[number as usize];
                self.texels_of(block, |triangle| connected.binary_search(&triangle).is_ok())
            }
        }
    }

    /// The texels of a block to which no copy of a dab is nearer; of copies that are as near, the first has them.
    fn nearest_of_copies(&self, number: u32, block: &TexelBlock) -> u64 {
        let dab = &self.dabs[number as usize];
        let first = number as usize - dab.copy.place as usize;
        let mut kept = u64::MAX;
        for (place, rival) in (0..dab.copy.of).zip(&self.dabs[first..]) {
            let towards = rival.centre - dab.centre;
            // Two that reach as far as that don't meet; a tenth more, for rounding and the edge's softness.
            let reach = 2.2 * dab.touch.radius * self.stamps.reach;
            if place == dab.copy.place || towards.length_squared() > reach * reach {
                continue;
            }
            let towards = towards.as_vec3();
            let middle = (dab.centre.midpoint(rival.centre) - self.decoded.origin).as_vec3();
            for number in 0..BLOCK_TEXELS {
                let beyond = (block.offset_of(number) - middle).dot(towards);
                let is_its = beyond > 0.0 || (beyond == 0.0 && place < dab.copy.place);
                kept &= !(u64::from(is_its) << number);
            }
        }
        kept
    }

    /// The texels of a block whose triangle belongs. Neighbours mostly show the same one.
    fn texels_of(&self, block: &TexelBlock, belongs: impl Fn(TriangleId) -> bool) -> u64 {
        let (mut last, mut does, mut found) = (None, false, 0);
        for (number, &frame) in block.frame.iter().enumerate() {
            if last != Some(frame) {
                last = Some(frame);
                does = belongs(self.decoded.frames[frame as usize].triangle);
            }
            found |= u64::from(does) << number;
        }
        found
    }
}

/// The texels of which not all is left.
fn touched(left: &Lane) -> u64 {
    let bit = |(number, &left): (usize, &f32)| u64::from(left < 1.0) << number;
    left.iter().enumerate().map(bit).fold(0, |all, bit| all | bit)
}
