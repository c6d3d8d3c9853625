//! From a document to objects, bottom up. What is known is passed over at the highest place that is known.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use document::{Document, Material, MaterialId, Recipe, RecipeBase, Step};
use layers::{ChannelId, Content, Layer, LayerId, Mask, MaskSource, PaintedCell, TermId};
use raster::{Plane, Tile, TileAt, TileBody, TileRead, TileSet};

use crate::damage::PlaneOf;
use crate::hash::{Hash, Kind};
use crate::known::Known;
use crate::node::{
    BaseNode, CellNode, ContentNode, DocumentNode, LayerNode, MaskNode, MaterialNode, Node,
    PageNode, PageRef, PaintedNode, PlaneNode, RecipeNode, STEPS_A_CHUNK, SourceNode, StepNode,
    StepsNode, TermNode, TileRef, images_of, page_places, pages_across,
};
use crate::objects::Objects;
use crate::shelf::{PlaneName, Shelf};
use crate::squeezed::{Encoding, content_of_texels};
use crate::{StoreError, save_model};

/// Writes documents into a database, within a transaction of the caller's.
#[derive(Debug)]
pub(crate) struct Saver<'a> {
    pub(crate) objects: &'a Objects<'a>,
    pub(crate) known: &'a mut Known,
    at: (MaterialId, Option<LayerId>),
    names: (Option<String>, Option<String>),
    shelf: &'a Arc<Shelf>,
    pub(crate) tiles: NewTiles,
}

/// A tile on its way into the file.
#[derive(Debug)]
struct NewTile {
    body: Arc<TileBody>,
    stored: TileRef,
    of: Arc<PlaneName>,
    at: TileAt,
}

/// Tiles on their way into the file, by the addresses of their bodies.
#[derive(Debug, Default)]
pub(crate) struct NewTiles(HashMap<usize, NewTile>);

impl NewTiles {
    /// Says that they are in the file: memory may let go of them.
    pub(crate) fn settle(self, shelf: &Arc<Shelf>) {
        for NewTile { body, stored, of, at } in self.0.into_values() {
            if let TileRef::Stored(hash) = stored {
                shelf.keep(&body, hash, &of, at);
            }
        }
    }
}

impl<'a> Saver<'a> {
    pub(crate) fn new(
        objects: &'a Objects<'a>,
        known: &'a mut Known,
        shelf: &'a Arc<Shelf>,
    ) -> Self {
        let at = (MaterialId(0), None);
        Self { objects, known, at, names: (None, None), shelf, tiles: NewTiles::default() }
    }

    /// Writes what of a document is not in the file; gives its hash.
    pub(crate) fn document(&mut self, document: &Document) -> Result<Hash, StoreError> {
        let model = document.model.as_ref().map(|model| save_model::model(self, model));
        let materials = document.materials.iter().map(|material| self.material(material));
        let node = DocumentNode {
            materials: materials.collect::<Result<_, _>>()?,
            channels: document.channels.to_vec(),
            model: model.transpose()?,
        };
        self.node(&node)
    }

    /// Writes a node, unless it is known to be there.
    pub(crate) fn node<N: Node>(&mut self, node: &N) -> Result<Hash, StoreError> {
        self.content(N::KIND, &node.content(), Encoding::Plain)
    }

    /// Writes a content, unless it is known to be there.
    pub(crate) fn content(
        &mut self,
        kind: Kind,
        content: &[u8],
        encoding: Encoding,
    ) -> Result<Hash, StoreError> {
        let hash = kind.hash(content);
        if !self.known.nodes.contains(&hash) {
            self.objects.put(kind, &hash, content, encoding)?;
            self.known.nodes.insert(hash);
        }
        Ok(hash)
    }

    fn material(&mut self, material: &Arc<Material>) -> Result<Hash, StoreError> {
        if let Some(hash) = self.known.materials.get(material) {
            return Ok(hash);
        }
        self.at = (material.id, None);
        self.names.0 = Some(material.name.clone());
        let layers = material.stack.layers.iter().map(|layer| self.layer(layer));
        let layers = layers.collect::<Result<_, _>>()?;
        let recipes = material.recipes.iter().map(|(id, recipe)| {
            self.at.1 = Some(*id);
            self.names.1 = material.stack.find(*id).map(|layer| layer.name.clone());
            Ok((*id, self.recipe(recipe)?))
        });
        let recipes = recipes.collect::<Result<_, StoreError>>()?;
        (self.at.1, self.names.1) = (None, None);
        let fields = material
            .fields
            .iter()
            .map(|(id, plane)| Ok((*id, self.plane(plane, PlaneOf::Field(*id), false)?)));
        let fields = fields.collect::<Result<_, StoreError>>()?;
        let selection = material.selection.as_ref();
        let selection = selection.map(|held| self.plane(held.plane(), PlaneOf::Selection, false));
        let selection = selection.transpose()?;
        let pass_maps = material.pass_maps.iter().map(|map| save_model::pass_map(self, map));
        let pass_maps = pass_maps.collect::<Result<_, _>>()?;
        let hash = self.node(&MaterialNode {
            id: material.id,
            name: material.name.clone(),
            size: material.size.edge(),
            blend_space: material.blend_space,
            ground: material.ground.clone(),
            layers,
            recipes,
            fields,
            pass_maps,
            selection,
        })?;
        self.known.materials.insert(material, hash);
        Ok(hash)
    }

