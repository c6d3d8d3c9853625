//! Another texture size: each layer is painted again from its recipe, so that strokes are as sharp as if
//! they had been made at that size. Where a recipe can't be replayed its texels are resampled.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{ChannelId, ChannelKind, Content, Layer, LayerId, MaskSource, PaintedCell, Stack};
use raster::{Plane, TextureSize, resample_covered, resample_scalar};

use crate::apply::Context;
use crate::apply_layer::StepWork;
use crate::{
    Deposit, DocumentError, MaskAt, Material, Recipe, RecipeStep, Selection, Step, Target,
};

/// The material at another size.
pub(crate) fn resized(
    context: &Context<'_>,
    material: &Material,
    size: TextureSize,
) -> Result<Material, DocumentError> {
    if size == material.size {
        return Ok(material.clone());
    }
    let (space, within, must_show) = (material.blend_space, None, false);
    let painter = StepWork { context, size, space, within, must_show };
    let total = material.recipes.values().map(|recipe| recipe.steps.len() as u64).sum();
    let mut work = Resize { painter, material, last: None, done: 0, total };
    let layers = work.layers(&material.stack.layers)?;
    let mut fields = BTreeMap::new();
    for (field, plane) in &material.fields {
        fields.insert(*field, resample_scalar(plane, size.extent())?);
    }
    let selection = material.selection.as_ref().map(|held| held.resampled(size.extent()));
    let selection = selection.transpose()?;
    Ok(Material { size, stack: Stack { layers }, fields, selection, ..material.clone() })
}

/// The material with another step in the place of one of a layer's recipe, or without it.
pub(crate) fn repainted(
    context: &Context<'_>,
    mut material: Material,
    id: LayerId,
    (step, with): (usize, Option<&Arc<Step>>),
) -> Result<Material, DocumentError> {
    let recipe = material.recipe(id);
    let count = recipe.steps.len();
    let Some(old) = recipe.steps.get(step) else {
        return Err(DocumentError::NoStep { layer: id, step, count });
    };
    if !recipe.can_replay() {
        return Err(DocumentError::NotWhole(id));
    }
    if let Step::MaskStart { .. } = &*old.step {
        return Err(DocumentError::MaskBegins { layer: id, step });
    }
    if let Some(at) = with.and_then(|with| mask_of(with)) {
        material.stack.replaced(id, |layer| {
            let mut layer = layer.clone();
            crate::apply_layer::painted_term(&mut layer, at)?;
            Ok::<Layer, DocumentError>(layer)
        })?;
    }
    let numbered = recipe.steps.iter().enumerate();
    let steps = numbered.filter_map(|(number, kept)| match with {
        _ if number != step => Some(kept.clone()),
        Some(with) => Some(RecipeStep { step: Arc::clone(with), ..old.clone() }),
        None => None,
    });
    let steps = steps.collect();
    let recipe = Recipe { steps, ..recipe };
    let (size, space) = (material.size, material.blend_space);
    let painter = StepWork { context, size, space, within: None, must_show: false };
    let total = recipe.steps.len() as u64;
    let mut work = Resize { painter, material: &material, last: None, done: 0, total };
    let stack = material.stack.replaced(id, |layer| work.replayed(layer, &recipe))?;
    material.recipes = material.recipes.insert(id, recipe);
    Ok(Material { stack, ..material })
}

struct Resize<'a> {
    painter: StepWork<'a>,
    material: &'a Material,
    /// The selection that was resampled last, and what came of it: steps in a row share theirs.
    last: Option<[Arc<Selection>; 2]>,
    done: u64,
    total: u64,
}

