//! Fills: coverage of a whole material, part, island or some faces at once.

use std::sync::Arc;

use raster::{Observer, TILE_TEXELS, Tile, TileAt, from_unit};
use rayon::prelude::*;
use surface::{DecodedTile, PartId, Surface, SurfaceTexel, TexelMap, TriangleId};

use crate::members::Members;
use crate::{BrushError, Coverage, LeftOut, Tooth};

/// What a fill covers.
#[derive(Debug, Clone, PartialEq)]
pub enum FillScope {
    /// The whole texture.
    Material,
    /// All that shows one part.
    Part(PartId),
    /// The UV island that holds this triangle.
    Island(TriangleId),
    /// These triangles.
    Faces(Arc<[TriangleId]>),
    /// All that hangs together with a triangle over edges that are not sharp:
    /// [`surface::Surface::up_to_creases`].
    Crease {
        /// The triangle.
        from: TriangleId,
        /// The most by which the surface may bend, in radians, 0 to pi.
        angle: f32,
    },
}

/// What a fill covers, each texel with `opacity` (0..1) as its tooth takes it, but for parts that are left out. Padding is
/// filled with the island that it borders.
///
/// # Errors
/// [`BrushError`] for an opacity or an angle out of range, a tooth that belongs to dabs, a triangle that does not exist,
/// or when the observer stops it.
pub fn fill_coverage(
    scope: &FillScope,
    (opacity, tooth): (f32, Option<&Tooth>),
    left_out: &LeftOut,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    check_opacity(opacity)?;
    let members = Members::new(scope, left_out, surface, map)?;
    if let Some(tooth) = tooth {
        tooth.check()?;
        if tooth.is_stamped() {
            return Err(BrushError::FillTooth);
        }
        let shares = |decoded: &DecodedTile| shares_of(tooth, surface, decoded);
        return cover_tiles(map, surface, observer, shares, |shares, _, texel| {
            let is_filled = members.has(texel.owner);
            if is_filled { from_unit(opacity * shares[texel.index as usize]) } else { 0 }
        });
    }
    let value = from_unit(opacity);
    if members.is_everything() {
        let extent = map.size().extent();
        let tiles = extent.tile_places().map(|at| (at, Tile::Uniform(value))).collect();
        return Ok(Coverage::new(extent, tiles));
    }
    cover_shown(map, surface, observer, |_, texel| if members.has(texel.owner) { value } else { 0 })
}

/// What a tooth takes of each texel of a tile, by its index.
fn shares_of(tooth: &Tooth, surface: &Surface, decoded: &DecodedTile) -> Vec<f32> {
    let mut shares = vec![0.0; TILE_TEXELS];
    for (position, block) in decoded.blocks.iter().enumerate() {
        let taken = tooth.on_block(surface, decoded, position);
        for (number, share) in taken.into_iter().enumerate() {
            shares[block.texel_index(number)] = share;
        }
    }
    shares
}

pub(crate) fn check_opacity(opacity: f32) -> Result<(), BrushError> {
    if (0.0..=1.0).contains(&opacity) {
        return Ok(());
    }
    let value = f64::from(opacity);
    Err(BrushError::Setting { what: "opacity", value, range: "0 to 1" })
}

/// Coverage that is told texel by texel, of those that show anything.
pub(crate) fn cover_shown(
    map: &TexelMap,
    surface: &Surface,
    observer: &dyn Observer,
    covers: impl Fn(&DecodedTile, &SurfaceTexel) -> u16 + Sync,
) -> Result<Coverage, BrushError> {
    cover_tiles(map, surface, observer, |_| (), |(), decoded, texel| covers(decoded, texel))
}

/// The same, of what is found out once of each tile.
fn cover_tiles<T>(
    map: &TexelMap,
    surface: &Surface,
    observer: &dyn Observer,
    of_tile: impl Fn(&DecodedTile) -> T + Sync,
    covers: impl Fn(&T, &DecodedTile, &SurfaceTexel) -> u16 + Sync,
) -> Result<Coverage, BrushError> {
    let places: Vec<TileAt> = map.tiles().collect();
    let tiles: Vec<(TileAt, Tile)> = places
        .par_iter()
        .map_init(DecodedTile::default, |decoded, &at| {
            observer.check()?;
            map.decode(surface, at, decoded);
            let found = of_tile(decoded);
            let mut texels = [0; TILE_TEXELS];
            for texel in decoded.texels() {
                texels[texel.index as usize] = covers(&found, decoded, &texel);
            }
            Ok((at, Tile::of(&texels)))
        })
        .collect::<Result<_, BrushError>>()?;
    let tiles = tiles.into_iter().filter(|(_, tile)| !tile.same(&Tile::Uniform(0))).collect();
    Ok(Coverage::new(map.size().extent(), tiles))
}
