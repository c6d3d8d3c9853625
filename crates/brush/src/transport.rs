//! Strokes that move paint: smudge, soften, clone. Each dab reads what lies under it, then writes, one dab after the
//! other.
//!
//! What a brush carries is a picture in the dab's own frame ([`Carried`]): texels are gathered into it by their points
//! in space and drawn from it by their points in space, so that paint goes over seams and keeps its size whatever the
//! layout. How strongly a dab writes is what a paint dab would cover: falloff, tip, tooth, pressure, sight and reach
//! are those of any other stroke.
//!
//! Arithmetic is in `f32`, values multiplied by their coverage, and rounded only where tiles are handed out. A texel
//! that no dab has written keeps its stored value.

mod carried;
mod frame;
mod source;
mod working_tile;

use std::sync::Arc;

use glam::{DVec3, Vec2};
use raster::{Extent, Observer, PageError, Plane, Tile, TileAt};
use rayon::prelude::*;
use surface::{DecodedTile, DecodedTiles, Surface, TexelMap};

use crate::built_up::BuiltUp;
use crate::dab::{dabs, texture_dabs};
use crate::deposit::CellPlanes;
use crate::imprint::Imprint;
use crate::settings::FLOW_REFERENCE_SPACING;
use crate::stamp::{OnTiles, Stamps, Tool};
use crate::texture_stamp::OnTexels;
use crate::tile_lists::TileLists;
use crate::tile_tree::TileTree;
use crate::{BrushError, BrushSettings, LeftOut, Path, Stroke, StrokeKind, Symmetry};
use carried::{Carried, Drawn};
use frame::Frame;
pub(crate) use frame::Framed;
use source::Sources;
use working_tile::{Sheets, WorkingTile};

/// Decoded tiles that a replay keeps.
const DECODED_BYTES: usize = 256 << 20;
/// Cells along an edge of what is carried: what is smeared need not be as fine as what is copied.
const SMEARED_CELLS: usize = 256;
const COPIED_CELLS: usize = 1024;

/// A tile that a stroke has moved paint in.
#[derive(Debug, Clone)]
pub struct MovedTile {
    /// Which.
    pub at: TileAt,
    /// For each cell its values, a tile a component, and its coverage.
    pub cells: Vec<(Vec<Tile>, Tile)>,
}

/// Puts moved tiles in their places. Cells that shared their coverage plane share it still.
pub fn put_moved(cells: &mut [CellPlanes], moved: &[MovedTile]) {
    let before: Vec<Plane> = cells.iter().map(|cell| cell.coverage.clone()).collect();
    for number in 0..cells.len() {
        for tile in moved {
            let (values, coverage) = &tile.cells[number];
            for (plane, value) in cells[number].values.iter_mut().zip(values) {
                plane.set_tile(tile.at, value.clone());
            }
            cells[number].coverage.set_tile(tile.at, coverage.clone());
        }
        if let Some(shared) = (0..number).find(|&other| before[other].same(&before[number])) {
            cells[number].coverage = cells[shared].coverage.clone();
        }
    }
}

