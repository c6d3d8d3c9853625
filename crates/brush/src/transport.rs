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
mod clone_from;
mod drawing;
mod frame;
mod picture;
mod replay;
mod source;
mod tile_values;
mod under;
mod working_tile;

use std::sync::Arc;

use raster::{Extent, PageError, Plane, TileAt};
use rayon::prelude::*;
use surface::{BLOCK_TEXELS, DecodedTile, DecodedTiles, TexelBlock};

use crate::built_up::BuiltUp;
use crate::deposit::CellPlanes;
use crate::kernel::Lane;
use crate::settings::FLOW_REFERENCE_SPACING;
use crate::stamp::Stamps;
use crate::tile_lists::TileLists;
use crate::{BrushError, BrushSettings, Image, LeftOut, StrokeKind};
use carried::{Carried, Drawn};
pub use clone_from::{Anchor, CloneFrom};
use frame::Frame;
pub(crate) use frame::Framed;
pub use replay::{MovedTile, put_moved, transport_cells};
use source::Sources;
use tile_values::texel_of;
use under::{Lying, Under};
use working_tile::{Sheets, WorkingTile};

/// Cells along an edge of what is carried: what is smeared need not be as fine as what is copied.
const SMEARED_CELLS: usize = 256;
const COPIED_CELLS: usize = 1024;

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
    spare: Vec<Weighed>,
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
    weighed: Weighed,
    /// The most that a point of it moves from one texel to the next.
    widest: f32,
}

/// What a dab does to a tile.
#[derive(Debug)]
struct Weighed {
    /// What it leaves of each texel.
    left: BuiltUp,
    /// The blocks that it touches.
    under: Vec<Under>,
}

impl Weighed {
    fn new() -> Self {
        Self { left: unshaded(), under: Vec::new() }
    }

    fn bytes(&self) -> usize {
        size_of::<raster::Texels>() * 2 + self.under.capacity() * size_of::<Under>()
    }
}

impl Work {
    fn lying(&self) -> Lying<'_> {
        Lying { values: &self.tile.values, blocks: &self.weighed.under }
    }
}

/// How far each texel has to go, of what is left of its way, so that it has gone these shares of all of it; so far it has
/// gone what is no longer bare of `most`.
fn steps_towards(shares: &Lane, bare: &Lane, most: &Lane) -> Lane {
    std::array::from_fn(|n| {
        let gone = (1.0 - bare[n]) * most[n];
        let further = shares[n] - gone;
        if further > 0.0 { further / (1.0 - gone) } else { 0.0 }
    })
}

