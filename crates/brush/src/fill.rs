//! Fills: coverage of a whole material, part or island at once.

use raster::{Observer, TILE_TEXELS, Tile, TileAt};
use rayon::prelude::*;
use surface::{DecodedTile, PartId, Surface, SurfacePoint, TexelMap, TriangleId};

use crate::{BrushError, Coverage, LeftOut};

/// What a fill covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FillScope {
    /// The whole texture.
    Material,
    /// All that shows one part.
    Part(PartId),
    /// The UV island that holds this triangle.
    Island(TriangleId),
}

/// What a fill covers, each texel with `opacity` (0..1), but for parts that are left out. Padding is filled
/// with the island that it borders.
///
/// # Errors
/// [`BrushError`] for an opacity out of range, a triangle that does not exist, or when the observer stops it.
pub fn fill_coverage(
    scope: FillScope,
    opacity: f32,
    left_out: &LeftOut,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    if !(0.0..=1.0).contains(&opacity) {
        let value = f64::from(opacity);
        return Err(BrushError::Setting { what: "opacity", value, range: "0 to 1" });
    }
    let extent = map.size().extent();
    let value = raster::from_unit(opacity);
    let paints = |owner| left_out.is_empty() || left_out.paints(surface.part_of(owner));
    let tiles = match scope {
        FillScope::Material if left_out.is_empty() => {
            extent.tile_places().map(|at| (at, Tile::Uniform(value))).collect()
        }
        FillScope::Material => filled(map, surface, value, observer, paints)?,
        FillScope::Part(part) => {
            let belongs = |owner| surface.part_of(owner) == part && left_out.paints(part);
            filled(map, surface, value, observer, belongs)?
        }
        FillScope::Island(triangle) => {
            let island = island_of(triangle, surface, map)?;
            let islands = surface.islands();
            filled(map, surface, value, observer, |owner| {
                island.is_some() && islands.island_of(owner) == island && paints(owner)
            })?
        }
    };
    Ok(Coverage { extent, tiles })
}

/// The island whose texels show the triangle: of stacked islands the one that owns them.
fn island_of(
    triangle: TriangleId,
    surface: &Surface,
    map: &TexelMap,
) -> Result<Option<surface::IslandId>, BrushError> {
    let count = surface.triangle_count();
    if triangle.0 as usize >= count {
        return Err(BrushError::NoSuchTriangle { triangle: triangle.0, count });
    }
    let middle = SurfacePoint { triangle, barycentric: [1.0 / 3.0; 3] };
    Ok(surface.islands().island_of(map.primary_point(surface, &middle).triangle))
}

fn filled(
    map: &TexelMap,
    surface: &Surface,
    value: u16,
    observer: &dyn Observer,
    belongs: impl Fn(TriangleId) -> bool + Sync,
) -> Result<Vec<(TileAt, Tile)>, BrushError> {
    let places: Vec<TileAt> = map.tiles().collect();
    let tiles: Vec<(TileAt, Tile)> = places
        .par_iter()
        .map_init(DecodedTile::default, |decoded, &at| {
            observer.check()?;
            map.decode(surface, at, decoded);
            let mut texels = [0; TILE_TEXELS];
            for texel in decoded.texels().filter(|texel| belongs(texel.owner)) {
                texels[texel.index as usize] = value;
            }
            Ok((at, Tile::of(&texels)))
        })
        .collect::<Result<_, BrushError>>()?;
    Ok(tiles.into_iter().filter(|(_, tile)| !tile.same(&Tile::Uniform(0))).collect())
}
