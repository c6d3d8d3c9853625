//! What a stroke has covered so far, kept from frame to frame.
//!
//! Dabs that are certain are stamped once and stay. Those of the path's provisional end go onto a copy of
//! the blocks that they touch, which is shown and then forgotten. Only blocks that a frame's dabs touch, and
//! those that showed provisional ones, are stored anew.

use std::collections::HashMap;
use std::sync::Arc;

use raster::{Extent, Lanes, PageError, TILE_TEXELS, Texels, Tile, TileAt, TileRead};
use rayon::prelude::*;
use surface::DecodedTiles;

use crate::built_up::{BuiltUp, Shown, Store, StoreShades, shown_of};
use crate::coverage::{MIDDLE, Shades};
use crate::imprint::{Imprint, Pressed};
use crate::shares_on_tile::SharesOnTile;
use crate::stamp::{Stamps, TileFacts};
use crate::tile_lists::TileLists;
use crate::{BrushSettings, Coverage, LeftOut, Tooth};

/// More tiles than this are not kept for the next stroke.
const MOST_SPARE: usize = 1024;
/// Nor is the tooth of more tiles: it takes 16 KiB each.
const MOST_TEETH: usize = 2048;

/// One touched tile.
#[derive(Debug)]
struct TouchedTile {
    at: TileAt,
    facts: Box<TileFacts>,
    /// Those that are painted; none before the tile was looked at.
    texels: Option<Box<Shown>>,
    /// Of the dabs that are certain.
    built_up: BuiltUp,
    /// What was shown last.
    shown: Tile,
    /// How it differs, where dabs do.
    shades: Option<Shades>,
    /// What was shown before that. Mostly nobody else holds it any more, and its memory serves again.
    before: Tile,
    /// True where what is shown changed last.
    changed: bool,
    /// The blocks that were shown with a provisional dab: a bit a place.
    provisional: u64,
}

impl TouchedTile {
    fn new(at: TileAt, is_shaded: bool) -> Self {
        Self {
            at,
            facts: Box::new(TileFacts::NOTHING),
            texels: None,
            built_up: BuiltUp::new(is_shaded),
            shown: Tile::Uniform(0),
            shades: None,
            before: Tile::Uniform(0),
            changed: false,
            provisional: 0,
        }
    }

    /// The same as new, in the memory that it has; the tiles that it showed are let go.
    fn renewed(mut self) -> Self {
        let is_shaded = self.built_up.is_shaded();
        self.built_up.renew(is_shaded);
        *self.facts = TileFacts::NOTHING;
        (self.shown, self.before, self.shades) = (Tile::Uniform(0), Tile::Uniform(0), None);
        (self.changed, self.provisional, self.texels) = (false, 0, None);
        self
    }

    /// Shows what is bare now of the blocks in `which`, those in `self.provisional` as in `copy`.
    fn show(&mut self, (which, copy): (u64, &BuiltUp), opacity: f32) -> Result<(), PageError> {
        let mut texels = match self.shown.read()? {
            TileRead::Uniform(value) => [value; TILE_TEXELS],
            TileRead::Texels(texels) => *texels,
        };
        let (provisional, built_up) = (self.provisional, &self.built_up);
        let bare = |place: u8| {
            if provisional >> place & 1 == 1 { copy.bare(place) } else { built_up.bare(place) }
        };
        let Some(shown) = &self.texels else { return Ok(()) };
        let store = Store { shown, which, bare, opacity, texels: &mut texels };
        self.changed = Lanes::widest().run(store);
        if self.changed {
            let old = std::mem::replace(&mut self.before, self.shown.clone());
            self.shown = tile_of(&texels, old)?;
        }
        if self.built_up.is_shaded() {
            self.show_shades(which, copy)?;
            self.changed = true;
        }
        Ok(())
    }

    fn show_shades(&mut self, which: u64, copy: &BuiltUp) -> Result<(), PageError> {
        let mut texels = [(); 3].map(|()| Box::new([MIDDLE; TILE_TEXELS]));
        if let Some(Shades(before)) = &self.shades {
            for (texels, tile) in texels.iter_mut().zip(before) {
                match tile.read()? {
                    TileRead::Uniform(value) => texels.fill(value),
                    TileRead::Texels(read) => **texels = *read,
                }
            }
        }
        let (provisional, built_up) = (self.provisional, &self.built_up);
        let shades = |place: u8| {
            if provisional >> place & 1 == 1 { copy.shades(place) } else { built_up.shades(place) }
        };
        Lanes::widest().run(StoreShades {
            which,
            shades,
            texels: texels.each_mut().map(|texels| &mut **texels),
        });
        self.shades = Some(Shades(texels.map(|texels| Tile::of(&texels))));
        Ok(())
    }
}

