//! Strokes that move paint, done at once.

use std::sync::Arc;

use raster::{Observer, Plane, Tile, TileAt};
use surface::{DecodedTiles, Surface, TexelMap};

use super::Transport;
use crate::dab::{dabs, texture_dabs};
use crate::deposit::CellPlanes;
use crate::imprint::Imprint;
use crate::stamp::{OnTiles, Tool};
use crate::texture_stamp::OnTexels;
use crate::tile_tree::TileTree;
use crate::{BrushError, Path, Stroke, Symmetry};

/// Decoded tiles that a replay keeps.
const DECODED_BYTES: usize = 256 << 20;

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
    stroke.check(surface)?;
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
                transport.apply(&stamps, group, &tiles, (brush, left_out, &images))?;
                done += group.len();
            }
        }
        Path::Texture(runs) => {
            let dabs = texture_dabs(runs, brush, stroke.seed)?;
            let stamps = OnTexels::new((surface, map, &tree), tool);
            for (done, dab) in dabs.iter().enumerate() {
                step(done, dabs.len())?;
                transport.apply(
                    &stamps,
                    std::slice::from_ref(dab),
                    &tiles,
                    (brush, left_out, &[]),
                )?;
            }
        }
        // Laid, it is on the surface.
        Path::Guided(_) => return Err(BrushError::EmptyPath),
    }
    put_moved(cells, transport.moved()?);
    Ok(())
}
