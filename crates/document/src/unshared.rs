//! What one document holds and another does not: what it costs to keep both.

use std::collections::BTreeSet;
use std::sync::Arc;

use layers::{Content, Layer, LayerId, Mask, MaskSource, MaskTerm, PaintedCell};
use raster::{Extent, Plane, Tile, TileAt};

use crate::{Document, Material, Recipe, Selection};

/// Calls `visit` once with each tile that `document` holds and `other` does not, uniform ones left out.
/// Takes time by what differs: layers, planes and rows of tiles that both share are passed over.
pub(crate) fn unshared_tiles(document: &Document, other: &Document, visit: &mut dyn FnMut(&Tile)) {
    let mut seen = BTreeSet::new();
    for material in &document.materials {
        let twin = other.materials.get(material.id.0 as usize);
        if twin.is_some_and(|twin| Arc::ptr_eq(twin, material)) {
            continue;
        }
        let old = twin.map_or_else(Old::default, |twin| Old::of(twin, material));
        planes_and_twins(material, twin.map(|twin| &**twin), &mut |plane, twin| {
            let mut first = |at: TileAt| {
                let tile = plane.tile(at);
                if let Some(address) = tile.address()
                    && !old.holds(plane.extent(), at, tile)
                    && seen.insert(address)
                {
                    visit(tile);
                }
            };
            match twin {
                Some(twin) if twin.extent() == plane.extent() => {
                    plane.changed_tiles(twin).iter().for_each(&mut first);
                }
                _ => plane.extent().tile_places().for_each(&mut first),
            }
        });
    }
}

/// The tiles that a material had. A tile that has gone from one plane may still stand in another: cells
/// share coverage, and layers are copied.
#[derive(Default)]
struct Old {
    planes: Vec<Plane>,
    /// Every tile's address, where many are to be asked for: a layer is new.
    addresses: Option<BTreeSet<usize>>,
}

impl Old {
    fn of(old: &Material, new: &Material) -> Self {
        let mut planes: Vec<Plane> = Vec::new();
        planes_and_twins(old, None, &mut |plane, _| planes.push(plane.clone()));
        let has_new = new.stack.ids().any(|id| old.stack.find(id).is_none());
        let every = || planes.iter().flat_map(Plane::tiles).filter_map(Tile::address).collect();
        let addresses = has_new.then(every);
        Self { planes, addresses }
    }

    fn holds(&self, extent: Extent, at: TileAt, tile: &Tile) -> bool {
        match (&self.addresses, tile.address()) {
            (Some(known), Some(address)) => known.contains(&address),
            _ => self
                .planes
                .iter()
                .any(|plane| plane.extent() == extent && plane.tile(at).same(tile)),
        }
    }
}

/// Bytes of memory that these tiles take now.
pub(crate) fn unshared_tile_bytes(document: &Document, other: &Document) -> usize {
    let mut bytes = 0;
    unshared_tiles(document, other, &mut |tile| bytes += tile.resident_bytes());
    bytes
}

/// Bytes of the recipes' steps that `document` holds and `other` does not.
pub(crate) fn unshared_step_bytes(document: &Document, other: &Document) -> usize {
    let mut bytes = 0;
    // A copied layer's steps are those of the layer that it was copied from.
    let mut seen = BTreeSet::new();
    for material in &document.materials {
        let twin = other.materials.get(material.id.0 as usize);
        if twin.is_some_and(|twin| Arc::ptr_eq(twin, material)) {
            continue;
        }
        let mut elsewhere = None;
        for (layer, recipe) in &material.recipes {
            let same = twin.and_then(|twin| twin.recipes.get(layer));
            let known = same.map_or(0, |same| steps_shared(recipe, same));
            // Steps that were added to the twin's are nowhere else. A merge begins anew, while a copy of
            // the layer may keep what was there.
            let added = same.is_some_and(|same| goes_on(recipe, same, known));
            if known < recipe.steps.len() && !added && elsewhere.is_none() {
                elsewhere = twin.map(|twin| steps_of(twin));
            }
            // By index: to skip would walk over every step there is.
            for painted in (known..recipe.steps.len()).filter_map(|step| recipe.steps.get(step)) {
                let address = Arc::as_ptr(&painted.step).addr();
                let held = |steps: &BTreeSet<usize>| steps.contains(&address);
                if !elsewhere.as_ref().is_some_and(held) && seen.insert(address) {
                    bytes += painted.step.bytes();
                }
            }
        }
    }
    bytes
}

/// Where every step of a material's recipes lies.
fn steps_of(material: &Material) -> BTreeSet<usize> {
    let steps = material.recipes.values().flat_map(|recipe| recipe.steps.iter());
    steps.map(|painted| Arc::as_ptr(&painted.step).addr()).collect()
}

