//! Writes a tile of the texel map out: see [`crate::decoded_tile`].
//!
//! Points, normals and UVs are weighted in f64, all eight numbers of a texel side by side, and rounded
//! once. What that needs of a triangle is made when a tile first shows it and kept while its texels
//! are near.

use glam::{DVec2, DVec3};
use raster::{Lanes, TILE_EDGE, TILE_TEXELS, TileAt, Work};

use crate::affine::{Affine, centre};
use crate::decoded_tile::{BLOCK_EDGE, BLOCK_TEXELS, DecodedTile, TexelBlock, TexelFrame, bits};
use crate::texel_map::{Block, NOBODY, Owners, PaddingEntry};
use crate::{Surface, TexelMap, TriangleId};

/// Blocks in a tile, and along its edge.
const BLOCKS: usize = TILE_TEXELS / BLOCK_TEXELS;
const ACROSS: usize = TILE_EDGE / BLOCK_EDGE;
/// Triangles that are kept ready: more than a row of blocks shows in usual layouts.
const KEPT: usize = 256;
/// Slots of the table from triangle to frame: twice what a tile can show.
const SLOTS: usize = TILE_TEXELS * 2;
const NO_FRAME: u16 = u16::MAX;

impl TexelMap {
    /// Writes out a tile; nothing in it where the tile shows nothing. `surface` must be the one that
    /// the map was built from.
    pub fn decode(&self, surface: &Surface, at: TileAt, decoded: &mut DecodedTile) {
        decoded.frames.clear();
        let Some(held) = self.block(at) else {
            decoded.origin = DVec3::ZERO;
            decoded.blocks.clear();
            return;
        };
        decoded.origin = held.bounds.centre();
        let (origin, frames) = (decoded.origin, &mut decoded.frames);
        let triangles = &mut Triangles::new(surface, self, origin, frames);
        let first = at.first_texel();
        let lanes = Lanes::widest();
        let padding = PaddingByPlace::new(&held.padding);
        let mut written = 0;
        for place in 0..BLOCKS {
            let owners = owners_at(held, place);
            let padding = padding.at(place);
            if padding.is_empty() && owners.iter().all(|&owner| owner == NOBODY) {
                continue;
            }
            if written == decoded.blocks.len() {
                decoded.blocks.push(TexelBlock::EMPTY);
            }
            let block = &mut decoded.blocks[written];
            block.place = place as u8;
            let given = Given { first, owners: &owners, entries: &held.padding, padding };
            lanes.run(WriteBlock { block, given: &given, triangles });
            written += 1;
        }
        decoded.blocks.truncate(written);
    }
}

/// What the texel map holds of one block.
struct Given<'a> {
    /// The first texel of the tile.
    first: (u32, u32),
    owners: &'a [u32; BLOCK_TEXELS],
    /// Of the whole tile.
    entries: &'a [PaddingEntry],
    /// Which of them lie in this block.
    padding: &'a [u16],
}

fn owners_at(held: &Block, place: usize) -> [u32; BLOCK_TEXELS] {
    let mut owners = [NOBODY; BLOCK_TEXELS];
    if let Some(all) = &held.owners {
        let all: &Owners = all;
        let first = place / ACROSS * BLOCK_EDGE * TILE_EDGE + place % ACROSS * BLOCK_EDGE;
        for (row, owners) in owners.as_chunks_mut::<BLOCK_EDGE>().0.iter_mut().enumerate() {
            owners.copy_from_slice(&all[first + row * TILE_EDGE..][..BLOCK_EDGE]);
        }
    }
    owners
}

/// Padding entries in the order of the blocks.
struct PaddingByPlace {
    order: [u16; TILE_TEXELS],
    /// Where each block's begin, and where the last one's end.
    starts: [u16; BLOCKS + 1],
}

impl PaddingByPlace {
    fn new(entries: &[PaddingEntry]) -> Self {
        let place = |entry: &PaddingEntry| {
            let (x, y) = (entry.index as usize % TILE_EDGE, entry.index as usize / TILE_EDGE);
            y / BLOCK_EDGE * ACROSS + x / BLOCK_EDGE
        };
        let mut starts = [0; BLOCKS + 1];
        for entry in entries {
            starts[place(entry) + 1] += 1;
        }
        for index in 0..BLOCKS {
            starts[index + 1] += starts[index];
        }
        let mut next = starts;
        let mut order = [0; TILE_TEXELS];
        for (number, entry) in entries.iter().enumerate() {
            let next = &mut next[place(entry)];
            order[*next as usize] = number as u16;
            *next += 1;
        }
        Self { order, starts }
    }

    fn at(&self, place: usize) -> &[u16] {
        &self.order[self.starts[place] as usize..self.starts[place + 1] as usize]
    }
}

/// Point and normal of a texel, each in a vector register of f64 and so with a number to spare.
type Values = [f32; 8];

/// See [`write_block`].
struct WriteBlock<'a, 'b> {
    block: &'a mut TexelBlock,
    given: &'a Given<'a>,
    triangles: &'a mut Triangles<'b>,
}

