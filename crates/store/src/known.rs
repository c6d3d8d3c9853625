//! What is known to be in the file: values in memory by their identity, nodes by their hash. So what did not
//! change is neither hashed nor written again.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Weak};

use brush::ImageName;
use document::{Material, MaterialId, Model, RecipeBase, Step};
use layers::{Layer, LayerId};
use raster::{Plane, PlaneMark};

use crate::Hash;
use crate::damage::PlaneOf;
use crate::node::{Column, PageRef};

/// Values by address. Each is held weakly, so that its address can't be given to another one.
#[derive(Debug)]
pub(crate) struct Marks<T: ?Sized, V> {
    by_address: HashMap<usize, (Weak<T>, V)>,
    /// Those that are gone are looked for once there are so many.
    look_at: usize,
}

const LOOK_FIRST_AT: usize = 4096;

impl<T: ?Sized, V> Default for Marks<T, V> {
    fn default() -> Self {
        Self { by_address: HashMap::new(), look_at: LOOK_FIRST_AT }
    }
}

fn address<T: ?Sized>(value: &Arc<T>) -> usize {
    Arc::as_ptr(value).cast::<()>().addr()
}

impl<T: ?Sized, V: Clone> Marks<T, V> {
    pub(crate) fn get(&self, value: &Arc<T>) -> Option<V> {
        self.by_address.get(&address(value)).map(|(_, kept)| kept.clone())
    }

    pub(crate) fn insert(&mut self, value: &Arc<T>, kept: V) {
        if self.by_address.len() >= self.look_at {
            self.by_address.retain(|_, (mark, _)| mark.strong_count() > 0);
            self.look_at = LOOK_FIRST_AT.max(2 * self.by_address.len());
        }
        self.by_address.insert(address(value), (Arc::downgrade(value), kept));
    }

    fn retain(&mut self, keep: impl Fn(&V) -> bool) {
        self.by_address.retain(|_, (mark, kept)| mark.strong_count() > 0 && keep(kept));
    }
}

/// A plane's place in a document; the last says whether it belongs to a recipe's base.
pub(crate) type PlanePlace = (MaterialId, Option<LayerId>, PlaneOf, bool);

/// All that is known.
#[derive(Debug, Default)]
pub(crate) struct Known {
    planes: HashMap<usize, (PlaneMark, Hash)>,
    pub(crate) layers: Marks<Layer, Hash>,
    pub(crate) steps: Marks<Step, Hash>,
    pub(crate) bases: Marks<RecipeBase, Hash>,
    pub(crate) materials: Marks<Material, Hash>,
    pub(crate) models: Marks<Model, Hash>,
    pub(crate) map_bytes: Marks<[u8], Column>,
    pub(crate) brush_images: HashMap<ImageName, Hash>,
    /// Nodes that are in the file.
    pub(crate) nodes: HashSet<Hash>,
    look_at_planes_at: usize,
    /// The plane that was written last for each place, and its pages.
    pub(crate) last_planes: HashMap<PlanePlace, (PlaneMark, Arc<[PageRef]>)>,
}

impl Known {
    pub(crate) fn plane(&self, plane: &Plane) -> Option<Hash> {
        self.planes.get(&plane.address()).map(|(_, hash)| *hash)
    }

    pub(crate) fn insert_plane(&mut self, plane: &Plane, hash: Hash) {
        if self.planes.len() >= self.look_at_planes_at.max(LOOK_FIRST_AT) {
            self.planes.retain(|_, (mark, _)| mark.is_held());
            self.look_at_planes_at = 2 * self.planes.len();
        }
        self.planes.insert(plane.address(), (plane.mark(), hash));
    }

    /// Forgets all that is not among these, since it is no longer in the file.
    pub(crate) fn retain(&mut self, in_file: &HashSet<Hash>) {
        let held = |hash: &Hash| in_file.contains(hash);
        self.planes.retain(|_, (mark, hash)| mark.is_held() && held(hash));
        self.layers.retain(held);
        self.steps.retain(held);
        self.bases.retain(held);
        self.materials.retain(held);
        self.models.retain(held);
        self.map_bytes.retain(|column| column.pieces.iter().all(held));
        self.brush_images.retain(|_, hash| held(hash));
        self.nodes.retain(held);
        self.last_planes.clear();
    }
}
