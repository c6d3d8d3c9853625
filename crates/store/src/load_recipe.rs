//! Recipes. They grow at their end, so that each is made from the one that was read before.

use std::sync::Arc;

use brush::{BrushSettings, KernelVersion, LeftOut, Path, Stroke, StrokeKind};
use document::{Deposit, Recipe, RecipeBase, RecipeStep, Shape, Step};
use layers::{BlendSpace, LayerId};

use crate::StoreError;
use crate::damage::Lost;
use crate::hash::Hash;
use crate::load::{Found, Loader};
use crate::load_layer::cells;
use crate::load_model;
use crate::node::{BaseNode, RecipeNode, StepNode, StepsNode, images_of_mut};

/// The recipe of a layer. Where something of it is lost, a step stands in its place that no program can do
/// again: so another size is resampled from the texels, which are there.
pub(crate) fn recipe(
    loader: &mut Loader<'_>,
    layer: LayerId,
    name: &str,
    hash: &Hash,
) -> Result<Found<Recipe>, StoreError> {
    if let Some(known) = loader.memo.recipes.get(hash) {
        return Ok(known.clone());
    }
    loader.at.layer = Some((layer, name.to_owned()));
    let found = read_recipe(loader, layer, hash);
    loader.at.layer = None;
    let found = found?;
    loader.memo.recipes.insert(*hash, found.clone());
    Ok(found)
}

fn read_recipe(
    loader: &mut Loader<'_>,
    layer: LayerId,
    hash: &Hash,
) -> Result<Found<Recipe>, StoreError> {
    let Some(node) = loader.node::<RecipeNode>(hash)? else {
        loader.lose(Lost::Strokes);
        let value = Recipe::default().then(lost_step());
        return Ok(Found { value, whole: false });
    };
    let mut chunks = Vec::with_capacity(node.chunks.len());
    for chunk in &node.chunks {
        chunks.push(steps(loader, chunk)?);
    }
    let mut whole = chunks.iter().all(|chunk| chunk.whole);
    let base = match &node.base {
        None => None,
        Some(hash) => {
            let base = base(loader, hash)?;
            whole &= base.is_some();
            Some(base)
        }
    };
    let place = (loader.material(), layer);
    let last = loader.memo.last_recipes.get(&place).cloned().unwrap_or_default();
    let mut value = Recipe { base: None, steps: extended(&last, &chunks) };
    loader.memo.last_recipes.insert(place, LastRecipe { steps: value.steps.clone(), chunks });
    match base {
        Some(None) => value = value.then(lost_step()),
        Some(found) => value.base = found,
        None => {}
    }
    Ok(Found { value, whole })
}

type Chunk = Arc<Found<Vec<RecipeStep>>>;

/// The recipe that was read last for a layer.
#[derive(Debug, Clone, Default)]
pub(crate) struct LastRecipe {
    steps: rpds::VectorSync<RecipeStep>,
    chunks: Vec<Chunk>,
}

/// The steps of these chunks; what the last ones begin with too is shared with them.
fn extended(last: &LastRecipe, chunks: &[Chunk]) -> rpds::VectorSync<RecipeStep> {
    let same_chunks = last.chunks.iter().zip(chunks).take_while(|(a, b)| Arc::ptr_eq(a, b)).count();
    let (alike, others) = chunks.split_at(same_chunks);
    let before: usize = alike.iter().map(|chunk| chunk.value.len()).sum();
    let others = || others.iter().flat_map(|chunk| &chunk.value);
    let same = |(place, step): &(usize, &RecipeStep)| {
        let old = last.steps.get(*place);
        old.is_some_and(|old| {
            Arc::ptr_eq(&old.step, &step.step)
                && old.blend_space == step.blend_space
                && old.within.as_ref().map(Arc::as_ptr) == step.within.as_ref().map(Arc::as_ptr)
        })
    };
    let more = (before..).zip(others()).take_while(same).count();
    let mut steps = last.steps.clone();
    while steps.len() > before + more {
        steps.drop_last_mut();
    }
    others().skip(more).for_each(|step| steps.push_back_mut(step.clone()));
    steps
}