impl Work for WriteBlock<'_, '_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        write_block(self.block, self.given, self.triangles);
    }
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn write_block(block: &mut TexelBlock, given: &Given<'_>, triangles: &mut Triangles<'_>) {
    let mut values = [[0.0; 8]; BLOCK_TEXELS];
    (block.shown, block.padding, block.beyond) = (0, 0, 0);
    let (left, top) = block.first_texel();
    let (left, top) = (given.first.0 + left as u32, given.first.1 + top as u32);
    fill_uvs(block, (left, top), triangles.map.size().edge());
    for (number, &owner) in given.owners.iter().enumerate() {
        if owner != NOBODY {
            let (x, y) = ((number % BLOCK_EDGE) as u32, (number / BLOCK_EDGE) as u32);
            let at = centre(left + x, top + y);
            let (frame, shown) = triangles.shown(TriangleId(owner));
            let weights = shown.weights(at);
            values[number] = shown.values(weights, weights);
            (block.frame[number], block.owner[number]) = (frame, TriangleId(owner));
            block.shown |= 1 << number;
        }
    }
    for &entry in given.padding {
        let entry = &given.entries[entry as usize];
        let (x, y) = (entry.index as usize % BLOCK_EDGE, entry.index as usize / TILE_EDGE);
        let number = y % BLOCK_EDGE * BLOCK_EDGE + x;
        let (frame, shown) = triangles.shown(entry.triangle);
        let weights = entry.weights();
        // Beyond the triangle the normal is that of its nearest part: normals are not extrapolated.
        let [a, b, c] = weights;
        values[number] = shown.values(weights, [a.max(0.0), b.max(0.0), c.max(0.0)]);
        let uv = shown.uv(weights).as_vec2();
        (block.uv[0][number], block.uv[1][number]) = (uv.x, uv.y);
        (block.frame[number], block.owner[number]) = (frame, entry.owner);
        block.padding |= 1 << number;
        block.beyond |= u64::from(lies_beyond(weights)) << number;
    }
    block.shown |= block.padding;
    let first = block.shown.trailing_zeros() as usize;
    for number in bits(!block.shown) {
        values[number] = values[first];
        (block.frame[number], block.owner[number]) = (block.frame[first], block.owner[first]);
        let [u, v] = &mut block.uv;
        (u[number], v[number]) = (u[first], v[first]);
    }
    spread_out(block, &values);
    make_unit(block, triangles.frames);
    block.bound();
}

/// By more than weights in f32 are off.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn lies_beyond([a, b, c]: [f64; 3]) -> bool {
    a < -1e-6 || b < -1e-6 || c < -1e-6
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn spread_out(block: &mut TexelBlock, values: &[Values; BLOCK_TEXELS]) {
    let [x, y, z] = &mut block.offset;
    let [nx, ny, nz] = &mut block.normal;
    for number in 0..BLOCK_TEXELS {
        let from = &values[number];
        (x[number], y[number], z[number]) = (from[0], from[1], from[2]);
        (nx[number], ny[number], nz[number]) = (from[4], from[5], from[6]);
    }
}

/// The UV of every texel's own centre.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn fill_uvs(block: &mut TexelBlock, (left, top): (u32, u32), edge: u32) {
    let [us, vs] = &mut block.uv;
    let texel = 1.0 / f64::from(edge);
    let uv = |x: usize, y: usize| (centre(left + x as u32, top + y as u32) * texel).as_vec2();
    for y in 0..BLOCK_EDGE {
        for x in 0..BLOCK_EDGE {
            let uv = uv(x, y);
            (us[y * BLOCK_EDGE + x], vs[y * BLOCK_EDGE + x]) = (uv.x, uv.y);
        }
    }
}

/// Normals of unit length; where those of the corners cancel, the triangle's own.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn make_unit(block: &mut TexelBlock, frames: &[TexelFrame]) {
    let [x, y, z] = &mut block.normal;
    let mut none = 0u64;
    for number in 0..BLOCK_TEXELS {
        let squared = x[number] * x[number] + y[number] * y[number] + z[number] * z[number];
        // Below this the sum is what rounding left of normals that cancel.
        none |= u64::from(squared <= 1e-12) << number;
    }
    for number in 0..BLOCK_TEXELS {
        let length = (x[number] * x[number] + y[number] * y[number] + z[number] * z[number]).sqrt();
        (x[number], y[number], z[number]) =
            (x[number] / length, y[number] / length, z[number] / length);
    }
    for number in bits(none) {
        let normal = frames[block.frame[number] as usize].geometric_normal;
        (x[number], y[number], z[number]) = (normal.x, normal.y, normal.z);
    }
}

/// A triangle, ready to be shown by many texels.
#[derive(Clone, Copy)]
struct Shown {
    affine: Option<Affine>,
    /// For each corner: its position from the tile's origin, and its U.
    positions: [[f64; 4]; 3],
    /// For each corner: its normal, and its V.
    normals: [[f64; 4]; 3],
}

