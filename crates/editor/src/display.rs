//! What the views show of each material: composited fast, and only where it changed since it was shown.

use std::collections::BTreeMap;

use document::{Document, MaterialId};
use layers::{ChannelId, DisplayTile, FastCompositor, changed_tiles};
use raster::{TileAt, TileSet};

use crate::{Editor, EditorError};

/// Bytes that the compositor of one material may keep, so that the layers below and above the painted
/// one are not walked again for each dab.
const KEPT_BYTES: usize = 256 << 20;

/// Bytes that are kept however short memory is: what a wide brush touches.
const LEAST_BYTES: usize = 16 << 20;

/// One material as it is shown.
#[derive(Debug)]
struct Displayed {
    compositor: FastCompositor,
    /// The document that was shown last.
    of: Option<Document>,
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
    /// # Errors
    /// As [`Editor::composite`]. The next call then shows all of the same tiles again.
    pub fn display(
        &mut self,
        material: MaterialId,
        sink: &(dyn Fn(TileAt, &DisplayTile) + Sync),
    ) -> Result<usize, EditorError> {
        let shown = self.shown().clone();
        let now = shown.composition(material)?;
        let new = || Displayed { compositor: FastCompositor::new(KEPT_BYTES), of: None };
        let displayed = self.displays.0.entry(material).or_insert_with(new);
        let active = self.painted_last.filter(|layer| now.stack.find(*layer).is_some());
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

    /// Forgets what was shown of a material: the next [`Editor::display`] gives all of it.
    pub fn display_anew(&mut self, material: MaterialId) {
        if let Some(displayed) = self.displays.0.get_mut(&material) {
            displayed.of = None;
        }
    }
}