fn steps(loader: &mut Loader<'_>, hash: &Hash) -> Result<Chunk, StoreError> {
    if let Some(known) = loader.memo.chunks.get(hash) {
        return Ok(Arc::clone(known));
    }
    let mut chunk = Found { value: Vec::new(), whole: true };
    match loader.node::<StepsNode>(hash)? {
        None => {
            loader.lose(Lost::Strokes);
            chunk = Found { value: vec![lost_step()], whole: false };
        }
        Some(node) => {
            for (place, (hash, blend_space)) in node.steps.iter().enumerate() {
                let within = node.within.get(place).copied().flatten();
                let selection = within.map(|plane| loader.selection(&plane, None)).transpose()?;
                let is_lost = matches!(selection, Some(None));
                if let Some(step) = step(loader, hash)?.filter(|_| !is_lost) {
                    let (blend_space, within) = (*blend_space, selection.flatten());
                    chunk.value.push(RecipeStep { step, blend_space, within });
                } else {
                    chunk.value.push(lost_step());
                    chunk.whole = false;
                }
            }
        }
    }
    let chunk = Arc::new(chunk);
    loader.memo.chunks.insert(*hash, Arc::clone(&chunk));
    Ok(chunk)
}

fn step(loader: &mut Loader<'_>, hash: &Hash) -> Result<Option<Arc<Step>>, StoreError> {
    if let Some(known) = loader.memo.steps.get(hash) {
        return Ok(known.clone());
    }
    let step = if let Some(node) = loader.node::<StepNode>(hash)? {
        with_images(loader, node)?.map(Arc::new)
    } else {
        loader.lose(Lost::Strokes);
        None
    };
    if let Some(step) = &step {
        loader.known.steps.insert(step, *hash);
    }
    loader.memo.steps.insert(*hash, step.clone());
    Ok(step)
}

/// The step with the images that it names; `None` where one of them is lost, which is named.
fn with_images(loader: &mut Loader<'_>, node: StepNode) -> Result<Option<Step>, StoreError> {
    let StepNode { mut step, images } = node;
    let mut found = Vec::with_capacity(images.len());
    for image in &images {
        let Some(image) = load_model::brush_image(loader, image)? else { return Ok(None) };
        found.push(image);
    }
    images_of_mut(&mut step).zip(found).for_each(|(place, image)| *place = image);
    Ok(Some(step))
}

fn base(loader: &mut Loader<'_>, hash: &Hash) -> Result<Option<Arc<RecipeBase>>, StoreError> {
    if let Some(known) = loader.memo.bases.get(hash) {
        return Ok(known.clone());
    }
    let node = loader.node::<BaseNode>(hash)?;
    let mut found = None;
    if let Some(node) = node {
        loader.at.in_base = true;
        let cells = cells(loader, &node.cells, None);
        loader.at.in_base = false;
        let cells = cells?;
        found = cells.whole.then(|| Arc::new(RecipeBase { cells: cells.value }));
    }
    match &found {
        Some(base) => loader.known.bases.insert(base, *hash),
        None => loader.lose(Lost::RecipeBase),
    }
    loader.memo.bases.insert(*hash, found.clone());
    Ok(found)
}

/// Stands for what is lost of a recipe: a stroke of arithmetic that no program has, which touches nothing.
fn lost_step() -> RecipeStep {
    let stroke = Stroke {
        kernel: KernelVersion(0),
        kind: StrokeKind::Deposit,
        path: Path::Texture(Vec::new()),
        brush: BrushSettings::default(),
        seed: 0,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    };
    let (deposit, shape) = (Deposit::Erase(Vec::new()), Shape::Stroke(stroke));
    let step = Arc::new(Step::Deposit { deposit, shape });
    RecipeStep { step, blend_space: BlendSpace::default(), within: None }
}