impl Shown {
    const NOTHING: Self = Self { affine: None, positions: [[0.0; 4]; 3], normals: [[0.0; 4]; 3] };

    fn new(surface: &Surface, map: &TexelMap, origin: DVec3, id: TriangleId) -> Self {
        let (at, normal) = (surface.positions_of(id), surface.vertex_normals_of(id));
        let uvs = surface.uvs_of(id);
        let mut shown = Self::NOTHING;
        for k in 0..3 {
            let (at, normal) = (at[k] - origin, normal[k].as_dvec3());
            let uv = uvs.map_or(DVec2::ZERO, |uvs| uvs[k]);
            shown.positions[k] = [at.x, at.y, at.z, uv.x];
            shown.normals[k] = [normal.x, normal.y, normal.z, uv.y];
        }
        shown.affine = uvs.and_then(|uvs| Affine::new(uvs, map.size()));
        shown
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn weights(&self, at: DVec2) -> [f64; 3] {
        match &self.affine {
            Some(affine) => affine.weights(at),
            None => [1.0 / 3.0; 3],
        }
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn values(&self, at: [f64; 3], normal: [f64; 3]) -> Values {
        let mut values = [0.0; 8];
        let [a, b, c] = &self.positions;
        for k in 0..4 {
            values[k] = (a[k] * at[0] + b[k] * at[1] + c[k] * at[2]) as f32;
        }
        let [a, b, c] = &self.normals;
        for k in 0..4 {
            values[k + 4] = (a[k] * normal[0] + b[k] * normal[1] + c[k] * normal[2]) as f32;
        }
        values
    }

    #[inline]
    fn uv(&self, weights: [f64; 3]) -> DVec2 {
        let (us, vs) = (&self.positions, &self.normals);
        DVec2::new(us[0][3], vs[0][3]) * weights[0]
            + DVec2::new(us[1][3], vs[1][3]) * weights[1]
            + DVec2::new(us[2][3], vs[2][3]) * weights[2]
    }

    fn frame(&self, surface: &Surface, triangle: TriangleId) -> TexelFrame {
        let corners = surface.positions_of(triangle);
        let (du, dv) =
            self.affine.map_or((DVec3::ZERO, DVec3::ZERO), |affine| affine.steps(corners));
        let geometric_normal = surface.geometric_normal(triangle).as_vec3();
        TexelFrame { triangle, du: du.as_vec3(), dv: dv.as_vec3(), geometric_normal }
    }
}

/// The triangles of one tile.
struct Triangles<'a> {
    surface: &'a Surface,
    map: &'a TexelMap,
    origin: DVec3,
    frames: &'a mut Vec<TexelFrame>,
    /// From a triangle's hash to its frame; the next free slot where several meet.
    slots: [u16; SLOTS],
    /// The frame that each entry of `ready` belongs to.
    kept: [u16; KEPT],
    ready: [Shown; KEPT],
    /// The triangle of the last texel, and its frame: the next one mostly shows the same.
    last: (TriangleId, u16),
}

impl<'a> Triangles<'a> {
    #[expect(clippy::large_stack_arrays, reason = "a tenth of a megabyte, once in a call")]
    fn new(
        surface: &'a Surface,
        map: &'a TexelMap,
        origin: DVec3,
        frames: &'a mut Vec<TexelFrame>,
    ) -> Self {
        Self {
            surface,
            map,
            origin,
            frames,
            slots: [NO_FRAME; SLOTS],
            kept: [NO_FRAME; KEPT],
            ready: [Shown::NOTHING; KEPT],
            last: (TriangleId(NOBODY), NO_FRAME),
        }
    }

    #[inline]
    fn shown(&mut self, id: TriangleId) -> (u16, &Shown) {
        if self.last.0 != id {
            self.last = (id, self.find(id));
        }
        let frame = self.last.1;
        (frame, &self.ready[frame as usize % KEPT])
    }

    /// The triangle's frame, made where it is new; sees to it that it is ready.
    fn find(&mut self, id: TriangleId) -> u16 {
        // Multiplied by 2^32 over the golden ratio, the high bits are well mixed.
        let mut slot = (id.0.wrapping_mul(0x9E37_79B1) >> 19) as usize % SLOTS;
        loop {
            let frame = self.slots[slot];
            if frame == NO_FRAME {
                break;
            }
            if self.frames[frame as usize].triangle == id {
                if self.kept[frame as usize % KEPT] != frame {
                    self.make_ready(id, frame);
                }
                return frame;
            }
            slot = (slot + 1) % SLOTS;
        }
        let frame = self.frames.len() as u16;
        self.slots[slot] = frame;
        let surface = self.surface;
        let shown = self.make_ready(id, frame).frame(surface, id);
        self.frames.push(shown);
        frame
    }

    fn make_ready(&mut self, id: TriangleId, frame: u16) -> &Shown {
        let place = frame as usize % KEPT;
        self.kept[place] = frame;
        self.ready[place] = Shown::new(self.surface, self.map, self.origin, id);
        &self.ready[place]
    }
}

#[cfg(test)]
mod tests;