/// Whether a recipe begins as the other one is.
fn goes_on(recipe: &Recipe, other: &Recipe, shared: usize) -> bool {
    let base = match (&recipe.base, &other.base) {
        (Some(a), Some(b)) => Arc::ptr_eq(a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    base && shared == other.steps.len()
}

/// How many steps two recipes of one layer share: recipes grow at their end, or begin anew.
fn steps_shared(recipe: &Recipe, other: &Recipe) -> usize {
    let count = recipe.steps.len().min(other.steps.len());
    let last = |recipe: &Recipe| recipe.steps.get(count.checked_sub(1)?).map(|s| s.step.clone());
    let same = last(recipe).zip(last(other)).is_some_and(|(a, b)| Arc::ptr_eq(&a, &b));
    if same { count } else { 0 }
}

/// Every plane of a material but those of one layer.
pub(crate) fn idle_planes(
    material: &Material,
    painted: Option<LayerId>,
    visit: &mut dyn FnMut(&Plane),
) {
    material.fields.values().for_each(&mut *visit);
    for layer in material.stack.walk().filter(|layer| Some(layer.id) != painted) {
        for (plane, _) in &pairs_of(layer, None) {
            visit(plane);
        }
    }
}

/// A plane, and the one that stands in its place in another document.
type Pair = (Plane, Option<Plane>);

/// Every plane of a material that `twin` does not hold as part of a whole layer, with the plane that
/// stands in its place there.
fn planes_and_twins(
    material: &Material,
    twin: Option<&Material>,
    visit: &mut dyn FnMut(&Plane, Option<&Plane>),
) {
    let mut each = |pairs: Vec<Pair>| {
        for (plane, twin) in &pairs {
            visit(plane, twin.as_ref());
        }
    };
    for (field, plane) in &material.fields {
        let old = twin.and_then(|twin| twin.fields.get(field)).cloned();
        each(vec![(plane.clone(), old)]);
    }
    for selection in new_selections(material, twin) {
        each(vec![(selection.plane().clone(), None)]);
    }
    for layer in material.stack.walk() {
        let same = twin.and_then(|twin| twin.stack.find(layer.id));
        if !same.is_some_and(|same| Arc::ptr_eq(same, layer)) {
            each(pairs_of(layer, same.map(|same| &**same)));
        }
    }
    for (layer, recipe) in &material.recipes {
        let Some(base) = &recipe.base else { continue };
        let known = twin.and_then(|twin| twin.recipes.get(layer)?.base.as_ref());
        if !known.is_some_and(|known| Arc::ptr_eq(known, base)) {
            each(base.cells.values().flat_map(|cell| pairs_of_cell(cell, None)).collect());
        }
    }
}

/// The selections that a material holds, as what is selected or as what a step was painted within, and its twin does not.
/// They share no tile with anything else.
fn new_selections<'a>(material: &'a Material, twin: Option<&Material>) -> Vec<&'a Arc<Selection>> {
    let mut found: Vec<&Arc<Selection>> = Vec::new();
    let selected = twin.and_then(|twin| twin.selection.as_ref());
    let mut add = |within: &'a Arc<Selection>| {
        let known = selected.into_iter().chain(found.last().copied()).chain(found.first().copied());
        if !known.into_iter().any(|known| Arc::ptr_eq(known, within)) {
            found.push(within);
        }
    };
    material.selection.iter().for_each(&mut add);
    for (layer, recipe) in &material.recipes {
        let same = twin.and_then(|twin| twin.recipes.get(layer));
        let known = same.map_or(0, |same| steps_shared(recipe, same));
        let steps = (known..recipe.steps.len()).filter_map(|step| recipe.steps.get(step));
        steps.filter_map(|step| step.within.as_ref()).for_each(&mut add);
    }
    if let Some(twin) = twin.filter(|_| !found.is_empty()) {
        let steps = twin.recipes.values().flat_map(|recipe| recipe.steps.iter());
        let held: BTreeSet<usize> =
            steps.filter_map(|step| Some(Arc::as_ptr(step.within.as_ref()?).addr())).collect();
        found.retain(|within| !held.contains(&Arc::as_ptr(within).addr()));
    }
    found.sort_unstable_by_key(|within| Arc::as_ptr(within).addr());
    found.dedup_by(|a, b| Arc::ptr_eq(a, b));
    found
}

fn pairs_of(layer: &Layer, twin: Option<&Layer>) -> Vec<Pair> {
    let mut pairs = Vec::new();
    if let Content::Painted(cells) = &layer.content {
        for (channel, cell) in cells {
            let same = match twin.map(|twin| &twin.content) {
                Some(Content::Painted(cells)) => cells.get(channel),
                _ => None,
            };
            pairs.extend(pairs_of_cell(cell, same));
        }
    }
    pairs.extend(pairs_of_mask(&layer.mask, twin.map(|twin| &twin.mask)));
    for (channel, cell) in &layer.cells {
        pairs.extend(pairs_of_mask(&cell.mask, twin.map(|twin| &twin.cell(*channel).mask)));
    }
    pairs
}

fn pairs_of_cell(cell: &PaintedCell, twin: Option<&PaintedCell>) -> Vec<Pair> {
    let old = |component: usize| twin.and_then(|twin| twin.values.get(component)).cloned();
    let values = cell.values.iter().enumerate();
    let mut pairs: Vec<Pair> =
        values.map(|(component, plane)| (plane.clone(), old(component))).collect();
    pairs.push((cell.coverage.clone(), twin.map(|twin| twin.coverage.clone())));
    pairs
}

fn pairs_of_mask(mask: &Mask, twin: Option<&Mask>) -> Vec<Pair> {
    let painted = |term: &MaskTerm| match &term.source {
        MaskSource::Painted(plane) => Some(plane.clone()),
        MaskSource::Field(_) => None,
    };
    let old = |term: &MaskTerm| twin?.terms.iter().find(|old| old.id == term.id);
    let terms = mask.terms.iter();
    terms.filter_map(|term| Some((painted(term)?, old(term).and_then(painted)))).collect()
}