/// Moves the paint of cells, or of a mask, as a stroke does that is done at once. A mask is one plane of values whose
/// coverage is full.
///
/// # Errors
/// [`BrushError`] for a stroke that is not valid or moves nothing, too many dabs, a tile that can't be read, or when
/// the observer stops it.
pub fn transport_cells(
    stroke: &Stroke,
    cells: &mut [CellPlanes],
    (surface, map): (&Arc<Surface>, &Arc<TexelMap>),
    within: Option<&Plane>,
    observer: &dyn Observer,
) -> Result<(), BrushError> {
    stroke.check(surface.triangle_count())?;
    let (tree, brush, left_out) = (TileTree::new(map), &stroke.brush, &stroke.left_out);
    let tiles = DecodedTiles::new(Arc::clone(surface), Arc::clone(map), DECODED_BYTES);
    let extent = map.size().extent();
    let mut transport = Transport::begin(stroke.kind, cells.to_vec(), extent, within.cloned())?;
    let step = |done: usize, total: usize| {
        observer.progress(done as u64, total as u64);
        observer.check().map_err(BrushError::from)
    };
    let imprint = Imprint::of_brush(brush);
    let imprint = imprint.as_ref();
    let tool = &Tool { brush, imprint, stencil: stroke.stencil.as_ref() };
    match &*stroke.path.laid(surface) {
        Path::Surface(path) => {
            let symmetry = stroke.symmetry.as_ref();
            let dabs = dabs(path, brush, (stroke.seed, symmetry), (surface, map))?;
            let images = symmetry.map_or_else(Vec::new, Symmetry::copies);
            let eyes = (path.eye, &images[..]);
            let stamps = OnTiles::new((surface, &tree), tool, eyes, left_out);
            let mut done = 0;
            while done < dabs.len() {
                step(done, dabs.len())?;
                let group = &dabs[done..done + dabs[done].copy.of as usize];
                transport.apply(&stamps, group, &tiles, (brush, left_out))?;
                done += group.len();
            }
        }
        Path::Texture(runs) => {
            let dabs = texture_dabs(runs, brush, stroke.seed)?;
            let stamps = OnTexels::new((surface, map, &tree), tool);
            for (done, dab) in dabs.iter().enumerate() {
                step(done, dabs.len())?;
                transport.apply(&stamps, std::slice::from_ref(dab), &tiles, (brush, left_out))?;
            }
        }
        // Laid, it is on the surface.
        Path::Guided(_) => return Err(BrushError::EmptyPath),
    }
    put_moved(cells, transport.moved()?);
    Ok(())
}

/// A stroke that moves paint, on its way.
#[derive(Debug)]
pub(crate) struct Transport {
    kind: StrokeKind,
    sheets: Sheets,
    /// Where it may write, and how strongly.
    within: Option<Plane>,
    extent: Extent,
    /// Each tile of the planes, row by row.
    touched: Vec<Option<Box<WorkingTile>>>,
    lists: TileLists,
    work: Vec<Work>,
    spare: Vec<BuiltUp>,
    /// What lies under no dab.
    bare: BuiltUp,
    /// What the stroke and each of its copies carry, and how they lay last.
    hands: Vec<(Carried, Option<Frame>)>,
    most_cells: usize,
    sources: Sources,
    moved: Vec<MovedTile>,
}

/// Moved paint has no value of the stroke's own that it could differ from.
fn unshaded() -> BuiltUp {
    BuiltUp::new(false)
}

/// A tile under a dab.
#[derive(Debug)]
struct Work {
    tile: Box<WorkingTile>,
    decoded: Arc<DecodedTile>,
    /// What the dab leaves of each texel.
    left: BuiltUp,
    /// The blocks that it touches: a bit a place.
    which: u64,
}

impl Transport {
    /// Nothing is moved yet.
    ///
    /// # Errors
    /// [`BrushError::Transport`] for a kind that moves nothing.
    pub(crate) fn begin(
        kind: StrokeKind,
        cells: Vec<CellPlanes>,
        extent: Extent,
        within: Option<Plane>,
    ) -> Result<Self, BrushError> {
        if kind == StrokeKind::Deposit {
            return Err(BrushError::Transport);
        }
        let (across, down) = extent.tiles();
        let mut touched = Vec::new();
        touched.resize_with(across as usize * down as usize, || None);
        let sheets = Sheets::of(cells);
        let most_cells = match kind {
            StrokeKind::Clone(_) => COPIED_CELLS,
            _ => SMEARED_CELLS,
        };

        Ok(Self {
            kind,
            within,
            extent,
            touched,
            lists: TileLists::new(extent),
            work: Vec::new(),
            spare: Vec::new(),
            bare: unshaded(),
            hands: Vec::new(),
            most_cells,
            sources: Sources::default(),
            moved: Vec::new(),
            sheets,
        })
    }

    /// Does dabs, one after the other.
    pub(crate) fn apply<S: Stamps<Dab: Framed>>(
        &mut self,
        stamps: &S,
        dabs: &[S::Dab],
        tiles: &DecodedTiles,
        (brush, left_out): (&BrushSettings, &LeftOut),
    ) -> Result<(), PageError> {
        for (number, dab) in (0..).zip(dabs) {
            let places = self.places(stamps, dab);
            self.take_work(&places, tiles, left_out)?;
            self.weigh(stamps, dabs, number);
            let done = self.dab(stamps, dab, tiles, brush);
            self.put_back();
            done?;
        }
        Ok(())
    }

