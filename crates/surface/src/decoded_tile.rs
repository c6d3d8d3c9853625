//! A tile of the texel map written out: the point, normal and UV that each texel shows.
//!
//! Texels stand in blocks of 8 x 8, each a structure of arrays: a loop over one block is vector code,
//! and its bounds let a brush pass over all of it at once.

use glam::{DVec3, Vec2, Vec3};
use raster::TILE_EDGE;

use crate::TriangleId;

/// Texels along a block's edge.
pub const BLOCK_EDGE: usize = 8;
/// Texels in a block.
pub const BLOCK_TEXELS: usize = BLOCK_EDGE * BLOCK_EDGE;

/// What the texels of one tile show. Kept and filled again, it allocates no more.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DecodedTile {
    /// What offsets are measured from, in model units.
    pub origin: DVec3,
    /// The triangles that the texels show, each once, in the order in which blocks first show them.
    pub frames: Vec<TexelFrame>,
    /// The blocks that show anything, by ascending place.
    pub blocks: Vec<TexelBlock>,
}

/// What texels that show one triangle have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TexelFrame {
    /// The triangle.
    pub triangle: TriangleId,
    /// How the point moves with one texel along x, in model units; zero where the triangle has no area
    /// in the layout.
    pub du: Vec3,
    /// The same with one texel along y (down).
    pub dv: Vec3,
    /// The unit normal of the triangle's plane; zero where it has no area.
    pub geometric_normal: Vec3,
}

/// 8 x 8 texels, row by row. Those that show nothing repeat the values of one that does, so that a loop
/// over all 64 needs no branch.
#[derive(Debug, Clone, PartialEq)]
pub struct TexelBlock {
    /// Which block of its tile, row by row: 0..64.
    pub place: u8,
    /// Bit y * 8 + x is set where that texel shows a point.
    pub shown: u64,
    /// Those of the shown ones that no triangle owns.
    pub padding: u64,
    /// Those of the padding ones whose point lies beyond the triangle that they show, in its plane: it
    /// need not be a point of the surface.
    pub beyond: u64,
    /// Index into [`DecodedTile::frames`]: the triangle that the texel shows.
    pub frame: [u16; BLOCK_TEXELS],
    /// The triangle that owns it; for a padding texel one of the island that it borders.
    pub owner: [TriangleId; BLOCK_TEXELS],
    /// The point, from the tile's origin, in model units: x, y, z.
    pub offset: [[f32; BLOCK_TEXELS]; 3],
    /// The smooth normal there, of unit length: [`crate::Surface::smooth_normal`].
    pub normal: [[f32; BLOCK_TEXELS]; 3],
    /// The UV of the point: for a padding texel that shows another island, the UV in that island.
    pub uv: [[f32; BLOCK_TEXELS]; 2],
    /// Middle of a ball that holds all shown points, from the tile's origin.
    pub centre: Vec3,
    /// Its radius, slightly generous.
    pub radius: f32,
    /// Axis of a cone that holds all shown normals, of unit length.
    pub facing: Vec3,
    /// Cosine of the cone's half angle, slightly low; -1 where it can't be told.
    pub spread: f32,
    /// The lowest UV of a shown texel.
    pub uv_low: Vec2,
    /// The highest UV of a shown texel.
    pub uv_high: Vec2,
}

/// One texel of a block, taken out of its arrays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceTexel {
    /// Its place in the tile: [`raster::texel_index`].
    pub index: u16,
    /// Index into [`DecodedTile::frames`]: the triangle that it shows.
    pub frame: u16,
    /// As [`TexelBlock::owner`].
    pub owner: TriangleId,
    /// True when no triangle owns it.
    pub padding: bool,
    /// As [`TexelBlock::offset`].
    pub offset: Vec3,
    /// As [`TexelBlock::normal`].
    pub normal: Vec3,
    /// As [`TexelBlock::uv`].
    pub uv: Vec2,
}

impl DecodedTile {
    /// The point that a texel shows, in model units.
    pub fn point(&self, texel: &SurfaceTexel) -> DVec3 {
        self.origin + texel.offset.as_dvec3()
    }

    /// The texels that show anything, block by block: index in the tile, block, number in the block.
    pub fn shown(&self) -> impl Iterator<Item = (usize, &TexelBlock, usize)> {
        self.blocks
            .iter()
            .flat_map(|block| block.numbers().map(move |n| (block.texel_index(n), block, n)))
    }

    /// The same texels, each taken out of its block.
    pub fn texels(&self) -> impl Iterator<Item = SurfaceTexel> {
        self.shown().map(|(_, block, number)| block.texel(number))
    }

    /// Bytes of memory that it takes.
    pub fn bytes(&self) -> usize {
        self.frames.capacity() * size_of::<TexelFrame>()
            + self.blocks.capacity() * size_of::<TexelBlock>()
    }
}

impl TexelBlock {
    pub(crate) const EMPTY: Self = Self {
        place: 0,
        shown: 0,
        padding: 0,
        beyond: 0,
        frame: [0; BLOCK_TEXELS],
        owner: [TriangleId(0); BLOCK_TEXELS],
        offset: [[0.0; BLOCK_TEXELS]; 3],
        normal: [[0.0; BLOCK_TEXELS]; 3],
        uv: [[0.0; BLOCK_TEXELS]; 2],
        centre: Vec3::ZERO,
        radius: 0.0,
        facing: Vec3::Z,
        spread: -1.0,
        uv_low: Vec2::ZERO,
        uv_high: Vec2::ZERO,
    };

