//! What has built up on one tile, and how it is stored.

use raster::{TILE_EDGE, TILE_TEXELS, Texels, Work, from_unit};
use surface::{BLOCK_EDGE, BLOCK_TEXELS, DecodedTile, Surface, TexelFrame};

use crate::LeftOut;
use crate::kernel::Lane;

type Blocks = [Lane; TILE_TEXELS / BLOCK_TEXELS];

/// What is still bare of one tile, as a share, by place of the block: 1 less coverage before the stroke's
/// opacity. So a dab is one product. In `f32`, whose step here is a 900th of that of 16 bits, which would
/// stall at low flow. What it holds for texels that show nothing means nothing.
#[derive(Debug, Clone)]
pub(crate) struct BuiltUp {
    bare: Box<Blocks>,
    /// There where dabs differ in what they paint.
    shades: Option<Box<[Shaded]>>,
}

/// How what lies on each texel of a block differs from the stroke's own value: see [`crate::Shades`]. Then the cover
/// that this is the mean of.
pub(crate) type Shaded = [Lane; 4];

const UNSHADED: Shaded = [[0.0; BLOCK_TEXELS]; 4];

impl BuiltUp {
    /// Of dabs that differ in what they paint, or don't.
    pub(crate) fn new(is_shaded: bool) -> Self {
        let bare = Box::new([[1.0; BLOCK_TEXELS]; TILE_TEXELS / BLOCK_TEXELS]);
        let shades = is_shaded.then(|| vec![UNSHADED; TILE_TEXELS / BLOCK_TEXELS].into());
        Self { bare, shades }
    }

    /// The same as new, in the memory that it has.
    pub(crate) fn renew(&mut self, is_shaded: bool) {
        self.bare.fill([1.0; BLOCK_TEXELS]);
        match &mut self.shades {
            Some(shades) if is_shaded => shades.fill(UNSHADED),
            shades => *shades = Self::new(is_shaded).shades,
        }
    }

    /// Dabs go onto it itself.
    pub(crate) fn onto(&mut self) -> Canvas<'_> {
        Canvas { base: None, own: self, touched: 0 }
    }

    /// Dabs go onto a copy of `base`, of which only touched blocks are made.
    pub(crate) fn over<'a>(&'a mut self, base: &'a Self) -> Canvas<'a> {
        Canvas { base: Some(base), own: self, touched: 0 }
    }

    /// Takes what is bare of the block at a place from another one.
    pub(crate) fn take_block(&mut self, from: &Self, place: u8) {
        self.bare[place as usize] = from.bare[place as usize];
    }

    pub(crate) fn bare(&self, place: u8) -> &Lane {
        &self.bare[place as usize]
    }

    pub(crate) fn shades(&self, place: u8) -> &Shaded {
        self.shades.as_ref().map_or(&UNSHADED, |shades| &shades[place as usize])
    }

    pub(crate) fn is_shaded(&self) -> bool {
        self.shades.is_some()
    }
}

/// A block that dabs go onto.
#[derive(Debug)]
pub(crate) struct OnBlock<'a> {
    pub(crate) bare: &'a mut Lane,
    pub(crate) shades: Option<&'a mut Shaded>,
}

/// What dabs go onto.
#[derive(Debug)]
pub(crate) struct Canvas<'a> {
    base: Option<&'a BuiltUp>,
    own: &'a mut BuiltUp,
    touched: u64,
}

impl Canvas<'_> {
    /// A block, by its place, for writing.
    pub(crate) fn block(&mut self, place: u8) -> OnBlock<'_> {
        let bare = &mut self.own.bare[place as usize];
        let mut shades = self.own.shades.as_mut().map(|shades| &mut shades[place as usize]);
        if self.touched >> place & 1 == 0 {
            self.touched |= 1 << place;
            if let Some(base) = self.base {
                *bare = *base.bare(place);
                if let Some(shades) = &mut shades {
                    **shades = *base.shades(place);
                }
            }
        }
        OnBlock { bare, shades }
    }

    /// The blocks that were taken for writing: a bit a place.
    pub(crate) fn touched(&self) -> u64 {
        self.touched
    }
}

