//! The layer tree as a value. Every change makes a new stack that shares the layers it leaves alone.

use std::collections::BTreeSet;
use std::sync::Arc;

use raster::TextureSize;

use crate::{ChannelDescriptor, Content, Layer, LayerId, LayersError};

/// A material's layers.
#[derive(Debug, Clone, Default)]
pub struct Stack {
    /// Bottom first.
    pub layers: Vec<Arc<Layer>>,
}

/// Where in a stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Place {
    /// The group; `None` is the root.
    pub parent: Option<LayerId>,
    /// How many layers of that list stand below.
    pub index: usize,
}

impl Stack {
    /// The layer with this id.
    pub fn find(&self, id: LayerId) -> Option<&Arc<Layer>> {
        self.walk().find(|layer| layer.id == id)
    }

    /// Every layer, bottom first, a group before what it holds.
    pub fn walk(&self) -> impl Iterator<Item = &Arc<Layer>> {
        let mut waiting: Vec<_> = self.layers.iter().rev().collect();
        std::iter::from_fn(move || {
            let layer = waiting.pop()?;
            waiting.extend(layer.children().iter().rev());
            Some(layer)
        })
    }

    /// Every layer's id, in the order of [`Stack::walk`].
    pub fn ids(&self) -> impl Iterator<Item = LayerId> {
        self.walk().map(|layer| layer.id)
    }

    /// Where a layer stands.
    pub fn place_of(&self, id: LayerId) -> Option<Place> {
        let lists = self.walk().map(|layer| (Some(layer.id), layer.children()));
        std::iter::once((None, self.layers.as_slice())).chain(lists).find_map(|(parent, list)| {
            let index = list.iter().position(|layer| layer.id == id)?;
            Some(Place { parent, index })
        })
    }

    /// True when all layers but one are the very same in both, and stand in the same places. Groups that
    /// hold that one are looked into, not at.
    pub fn same_around(&self, other: &Self, layer: LayerId) -> bool {
        same_but(&self.layers, &other.layers, layer)
    }

    /// This stack with one layer more, and with whatever that layer holds.
    ///
    /// # Errors
    /// [`LayersError::DuplicateLayer`], and for the place [`LayersError::UnknownLayer`],
    /// [`LayersError::NotAGroup`], [`LayersError::IndexOutOfRange`] or [`LayersError::TooDeep`].
    pub fn inserted(
        &self,
        layer: impl Into<Arc<Layer>>,
        place: Place,
    ) -> Result<Self, LayersError> {
        let layer = layer.into();
        let stack = self.with_list(place.parent, |list| {
            if place.index > list.len() {
                return Err(LayersError::IndexOutOfRange { index: place.index, len: list.len() });
            }
            list.insert(place.index, layer);
            Ok(())
        })?;
        stack.check_tree()?;
        Ok(stack)
    }

    /// This stack without a layer and whatever it holds.
    ///
    /// # Errors
    /// [`LayersError::UnknownLayer`].
    pub fn removed(&self, id: LayerId) -> Result<Self, LayersError> {
        let place = self.place_of(id).ok_or(LayersError::UnknownLayer(id))?;
        self.with_list(place.parent, |list| {
            list.remove(place.index);
            Ok(())
        })
    }

    /// This stack with a layer elsewhere. The index counts the layers of the list as it is once the
    /// layer is taken out.
    ///
    /// # Errors
    /// [`LayersError::MoveIntoItself`] when the place lies inside of the layer; else as
    /// [`Stack::inserted`].
    pub fn moved(&self, id: LayerId, place: Place) -> Result<Self, LayersError> {
        let layer = Arc::clone(self.find(id).ok_or(LayersError::UnknownLayer(id))?);
        let moving = Self { layers: vec![Arc::clone(&layer)] };
        if place.parent.is_some_and(|parent| moving.find(parent).is_some()) {
            return Err(LayersError::MoveIntoItself(id));
        }
        self.removed(id)?.inserted(layer, place)
    }