impl Resize<'_> {
    fn layers(&mut self, layers: &[Arc<Layer>]) -> Result<Vec<Arc<Layer>>, DocumentError> {
        layers.iter().map(|layer| self.layer(layer).map(Arc::new)).collect()
    }

    fn layer(&mut self, layer: &Layer) -> Result<Layer, DocumentError> {
        let recipe = self.material.recipe(layer.id);
        let mut resized = if recipe.can_replay() {
            self.replayed(layer, &recipe)?
        } else {
            self.resampled(layer)?
        };
        if let Content::Group { children, .. } = &mut resized.content {
            *children = self.layers(children)?;
        }
        Ok(resized)
    }

    /// Starts from the recipe's base and does each step again.
    fn replayed(&mut self, layer: &Layer, recipe: &Recipe) -> Result<Layer, DocumentError> {
        let mut replayed = layer.clone();
        if let Content::Painted(cells) = &mut replayed.content {
            cells.clear();
            if let Some(base) = &recipe.base {
                for (channel, cell) in &base.cells {
                    cells.insert(*channel, self.resampled_cell(*channel, cell)?);
                }
            }
        }
        self.blank_masks(&mut replayed);
        for RecipeStep { step, blend_space, within } in &recipe.steps {
            if still_wanted(&replayed, step) {
                let within = within.as_ref().map(|within| self.selection(within)).transpose()?;
                let painter = StepWork { space: *blend_space, within, ..self.painter };
                replayed = painter.after(&replayed, step)?;
            }
            self.done += 1;
            self.painter.context.observer.progress(self.done, self.total);
        }
        Ok(replayed)
    }

    /// A step's selection at the new size.
    fn selection(&mut self, within: &Arc<Selection>) -> Result<Arc<Selection>, DocumentError> {
        if let Some([known, resampled]) = &self.last
            && Arc::ptr_eq(known, within)
        {
            return Ok(Arc::clone(resampled));
        }
        let resampled = within.resampled(self.painter.size.extent())?;
        self.last = Some([Arc::clone(within), Arc::clone(&resampled)]);
        Ok(resampled)
    }

    /// Painted mask terms start as the recipe says; until then they are 1 at the new size.
    fn blank_masks(&self, layer: &mut Layer) {
        let extent = self.painter.size.extent();
        let cells = layer.cells.values_mut().map(|cell| &mut cell.mask);
        for mask in std::iter::once(&mut layer.mask).chain(cells) {
            for term in &mut mask.terms {
                if let MaskSource::Painted(plane) = &mut term.source {
                    *plane = Plane::uniform(extent, u16::MAX);
                }
            }
        }
    }

    fn resampled(&self, layer: &Layer) -> Result<Layer, DocumentError> {
        let mut resampled = layer.clone();
        if let Content::Painted(cells) = &mut resampled.content {
            for (channel, cell) in cells.iter_mut() {
                *cell = self.resampled_cell(*channel, cell)?;
            }
        }
        let cells = resampled.cells.values_mut().map(|cell| &mut cell.mask);
        for mask in std::iter::once(&mut resampled.mask).chain(cells) {
            for term in &mut mask.terms {
                if let MaskSource::Painted(plane) = &mut term.source {
                    *plane = resample_scalar(plane, self.painter.size.extent())?;
                }
            }
        }
        Ok(resampled)
    }

    fn resampled_cell(
        &self,
        channel: ChannelId,
        cell: &PaintedCell,
    ) -> Result<PaintedCell, DocumentError> {
        let encoded = self.painter.context.document.channel(channel)?.kind == ChannelKind::Colour;
        let extent = self.painter.size.extent();
        let (values, coverage) = resample_covered(&cell.values, &cell.coverage, extent, encoded)?;
        Ok(PaintedCell { values, coverage })
    }
}

/// A step into a mask term that was taken away since has nothing to do.
fn still_wanted(layer: &Layer, step: &Step) -> bool {
    mask_of(step).is_none_or(|at| crate::apply_layer::painted_term(&mut layer.clone(), at).is_ok())
}

/// The mask term that a step changes.
fn mask_of(step: &Step) -> Option<MaskAt> {
    match step {
        Step::MaskStart { at, .. }
        | Step::Deposit {
            deposit:
                Deposit::Mask { at, .. }
                | Deposit::Move(Target::Mask(at))
                | Deposit::Adjust(Target::Mask(at), _),
            ..
        }
        | Step::Mirror { target: Target::Mask(at), .. } => Some(*at),
        Step::Deposit { .. } | Step::Mirror { .. } | Step::Clear(_) => None,
    }
}