/// The texels of a tile that show anything that is painted: by place of the block, a bit a texel.
pub(crate) type Shown = [u64; TILE_TEXELS / BLOCK_TEXELS];

pub(crate) fn shown_of(decoded: &DecodedTile, surface: &Surface, left_out: &LeftOut) -> Shown {
    let mut shown = [0; _];
    for block in &decoded.blocks {
        shown[block.place as usize] = block.shown;
    }
    if !left_out.is_empty() {
        let takes = |frame: &TexelFrame| left_out.paints(surface.part_of(frame.triangle));
        let takes: Vec<bool> = decoded.frames.iter().map(takes).collect();
        for block in &decoded.blocks {
            for (number, &frame) in block.frame.iter().enumerate() {
                shown[block.place as usize] &= !(u64::from(!takes[frame as usize]) << number);
            }
        }
    }
    shown
}

/// Stores coverage of some of a tile's blocks over what is stored of them. It is rounded to the nearest
/// value that does not exceed the opacity: a ceiling is a ceiling. Gives true where that changed anything.
pub(crate) struct Store<'a, B> {
    pub(crate) shown: &'a Shown,
    /// A bit a place.
    pub(crate) which: u64,
    /// What is bare of the block at a place.
    pub(crate) bare: B,
    pub(crate) opacity: f32,
    pub(crate) texels: &'a mut Texels,
}

impl<'a, B: Fn(u8) -> &'a Lane> Work for Store<'a, B> {
    type Done = bool;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> bool {
        let (mut changed, mut left) = (false, self.which);
        while left != 0 {
            let place = left.trailing_zeros() as u8;
            left &= left - 1;
            let shown = self.shown[place as usize];
            changed |= store((self.bare)(place), (place, shown), self.opacity, self.texels);
        }
        changed
    }
}

/// Stores how what lies on some of a tile's blocks differs, over what is stored of them.
pub(crate) struct StoreShades<'a, B> {
    /// A bit a place.
    pub(crate) which: u64,
    /// Those of the block at a place.
    pub(crate) shades: B,
    pub(crate) texels: [&'a mut Texels; 3],
}

impl<'a, B: Fn(u8) -> &'a Shaded> Work for StoreShades<'a, B> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        let Self { which: mut left, shades: of, mut texels } = self;
        while left != 0 {
            let place = left.trailing_zeros() as u8;
            left &= left - 1;
            let shades = of(place);
            for (texels, lane) in texels.iter_mut().zip(shades) {
                let stored: [u16; BLOCK_TEXELS] =
                    std::array::from_fn(|n| (32_768.5 + 32_767.0 * lane[n]) as u16);
                put_block(&stored, place, texels);
            }
        }
    }
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn store(bare: &Lane, (place, shown): (u8, u64), opacity: f32, texels: &mut Texels) -> bool {
    let most = (opacity * 65_535.0) as u16;
    let mut rounded = [0u16; BLOCK_TEXELS];
    for number in 0..BLOCK_TEXELS {
        rounded[number] = from_unit((1.0 - bare[number]) * opacity).min(most);
    }
    if shown != u64::MAX {
        for (number, value) in rounded.iter_mut().enumerate() {
            *value *= (shown >> number & 1) as u16;
        }
    }
    put_block(&rounded, place, texels)
}

/// Puts a block in its place; true where that changed anything.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
pub(crate) fn put_block(block: &[u16; BLOCK_TEXELS], place: u8, texels: &mut Texels) -> bool {
    let across = TILE_EDGE / BLOCK_EDGE;
    let (column, row) = (place as usize % across, place as usize / across);
    let corner = row * BLOCK_EDGE * TILE_EDGE + column * BLOCK_EDGE;
    let mut changed = false;
    for (row, values) in block.as_chunks::<BLOCK_EDGE>().0.iter().enumerate() {
        let first = corner + row * TILE_EDGE;
        let stored = &mut texels[first..first + BLOCK_EDGE];
        changed |= stored != values;
        stored.copy_from_slice(values);
    }
    changed
}
