//! What the views show of each material: composited fast, and only where it changed since it was shown.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{Document, MaterialId};
use layers::{ChannelId, DisplayTile, FastCompositor, LayerId, Stack, Value, changed_tiles};
use raster::{Observer, TileAt, TileSet};

use crate::{Editor, EditorError, Job};

/// Bytes that the compositor of one material may keep, so that the layers below and above the painted
/// one are not walked again for each dab.
const KEPT_BYTES: usize = 512 << 20;

/// Bytes that are kept however short memory is: what a wide brush touches.
const LEAST_BYTES: usize = 16 << 20;

/// Tiles that are got ready between two looks at whether that is still wanted.
const READY_AT_ONCE: usize = 64;

/// One material as it is shown.
#[derive(Debug)]
struct Displayed {
    compositor: Arc<FastCompositor>,
    /// The document that was shown last.
    of: Option<Document>,
    /// What is being got ready, or is.
    ready: Option<Ready>,
}

/// What lies below and above a layer, composited in the background before the first dab needs it.
#[derive(Debug)]
struct Ready {
    layer: LayerId,
    /// The stack that it holds for, whatever the layer itself has come to.
    around: Stack,
    job: Option<Job<()>>,
}

/// Every material that was shown.
#[derive(Debug, Default)]
pub(crate) struct Displays(BTreeMap<MaterialId, Displayed>);

impl Displays {
    /// Bytes of memory that compositors keep.
    pub(crate) fn bytes(&self) -> usize {
        self.0.values().map(|displayed| displayed.compositor.bytes()).sum()
    }

    /// Keeps no more than half of it; false when it is down to what a stroke needs.
    pub(crate) fn halve(&self) -> bool {
        let before = self.bytes();
        if before <= LEAST_BYTES {
            return false;
        }
        for displayed in self.0.values() {
            displayed.compositor.evict_to(displayed.compositor.bytes() / 2);
        }
        self.bytes() < before
    }

    /// Shows nothing any more: another model has come.
    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }
}

impl Editor {
    /// Composites the tiles of a material that changed since this was called last, in the channels in
    /// which they changed, from [`Editor::shown`]: all at first. Each is handed to `sink`, on several
    /// threads and in any order. Gives how many there were.
    ///
    /// Texels around islands, as far as [`surface::TexelMap::padding`] says, hold what lies across the seam: a
    /// bilinear look-up in mip L shows no seam while 1.5 x 2^L is not more than that (to mip 2 at 1024 x 1024,
    /// to mip 4 at 4096 x 4096). Farther out is what the layers give there: fills and solid layers everywhere,
    /// strokes nothing.
    ///
    /// # Errors
    /// As [`Editor::composite`]. The next call then shows all of the same tiles again.
    pub fn display(
        &mut self,
        material: MaterialId,
        sink: &(dyn Fn(TileAt, &DisplayTile) + Sync),
    ) -> Result<usize, EditorError> {
        let shown = self.shown().clone();
        let now = shown.composition(material)?;
        let new = || Displayed {
            compositor: Arc::new(FastCompositor::new(KEPT_BYTES)),
            of: None,
            ready: None,
        };
        let displayed = self.displays.0.entry(material).or_insert_with(new);
        let active =
            self.active.filter(|(of, layer)| *of == material && now.stack.find(*layer).is_some());
        let active = active.map(|(_, layer)| layer);
        let before = displayed.of.as_ref().map(|of| of.composition(material)).transpose()?;
        let mut groups: Vec<(TileSet, Vec<ChannelId>)> = Vec::new();
        for channel in now.channels {
            let changed = before.as_ref().map_or_else(
                || TileSet::all(now.size.extent()),
                |before| changed_tiles(before, &now, channel.id),
            );
            match groups.iter_mut().find(|(tiles, _)| *tiles == changed) {
                Some((_, channels)) => channels.push(channel.id),
                None => groups.push((changed, vec![channel.id])),
            }
        }
        let mut count = 0;
        for (tiles, channels) in &groups {
            let tiles: Vec<TileAt> = tiles.iter().collect();
            let compositor = &displayed.compositor;
            self.pools.interactive(|| compositor.tiles(&now, active, channels, &tiles, sink))?;
            count += tiles.len();
        }
        displayed.of = Some(shown.clone());
        Ok(count)
    }