/// A tile of these values, in the memory of `old` where nobody else holds it.
fn tile_of(texels: &Texels, mut old: Tile) -> Result<Tile, PageError> {
    let is_ours = matches!(&old, Tile::Texels(body) if Arc::strong_count(body) == 1);
    if !is_ours || texels.iter().all(|value| *value == texels[0]) {
        return Ok(Tile::of(texels));
    }
    *old.write()? = *texels;
    Ok(old)
}

/// The tiles that a stroke has touched, and what it takes to go on. Handed from stroke to stroke, it
/// allocates little but the tiles that it shows.
#[derive(Debug, Default)]
pub(crate) struct Frames {
    /// Each tile of the plane, row by row.
    touched: Vec<Option<TouchedTile>>,
    /// Those that are there.
    places: Vec<TileAt>,
    across: u32,
    spare: Vec<TouchedTile>,
    certain: TileLists,
    provisional: TileLists,
    /// Tiles in whose shown values a provisional dab is.
    to_restore: Vec<TileAt>,
    work: Vec<TouchedTile>,
    changed: Coverage,
    is_shaded: bool,
    /// The tooth of the last stroke, as far as it was worked out: the next one mostly has the same.
    teeth: HashMap<TileAt, SharesOnTile>,
    tooth: Option<Tooth>,
    /// What the last brush pressed down, which the next one mostly does too.
    imprint: Option<(Pressed, Imprint)>,
}

/// A stroke's new dabs.
#[derive(Debug)]
pub(crate) struct NewDabs<'a, D> {
    /// Those that stay.
    pub(crate) certain: &'a [D],
    /// Those of the path's provisional end.
    pub(crate) provisional: &'a [D],
}

impl Frames {
    /// Another place is painted: what was worked out of its texels is void.
    pub(crate) fn leave_place(&mut self) {
        self.end_stroke();
        self.teeth.clear();
    }

    /// Nothing is touched yet, on a plane of this extent, by this brush. Gives what it presses down.
    pub(crate) fn begin(&mut self, extent: Extent, brush: &BrushSettings) -> Option<Imprint> {
        self.end_stroke();
        if self.tooth.as_ref() != brush.anchored_tooth() {
            self.teeth.clear();
            self.tooth = brush.anchored_tooth().cloned();
        }
        let (across, down) = extent.tiles();
        self.across = across;
        self.changed.extent = extent;
        self.is_shaded = brush.jitter.shades();
        self.touched.resize_with(across as usize * down as usize, || None);
        let pressed = Pressed::of(brush)?;
        if self.imprint.as_ref().is_none_or(|(kept, _)| *kept != pressed) {
            self.imprint = Some((pressed.clone(), Imprint::of(&pressed)));
        }
        self.imprint.as_ref().map(|(_, imprint)| imprint.clone())
    }

    /// Lets go of what the stroke touched.
    pub(crate) fn end_stroke(&mut self) {
        for at in self.places.drain(..) {
            let mut slot = self.touched[(at.y * self.across + at.x) as usize].take();
            if let Some(tile) = &mut slot
                && !tile.facts.tooth.is_nothing()
                && self.teeth.len() < MOST_TEETH
            {
                let tooth = std::mem::replace(&mut tile.facts.tooth, SharesOnTile::NOTHING);
                self.teeth.insert(at, tooth);
            }
            let kept = slot.filter(|_| self.spare.len() < MOST_SPARE);
            self.spare.extend(kept.map(TouchedTile::renewed));
        }
        self.to_restore.clear();
        self.forget_changed();
    }

    fn forget_changed(&mut self) {
        self.changed.tiles.clear();
        self.changed.shades.clear();
    }

    /// The tiles that are shown otherwise since dabs were stamped last.
    pub(crate) fn changed(&self) -> &Coverage {
        &self.changed
    }