/// A dab, in its place.
struct Placed<'a, D> {
    dab: &'a D,
    /// The frame whose image is its own.
    own: &'a Frame,
    frame: &'a Frame,
    image: &'a Image,
    /// It is the first of its run.
    begins: bool,
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
        (brush, left_out, images): (&BrushSettings, &LeftOut, &[Image]),
    ) -> Result<(), PageError> {
        let prepared = &stamps.prepare(dabs);
        for (number, dab) in (0..).zip(dabs) {
            let places = self.places(stamps, dab);
            self.take_work::<S::Dab>(&places, tiles, left_out)?;
            if dab.begins() {
                self.hands.iter_mut().for_each(|(_, before)| *before = None);
            }
            let hand = dab.image() as usize;
            let image = images.get(hand).unwrap_or(&Image::ITSELF);
            let (mut carried, before) = self.take_hand(hand);
            let own = dab.frame(before.as_ref(), image, stamps.reach());
            let frame = own.imaged(image);
            self.weigh((stamps, dabs, prepared), number, &frame);
            let placed = Placed { dab, own: &own, frame: &frame, image, begins: before.is_none() };
            let done = self.dab(stamps, &placed, (tiles, brush, left_out), &mut carried);
            self.hands[hand] = (carried, Some(own));
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

    fn take_work<D: Framed>(
        &mut self,
        places: &[TileAt],
        tiles: &DecodedTiles,
        left_out: &LeftOut,
    ) -> Result<(), PageError> {
        let (sheets, kind) = (&self.sheets, self.kind);
        let mut slots = Vec::with_capacity(places.len());
        for &at in places {
            let index = self.index(at);
            let weighed = self.spare.pop().unwrap_or_else(Weighed::new);
            slots.push((at, self.touched[index].take(), weighed));
        }
        let taken = slots.into_par_iter().map(|(at, tile, weighed)| {
            let decoded = tiles.tile(at);
            let tile = if let Some(tile) = tile {
                tile
            } else {
                let mut new = WorkingTile::read(at, sheets, &decoded, (tiles, left_out))?;
                // What is copied covers as paint does; what is smeared has nothing that it ends at.
                new.built = matches!(kind, StrokeKind::Clone(_)).then(unshaded);
                Box::new(new)
            };
            let widest = D::widest(&decoded, tiles);
            Ok(Work { tile, decoded, weighed, widest })
        });
        self.work = taken.collect::<Result<_, PageError>>()?;
        Ok(())
    }

    /// What a hand carries, and how it lay last; it is out of its place until it is put back.
    fn take_hand(&mut self, hand: usize) -> (Carried, Option<Frame>) {
        let new = || (Carried::new(self.sheets.count(), self.most_cells), None);
        if self.hands.len() <= hand {
            self.hands.resize_with(hand + 1, new);
        }
        std::mem::replace(&mut self.hands[hand], (Carried::new(0, 0), None))
    }

    /// Finds out what the dab leaves of each texel, and which of them lie where in its frame.
    fn weigh<S: Stamps<Dab: Framed>>(
        &mut self,
        (stamps, dabs, prepared): (&S, &[S::Dab], &S::Prepared),
        number: u32,
        frame: &Frame,
    ) {
        let bare = &self.bare;
        self.work.par_iter_mut().for_each(|Work { tile, decoded, weighed, .. }| {
            let Weighed { left, under } = weighed;
            let canvas = &mut left.over(tile.built.as_ref().unwrap_or(bare));
            stamps.stamp(decoded, dabs, prepared, &[number], &mut tile.facts, canvas);
            let which = canvas.touched();
            let frame = &frame.on(S::Dab::origin(decoded));
            let touched = |block: &TexelBlock| which >> block.place & 1 == 1;
            Under::list::<S::Dab>(under, (decoded, frame), touched, |block, _| {
                tile.texels_under(left.bare(block.place), block.place) & !block.padding
            });
        });
    }

    fn dab<S: Stamps<Dab: Framed>>(
        &mut self,
        stamps: &S,
        &Placed { dab, own, frame, image, begins }: &Placed<'_, S::Dab>,
        (tiles, brush, left_out): (&DecodedTiles, &BrushSettings, &LeftOut),
        carried: &mut Carried,
    ) -> Result<(), PageError> {
        let widest = self.work.iter().map(|work| work.widest).fold(0.0, f32::max) / frame.radius;
        // Pressure may have made the first dab the smallest.
        if begins || !matches!(self.kind, StrokeKind::Smudge { .. }) {
            carried.empty(1.0 / widest);
        } else {
            carried.refine(1.0 / widest);
        }
        let coarsest = carried.level_of(widest);
        match self.kind {
            StrokeKind::Deposit => {}
            StrokeKind::Smudge { hold } => {
                let spacing = brush.apart() * brush.tip.narrowness();
                let steps = spacing / FLOW_REFERENCE_SPACING;
                let kept = libm::pow(f64::from(hold), steps) as f32;
                carried.take_up(&self.work.iter().map(Work::lying), kept, coarsest);
                if !begins {
                    self.draw((frame, Drawn::AsItIs), carried, brush)?;
                }
            }
            StrokeKind::Soften { reach } => {
                let softened = carried.level_to_soften(reach / stamps.reach() as f32);
                carried.take_up(&self.work.iter().map(Work::lying), 0.0, softened.0);
                carried.soften(softened);
                self.draw((frame, Drawn::Softened), carried, brush)?;
            }
            StrokeKind::Clone(from) => {
                let Some(source) = dab.source((own, image), &from, (tiles, left_out)) else {
                    return Ok(());
                };
                let places = self.places(stamps, &source.dab);
                self.sources.look(&source, &places, &self.sheets, (tiles, left_out))?;
                carried.take_up(&self.sources.lying(), 0.0, coarsest);
                self.draw((frame, Drawn::AsItIs), carried, brush)?;
            }
        }
        Ok(())
    }

    /// Draws what is carried onto the texels under the dab.
    fn draw(
        &mut self,
        (frame, drawn): (&Frame, Drawn),
        carried: &Carried,
        brush: &BrushSettings,
    ) -> Result<(), PageError> {
        let within = self.within.as_ref();
        self.work.par_iter_mut().try_for_each(|Work { tile, weighed, widest, .. }| {
            let allowed = within.map(|plane| plane.tile(tile.at).read()).transpose()?;
            let level = carried.level_of(*widest / frame.radius);
            let WorkingTile { values, shown, written, dirty, built, .. } = &mut **tile;
            for under in &weighed.under {
                let place = under.place as usize;
                let mut most = [brush.opacity; BLOCK_TEXELS];
                if let Some(allowed) = &allowed {
                    for (number, most) in most.iter_mut().enumerate() {
                        *most *= raster::to_unit(allowed.at(texel_of(place, number)));
                    }
                }
                let left = weighed.left.bare(under.place);
                let mut weights: Lane = std::array::from_fn(|n| (1.0 - left[n]) * most[n]);
                if let Some(built) = built {
                    weights = steps_towards(&weights, built.bare(under.place), &most);
                    built.take_block(&weighed.left, under.place);
                }
                let wanted = (shown[place], &weights);
                let done = carried.draw((drawn, level), wanted, under, values);
                written[place] |= done;
                *dirty |= u64::from(done != 0) << place;
            }
            Ok(())
        })
    }

    fn put_back(&mut self) {
        for Work { tile, weighed, .. } in std::mem::take(&mut self.work) {
            let index = self.index(tile.at);
            self.touched[index] = Some(tile);
            self.spare.push(weighed);
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
        let spare = self.spare.iter().map(Weighed::bytes).sum::<usize>();
        let hands = self.hands.iter().map(|(carried, _)| carried.bytes()).sum::<usize>();
        tiles + spare + hands + self.sources.bytes()
    }
}
