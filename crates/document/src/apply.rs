//! Document + edit -> new document, or an error and no change.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use layers::{ChannelId, ChannelKind, Content, Layer, LayerId, LayersError, Place, Value};
use raster::{Observer, TextureSize};
use surface::{MaterialSlot, Surface, TexelMap};

use crate::apply_layer::changed_layer;
use crate::import::imported;
use crate::merge::merged_down;
use crate::resize::{repainted, resized};
use crate::{
    Baked, ContentHash, Document, DocumentError, Edit, LayerEdit, Material, MaterialEdit,
    MaterialId, Model, NewContent, RecipeStep,
};

/// Structures derived from a model, made on demand and kept by whoever calls. Pure functions of what
/// they are asked for: the same question always gives an equal answer.
pub trait Surfaces {
    /// The model's mesh with its adjacency, ray structure and islands.
    ///
    /// # Errors
    /// [`DocumentError`] when it can't be made, or the observer stops it.
    fn surface(
        &self,
        model: &Model,
        observer: &dyn Observer,
    ) -> Result<Arc<Surface>, DocumentError>;

    /// Which point of the surface each texel of a material shows.
    ///
    /// # Errors
    /// [`DocumentError`] when it can't be made, or the observer stops it.
    fn texel_map(
        &self,
        model: &Model,
        material: MaterialSlot,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Arc<TexelMap>, DocumentError>;
}

/// The document that an edit makes of another one.
///
/// # Errors
/// [`DocumentError`] saying why the edit is refused; nothing is changed then.
pub fn apply(
    document: &Document,
    edit: &Edit,
    surfaces: &dyn Surfaces,
    observer: &dyn Observer,
) -> Result<Document, DocumentError> {
    match edit {
        Edit::Import { model, size } => imported(document, model, *size),
        Edit::Material(id, change) => {
            let context = Context { document, material: *id, surfaces, observer };
            Ok(document.with_material(context.changed_material(change)?))
        }
    }
}

/// What an edit to one material works with.
pub(crate) struct Context<'a> {
    pub(crate) document: &'a Document,
    pub(crate) material: MaterialId,
    pub(crate) surfaces: &'a dyn Surfaces,
    pub(crate) observer: &'a dyn Observer,
}

impl Context<'_> {
    pub(crate) fn surface(&self) -> Result<Arc<Surface>, DocumentError> {
        self.surfaces.surface(self.document.model()?, self.observer)
    }

    pub(crate) fn texel_map(&self, size: TextureSize) -> Result<Arc<TexelMap>, DocumentError> {
        let model = self.document.model()?;
        self.surfaces.texel_map(model, self.material.slot(), size, self.observer)
    }

    fn changed_material(&self, change: &MaterialEdit) -> Result<Material, DocumentError> {
        let material = Material::clone(self.document.material(self.material)?);
        let changed = match change {
            MaterialEdit::TextureSize(size) => resized(self, &material, *size)?,
            MaterialEdit::Ground(channel, value) => {
                check_value(self.document, *channel, *value)?;
                let mut ground = material.ground.clone();
                ground.insert(*channel, *value);
                Material { ground, ..material }
            }
            MaterialEdit::BlendSpace(blend_space) => {
                Material { blend_space: *blend_space, ..material }
            }
            MaterialEdit::Field(baked) => self.with_field(material, baked)?,
            MaterialEdit::AddLayer { layer, name, content, place } => {
                let added = new_layer(self.document, *layer, name, content)?;
                Material { stack: material.stack.inserted(added, *place)?, ..material }
            }
            MaterialEdit::RemoveLayer(layer) => without_layer(material, *layer)?,
            MaterialEdit::MoveLayer(layer, place) => {
                Material { stack: material.stack.moved(*layer, *place)?, ..material }
            }
            MaterialEdit::DuplicateLayer { layer, copy } => duplicated(material, *layer, *copy)?,
            MaterialEdit::MergeDown(layer) => {
                merged_down(self.document, self.material, *layer, self.observer)?
            }
            MaterialEdit::Select(edit) => {
                Material { selection: self.selected(&material, edit)?, ..material }
            }
            MaterialEdit::Layer(layer, change) => self.with_layer(material, *layer, change)?,
        };
        changed.stack.check(&self.document.channels, changed.size)?;
        Ok(changed)
    }

    fn with_layer(
        &self,
        mut material: Material,
        id: LayerId,
        change: &LayerEdit,
    ) -> Result<Material, DocumentError> {
        if let LayerEdit::Repaint { step, with } = change {
            return repainted(self, material, id, (*step, with.as_ref()));
        }
        let mut steps = Vec::new();
        let stack = material.stack.replaced(id, |layer| {
            let (layer, step) = changed_layer(self, &material, layer, change)?;
            steps.extend(step);
            Ok::<Layer, DocumentError>(layer)
        })?;
        for (step, within) in steps {
            let painted = RecipeStep { step, blend_space: material.blend_space, within };
            material.recipes = material.recipes.insert(id, material.recipe(id).then(painted));
        }
        Ok(Material { stack, ..material })
    }

    fn with_field(&self, material: Material, baked: &Baked) -> Result<Material, DocumentError> {
        let holds: ContentHash = self.document.model()?.hash();
        if baked.made_from != holds {
            return Err(DocumentError::Outdated { made_from: baked.made_from, holds });
        }
        let (found, expected) = (baked.plane.extent(), material.size.extent());
        if found != expected {
            let field = baked.field.key().to_owned();
            return Err(DocumentError::FieldExtent { field, found, expected });
        }
        let mut fields = material.fields.clone();
        fields.insert(baked.field, baked.plane.clone());
        Ok(Material { fields, ..material })
    }
}

