//! From objects to documents. Every content is looked at against its hash. What is lost becomes bare and is
//! named; what is whole is remembered as being in the file, and is shared by all revisions that have it.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use brush::GreyImage;
use document::{
    Document, Material, MaterialId, Model, PassMap, Recipe, RecipeBase, RecipeStep, Selection, Step,
};
use layers::{ChannelDescriptor, Ground, LayerId, Stack};
use raster::{Extent, Plane, TextureSize};

use crate::damage::{Damage, Lost, PlaneOf};
use crate::hash::{Hash, Kind};
use crate::known::{Known, PlanePlace};
use crate::load_layer::FoundLayer;
use crate::load_recipe::LastRecipe;
use crate::load_tiles::FoundPlane;
use crate::node::{DocumentNode, MaterialNode, Node};
use crate::objects::{Loss, Objects};
use crate::shelf::Shelf;
use crate::written::Malformed;
use crate::{StoreError, load_layer, load_model, load_recipe};

/// A value that was read, and whether nothing of it is lost.
#[derive(Debug, Clone)]
pub(crate) struct Found<T> {
    pub(crate) value: T,
    pub(crate) whole: bool,
}

/// What was read before, by hash; nothing where it is lost.
#[derive(Debug, Default)]
pub(crate) struct Memo {
    /// Tiles that were looked at, and those of them that are lost.
    pub(crate) checked_tiles: HashSet<Hash>,
    pub(crate) lost_tiles: HashSet<Hash>,
    pub(crate) planes: HashMap<Hash, Arc<FoundPlane>>,
    /// The plane that was read last for each place: most of the next one's pages are the same.
    pub(crate) last_planes: HashMap<PlanePlace, Arc<FoundPlane>>,
    /// None where anything of it is lost.
    pub(crate) selections: HashMap<Hash, Option<Arc<Selection>>>,
    pub(crate) layers: HashMap<Hash, Option<FoundLayer>>,
    pub(crate) steps: HashMap<Hash, Option<Arc<Step>>>,
    pub(crate) chunks: HashMap<Hash, Arc<Found<Vec<RecipeStep>>>>,
    pub(crate) bases: HashMap<Hash, Option<Arc<RecipeBase>>>,
    pub(crate) recipes: HashMap<Hash, Found<Recipe>>,
    pub(crate) last_recipes: HashMap<(MaterialId, LayerId), LastRecipe>,
    pub(crate) pass_maps: HashMap<Hash, Option<PassMap>>,
    pub(crate) brush_images: HashMap<Hash, Option<GreyImage>>,
    materials: HashMap<Hash, Option<Found<Arc<Material>>>>,
    models: HashMap<Hash, Option<Arc<Model>>>,
    channels: Option<Arc<[ChannelDescriptor]>>,
    /// What is lost and was named.
    named: HashSet<Hash>,
}

/// Where in a document the loader is.
#[derive(Debug, Clone, Default)]
pub(crate) struct Whereabouts {
    pub(crate) revision: Option<u64>,
    pub(crate) material: Option<(MaterialId, String)>,
    pub(crate) layer: Option<(LayerId, String)>,
    /// In the base of a recipe.
    pub(crate) in_base: bool,
}

/// Reads documents.
#[derive(Debug)]
pub(crate) struct Loader<'a> {
    pub(crate) objects: &'a Objects<'a>,
    pub(crate) known: &'a mut Known,
    pub(crate) memo: Memo,
    pub(crate) at: Whereabouts,
    pub(crate) damage: Vec<Damage>,
    /// Where tiles are read from later.
    pub(crate) shelf: Arc<Shelf>,
    /// Tiles too are looked at, each of them.
    pub(crate) checks: bool,
}

impl<'a> Loader<'a> {
    pub(crate) fn new(objects: &'a Objects<'a>, known: &'a mut Known, shelf: &Arc<Shelf>) -> Self {
        let (memo, at) = (Memo::default(), Whereabouts::default());
        Self {
            objects,
            known,
            memo,
            at,
            damage: Vec::new(),
            shelf: Arc::clone(shelf),
            checks: false,
        }
    }

