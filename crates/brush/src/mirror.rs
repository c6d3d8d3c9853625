//! Paint that is fetched from across a plane: each texel takes what lies at its point's mirror image.
//!
//! The image is looked up on the surface: the nearest point of it, where that is near enough. There the texture is
//! sampled between its texels, weighted by coverage, colours in linear light. So neither layout nor seams matter.

use std::sync::atomic::{AtomicU64, Ordering};

use glam::{DVec2, DVec3};
use raster::{
    Bitmap, Observer, Plane, TILE_TEXELS, Tile, TileAt, decode_stored, encode_stored, from_unit,
    to_unit,
};
use rayon::prelude::*;
use surface::{DecodedTile, PartId, Surface, TexelMap, TriangleId};

use crate::{Axis, BrushError, CellPlanes, LeftOut};

/// The surface must go on this near to the mirror image, as a share of the model's diagonal.
const NEAR: f64 = 0.02;

/// A plane across an axis of the model, and how paint is fetched over it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mirror {
    /// The axis that the plane stands across.
    pub axis: Axis,
    /// Where on it, in model units.
    pub at: f32,
    /// What is fetched is gone where it was, but for what is selected there too.
    pub moves: bool,
    /// Parts that neither get nor give anything.
    pub left_out: LeftOut,
}

impl Mirror {
    /// # Errors
    /// [`BrushError::Setting`] for a place that is not finite.
    pub fn check(&self) -> Result<(), BrushError> {
        if self.at.is_finite() {
            return Ok(());
        }
        let (what, value) = ("place of the plane", f64::from(self.at));
        Err(BrushError::Setting { what, value, range: "a finite number" })
    }

    fn image(&self, point: DVec3) -> DVec3 {
        let axis = self.axis.direction();
        point + axis * (2.0 * (f64::from(self.at) - point.dot(axis)))
    }
}

/// Fetches paint into each texel by how much it is selected; `within` is nothing where all is.
///
/// # Errors
/// [`BrushError`] for a plane that is nowhere, a tile that can't be read, or when the observer stops it.
pub fn mirror_cells(
    cells: &mut [CellPlanes],
    mirror: &Mirror,
    within: Option<&Plane>,
    (surface, map): (&Surface, &TexelMap),
    observer: &dyn Observer,
) -> Result<(), BrushError> {
    mirror.check()?;
    let before: Vec<Plane> = cells.iter().map(|cell| cell.coverage.clone()).collect();
    let sources: Vec<Source> = cells.iter().map(Source::of).collect::<Result<_, _>>()?;
    let within = within.map(|plane| Bitmap::from_planes(&[plane])).transpose()?;
    let (low, high) = surface.mesh().bounds();
    let near = NEAR * f64::from(low.distance(high));
    let look = Look { mirror, surface, map, near, within, sources: &sources };
    let places: Vec<TileAt> = map.tiles().collect();
    let done = AtomicU64::new(0);
    let made: Vec<(TileAt, Option<Vec<Vec<Tile>>>)> = places
        .par_iter()
        .map_init(DecodedTile::default, |decoded, &at| {
            observer.check()?;
            map.decode(surface, at, decoded);
            let tile = look.tile(decoded, at);
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            observer.progress(done, places.len() as u64);
            Ok((at, tile))
        })
        .collect::<Result<_, BrushError>>()?;
    for (at, tiles) in made {
        for (cell, tiles) in cells.iter_mut().zip(tiles.into_iter().flatten()) {
            let planes = cell.values.iter_mut().chain([&mut cell.coverage]);
            planes.zip(tiles).for_each(|(plane, tile)| plane.set_tile(at, tile));
        }
    }
    for number in 0..cells.len() {
        if let Some(shared) = (0..number).find(|&other| before[other].same(&before[number])) {
            cells[number].coverage = cells[shared].coverage.clone();
        }
    }
    Ok(())
}

/// A cell before anything was fetched: its components, then its coverage.
struct Source {
    texels: Bitmap<u16>,
}

impl Source {
    fn of(cell: &CellPlanes) -> Result<Self, BrushError> {
        let planes: Vec<&Plane> = cell.values.iter().chain([&cell.coverage]).collect();
        Ok(Self { texels: Bitmap::from_planes(&planes)? })
    }

    fn components(&self) -> usize {
        self.texels.components() - 1
    }

    fn light(&self, stored: u16) -> f32 {
        // A colour of three is averaged in linear light, however paint mixes.
        if self.components() == 3 { decode_stored(stored) } else { to_unit(stored) }
    }

    fn stored(&self, light: f32) -> u16 {
        if self.components() == 3 { encode_stored(light) } else { from_unit(light) }
    }
}

/// How the mirror image is looked at.
struct Look<'a> {
    mirror: &'a Mirror,
    surface: &'a Surface,
    map: &'a TexelMap,
    near: f64,
    within: Option<Bitmap<u16>>,
    sources: &'a [Source],
}

