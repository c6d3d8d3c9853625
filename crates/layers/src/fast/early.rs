//! Has memory fetched before it is needed. Tiles lie scattered: without this, a walk waits for each
//! plane's identity, then for its first values, a quarter of its time in all.

use raster::{Tile, TileAt};

use super::plan::Plan;
use crate::{Content, Layer, Mask, MaskSource};

/// How many layers ahead of the walk identities are fetched; values one layer ahead.
const AHEAD: usize = 2;
/// Bytes from one line of the cache to the next.
const LINE: usize = 64;
/// Lines of each plane that are asked for; the rest is asked for in the loop over its texels.
const LINES: usize = 12;

/// Fetches for the layers that follow `index`.
pub(super) fn fetch(plan: &Plan<'_>, at: TileAt, index: usize) {
    if let Some(layer) = plan.layers.get(index + AHEAD) {
        each_tile(plan, layer, at, |tile| tile.address().into_iter().for_each(ask));
    }
    if let Some(layer) = plan.layers.get(index + 1) {
        each_tile(plan, layer, at, |tile| {
            if let Some(first) = tile.values_address() {
                (0..LINES).for_each(|line| ask(first + line * LINE));
            }
        });
    }
}

/// The painted tiles of one layer that the walk will read.
fn each_tile(plan: &Plan<'_>, layer: &Layer, at: TileAt, see: impl Fn(&Tile)) {
    let of_mask = |mask: &Mask| {
        for term in mask.acting() {
            if let MaskSource::Painted(plane) = &term.source {
                see(plane.tile(at));
            }
        }
    };
    of_mask(&layer.mask);
    let Content::Painted(cells) = &layer.content else { return };
    for channel in &plan.channels {
        let id = channel.descriptor.id;
        if let Some(cell) = cells.get(&id) {
            of_mask(&layer.cell(id).mask);
            cell.values.iter().chain([&cell.coverage]).for_each(|plane| see(plane.tile(at)));
        }
    }
}

#[cfg(target_arch = "x86_64")]
fn ask(address: usize) {
    super::avx2::fetch(address);
}

#[cfg(not(target_arch = "x86_64"))]
fn ask(_: usize) {}