    /// The document with this hash; `None` where it, or its model, is lost.
    pub(crate) fn document(
        &mut self,
        revision: Option<u64>,
        root: &Hash,
    ) -> Result<Option<Document>, StoreError> {
        self.at = Whereabouts { revision, ..Whereabouts::default() };
        let Some(node) = self.node::<DocumentNode>(root)? else {
            self.lose(Lost::Revision);
            return Ok(None);
        };
        let model = match &node.model {
            None => None,
            Some(hash) => match self.model(hash)? {
                None => return Ok(None),
                model => model,
            },
        };
        let mut materials = Vec::with_capacity(node.materials.len());
        for (index, hash) in (0..).zip(&node.materials) {
            let id = MaterialId(index);
            let found = self.material_or_bare(id, hash, model.as_deref())?;
            materials.push(found);
        }
        let channels = self.channels(node.channels);
        Ok(Some(Document { channels, model, materials }))
    }

    fn channels(&mut self, channels: Vec<ChannelDescriptor>) -> Arc<[ChannelDescriptor]> {
        match &self.memo.channels {
            Some(last) if **last == *channels => Arc::clone(last),
            _ => Arc::clone(self.memo.channels.insert(channels.into())),
        }
    }

    /// Names what is lost where the loader is.
    pub(crate) fn lose(&mut self, lost: Lost) {
        let Whereabouts { revision, material, layer, .. } = &self.at;
        self.damage.push(Damage {
            revision: *revision,
            material: material.as_ref().map(|(_, name)| name.clone()),
            layer: layer.as_ref().map(|(_, name)| name.clone()),
            lost,
        });
    }

    /// As [`Loader::lose`], but once for each object: many revisions may share it.
    pub(crate) fn lose_once(&mut self, hash: &Hash, lost: Lost) {
        if self.memo.named.insert(*hash) {
            self.lose(lost);
        }
    }

    /// A content; `None` where it is lost.
    pub(crate) fn content(
        &mut self,
        kind: Kind,
        hash: &Hash,
    ) -> Result<Option<Vec<u8>>, StoreError> {
        match self.objects.get(kind, hash) {
            Ok(content) => Ok(Some(content)),
            Err(Loss::Damaged) => Ok(None),
            Err(Loss::Fault(error)) => Err(error),
        }
    }

    /// A node; `None` where it is lost.
    pub(crate) fn node<N: Node>(&mut self, hash: &Hash) -> Result<Option<N>, StoreError> {
        let Some(content) = self.content(N::KIND, hash)? else { return Ok(None) };
        match N::of_content(&content) {
            Ok(node) => {
                self.known.nodes.insert(*hash);
                Ok(Some(node))
            }
            Err(Malformed::Content) => Ok(None),
            Err(Malformed::Version(found)) => {
                Err(StoreError::NewerNode { kind: N::KIND.name(), found })
            }
        }
    }

    fn model(&mut self, hash: &Hash) -> Result<Option<Arc<Model>>, StoreError> {
        if let Some(known) = self.memo.models.get(hash).cloned() {
            if known.is_none() {
                self.lose(Lost::Model);
            }
            return Ok(known);
        }
        let found = load_model::model(self, hash)?;
        if found.is_none() {
            self.lose(Lost::Model);
        }
        let model = found.map(|found| {
            let model = Arc::new(found.value);
            if found.whole {
                self.known.models.insert(&model, *hash);
            }
            model
        });
        self.memo.models.insert(*hash, model.clone());
        Ok(model)
    }

    /// A material, or a bare one in its place.
    fn material_or_bare(
        &mut self,
        id: MaterialId,
        hash: &Hash,
        model: Option<&Model>,
    ) -> Result<Arc<Material>, StoreError> {
        let found = if let Some(known) = self.memo.materials.get(hash) {
            known.clone()
        } else {
            let found = self.read_material(id, hash)?;
            self.memo.materials.insert(*hash, found.clone());
            found
        };
        self.at.material = None;
        if let Some(Found { value, .. }) = found.filter(|found| found.value.id == id) {
            return Ok(value);
        }
        let names = model.map_or(&[][..], |model| model.mesh().material_names());
        let name = names.get(id.0 as usize).cloned();
        let name = name.unwrap_or_else(|| format!("material {}", id.0));
        self.at.material = Some((id, name.clone()));
        self.lose_once(hash, Lost::Material);
        self.at.material = None;
        Ok(Arc::new(bare_material(id, name)))
    }