/// A value must be of its channel's kind.
pub(crate) fn check_value(
    document: &Document,
    channel: ChannelId,
    value: Value,
) -> Result<(), DocumentError> {
    let descriptor = document.channel(channel)?;
    if value.kind() == descriptor.kind {
        return Ok(());
    }
    let takes = match descriptor.kind {
        ChannelKind::Colour => "a colour of three numbers",
        ChannelKind::Scalar => "one number",
    };
    Err(DocumentError::WrongValue { channel: descriptor.key.clone(), takes })
}

pub(crate) fn check_name(name: &str) -> Result<(), DocumentError> {
    if name.trim().is_empty() { Err(DocumentError::EmptyName) } else { Ok(()) }
}

fn new_layer(
    document: &Document,
    id: LayerId,
    name: &str,
    content: &NewContent,
) -> Result<Layer, DocumentError> {
    check_name(name)?;
    let content = match content {
        NewContent::Painted => Content::Painted(BTreeMap::new()),
        NewContent::Solid(values) => {
            for (channel, value) in values {
                check_value(document, *channel, *value)?;
            }
            Content::Solid(values.clone())
        }
        NewContent::Group(isolation) => {
            Content::Group { isolation: *isolation, children: Vec::new() }
        }
    };
    Ok(Layer::new(id, name, content))
}

pub(crate) fn without_layer(
    mut material: Material,
    id: LayerId,
) -> Result<Material, DocumentError> {
    let stack = material.stack.removed(id)?;
    for gone in material.stack.ids().filter(|id| stack.find(*id).is_none()) {
        material.recipes = material.recipes.remove(&gone);
    }
    Ok(Material { stack, ..material })
}

fn duplicated(
    mut material: Material,
    id: LayerId,
    copy: LayerId,
) -> Result<Material, DocumentError> {
    let original = material.stack.find(id).ok_or(LayersError::UnknownLayer(id))?;
    let place = material.stack.place_of(id).ok_or(LayersError::UnknownLayer(id))?;
    let mut taken: BTreeSet<LayerId> = material.stack.ids().collect();
    if !taken.insert(copy) {
        return Err(LayersError::DuplicateLayer(copy).into());
    }
    let mut renamed = Vec::new();
    let copied = with_new_ids(original, copy, &mut taken, &mut renamed);
    let above = Place { index: place.index + 1, ..place };
    let stack = material.stack.inserted(copied, above)?;
    for (from, to) in renamed {
        if let Some(recipe) = material.recipes.get(&from).cloned() {
            material.recipes = material.recipes.insert(to, recipe);
        }
    }
    Ok(Material { stack, ..material })
}

fn with_new_ids(
    layer: &Layer,
    id: LayerId,
    taken: &mut BTreeSet<LayerId>,
    renamed: &mut Vec<(LayerId, LayerId)>,
) -> Layer {
    renamed.push((layer.id, id));
    let mut copy = Layer { id, ..layer.clone() };
    if let Content::Group { children, .. } = &mut copy.content {
        for child in children {
            let free = (0..=u32::MAX).map(LayerId).find(|id| !taken.contains(id)).unwrap_or(id);
            taken.insert(free);
            *child = Arc::new(with_new_ids(child, free, taken, renamed));
        }
    }
    copy
}
