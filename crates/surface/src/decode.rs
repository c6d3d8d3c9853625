//! A tile of the texel map written out: the point, normal and UV that each texel shows.

use glam::{DVec3, Vec2, Vec3};
use raster::{TILE_EDGE, TileAt};

use crate::affine::{Affine, centre, weighted};
use crate::normals::blend;
use crate::texel_map::{Block, owned_texels};
use crate::{Surface, TexelMap, TriangleId};

/// What the texels of one tile show. Kept and filled again, it allocates no more.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DecodedTile {
    /// What offsets are measured from, in model units.
    pub origin: DVec3,
    /// The triangles that the texels show, by ascending id.
    pub frames: Vec<TexelFrame>,
    /// The texels that show anything, by ascending index.
    pub texels: Vec<SurfaceTexel>,
}

/// One texel and the point of the surface that it shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceTexel {
    /// Its place in the tile: [`raster::texel_index`].
    pub index: u16,
    /// Index into [`DecodedTile::frames`]: the triangle that it shows.
    pub frame: u16,
    /// The triangle that owns it; for a padding texel one of the island that it borders.
    pub owner: TriangleId,
    /// True when no triangle owns it.
    pub padding: bool,
    /// The point, from the tile's origin, in model units.
    pub offset: Vec3,
    /// The smooth normal there, of unit length: [`Surface::smooth_normal`].
    pub normal: Vec3,
    /// The UV of the point: for a padding texel that shows another island, the UV in that island.
    pub uv: Vec2,
}

/// What texels that show one triangle have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TexelFrame {
    /// The triangle.
    pub triangle: TriangleId,
    /// How the point moves with one texel along x, in model units; zero where the triangle has no area
    /// in the layout.
    pub du: Vec3,
    /// The same with one texel along y (down).
    pub dv: Vec3,
    /// The unit normal of the triangle's plane; zero where it has no area.
    pub geometric_normal: Vec3,
}

impl DecodedTile {
    /// The point that a texel shows, in model units.
    pub fn point(&self, texel: &SurfaceTexel) -> DVec3 {
        self.origin + texel.offset.as_dvec3()
    }
}

impl TexelMap {
    /// Writes out a tile; nothing in it where the tile shows nothing. `surface` must be the one that
    /// the map was built from.
    pub fn decode(&self, surface: &Surface, at: TileAt, decoded: &mut DecodedTile) {
        decoded.origin = DVec3::ZERO;
        decoded.frames.clear();
        decoded.texels.clear();
        if let Some(block) = self.block(at) {
            decoded.origin = block.bounds.centre();
            Writer { map: self, surface, at, shown: None }.write(block, decoded);
        }
    }
}

/// A triangle, ready to be shown by many texels.
struct Shown {
    id: TriangleId,
    frame: u16,
    affine: Option<Affine>,
    corners: [DVec3; 3],
    normals: [Vec3; 3],
    geometric: DVec3,
}

struct Writer<'a> {
    map: &'a TexelMap,
    surface: &'a Surface,
    at: TileAt,
    /// The triangle of the last texel: the next one mostly shows the same.
    shown: Option<Shown>,
}

impl Writer<'_> {
    fn write(&mut self, block: &Block, decoded: &mut DecodedTile) {
        self.list_frames(block, &mut decoded.frames);
        let mut padding = block.padding.iter().peekable();
        for (index, owner) in owned_texels(block) {
            while let Some(entry) = padding.next_if(|entry| (entry.index as usize) < index) {
                let texel = self.padding_texel(entry, decoded);
                decoded.texels.push(texel);
            }
            let texel = self.owned_texel(index, owner, decoded);
            decoded.texels.push(texel);
        }
        for entry in padding {
            let texel = self.padding_texel(entry, decoded);
            decoded.texels.push(texel);
        }
    }

    fn list_frames(&self, block: &Block, frames: &mut Vec<TexelFrame>) {
        let empty = |triangle| TexelFrame {
            triangle,
            du: Vec3::ZERO,
            dv: Vec3::ZERO,
            geometric_normal: Vec3::ZERO,
        };
        let shown = owned_texels(block)
            .map(|(_, owner)| owner)
            .chain(block.padding.iter().map(|entry| entry.triangle));
        for triangle in shown {
            if frames.last().is_none_or(|last| last.triangle != triangle) {
                frames.push(empty(triangle));
            }
        }
        frames.sort_unstable_by_key(|frame| frame.triangle);
        frames.dedup_by_key(|frame| frame.triangle);
        for frame in frames {
            let corners = self.surface.positions_of(frame.triangle);
            if let Some(affine) = self.affine(frame.triangle) {
                let (du, dv) = affine.steps(corners);
                (frame.du, frame.dv) = (du.as_vec3(), dv.as_vec3());
            }
            frame.geometric_normal = self.surface.geometric_normal(frame.triangle).as_vec3();
        }
    }

    fn affine(&self, id: TriangleId) -> Option<Affine> {
        Affine::new(self.surface.uvs_of(id)?, self.map.size())
    }

    fn show(&mut self, id: TriangleId, frames: &[TexelFrame]) -> &Shown {
        let shown = match self.shown.take() {
            Some(shown) if shown.id == id => shown,
            _ => {
                let frame = frames.partition_point(|frame| frame.triangle < id) as u16;
                Shown {
                    id,
                    frame,
                    affine: self.affine(id),
                    corners: self.surface.positions_of(id),
                    normals: self.surface.vertex_normals_of(id),
                    geometric: self.surface.geometric_normal(id),
                }
            }
        };
        self.shown.insert(shown)
    }

    fn owned_texel(
        &mut self,
        index: usize,
        owner: TriangleId,
        decoded: &DecodedTile,
    ) -> SurfaceTexel {
        let (left, top) = self.at.first_texel();
        let at = centre(left + (index % TILE_EDGE) as u32, top + (index / TILE_EDGE) as u32);
        let size = f64::from(self.map.size().edge());
        let shown = self.show(owner, &decoded.frames);
        let weights = shown.affine.map_or([1.0 / 3.0; 3], |affine| affine.weights(at));
        SurfaceTexel {
            index: index as u16,
            frame: shown.frame,
            owner,
            padding: false,
            offset: (weighted(shown.corners, weights) - decoded.origin).as_vec3(),
            normal: shown.normal(weights),
            uv: (at / size).as_vec2(),
        }
    }

    fn padding_texel(
        &mut self,
        entry: &crate::texel_map::PaddingEntry,
        decoded: &DecodedTile,
    ) -> SurfaceTexel {
        let weights = entry.weights();
        let uv = self.surface.uv(entry.triangle, weights).unwrap_or_default();
        let shown = self.show(entry.triangle, &decoded.frames);
        SurfaceTexel {
            index: entry.index,
            frame: shown.frame,
            owner: entry.owner,
            padding: true,
            offset: (weighted(shown.corners, weights) - decoded.origin).as_vec3(),
            normal: shown.normal(weights),
            uv: uv.as_vec2(),
        }
    }
}

impl Shown {
    /// Beyond the triangle the normal is that of its nearest part: normals are not extrapolated.
    fn normal(&self, weights: [f64; 3]) -> Vec3 {
        let inside = weights.map(|weight| weight.max(0.0));
        blend(self.normals, inside, self.geometric).as_vec3()
    }
}