    /// Where texel `number` of the block stands in the tile: [`raster::texel_index`].
    #[inline]
    pub fn texel_index(&self, number: usize) -> usize {
        let (left, top) = self.first_texel();
        (top + number / BLOCK_EDGE) * TILE_EDGE + left + number % BLOCK_EDGE
    }

    /// Column and row in the tile of the block's first texel.
    #[inline]
    pub fn first_texel(&self) -> (usize, usize) {
        let across = TILE_EDGE / BLOCK_EDGE;
        let place = self.place as usize;
        (place % across * BLOCK_EDGE, place / across * BLOCK_EDGE)
    }

    /// The numbers of its shown texels, ascending.
    pub fn numbers(&self) -> impl Iterator<Item = usize> + use<> {
        bits(self.shown)
    }

    /// One texel, shown or not.
    pub fn texel(&self, number: usize) -> SurfaceTexel {
        SurfaceTexel {
            index: self.texel_index(number) as u16,
            frame: self.frame[number],
            owner: self.owner[number],
            padding: self.padding >> number & 1 == 1,
            offset: self.offset_of(number),
            normal: self.normal_of(number),
            uv: self.uv_of(number),
        }
    }

    /// The point that it shows, from the tile's origin.
    #[inline]
    pub fn offset_of(&self, number: usize) -> Vec3 {
        Vec3::from_array(self.offset.each_ref().map(|values| values[number]))
    }

    /// The smooth normal there.
    #[inline]
    pub fn normal_of(&self, number: usize) -> Vec3 {
        Vec3::from_array(self.normal.each_ref().map(|values| values[number]))
    }

    /// The UV there.
    #[inline]
    pub fn uv_of(&self, number: usize) -> Vec2 {
        Vec2::new(self.uv[0][number], self.uv[1][number])
    }

    /// Bounds its texels: all 64, since those that show nothing repeat a shown one.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn bound(&mut self) {
        let [xs, ys, zs] = &self.offset;
        let (x, y, z) = (extent(xs), extent(ys), extent(zs));
        let (low, high) = (Vec3::new(x.0, y.0, z.0), Vec3::new(x.1, y.1, z.1));
        self.centre = (low + high) * 0.5;
        let mut squared = [0.0; BLOCK_TEXELS];
        for number in 0..BLOCK_TEXELS {
            let x = xs[number] - self.centre.x;
            let y = ys[number] - self.centre.y;
            let z = zs[number] - self.centre.z;
            squared[number] = x * x + y * y + z * z;
        }
        // Rounding of the offsets themselves: a few units in the last place of the largest.
        let rounding = low.abs().max(high.abs()).max_element() * 1e-6;
        self.radius = extent(&squared).1.sqrt() * 1.000_01 + rounding;
        let [us, vs] = &self.uv;
        let (u, v) = (extent(us), extent(vs));
        (self.uv_low, self.uv_high) = (Vec2::new(u.0, v.0), Vec2::new(u.1, v.1));
        self.bound_normals();
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn bound_normals(&mut self) {
        let [xs, ys, zs] = &self.normal;
        let axis = Vec3::new(sum(xs), sum(ys), sum(zs));
        let length = axis.length();
        let direction = axis / length;
        let (mut squared, mut cosines) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
        for number in 0..BLOCK_TEXELS {
            let (x, y, z) = (xs[number], ys[number], zs[number]);
            squared[number] = x * x + y * y + z * z;
            cosines[number] = x * direction.x + y * direction.y + z * direction.z;
        }
        // A normal of no length has no direction to bound.
        (self.facing, self.spread) = if length < 1e-3 || extent(&squared).0 < 0.5 {
            (Vec3::Z, -1.0)
        } else {
            (direction, (extent(&cosines).0 - 1e-6).max(-1.0))
        };
    }
}

/// The numbers of the bits that are set, ascending.
pub(crate) fn bits(mut set: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let lowest = set.trailing_zeros() as usize;
            set &= set - 1;
            lowest
        })
    })
}

/// The lowest and the highest value: by columns first, which is vector code.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn extent(values: &[f32; BLOCK_TEXELS]) -> (f32, f32) {
    let (mut low, mut high) = ([f32::INFINITY; BLOCK_EDGE], [f32::NEG_INFINITY; BLOCK_EDGE]);
    for row in values.as_chunks::<BLOCK_EDGE>().0 {
        for column in 0..BLOCK_EDGE {
            low[column] = if row[column] < low[column] { row[column] } else { low[column] };
            high[column] = if row[column] > high[column] { row[column] } else { high[column] };
        }
    }
    let lowest = low.into_iter().fold(f32::INFINITY, f32::min);
    (lowest, high.into_iter().fold(f32::NEG_INFINITY, f32::max))
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn sum(values: &[f32; BLOCK_TEXELS]) -> f32 {
    let mut sums = [0.0; BLOCK_EDGE];
    for row in values.as_chunks::<BLOCK_EDGE>().0 {
        for column in 0..BLOCK_EDGE {
            sums[column] += row[column];
        }
    }
    sums.into_iter().sum()
}