    /// The values of one texel of a material, channel by channel, from [`Editor::shown`]: exact, and quick enough to
    /// follow the pointer.
    ///
    /// # Errors
    /// [`EditorError::Document`] without such a material, [`EditorError::NoTexel`]; [`EditorError::Layers`]
    /// as [`Editor::composite`].
    pub fn texel_values(
        &self,
        material: MaterialId,
        x: u32,
        y: u32,
    ) -> Result<Vec<(ChannelId, Value)>, EditorError> {
        let shown = self.shown().composition(material)?;
        let edge = shown.size.edge();
        if x.max(y) >= edge {
            return Err(EditorError::NoTexel { x, y, edge });
        }
        Ok(shown.texel(x, y)?)
    }

    /// Says which layer is going to be painted: what lies below and above it is composited in the
    /// background, from the tile `near` the pen outward, so that the first dab anywhere costs no more than
    /// the last. Worth nothing where the layer isn't there.
    ///
    /// # Errors
    /// [`EditorError::Document`] without such a material.
    pub fn make_ready(
        &mut self,
        material: MaterialId,
        layer: LayerId,
        near: TileAt,
    ) -> Result<(), EditorError> {
        self.active = Some((material, layer));
        let Self { history, displays, pools, .. } = self;
        let now = history.present().material(material)?;
        let Some(displayed) = displays.0.get_mut(&material) else { return Ok(()) };
        if let Some(ready) = &mut displayed.ready
            && ready.layer == layer
            && ready.around.same_around(&now.stack, layer)
        {
            // The layer's own texels of then are not to be kept for this.
            ready.around = now.stack.clone();
            return Ok(());
        }
        let compositor = Arc::clone(&displayed.compositor);
        let (around, document) = (now.stack.clone(), history.present().clone());
        let job = pools.start(move |observer| {
            ready(&compositor, &document, (material, layer), near, observer)
        });
        displayed.ready = Some(Ready { layer, around, job: Some(job) });
        Ok(())
    }

    /// Waits until what [`Editor::make_ready`] began is done.
    ///
    /// # Errors
    /// What the work met.
    pub fn wait_until_ready(&mut self, material: MaterialId) -> Result<(), EditorError> {
        let displayed = self.displays.0.get_mut(&material);
        let job = displayed.and_then(|displayed| displayed.ready.as_mut()?.job.take());
        job.map_or(Ok(()), Job::wait)
    }

    /// Forgets what was shown of a material: the next [`Editor::display`], [`Editor::mask_tiles`] and
    /// [`Editor::selection_tiles`] give all of it.
    pub fn display_anew(&mut self, material: MaterialId) {
        self.masks.forget(material);
        self.selections.forget(material);
        if let Some(displayed) = self.displays.0.get_mut(&material) {
            displayed.of = None;
        }
    }
}

/// Walks tiles outward from `near` until all are kept, or as much as may be kept.
fn ready(
    compositor: &FastCompositor,
    document: &Document,
    (material, layer): (MaterialId, LayerId),
    near: TileAt,
    observer: &dyn Observer,
) -> Result<(), EditorError> {
    let composition = document.composition(material)?;
    let channels: Vec<ChannelId> = composition.channels.iter().map(|channel| channel.id).collect();
    let mut tiles: Vec<TileAt> = composition.size.extent().tile_places().collect();
    tiles.sort_by_key(|at| (at.x.abs_diff(near.x).pow(2) + at.y.abs_diff(near.y).pow(2), *at));
    for (done, chunk) in tiles.chunks(READY_AT_ONCE).enumerate() {
        observer.check()?;
        if compositor.bytes() > KEPT_BYTES / 4 * 3 {
            break;
        }
        // Runs of layers above are folded when a tile is met for the second time.
        for _ in 0..2 {
            compositor.tiles(&composition, Some(layer), &channels, chunk, &|_, _| {})?;
        }
        observer.progress((done * READY_AT_ONCE) as u64, tiles.len() as u64);
    }
    Ok(())
}
