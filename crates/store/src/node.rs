//! What objects hold: values of the document, with hashes in the place of what is stored apart.

mod document;
mod layer;
mod model;
mod recipe;
mod step;
mod tiles;
mod values;

pub(crate) use document::{DocumentNode, MaterialNode};
pub(crate) use layer::{
    CellNode, ContentNode, LayerNode, MaskNode, PaintedNode, SourceNode, TermNode,
};
pub(crate) use model::{Column, ImageNode, MeshNode, ModelMaterialNode, ModelNode, PassMapNode};
pub(crate) use recipe::{BaseNode, RecipeNode, STEPS_A_CHUNK, StepsNode};
pub(crate) use step::{StepNode, images_of, images_of_mut};
pub(crate) use tiles::{PageNode, PageRef, PlaneNode, TileRef, page_places, pages_across};

use crate::Hash;
use crate::hash::Kind;
use crate::written::{Malformed, Written, content_of, read_content};

/// An object that is neither texels nor raw data: a version, then values and references.
pub(crate) trait Node: Written {
    /// What it is.
    const KIND: Kind;
    /// The version that is written, and where nothing else is said the only one that is read.
    const VERSION: u8 = 1;

    /// Every object that it names.
    fn references(&self, visit: &mut dyn FnMut(Kind, Hash));

    /// Its content.
    fn content(&self) -> Vec<u8> {
        content_of(Self::VERSION, self)
    }

    /// The node with this content.
    fn of_content(content: &[u8]) -> Result<Self, Malformed> {
        read_content(Self::VERSION, content)
    }
}

/// The content of a node of version 2, whose last field version 1 did not have. Where that is empty, version 1 is
/// written: so what older programs know they can read, and each value has one form.
fn content_without_end<N: Node>(node: &N, empty: &impl Written, is_empty: bool) -> Vec<u8> {
    let mut content = content_of(N::VERSION, node);
    if is_empty {
        content[0] = 1;
        content.truncate(content.len() - end(empty).len());
    }
    content
}

/// Reads what [`content_without_end`] wrote.
fn of_content_without_end<N: Node>(content: &[u8], empty: &impl Written) -> Result<N, Malformed> {
    let end = end(empty);
    match content {
        [1, rest @ ..] => read_content(N::VERSION, &[&[N::VERSION], rest, &end].concat()),
        [2, ..] if content.ends_with(&end) => {
            let node: N = read_content(N::VERSION, content)?;
            if node.content() == content { Ok(node) } else { Err(Malformed::Content) }
        }
        _ => read_content(N::VERSION, content),
    }
}

fn end(empty: &impl Written) -> Vec<u8> {
    let mut end = Vec::new();
    empty.write(&mut end);
    end
}

/// Every object that an object names.
pub(crate) fn references(
    kind: Kind,
    content: &[u8],
    visit: &mut dyn FnMut(Kind, Hash),
) -> Result<(), Malformed> {
    match kind {
        Kind::Tile | Kind::Piece => {}
        Kind::Step => StepNode::of_content(content)?.references(visit),
        Kind::Page => PageNode::of_content(content)?.references(visit),
        Kind::Plane => PlaneNode::of_content(content)?.references(visit),
        Kind::Mesh => MeshNode::of_content(content)?.references(visit),
        Kind::Image => ImageNode::of_content(content)?.references(visit),
        Kind::PassMap => PassMapNode::of_content(content)?.references(visit),
        Kind::Model => ModelNode::of_content(content)?.references(visit),
        Kind::Steps => StepsNode::of_content(content)?.references(visit),
        Kind::Base => BaseNode::of_content(content)?.references(visit),
        Kind::Recipe => RecipeNode::of_content(content)?.references(visit),
        Kind::Layer => LayerNode::of_content(content)?.references(visit),
        Kind::Material => MaterialNode::of_content(content)?.references(visit),
        Kind::Document => DocumentNode::of_content(content)?.references(visit),
    }
    Ok(())
}