    fn read_material(
        &mut self,
        id: MaterialId,
        hash: &Hash,
    ) -> Result<Option<Found<Arc<Material>>>, StoreError> {
        let Some(node) = self.node::<MaterialNode>(hash)? else { return Ok(None) };
        let Ok(size) = TextureSize::new(node.size) else { return Ok(None) };
        self.at.material = Some((id, node.name.clone()));
        let Some(layers) = load_layer::list(self, &node.layers, size)? else { return Ok(None) };
        let layers_whole = layers.whole;
        let stack = Stack { layers: layers.value };
        if !load_layer::has_distinct_ids(&stack) {
            return Ok(None);
        }
        let mut whole = layers_whole;
        let mut recipes = document::Recipes::default();
        for (layer, recipe) in &node.recipes {
            // What is left of a layer that is lost must not come back in a new one.
            let Some(kept) = stack.find(*layer).map(Arc::as_ref) else {
                if layers_whole {
                    let recipe = load_recipe::recipe(self, *layer, "", recipe)?;
                    whole &= recipe.whole;
                    recipes = recipes.insert(*layer, recipe.value);
                }
                continue;
            };
            let recipe = load_recipe::recipe(self, *layer, &kept.name, recipe)?;
            whole &= recipe.whole;
            recipes = recipes.insert(*layer, recipe.value);
        }
        let mut fields = BTreeMap::new();
        for (field, plane) in &node.fields {
            let plane = self.plane(plane, PlaneOf::Field(*field), Some(size.extent()))?;
            whole &= plane.is_whole();
            fields.insert(*field, plane.plane.clone());
        }
        let mut selection = None;
        if let Some(hash) = &node.selection {
            selection = self.selection(hash, Some(size.extent()))?;
            whole &= selection.is_some();
        }
        let mut pass_maps = Vec::new();
        for map in &node.pass_maps {
            pass_maps.extend(load_model::pass_map(self, map)?);
        }
        whole &= pass_maps.len() == node.pass_maps.len();
        let material = Arc::new(Material {
            id: node.id,
            name: node.name,
            size,
            blend_space: node.blend_space,
            ground: node.ground,
            stack,
            recipes,
            fields,
            selection,
            pass_maps: pass_maps.into(),
        });
        if whole {
            self.known.materials.insert(&material, *hash);
        }
        Ok(Some(Found { value: material, whole }))
    }

    /// A selection; none where anything of it is lost: what it held back would no longer be.
    pub(crate) fn selection(
        &mut self,
        hash: &Hash,
        extent: Option<Extent>,
    ) -> Result<Option<Arc<Selection>>, StoreError> {
        let fits = |known: &Arc<Selection>| extent.is_none_or(|e| e == known.plane().extent());
        if let Some(known) = self.memo.selections.get(hash)
            && known.as_ref().is_none_or(fits)
        {
            return Ok(known.clone());
        }
        let found = self.plane(hash, PlaneOf::Selection, extent)?;
        let whole = found.is_whole().then(|| Arc::new(Selection::new(found.plane.clone())));
        self.memo.selections.insert(*hash, whole.clone());
        Ok(whole)
    }

    /// The material that is read.
    pub(crate) fn material(&self) -> MaterialId {
        self.at.material.as_ref().map_or(MaterialId(0), |(id, _)| *id)
    }

    /// The place of a plane in the document, to find the one that was there before.
    pub(crate) fn place_of(&self, of: PlaneOf) -> PlanePlace {
        (self.material(), self.at.layer.as_ref().map(|(id, _)| *id), of, self.at.in_base)
    }
}

/// A material without anything in it.
fn bare_material(id: MaterialId, name: String) -> Material {
    Material {
        id,
        name,
        size: TextureSize::SMALLEST,
        blend_space: layers::BlendSpace::default(),
        ground: Ground::new(),
        stack: Stack::default(),
        recipes: document::Recipes::default(),
        fields: BTreeMap::new(),
        selection: None,
        pass_maps: Arc::default(),
    }
}

/// The plane in place of one that is lost.
pub(crate) fn bare_plane(extent: Extent) -> Plane {
    Plane::uniform(extent, 0)
}

#[cfg(test)]
mod tests {
    use layers::{BlendSpace, Isolation, LayerId, Opacity};
    use tempfile::TempDir;