    fn layer(&mut self, layer: &Arc<Layer>) -> Result<Hash, StoreError> {
        if let Some(hash) = self.known.layers.get(layer) {
            return Ok(hash);
        }
        let around = (self.at.1.replace(layer.id), self.names.1.replace(layer.name.clone()));
        let content = match &layer.content {
            Content::Painted(cells) => ContentNode::Painted(self.cells(cells, false)?),
            Content::Solid(values) => ContentNode::Solid(values.clone()),
            Content::Group { isolation, children } => {
                let children = children.iter().map(|child| self.layer(child));
                let children = children.collect::<Result<_, _>>()?;
                ContentNode::Group { isolation: *isolation, children }
            }
        };
        let cells = layer.cells.iter().map(|(channel, cell)| {
            let mask = self.mask(&cell.mask, &|term| PlaneOf::CellMask(*channel, term))?;
            let (on, blend, opacity) = (cell.on, cell.blend, cell.opacity);
            Ok((*channel, CellNode { on, blend, opacity, mask }))
        });
        let cells = cells.collect::<Result<_, StoreError>>()?;
        let mask = self.mask(&layer.mask, &PlaneOf::LayerMask)?;
        (self.at.1, self.names.1) = around;
        let hash = self.node(&LayerNode {
            id: layer.id,
            name: layer.name.clone(),
            visible: layer.visible,
            opacity: layer.opacity,
            mask,
            cells,
            content,
        })?;
        self.known.layers.insert(layer, hash);
        Ok(hash)
    }

    fn cells(
        &mut self,
        cells: &BTreeMap<ChannelId, PaintedCell>,
        in_base: bool,
    ) -> Result<BTreeMap<ChannelId, PaintedNode>, StoreError> {
        let each = cells.iter().map(|(channel, cell)| {
            let values = (0..).zip(&cell.values).map(|(component, plane)| {
                self.plane(plane, PlaneOf::Values(*channel, component), in_base)
            });
            let values = values.collect::<Result<_, _>>()?;
            let coverage = self.plane(&cell.coverage, PlaneOf::Coverage(*channel), in_base)?;
            Ok((*channel, PaintedNode { values, coverage }))
        });
        each.collect()
    }

    fn mask(
        &mut self,
        mask: &Mask,
        of: &dyn Fn(TermId) -> PlaneOf,
    ) -> Result<MaskNode, StoreError> {
        let terms = mask.terms.iter().map(|term| {
            Ok(TermNode {
                id: term.id,
                on: term.on,
                invert: term.invert,
                strength: term.strength,
                combine: term.combine,
                source: match &term.source {
                    MaskSource::Painted(plane) => {
                        SourceNode::Painted(self.plane(plane, of(term.id), false)?)
                    }
                    MaskSource::Field(expr) => SourceNode::Field(*expr),
                },
            })
        });
        Ok(MaskNode { terms: terms.collect::<Result<_, StoreError>>()? })
    }

    /// Pages in which no tile differs from the plane that was written last for this place are those of that
    /// plane.
    fn plane(&mut self, plane: &Plane, of: PlaneOf, in_base: bool) -> Result<Hash, StoreError> {
        if let Some(hash) = self.known.plane(plane) {
            return Ok(hash);
        }
        let extent = plane.extent();
        let (across, down) = pages_across(extent);
        let place = (self.at.0, self.at.1, of, in_base);
        let last = self.known.last_planes.get(&place);
        let last = last.and_then(|(mark, pages)| Some((mark.plane()?, Arc::clone(pages))));
        let last = last.filter(|(last, _)| last.extent() == extent);
        let changed = last.as_ref().map(|(last, _)| plane.changed_tiles(last));
        let name = Arc::new(self.plane_name(of));
        let mut pages = Vec::with_capacity(across as usize * down as usize);
        for page in 0..across as usize * down as usize {
            let same =
                |changed: &TileSet| page_places(extent, page).all(|at| !changed.contains(at));
            match &last {
                Some((_, last)) if changed.as_ref().is_some_and(same) => pages.push(last[page]),
                _ => pages.push(self.page(plane, page, &name)?),
            }
        }
        let hash = self.node(&PlaneNode { extent, pages: pages.clone() })?;
        self.known.insert_plane(plane, hash);
        self.known.last_planes.insert(place, (plane.mark(), pages.into()));
        Ok(hash)
    }