    /// The tiles that a dab may touch, row by row.
    fn places<S: Stamps>(&mut self, stamps: &S, dab: &S::Dab) -> Vec<TileAt> {
        self.lists.begin(self.extent);
        stamps.list(std::slice::from_ref(dab), &mut self.lists);
        let mut places: Vec<TileAt> = self.lists.tiles().iter().map(|(at, _)| *at).collect();
        places.sort_unstable_by_key(|at| (at.y, at.x));
        places
    }

    fn take_work(
        &mut self,
        places: &[TileAt],
        tiles: &DecodedTiles,
        left_out: &LeftOut,
    ) -> Result<(), PageError> {
        let sheets = &self.sheets;
        let mut slots = Vec::with_capacity(places.len());
        for &at in places {
            let index = self.index(at);
            slots.push((at, self.touched[index].take(), self.spare.pop().unwrap_or_else(unshaded)));
        }
        let taken = slots.into_par_iter().map(|(at, tile, left)| {
            let decoded = tiles.tile(at);
            let tile = match tile {
                Some(tile) => tile,
                None => Box::new(WorkingTile::read(at, sheets, &decoded, (tiles, left_out))?),
            };
            Ok(Work { tile, decoded, left, which: 0 })
        });
        self.work = taken.collect::<Result<_, PageError>>()?;
        Ok(())
    }

    /// Finds out what the dab leaves of each texel.
    fn weigh<S: Stamps>(&mut self, stamps: &S, dabs: &[S::Dab], number: u32) {
        let (prepared, bare) = (stamps.prepare(dabs), &self.bare);
        self.work.par_iter_mut().for_each(|work| {
            let canvas = &mut work.left.over(bare);
            stamps.stamp(&work.decoded, dabs, &prepared, &[number], &mut work.tile.facts, canvas);
            work.which = canvas.touched();
        });
    }

    fn dab<S: Stamps<Dab: Framed>>(
        &mut self,
        stamps: &S,
        dab: &S::Dab,
        tiles: &DecodedTiles,
        brush: &BrushSettings,
    ) -> Result<(), PageError> {
        let hand = dab.image() as usize;
        while self.hands.len() <= hand {
            self.hands.push((Carried::new(self.sheets.count(), self.most_cells), None));
        }
        // Out of its place meanwhile, which the tiles are read beside.
        let nothing = (Carried::new(0, 0), None);
        let (mut carried, before) = std::mem::replace(&mut self.hands[hand], nothing);
        let before = before.filter(|_| !dab.begins());
        let frame = dab.frame(before.as_ref());
        let done =
            self.do_dab(stamps, (dab, &frame, before.is_none()), (tiles, brush), &mut carried);
        self.hands[hand] = (carried, Some(frame));
        done
    }

    fn do_dab<S: Stamps<Dab: Framed>>(
        &mut self,
        stamps: &S,
        (dab, frame, begins): (&S::Dab, &Frame, bool),
        (tiles, brush): (&DecodedTiles, &BrushSettings),
        carried: &mut Carried,
    ) -> Result<(), PageError> {
        if begins {
            let widest = self.work.iter().map(|work| S::Dab::widest(&work.decoded, tiles));
            carried.empty(frame.radius / widest.fold(0.0, f32::max));
        }
        match self.kind {
            StrokeKind::Deposit => {}
            StrokeKind::Smudge { hold } => {
                self.gather::<S::Dab>(frame, carried);
                let steps = f64::from(brush.spacing) / FLOW_REFERENCE_SPACING;
                carried.take_up(libm::pow(f64::from(hold), steps) as f32);
                if !begins {
                    self.draw::<S::Dab>((frame, Drawn::AsItIs), carried, (tiles, brush))?;
                }
            }
            StrokeKind::Soften { reach } => {
                self.gather::<S::Dab>(frame, carried);
                carried.take_up(0.0);
                let level = carried.soften(reach);
                self.draw::<S::Dab>((frame, Drawn::Softened(level)), carried, (tiles, brush))?;
            }
            StrokeKind::Clone(from) => {
                let Some(source) = dab.source(frame, &from, tiles) else { return Ok(()) };
                let places = self.places(stamps, &source.dab);
                let sheets = &self.sheets;
                self.sources.gather(&source, &places, (sheets, tiles), carried)?;
                carried.take_up(0.0);
                self.draw::<S::Dab>((frame, Drawn::AsItIs), carried, (tiles, brush))?;
            }
        }
        Ok(())
    }