    /// Stamps dabs.
    pub(crate) fn stamp<S: Stamps>(
        &mut self,
        stamps: &S,
        dabs: &NewDabs<'_, S::Dab>,
        tiles: &DecodedTiles,
        (opacity, left_out): (f32, &LeftOut),
    ) -> Result<(), PageError> {
        let extent = tiles.map().size().extent();
        for (lists, dabs) in
            [(&mut self.certain, dabs.certain), (&mut self.provisional, dabs.provisional)]
        {
            lists.begin(extent);
            stamps.list(dabs, lists);
        }
        let prepared = (stamps.prepare(dabs.certain), stamps.prepare(dabs.provisional));
        self.take_work();
        let (certain, provisional) = (&self.certain, &self.provisional);
        let copy = || BuiltUp::new(self.is_shaded);
        let done = self.work.par_iter_mut().try_for_each_init(copy, |copy, tile| {
            let decoded = tiles.tile(tile.at);
            let TouchedTile { at, facts, built_up, texels, .. } = tile;
            let shown = || Box::new(shown_of(&decoded, tiles.surface(), left_out));
            if **texels.get_or_insert_with(shown) == [0; _] {
                return Ok(());
            }
            let (here, beyond) = (certain.of(*at), provisional.of(*at));
            let mut which = tile.provisional;
            if !here.is_empty() {
                let canvas = &mut built_up.onto();
                stamps.stamp(&decoded, dabs.certain, &prepared.0, here, facts, canvas);
                which |= canvas.touched();
            }
            tile.provisional = 0;
            if !beyond.is_empty() {
                let canvas = &mut copy.over(built_up);
                stamps.stamp(&decoded, dabs.provisional, &prepared.1, beyond, facts, canvas);
                tile.provisional = canvas.touched();
            }
            tile.show((which | tile.provisional, copy), opacity)
        });
        self.put_back();
        done
    }

    /// Takes out every tile that is to be worked on.
    fn take_work(&mut self) {
        let listed = self.certain.tiles().iter().chain(self.provisional.tiles());
        let wanted = &mut self.to_restore;
        wanted.extend(listed.map(|(at, _)| *at));
        wanted.sort_unstable();
        wanted.dedup();
        for at in wanted.drain(..) {
            let index = (at.y * self.across + at.x) as usize;
            let tile = self.touched[index].take().unwrap_or_else(|| {
                self.places.push(at);
                let mut tile = match self.spare.pop() {
                    None => TouchedTile::new(at, self.is_shaded),
                    Some(mut tile) => {
                        if tile.built_up.is_shaded() != self.is_shaded {
                            tile.built_up.renew(self.is_shaded);
                        }
                        TouchedTile { at, ..tile }
                    }
                };
                if let Some(tooth) = self.teeth.remove(&at) {
                    tile.facts.tooth = tooth;
                }
                tile
            });
            self.work.push(tile);
        }
    }

    fn put_back(&mut self) {
        self.forget_changed();
        // Row by row, as coverage lists them.
        self.work.sort_unstable_by_key(|tile| (tile.at.y, tile.at.x));
        for tile in self.work.drain(..) {
            if tile.changed {
                self.changed.tiles.push((tile.at, tile.shown.clone()));
                self.changed.shades.extend(tile.shades.clone());
            }
            if tile.provisional != 0 {
                self.to_restore.push(tile.at);
            }
            let index = (tile.at.y * self.across + tile.at.x) as usize;
            self.touched[index] = Some(tile);
        }
    }

    /// All that is shown.
    pub(crate) fn coverage(&self, extent: Extent) -> Coverage {
        let covered = |tile: &&TouchedTile| !tile.shown.same(&Tile::Uniform(0));
        let shown = || self.touched.iter().flatten().filter(covered);
        Coverage {
            extent,
            tiles: shown().map(|tile| (tile.at, tile.shown.clone())).collect(),
            shades: shown().filter_map(|tile| tile.shades.clone()).collect(),
        }
    }

    /// Bytes of memory that it takes, shown tiles included.
    pub(crate) fn bytes(&self) -> usize {
        let each = size_of::<TileFacts>() + size_of::<Shown>() + size_of::<[f32; TILE_TEXELS]>();
        let bytes = |tile: &TouchedTile| tile.shown.resident_bytes() + tile.before.resident_bytes();
        let shown = self.touched.iter().flatten().map(bytes);
        let of_tooth = |tile: &TouchedTile| tile.facts.tooth.bytes();
        let teeth = self.teeth.values().map(SharesOnTile::bytes).sum::<usize>()
            + self.touched.iter().flatten().map(of_tooth).sum::<usize>();
        (self.places.len() + self.spare.len()) * each
            + teeth
            + self.touched.capacity() * size_of::<Option<TouchedTile>>()
            + shown.sum::<usize>()
    }
}
