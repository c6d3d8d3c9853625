//! How much a stroke covers: its dabs, built up over the texel map.
//!
//! Each tile is worked on alone, its dabs in order, so the result does not depend on threads. Coverage
//! builds up in `f32` (16 bits would stall at low flow) and is rounded once, when the stroke is done.

use raster::{Extent, Lanes, Observer, PageError, Plane, TILE_TEXELS, Tile, TileAt};
use rayon::prelude::*;
use surface::{DecodedTile, Surface, TexelMap};

use crate::built_up::{BuiltUp, Store, StoreShades, shown_of};
use crate::dab::{dabs, texture_dabs};
use crate::imprint::Imprint;
use crate::stamp::{OnTiles, Stamps, TileFacts, Tool};
use crate::texture_stamp::OnTexels;
use crate::tile_lists::TileLists;
use crate::tile_tree::TileTree;
use crate::{BrushError, BrushSettings, LeftOut, Path, Stroke, Symmetry};

/// What a stroke or a fill covers: 0..1 for each texel, its opacity included. Tiles that are not listed
/// are not covered.
#[derive(Debug, Clone, Default)]
pub struct Coverage {
    /// The plane's size.
    pub extent: Extent,
    /// Covered tiles, row by row.
    pub tiles: Vec<(TileAt, Tile)>,
    /// How what is painted differs, for each of the tiles; empty where it is the same everywhere.
    pub shades: Vec<Shades>,
}

/// How what is painted on each texel of a tile differs from the stroke's own value, a mean over what can be seen of its
/// dabs: in hue, in a colour's value, in a scalar, each -1..1 as in [`crate::Touch::shades`]. Stored 1 is -1, 32768 is 0, 65535 is 1.
#[derive(Debug, Clone)]
pub struct Shades(pub [Tile; 3]);

/// How what does not differ is stored.
pub(crate) const MIDDLE: u16 = 32_768;

impl Coverage {
    /// Where what is painted is the same everywhere.
    pub fn new(extent: Extent, tiles: Vec<(TileAt, Tile)>) -> Self {
        Self { extent, tiles, shades: Vec::new() }
    }

    /// The covered share of a texel, as stored.
    ///
    /// # Errors
    /// [`PageError`] when a tile can't be read.
    pub fn texel(&self, x: u32, y: u32) -> Result<u16, PageError> {
        let at = TileAt::of_texel(x, y);
        match self.tiles.binary_search_by_key(&(at.y, at.x), |(at, _)| (at.y, at.x)) {
            Ok(found) => Ok(self.tiles[found].1.read()?.at(raster::texel_index(x, y))),
            Err(_) => Ok(0),
        }
    }
}

impl Coverage {
    /// As much of it as `limit` (0..1 for each texel, of the same extent) lets through: the product, rounded to the
    /// nearest, so that neither is exceeded. Tiles that it lets nothing through are not covered.
    ///
    /// # Errors
    /// [`PageError`] when a tile can't be read.
    pub fn within(&self, limit: &Plane) -> Result<Self, PageError> {
        let let_through = |(at, _): &(TileAt, Tile)| !limit.tile(*at).same(&Tile::Uniform(0));
        let held = |(at, tile): &(TileAt, Tile)| Ok((*at, limited(tile, limit.tile(*at))?));
        let tiles = self.tiles.par_iter().filter(|tile| let_through(tile)).map(held);
        let shades = self.tiles.iter().zip(&self.shades);
        Ok(Self {
            extent: self.extent,
            tiles: tiles.collect::<Result<_, PageError>>()?,
            shades: shades.filter(|(tile, _)| let_through(tile)).map(|(_, s)| s.clone()).collect(),
        })
    }
}