    /// Gathers what lies under the dab.
    fn gather<D: Framed>(&self, frame: &Frame, carried: &mut Carried) {
        carried.begin_gathering();
        for work in &self.work {
            let places = frame.on(D::origin(&work.decoded));
            for block in &work.decoded.blocks {
                if work.which >> block.place & 1 == 1 {
                    let left = work.left.bare(block.place);
                    let wanted = work.tile.texels_under(left, block.place) & !block.padding;
                    let at = places.of(D::points(block));
                    carried.gather(wanted, &at, (block, &work.tile.sheets));
                }
            }
        }
    }

    /// Draws what is carried onto the texels under the dab.
    fn draw<D: Framed>(
        &mut self,
        (frame, drawn): (&Frame, Drawn),
        carried: &Carried,
        (tiles, brush): (&DecodedTiles, &BrushSettings),
    ) -> Result<(), PageError> {
        let within = self.within.as_ref();
        self.work.par_iter_mut().try_for_each(|work| {
            let allowed = within.map(|plane| plane.tile(work.tile.at).read()).transpose()?;
            let places = frame.on(D::origin(&work.decoded));
            let drawn = carried.level_for(drawn, D::widest(&work.decoded, tiles) / frame.radius);
            let WorkingTile { sheets, shown, written, dirty, .. } = &mut *work.tile;
            for block in work.decoded.blocks.iter().filter(|b| work.which >> b.place & 1 == 1) {
                let left = work.left.bare(block.place);
                let mut weights = left.map(|left| (1.0 - left) * brush.opacity);
                if let Some(allowed) = &allowed {
                    for (number, weight) in weights.iter_mut().enumerate() {
                        *weight *= raster::to_unit(allowed.at(block.texel_index(number)));
                    }
                }
                let wanted = shown[block.place as usize];
                let at = places.of(D::points(block));
                let done = carried.draw(drawn, (wanted, &weights), &at, (block, sheets));
                written[block.place as usize] |= done;
                *dirty |= u64::from(done != 0) << block.place;
            }
            Ok(())
        })
    }

    fn put_back(&mut self) {
        for Work { tile, left, .. } in std::mem::take(&mut self.work) {
            let index = self.index(tile.at);
            self.touched[index] = Some(tile);
            self.spare.push(left);
        }
    }

    fn index(&self, at: TileAt) -> usize {
        (at.y * self.extent.tiles().0 + at.x) as usize
    }

    /// True where any texel was written.
    pub(crate) fn has_moved(&self) -> bool {
        self.touched.iter().flatten().any(|tile| tile.written.iter().any(|written| *written != 0))
    }

    /// The tiles that changed since the last call, row by row.
    pub(crate) fn moved(&mut self) -> Result<&[MovedTile], PageError> {
        let sheets = &self.sheets;
        let changed = self.touched.par_iter_mut().flatten().filter(|tile| tile.dirty != 0);
        let stored = changed.map(|tile| tile.stored(sheets));
        self.moved = stored.collect::<Result<_, PageError>>()?;
        Ok(&self.moved)
    }

    /// Bytes of memory that it takes.
    pub(crate) fn bytes(&self) -> usize {
        let tiles = self.touched.iter().flatten().map(|tile| tile.bytes()).sum::<usize>();
        let spare = self.spare.len() * size_of::<raster::Texels>() * 2;
        let hands = self.hands.iter().map(|(carried, _)| carried.bytes()).sum::<usize>();
        tiles + spare + hands + self.sources.bytes()
    }
}

/// Where a clone stroke takes its paint from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CloneFrom {
    /// From the surface: what lies at `source` comes to `start`, and all around it is turned alike.
    Surface {
        /// The point that was picked.
        source: Anchor,
        /// Where the first stroke with it began.
        start: Anchor,
    },
    /// From the flat texture: so far away, in UV units.
    Texture(Vec2),
}

/// A point of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchor {
    /// In model units.
    pub position: DVec3,
    /// The surface's normal there, unit length.
    pub normal: DVec3,
}

impl CloneFrom {
    pub(crate) fn is_finite(&self) -> bool {
        match self {
            Self::Surface { source, start } => [source, start]
                .iter()
                .all(|anchor| anchor.position.is_finite() && anchor.normal.is_finite()),
            Self::Texture(offset) => offset.is_finite(),
        }
    }
}