    use super::*;
    use crate::node::{ContentNode, LayerNode, MaskNode};
    use crate::save::Saver;
    use crate::schema;

    /// What a file gives whose nodes have the right hashes, but were made to do harm.
    fn loaded(
        make: impl FnOnce(&mut Saver<'_>) -> Hash,
    ) -> (Result<Option<Document>, StoreError>, Vec<Damage>) {
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("a");
        let connection = schema::create(&path).unwrap();
        let (objects, shelf) = (Objects::new(&connection), Shelf::new(&path));
        let root = make(&mut Saver::new(&objects, &mut Known::default(), &shelf));
        let mut known = Known::default();
        let mut loader = Loader::new(&objects, &mut known, &shelf);
        let document = loader.document(Some(1), &root);
        (document, loader.damage)
    }

    fn group(id: u32, children: Vec<Hash>) -> LayerNode {
        LayerNode {
            id: LayerId(id),
            name: "group".to_owned(),
            visible: true,
            opacity: Opacity::FULL,
            mask: MaskNode { terms: Vec::new() },
            cells: BTreeMap::new(),
            content: ContentNode::Group { isolation: Isolation::Isolated, children },
        }
    }

    fn document(saver: &mut Saver<'_>, layers: Vec<Hash>) -> Hash {
        let material = MaterialNode {
            id: MaterialId(0),
            name: "clay".to_owned(),
            size: 64,
            blend_space: BlendSpace::Encoded,
            ground: BTreeMap::new(),
            layers,
            recipes: BTreeMap::new(),
            fields: BTreeMap::new(),
            pass_maps: Vec::new(),
            selection: None,
        };
        let materials = vec![saver.node(&material).unwrap()];
        saver.node(&DocumentNode { channels: Vec::new(), model: None, materials }).unwrap()
    }

    fn names_of(damage: &[Damage]) -> Vec<Lost> {
        damage.iter().map(|damage| damage.lost.clone()).collect()
    }

    #[test]
    fn groups_that_hold_one_group_many_times_over_are_no_endless_work() {
        let (found, damage) = loaded(|saver| {
            let mut layer = saver.node(&group(0, Vec::new())).unwrap();
            for id in 1..60 {
                layer = saver.node(&group(id, vec![layer; 3])).unwrap();
            }
            document(saver, vec![layer])
        });
        let material = &found.unwrap().unwrap().materials[0];
        assert!(material.stack.walk().count() <= 100_000);
        assert!(!damage.is_empty() && names_of(&damage).iter().all(|lost| *lost == Lost::Layer(0)));
    }

    #[test]
    fn groups_that_are_too_deep_and_layers_of_one_id_are_lost() {
        let (found, damage) = loaded(|saver| {
            let mut layer = saver.node(&group(0, Vec::new())).unwrap();
            for id in 1..500 {
                layer = saver.node(&group(id, vec![layer])).unwrap();
            }
            document(saver, vec![layer])
        });
        let depth = found.unwrap().unwrap().materials[0].stack.walk().count();
        assert!(depth < 65 && !damage.is_empty(), "{depth} {damage:?}");

        let (found, damage) = loaded(|saver| {
            let layer = saver.node(&group(7, Vec::new())).unwrap();
            document(saver, vec![layer, layer])
        });
        assert_eq!(found.unwrap().unwrap().materials[0].size, TextureSize::SMALLEST);
        assert_eq!(names_of(&damage), [Lost::Material]);
    }

    #[test]
    fn a_node_of_a_later_version_is_told_by_its_kind_and_one_of_nonsense_is_lost() {
        let (found, _) = loaded(|saver| {
            let content = [9, 1, 2, 3];
            let layer = saver.content(Kind::Layer, &content, crate::squeezed::Encoding::Plain);
            document(saver, vec![layer.unwrap()])
        });
        let told = found.unwrap_err().to_string();
        assert!(told.starts_with("the project holds a layer of version 9"), "{told}");

        let (found, damage) = loaded(|saver| {
            let content = [1, 1, 2, 3];
            let layer = saver.content(Kind::Layer, &content, crate::squeezed::Encoding::Plain);
            document(saver, vec![layer.unwrap()])
        });
        assert!(found.unwrap().is_some());
        assert_eq!(names_of(&damage), [Lost::Layer(0)]);
    }
}