/// What a stroke covers on the material of a texel map.
///
/// # Errors
/// [`BrushError`] for a stroke that is not valid, too many dabs, or when the observer stops it.
pub fn stroke_coverage(
    stroke: &Stroke,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    stroke.check(surface)?;
    if stroke.kind.is_transport() {
        return Err(BrushError::Transport);
    }
    let (tree, brush) = (TileTree::new(map), &stroke.brush);
    let left_out = &stroke.left_out;
    let imprint = Imprint::of_brush(brush);
    let imprint = imprint.as_ref();
    let replay = Replay { surface, map, brush, left_out, observer };
    let tool = &Tool { brush, imprint, stencil: stroke.stencil.as_ref() };
    match &*stroke.path.laid(surface) {
        Path::Surface(path) => {
            let symmetry = stroke.symmetry.as_ref();
            let dabs = dabs(path, brush, (stroke.seed, symmetry), (surface, map))?;
            let images = symmetry.map_or_else(Vec::new, Symmetry::copies);
            let eyes = (path.eye, &images[..]);
            replay.covered(&OnTiles::new((surface, &tree), tool, eyes, left_out), &dabs)
        }
        Path::Texture(runs) => {
            let dabs = texture_dabs(runs, brush, stroke.seed)?;
            replay.covered(&OnTexels::new((surface, map, &tree), tool), &dabs)
        }
        // Laid, it is on the surface.
        Path::Guided(_) => Err(BrushError::EmptyPath),
    }
}

/// A new tile but where nothing is held back: whoever counts memory knows the limit's own tiles to be nobody else's.
fn limited(tile: &Tile, limit: &Tile) -> Result<Tile, PageError> {
    let product = |a: u16, b: u16| ((u32::from(a) * u32::from(b) + 32_767) / 65_535) as u16;
    match (tile, limit) {
        (_, Tile::Uniform(u16::MAX)) => return Ok(tile.clone()),
        (Tile::Uniform(a), Tile::Uniform(b)) => return Ok(Tile::Uniform(product(*a, *b))),
        _ => {}
    }
    let (tile, limit) = (tile.read()?, limit.read()?);
    let texels = std::array::from_fn(|index| product(tile.at(index), limit.at(index)));
    Ok(Tile::of(&texels))
}

/// A stroke done at once, tile by tile.
struct Replay<'a> {
    surface: &'a Surface,
    map: &'a TexelMap,
    brush: &'a BrushSettings,
    left_out: &'a LeftOut,
    observer: &'a dyn Observer,
}

impl Replay<'_> {
    fn covered<S: Stamps>(&self, stamps: &S, dabs: &[S::Dab]) -> Result<Coverage, BrushError> {
        let extent = self.map.size().extent();
        let mut lists = TileLists::new(extent);
        stamps.list(dabs, &mut lists);
        let prepared = stamps.prepare(dabs);
        let mut touched: Vec<&(TileAt, Vec<u32>)> = lists.tiles().iter().collect();
        touched.sort_unstable_by_key(|(at, _)| (at.y, at.x));
        let is_shaded = self.brush.jitter.shades();
        let done: Vec<(TileAt, Tile, Option<Shades>)> = touched
            .par_iter()
            .map_init(
                || (DecodedTile::default(), BuiltUp::new(is_shaded)),
                |(decoded, built_up), (at, numbers)| {
                    self.observer.check()?;
                    self.map.decode(self.surface, *at, decoded);
                    let shown = &shown_of(decoded, self.surface, self.left_out);
                    if *shown == [0; _] {
                        return Ok((*at, Tile::Uniform(0), None));
                    }
                    built_up.renew(is_shaded);
                    let mut facts = TileFacts::NOTHING;
                    let canvas = &mut built_up.onto();
                    stamps.stamp(decoded, dabs, &prepared, numbers, &mut facts, canvas);
                    let which = canvas.touched();
                    let (mut texels, opacity) = ([0; TILE_TEXELS], self.brush.opacity);
                    let bare = |place| built_up.bare(place);
                    let texels = &mut texels;
                    Lanes::widest().run(Store { shown, which, bare, opacity, texels });
                    let shades = is_shaded.then(|| shades_of(built_up, which));
                    Ok((*at, Tile::of(texels), shades))
                },
            )
            .collect::<Result<_, BrushError>>()?;
        let mut coverage = Coverage::new(extent, Vec::new());
        for (at, tile, shades) in done {
            if !tile.same(&Tile::Uniform(0)) {
                coverage.tiles.push((at, tile));
                coverage.shades.extend(shades);
            }
        }
        Ok(coverage)
    }
}

fn shades_of(built_up: &BuiltUp, which: u64) -> Shades {
    let mut texels = [(); 3].map(|()| Box::new([MIDDLE; TILE_TEXELS]));
    let shades = |place| built_up.shades(place);
    Lanes::widest().run(StoreShades {
        which,
        shades,
        texels: texels.each_mut().map(|texels| &mut **texels),
    });
    Shades(texels.map(|texels| Tile::of(&texels)))
}