    fn plane_name(&self, plane: PlaneOf) -> PlaneName {
        let (material, layer) = self.names.clone();
        PlaneName { revision: None, material, layer, plane }
    }

    fn page(
        &mut self,
        plane: &Plane,
        page: usize,
        name: &Arc<PlaneName>,
    ) -> Result<PageRef, StoreError> {
        let places = page_places(plane.extent(), page);
        let tiles = places.map(|at| self.tile(plane.tile(at), name, at));
        let tiles: Vec<TileRef> = tiles.collect::<Result<_, _>>()?;
        match tiles.first() {
            Some(TileRef::Uniform(value)) if tiles.iter().all(|tile| *tile == tiles[0]) => {
                Ok(PageRef::Uniform(*value))
            }
            _ => Ok(PageRef::Stored(self.node(&PageNode { tiles })?)),
        }
    }

    /// A tile whose values are all one is uniform here, whatever it is in memory: what is equal has one hash.
    fn tile(
        &mut self,
        tile: &Tile,
        name: &Arc<PlaneName>,
        at: TileAt,
    ) -> Result<TileRef, StoreError> {
        let body = match tile {
            Tile::Uniform(value) => return Ok(TileRef::Uniform(*value)),
            Tile::Texels(body) => body,
        };
        if let Some(hash) = self.shelf.hash_of(body) {
            return Ok(TileRef::Stored(hash));
        }
        let address = Arc::as_ptr(body).addr();
        if let Some(new) = self.tiles.0.get(&address) {
            return Ok(new.stored);
        }
        let TileRead::Texels(texels) = tile.read()? else { return Ok(TileRef::Uniform(0)) };
        let stored = if texels.iter().all(|value| *value == texels[0]) {
            TileRef::Uniform(texels[0])
        } else {
            let content = content_of_texels(&texels);
            let hash = Kind::Tile.hash(&content);
            self.objects.put(Kind::Tile, &hash, &content, Encoding::Tile)?;
            TileRef::Stored(hash)
        };
        let (body, of) = (Arc::clone(body), Arc::clone(name));
        self.tiles.0.insert(address, NewTile { body, stored, of, at });
        Ok(stored)
    }

    fn recipe(&mut self, recipe: &Recipe) -> Result<Hash, StoreError> {
        let base = recipe.base.as_ref().map(|base| self.base(base)).transpose()?;
        let (mut chunks, mut steps, mut within) = (Vec::new(), Vec::new(), Vec::new());
        for (number, painted) in (1..).zip(&recipe.steps) {
            steps.push((self.step(&painted.step)?, painted.blend_space));
            let selection = painted.within.as_ref();
            let plane = selection.map(|held| self.plane(held.plane(), PlaneOf::Selection, false));
            within.push(plane.transpose()?);
            if steps.len() == STEPS_A_CHUNK || number == recipe.steps.len() {
                if within.iter().all(Option::is_none) {
                    within.clear();
                }
                let (steps, within) = (std::mem::take(&mut steps), std::mem::take(&mut within));
                chunks.push(self.node(&StepsNode { steps, within })?);
            }
        }
        self.node(&RecipeNode { base, chunks })
    }

    fn base(&mut self, base: &Arc<RecipeBase>) -> Result<Hash, StoreError> {
        if let Some(hash) = self.known.bases.get(base) {
            return Ok(hash);
        }
        let node = BaseNode { cells: self.cells(&base.cells, true)? };
        let hash = self.node(&node)?;
        self.known.bases.insert(base, hash);
        Ok(hash)
    }

    fn step(&mut self, step: &Arc<Step>) -> Result<Hash, StoreError> {
        if let Some(hash) = self.known.steps.get(step) {
            return Ok(hash);
        }
        let images = images_of(step).map(|image| save_model::brush_image(self, image));
        let images = images.collect::<Result<_, _>>()?;
        let node = StepNode { step: Step::clone(step), images };
        let hash = self.content(Kind::Step, &node.content(), Encoding::Words)?;
        self.known.steps.insert(step, hash);
        Ok(hash)
    }
}
