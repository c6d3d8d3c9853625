//! What was painted into a layer: the stored tiles are the truth, the recipe makes them again.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{BlendSpace, ChannelId, LayerId, PaintedCell};

use crate::{Selection, Shape, Step};

/// Texels that a recipe starts from, at a size of their own (an imported map, or merged layers).
#[derive(Debug, Clone)]
pub struct RecipeBase {
    /// Cells, all planes of one extent.
    pub cells: BTreeMap<ChannelId, PaintedCell>,
}

/// A step and what it depended on when it was painted.
#[derive(Debug, Clone)]
pub struct RecipeStep {
    /// What was done.
    pub step: Arc<Step>,
    /// In which values the material's colours blended then: a change since does not mix old paint anew.
    pub blend_space: BlendSpace,
    /// What was selected then: it was painted within that. Steps under one selection share it.
    pub within: Option<Arc<Selection>>,
}

/// The steps that made a layer's painted cells and masks, over a base. Adding a step shares all others.
#[derive(Debug, Clone, Default)]
pub struct Recipe {
    /// What it starts from; nothing when empty.
    pub base: Option<Arc<RecipeBase>>,
    /// In the order in which they were painted.
    pub steps: rpds::VectorSync<RecipeStep>,
}

/// The recipes of a material's layers.
pub type Recipes = rpds::RedBlackTreeMapSync<LayerId, Recipe>;

impl Recipe {
    /// This recipe with one more step.
    pub fn then(&self, step: RecipeStep) -> Self {
        Self { base: self.base.clone(), steps: self.steps.push_back(step) }
    }

    /// True when this program can make the layer again from its recipe.
    pub fn can_replay(&self) -> bool {
        self.steps.iter().all(|painted| match &*painted.step {
            Step::Deposit { shape: Shape::Stroke(stroke), .. } => stroke.kernel.is_known(),
            Step::Deposit {
                shape: Shape::Fill { .. } | Shape::Gradient(_) | Shape::Decal(_),
                ..
            }
            | Step::Mirror { .. }
            | Step::Clear(_)
            | Step::MaskStart { .. } => true,
        })
    }
}