/// The texels around a place, and how much each counts.
type Around = [((u32, u32), f32); 4];

impl Look<'_> {
    /// Each cell's components and coverage in a tile; none where nothing is fetched or taken.
    fn tile(&self, decoded: &DecodedTile, at: TileAt) -> Option<Vec<Vec<Tile>>> {
        let (left, top) = at.first_texel();
        let place = |index: u16| (left + u32::from(index) % 64, top + u32::from(index) / 64);
        let mut changed: Vec<(usize, (u32, u32), f32, Around)> = Vec::new();
        let mut last = None;
        for texel in decoded.texels() {
            let here = place(texel.index);
            let selected = self.selected(&[(here, 1.0)]);
            if selected == 0.0 && !self.mirror.moves {
                continue;
            }
            if !self.takes_part(self.surface.part_of(texel.owner)) {
                continue;
            }
            if let Some(around) = self.image_of(decoded.point(&texel), &mut last) {
                changed.push((texel.index as usize, here, selected, around));
            }
        }
        if changed.is_empty() {
            return None;
        }
        Some(self.sources.iter().map(|source| self.cell(source, at, &changed)).collect())
    }

    fn cell(
        &self,
        source: &Source,
        at: TileAt,
        changed: &[(usize, (u32, u32), f32, Around)],
    ) -> Vec<Tile> {
        let (left, top) = at.first_texel();
        let components = source.components();
        let mut tiles = vec![[0; TILE_TEXELS]; components + 1];
        for index in 0..TILE_TEXELS {
            let texel = source.texels.texel(left + index as u32 % 64, top + index as u32 / 64);
            tiles.iter_mut().zip(texel).for_each(|(tile, value)| tile[index] = *value);
        }
        for (index, here, selected, around) in changed {
            let own = [(*here, 1.0 - selected)];
            let fetched = around.map(|(place, weight)| (place, weight * selected));
            let given =
                if self.mirror.moves { self.selected(around) * (1.0 - selected) } else { 0.0 };
            let mut coverage = 0.0;
            let mut light = [0.0; 3];
            for (place, weight) in own.into_iter().chain(fetched) {
                let texel = source.texels.texel(place.0, place.1);
                let counts = weight * to_unit(texel[components]);
                coverage += counts;
                for (light, value) in light.iter_mut().zip(&texel[..components]) {
                    *light += counts * source.light(*value);
                }
            }
            if *selected > 0.0 && coverage > 0.0 {
                for (tile, light) in tiles.iter_mut().zip(light).take(components) {
                    tile[*index] = source.stored(light / coverage);
                }
            }
            tiles[components][*index] = from_unit(coverage * (1.0 - given));
        }
        tiles.iter().map(Tile::of).collect()
    }

    fn takes_part(&self, part: PartId) -> bool {
        self.mirror.left_out.is_empty() || self.mirror.left_out.paints(part)
    }

    /// The texels around the mirror image of a point; none where the surface, or this material, is not there.
    /// `last` is the triangle that was found for the texel before: mostly it is as near as any, which spares a search.
    fn image_of(&self, point: DVec3, last: &mut Option<TriangleId>) -> Option<Around> {
        let image = self.mirror.image(point);
        let guess = last.map_or(self.near, |triangle| {
            let on = self.surface.nearest_on(triangle, image);
            // A hair's breadth more, so that rounding does not lose it.
            let away = self.surface.position(triangle, on.barycentric).distance(image);
            1.000_001 * away + 1e-4 * self.near
        });
        let found = self.surface.nearest_within(image, guess.min(self.near))?;
        *last = Some(found.triangle);
        if self.surface.material_of(found.triangle) != self.map.material()
            || !self.takes_part(self.surface.part_of(found.triangle))
        {
            return None;
        }
        let found = self.map.primary_point(self.surface, &found);
        let uv = self.surface.uv(found.triangle, found.barycentric)?;
        let edge = self.map.size().edge();
        let at = uv * f64::from(edge) - DVec2::splat(0.5);
        let first = at.floor();
        let share = (at - first).as_vec2();
        let place = |dx: f64, dy: f64| {
            let limit = |at: f64| at.clamp(0.0, f64::from(edge - 1)) as u32;
            (limit(first.x + dx), limit(first.y + dy))
        };
        Some([
            (place(0.0, 0.0), (1.0 - share.x) * (1.0 - share.y)),
            (place(1.0, 0.0), share.x * (1.0 - share.y)),
            (place(0.0, 1.0), (1.0 - share.x) * share.y),
            (place(1.0, 1.0), share.x * share.y),
        ])
    }

    /// How much of a place is selected, 0..1.
    fn selected(&self, around: &[((u32, u32), f32)]) -> f32 {
        let Some(within) = &self.within else { return 1.0 };
        let shares =
            around.iter().map(|((x, y), weight)| weight * to_unit(within.texel(*x, *y)[0]));
        shares.sum()
    }
}
