//! Planes and their tiles.

use std::sync::Arc;

use raster::{Extent, Plane, Texels, Tile, TileAt};
use rayon::prelude::*;

use crate::StoreError;
use crate::damage::{Lost, PlaneOf};
use crate::hash::{Hash, Kind};
use crate::load::{Loader, Whereabouts, bare_plane};
use crate::node::{PageNode, PageRef, PlaneNode, TileRef, page_places};
use crate::objects::StoredObject;
use crate::shelf::PlaneName;

/// A plane that was read.
#[derive(Debug, Clone)]
pub(crate) struct FoundPlane {
    pub(crate) plane: Plane,
    /// Its pages; none where the whole plane is lost.
    pages: Vec<PageRef>,
    /// Tiles that are bare since theirs are lost.
    pub(crate) lost: Vec<TileAt>,
}

impl FoundPlane {
    pub(crate) fn is_whole(&self) -> bool {
        self.lost.is_empty()
    }
}

impl Loader<'_> {
    /// A plane. One that is lost, or has another extent than it must have, is bare, and all its tiles are
    /// told to be lost.
    pub(crate) fn plane(
        &mut self,
        hash: &Hash,
        of: PlaneOf,
        extent: Option<Extent>,
    ) -> Result<Arc<FoundPlane>, StoreError> {
        let known = self.memo.planes.get(hash);
        if let Some(known) = known.filter(|plane| extent.is_none_or(|e| e == plane.plane.extent()))
        {
            return Ok(Arc::clone(known));
        }
        let node = self.node::<PlaneNode>(hash)?;
        let fits = |node: &PlaneNode| extent.is_none_or(|extent| extent == node.extent);
        let found = if let Some(node) = node.filter(fits) {
            self.read_plane(&node, of)?
        } else {
            self.lose(Lost::Plane(of));
            let extent = extent.unwrap_or(Extent { width: 64, height: 64 });
            let lost = extent.tile_places().collect();
            FoundPlane { plane: bare_plane(extent), pages: Vec::new(), lost }
        };
        if found.is_whole() {
            self.known.insert_plane(&found.plane, *hash);
        }
        let found = Arc::new(found);
        self.memo.planes.insert(*hash, Arc::clone(&found));
        let place = self.place_of(of);
        self.memo.last_planes.insert(place, Arc::clone(&found));
        Ok(found)
    }

    /// Reads the pages that the plane that was in this place before does not have.
    fn read_plane(&mut self, node: &PlaneNode, of: PlaneOf) -> Result<FoundPlane, StoreError> {
        let extent = node.extent;
        let last = self.memo.last_planes.get(&self.place_of(of)).cloned();
        let last = last
            .filter(|last| last.plane.extent() == extent && last.pages.len() == node.pages.len());
        let mut plane = last.as_ref().map_or_else(|| bare_plane(extent), |last| last.plane.clone());
        let mut lost = Vec::new();
        for (index, page) in node.pages.iter().enumerate() {
            let places = page_places(extent, index);
            if let Some(last) = last.as_ref().filter(|last| last.pages[index] == *page) {
                lost.extend(places.filter(|at| last.lost.contains(at)));
                continue;
            }
            match page {
                PageRef::Uniform(value) => {
                    places.for_each(|at| plane.set_tile(at, Tile::Uniform(*value)));
                }
                PageRef::Stored(hash) => {
                    let places: Vec<TileAt> = places.collect();
                    self.read_page(hash, &places, of, &mut plane, &mut lost)?;
                }
            }
        }
        Ok(FoundPlane { plane, pages: node.pages.clone(), lost })
    }

    fn read_page(
        &mut self,
        hash: &Hash,
        places: &[TileAt],
        of: PlaneOf,
        plane: &mut Plane,
        lost: &mut Vec<TileAt>,
    ) -> Result<(), StoreError> {
        let node = self.node::<PageNode>(hash)?;
        let Some(node) = node.filter(|node| node.tiles.len() == places.len()) else {
            if let (Some(first), Some(last)) = (places.first(), places.last()) {
                self.lose(Lost::Tiles { plane: of, first: *first, last: *last });
            }
            for at in places {
                plane.set_tile(*at, Tile::Uniform(0));
            }
            lost.extend(places);
            return Ok(());
        };
        self.check_tiles(&node)?;
        let name = Arc::new(self.plane_name(of));
        for (at, tile) in places.iter().zip(node.tiles) {
            let tile = match tile {
                TileRef::Uniform(value) => Tile::Uniform(value),
                TileRef::Stored(hash) if self.memo.lost_tiles.contains(&hash) => {
                    self.lose(Lost::Tiles { plane: of, first: *at, last: *at });
                    lost.push(*at);
                    Tile::Uniform(0)
                }
                TileRef::Stored(hash) => self.tile(hash, &name, *at),
            };
            plane.set_tile(*at, tile);
        }
        Ok(())
    }

    fn plane_name(&self, plane: PlaneOf) -> PlaneName {
        let Whereabouts { revision, material, layer, .. } = &self.at;
        PlaneName {
            revision: *revision,
            material: material.as_ref().map(|(_, name)| name.clone()),
            layer: layer.as_ref().map(|(_, name)| name.clone()),
            plane,
        }
    }

    /// A tile that lies in the file. It is looked at when it is read.
    fn tile(&self, hash: Hash, name: &Arc<PlaneName>, at: TileAt) -> Tile {
        Tile::Texels(self.shelf.body(hash, name, at))
    }

    /// Where everything is to be looked at: looks at the tiles of a page that were not, side by side.
    fn check_tiles(&mut self, node: &PageNode) -> Result<(), StoreError> {
        if !self.checks {
            return Ok(());
        }
        let mut fetched = Vec::new();
        for tile in &node.tiles {
            if let TileRef::Stored(hash) = tile
                && self.memo.checked_tiles.insert(*hash)
            {
                fetched.push((*hash, self.objects.fetch(hash)?));
            }
        }
        let is_wrong = |(hash, stored): &(Hash, Option<StoredObject>)| {
            let content = stored.as_ref().and_then(|stored| stored.content(Kind::Tile, hash));
            content.is_none_or(|content| content.len() != size_of::<Texels>())
        };
        let doubtful: Vec<_> = fetched.into_par_iter().filter(is_wrong).collect();
        for (hash, _) in doubtful {
            // The index may be damaged, and the tile be there all the same.
            let content = self.content(Kind::Tile, &hash)?;
            if content.is_none_or(|content| content.len() != size_of::<Texels>()) {
                self.memo.lost_tiles.insert(hash);
            }
        }
        Ok(())
    }
}
