//! Recipes as they are stored: lists of steps in chunks, so that a new step rewrites one chunk and the short
//! list of chunks.

use std::collections::BTreeMap;

use layers::{BlendSpace, ChannelId};

use super::{Node, PaintedNode, content_without_end, of_content_without_end};
use crate::Hash;
use crate::hash::Kind;
use crate::written::{Input, Malformed, Written, record};

/// Steps in every chunk but the last.
pub(crate) const STEPS_A_CHUNK: usize = 64;

/// The cells that a recipe starts from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BaseNode {
    pub(crate) cells: BTreeMap<ChannelId, PaintedNode>,
}

/// A recipe: its base and its chunks.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RecipeNode {
    pub(crate) base: Option<Hash>,
    pub(crate) chunks: Vec<Hash>,
}

/// A chunk: steps, in which values colours blended then, and the planes that they were painted within. Where there was
/// no selection, it is what version 1 was.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepsNode {
    pub(crate) steps: Vec<(Hash, BlendSpace)>,
    /// One for each step; empty where no step has one.
    pub(crate) within: Vec<Option<Hash>>,
}

record!(BaseNode { cells });
record!(RecipeNode { base, chunks });

impl Written for StepsNode {
    fn write(&self, out: &mut Vec<u8>) {
        self.steps.write(out);
        self.within.write(out);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let steps: Vec<_> = Written::read(input)?;
        let within: Vec<Option<Hash>> = Written::read(input)?;
        let is_listed = within.len() == steps.len() && within.iter().any(Option::is_some);
        let fits = (1..=STEPS_A_CHUNK).contains(&steps.len()) && (within.is_empty() || is_listed);
        if fits { Ok(Self { steps, within }) } else { Err(Malformed::Content) }
    }
}

impl Node for BaseNode {
    const KIND: Kind = Kind::Base;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        let planes = self.cells.values().flat_map(PaintedNode::planes);
        planes.for_each(|plane| visit(Kind::Plane, plane));
    }
}

impl Node for RecipeNode {
    const KIND: Kind = Kind::Recipe;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.base.iter().for_each(|base| visit(Kind::Base, *base));
        self.chunks.iter().for_each(|chunk| visit(Kind::Steps, *chunk));
    }
}

impl Node for StepsNode {
    const KIND: Kind = Kind::Steps;

    const VERSION: u8 = 2;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.steps.iter().for_each(|(step, _)| visit(Kind::Step, *step));
        self.within.iter().flatten().for_each(|plane| visit(Kind::Plane, *plane));
    }

    fn content(&self) -> Vec<u8> {
        content_without_end(self, &Vec::<Option<Hash>>::new(), self.within.is_empty())
    }

    fn of_content(content: &[u8]) -> Result<Self, Malformed> {
        of_content_without_end(content, &Vec::<Option<Hash>>::new())
    }
}
