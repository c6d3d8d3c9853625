//! Layers, their cells and their masks.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use layers::{
    CellSettings, ChannelId, Content, Layer, MAX_DEPTH, Mask, MaskSource, MaskTerm, PaintedCell,
    Stack, TermId,
};
use raster::{Extent, TextureSize, Tile};

use crate::StoreError;
use crate::damage::{Lost, PlaneOf};
use crate::hash::Hash;
use crate::load::{Found, Loader};
use crate::node::{ContentNode, LayerNode, MaskNode, PaintedNode, SourceNode};

/// More layers in a stack than anybody makes: groups that hold one group many times over would grow without
/// end.
const MOST_LAYERS: usize = 100_000;

/// A layer that was read.
#[derive(Debug, Clone)]
pub(crate) struct FoundLayer {
    layer: Found<Arc<Layer>>,
    extent: Extent,
    /// How many layers it is, with those that it holds.
    count: usize,
    /// How many groups deep it is.
    height: usize,
}

/// A list of layers, those left out that are lost; `None` where there are more than there can be.
pub(crate) fn list(
    loader: &mut Loader<'_>,
    hashes: &[Hash],
    size: TextureSize,
) -> Result<Option<Found<Vec<Arc<Layer>>>>, StoreError> {
    Ok(layers(loader, hashes, size.extent(), 1)?.map(|(found, _, _)| found))
}

type Layers = (Found<Vec<Arc<Layer>>>, usize, usize);

fn layers(
    loader: &mut Loader<'_>,
    hashes: &[Hash],
    extent: Extent,
    depth: usize,
) -> Result<Option<Layers>, StoreError> {
    let mut list = Found { value: Vec::with_capacity(hashes.len()), whole: true };
    let (mut count, mut height) = (0, 0);
    for (place, hash) in hashes.iter().enumerate() {
        let Some(found) = layer(loader, hash, extent, depth)? else {
            loader.lose_once(hash, Lost::Layer(place));
            list.whole = false;
            continue;
        };
        count += found.count;
        height = height.max(found.height);
        if count > MOST_LAYERS || height + depth > MAX_DEPTH + 1 {
            return Ok(None);
        }
        list.whole &= found.layer.whole;
        list.value.push(found.layer.value);
    }
    Ok(Some((list, count, height)))
}

fn layer(
    loader: &mut Loader<'_>,
    hash: &Hash,
    extent: Extent,
    depth: usize,
) -> Result<Option<FoundLayer>, StoreError> {
    let fits = |found: &FoundLayer| found.extent == extent;
    if let Some(known) = loader.memo.layers.get(hash)
        && known.as_ref().is_none_or(fits)
    {
        return Ok(known.clone());
    }
    let around = loader.at.layer.take();
    let found = read_layer(loader, hash, extent, depth);
    loader.at.layer = around;
    let found = found?;
    loader.memo.layers.insert(*hash, found.clone());
    Ok(found)
}

fn read_layer(
    loader: &mut Loader<'_>,
    hash: &Hash,
    extent: Extent,
    depth: usize,
) -> Result<Option<FoundLayer>, StoreError> {
    if depth > MAX_DEPTH {
        return Ok(None);
    }
    let Some(node) = loader.node::<LayerNode>(hash)? else { return Ok(None) };
    loader.at.layer = Some((node.id, node.name.clone()));
    let mask = mask(loader, &node.mask, extent, &PlaneOf::LayerMask)?;
    let mut whole = mask.whole;
    let mut cells = BTreeMap::new();
    for (channel, cell) in &node.cells {
        let of = |term: TermId| PlaneOf::CellMask(*channel, term);
        let mask = self::mask(loader, &cell.mask, extent, &of)?;
        whole &= mask.whole;
        let (on, blend, opacity) = (cell.on, cell.blend, cell.opacity);
        cells.insert(*channel, CellSettings { on, blend, opacity, mask: mask.value });
    }
    let (mut count, mut height) = (1, 1);
    let content = match &node.content {
        ContentNode::Painted(painted) => {
            let found = self::cells(loader, painted, Some(extent))?;
            whole &= found.whole;
            Content::Painted(found.value)
        }
        ContentNode::Solid(values) => Content::Solid(values.clone()),
        ContentNode::Group { isolation, children } => {
            let Some(found) = layers(loader, children, extent, depth + 1)? else {
                return Ok(None);
            };
            let (children, held, deep) = found;
            (count, height) = (1 + held, 1 + deep);
            whole &= children.whole;
            Content::Group { isolation: *isolation, children: children.value }
        }
    };
    let layer = Arc::new(Layer {
        id: node.id,
        name: node.name,
        visible: node.visible,
        opacity: node.opacity,
        mask: mask.value,
        cells,
        content,
    });
    if whole {
        loader.known.layers.insert(&layer, *hash);
    }
    Ok(Some(FoundLayer { layer: Found { value: layer, whole }, extent, count, height }))
}

/// Painted cells. Where a tile of the values is lost, so is the coverage: bare, not black.
pub(crate) fn cells(
    loader: &mut Loader<'_>,
    nodes: &BTreeMap<ChannelId, PaintedNode>,
    extent: Option<Extent>,
) -> Result<Found<BTreeMap<ChannelId, PaintedCell>>, StoreError> {
    let mut cells = Found { value: BTreeMap::new(), whole: true };
    for (channel, node) in nodes {
        let coverage = loader.plane(&node.coverage, PlaneOf::Coverage(*channel), extent)?;
        let mut whole = coverage.is_whole();
        let mut coverage = coverage.plane.clone();
        let mut values = Vec::with_capacity(node.values.len());
        for (component, hash) in (0..).zip(&node.values) {
            let of = PlaneOf::Values(*channel, component);
            let plane = loader.plane(hash, of, Some(coverage.extent()))?;
            whole &= plane.is_whole();
            plane.lost.iter().for_each(|at| coverage.set_tile(*at, Tile::Uniform(0)));
            values.push(plane.plane.clone());
        }
        cells.whole &= whole;
        cells.value.insert(*channel, PaintedCell { values, coverage });
    }
    Ok(cells)
}

fn mask(
    loader: &mut Loader<'_>,
    node: &MaskNode,
    extent: Extent,
    of: &dyn Fn(TermId) -> PlaneOf,
) -> Result<Found<Mask>, StoreError> {
    let mut mask = Found { value: Mask::default(), whole: true };
    for term in &node.terms {
        let source = match &term.source {
            SourceNode::Field(expr) => MaskSource::Field(*expr),
            SourceNode::Painted(hash) => {
                let plane = loader.plane(hash, of(term.id), Some(extent))?;
                mask.whole &= plane.is_whole();
                MaskSource::Painted(plane.plane.clone())
            }
        };
        mask.value.terms.push(MaskTerm {
            id: term.id,
            on: term.on,
            invert: term.invert,
            strength: term.strength,
            combine: term.combine,
            source,
        });
    }
    Ok(mask)
}

/// True when no two layers of a stack have one id.
pub(crate) fn has_distinct_ids(stack: &Stack) -> bool {
    let mut seen = BTreeSet::new();
    stack.ids().all(|id| seen.insert(id))
}