    /// This stack with what `change` makes of a layer in that layer's place.
    ///
    /// # Errors
    /// [`LayersError::UnknownLayer`], what `change` refuses, and [`LayersError::DuplicateLayer`] or
    /// [`LayersError::TooDeep`] where its result doesn't fit into the tree.
    pub fn replaced<E: From<LayersError>>(
        &self,
        id: LayerId,
        change: impl FnOnce(&Layer) -> Result<Layer, E>,
    ) -> Result<Self, E> {
        let place = self.place_of(id).ok_or(LayersError::UnknownLayer(id))?;
        let layer = self.find(id).ok_or(LayersError::UnknownLayer(id))?;
        let layer = Arc::new(change(layer)?);
        let stack = self.with_list(place.parent, |list| {
            list[place.index] = layer;
            Ok(())
        })?;
        stack.check_tree()?;
        Ok(stack)
    }

    /// Looks whether the stack can be composited: ids are unique, and each layer's
    /// [`Layer::check`] passes.
    ///
    /// # Errors
    /// [`LayersError::DuplicateLayer`], or what [`Layer::check`] finds.
    pub fn check(
        &self,
        channels: &[ChannelDescriptor],
        size: TextureSize,
    ) -> Result<(), LayersError> {
        self.check_tree()?;
        self.layers.iter().try_for_each(|layer| layer.check(channels, size))
    }

    /// Ids are unique and groups not nested beyond measure.
    pub(crate) fn check_tree(&self) -> Result<(), LayersError> {
        self.layers.iter().try_for_each(|layer| layer.check_depth(1))?;
        let mut seen = BTreeSet::new();
        match self.ids().find(|&id| !seen.insert(id)) {
            Some(id) => Err(LayersError::DuplicateLayer(id)),
            None => Ok(()),
        }
    }

    /// This stack with one of its lists edited: the root's, or a group's.
    fn with_list(
        &self,
        parent: Option<LayerId>,
        edit: impl FnOnce(&mut Vec<Arc<Layer>>) -> Result<(), LayersError>,
    ) -> Result<Self, LayersError> {
        let mut stack = self.clone();
        let Some(parent) = parent else {
            edit(&mut stack.layers)?;
            return Ok(stack);
        };
        let mut group = Layer::clone(self.find(parent).ok_or(LayersError::UnknownLayer(parent))?);
        let Content::Group { children, .. } = &mut group.content else {
            return Err(LayersError::NotAGroup(parent));
        };
        edit(children)?;
        let mut group = Some(Arc::new(group));
        swap_in(&mut stack.layers, parent, &mut group);
        Ok(stack)
    }
}

fn same_but(a: &[Arc<Layer>], b: &[Arc<Layer>], layer: LayerId) -> bool {
    let same = |(a, b): (&Arc<Layer>, &Arc<Layer>)| {
        let are_groups = !a.children().is_empty() && a.id == b.id;
        Arc::ptr_eq(a, b)
            || (a.id == layer && b.id == layer)
            || (are_groups && same_but(a.children(), b.children(), layer))
    };
    a.len() == b.len() && a.iter().zip(b).all(same)
}

/// Puts `layer` in the place of the layer `id`, copying only the groups on the way. `layer` is taken
/// when the place is found.
fn swap_in(list: &mut [Arc<Layer>], id: LayerId, layer: &mut Option<Arc<Layer>>) {
    for entry in list {
        if entry.id == id {
            if let Some(layer) = layer.take() {
                *entry = layer;
            }
        } else if let Content::Group { isolation, children } = &entry.content {
            let mut children = children.clone();
            swap_in(&mut children, id, layer);
            if layer.is_none() {
                let content = Content::Group { isolation: *isolation, children };
                *entry = Arc::new(Layer { content, ..Layer::clone(entry) });
            }
        }
        if layer.is_none() {
            return;
        }
    }
}
