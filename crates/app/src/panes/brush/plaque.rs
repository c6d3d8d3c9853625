//! The folded plaque that brushes are shown on: a strip with a hollow, a flat and a ridge, seen from above, a pixel a
//! texel, and shaded so that the folds are seen.

use std::sync::Arc;

use brush::{BrushSize, Camera, Projection, StrokeView};
use glam::{DVec2, DVec3, Vec2, Vec3};
use raster::{TextureSize, Unobserved};
use surface::{
    Corner, DecodedTiles, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId, Surface, TexelMap,
};

/// Bytes of decoded tiles that are kept.
const DECODED_BYTES: usize = 8 << 20;
/// Quads along the strip and across it.
const QUADS: [u32; 2] = [96, 16];
/// How deep the hollow is and how high the ridge, in heights of the strip.
const DEPTH: f64 = 0.2;
const HEIGHT: f64 = 0.2;
/// How far they lean, in heights of the strip from edge to edge.
const LEANING: f64 = 0.3;
/// Towards the light: from the upper left.
const LIGHT: Vec3 = Vec3::new(-0.5, 0.45, 0.74);

/// See the module.
pub(super) struct Plaque {
    size_px: [u32; 2],
    pub(super) tiles: Arc<DecodedTiles>,
    /// How bright each pixel is against the flat, row by row.
    shades: Vec<f32>,
}

impl Plaque {
    /// One of this size; none where it can't be made.
    pub(super) fn new(size_px: [u32; 2]) -> Option<Self> {
        let [width, height] = size_px.map(f64::from);
        let edge = size_px[0].max(size_px[1]).next_power_of_two().clamp(64, 2048);
        let texel = 1.0 / f64::from(edge);
        let point = |s: f64, t: f64| {
            let (x, y) = (s * width, t * height);
            DVec3::new(x, -y, height_at(x, y, size_px)) * texel
        };
        let mesh =
            mesh(point, |s, t| Vec2::new((s * width) as f32, (t * height) as f32) * texel as f32);
        let surface = Surface::prepare(Arc::new(mesh?), &Unobserved).ok()?;
        let size = TextureSize::new(edge).ok()?;
        let map = TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).ok()?;
        let tiles = Arc::new(DecodedTiles::new(Arc::new(surface), Arc::new(map), DECODED_BYTES));
        let pixels = (0..size_px[1]).flat_map(|y| (0..size_px[0]).map(move |x| (x, y)));
        let shade = |(x, y): (u32, u32)| shade(f64::from(x) + 0.5, f64::from(y) + 0.5, size_px);
        Some(Self { size_px, tiles, shades: pixels.map(shade).collect() })
    }

    pub(super) fn size_px(&self) -> [u32; 2] {
        self.size_px
    }

    /// One texel, in the plaque's own units.
    pub(super) fn texel(&self) -> f64 {
        1.0 / f64::from(self.tiles.map().size().edge())
    }

    /// How it is seen, by a brush of a radius in pixels.
    pub(super) fn view(&self, radius_px: f64) -> StrokeView {
        let [width, height] = self.size_px.map(f64::from);
        let texel = self.texel();
        let target = DVec3::new(width, -height, 0.0) * (0.5 * texel);
        let camera = Camera {
            eye: target + DVec3::Z,
            target,
            up: DVec3::Y,
            projection: Projection::Orthographic { height: height * texel },
            viewport_px: DVec2::new(width, height),
        };
        StrokeView::Model { camera, size: BrushSize::Object(radius_px * texel) }
    }

    /// How bright a pixel is against the flat.
    pub(super) fn shade(&self, x: u32, y: u32) -> f32 {
        self.shades[(y * self.size_px[0] + x) as usize]
    }
}

/// The height over the flat at a place, in pixels.
fn height_at(x: f64, y: f64, size_px: [u32; 2]) -> f64 {
    let [width, height] = size_px.map(f64::from);
    let leaned = x + LEANING * (y - 0.5 * height);
    // A round trough, and a fold whose sides are straight.
    let from_hollow = (leaned - 0.27 * width) / (0.3 * height);
    let hollow = -DEPTH * height * (-from_hollow * from_hollow).exp();
    let from_ridge = (leaned - 0.73 * width).abs() / (0.4 * height);
    let rounded = (from_ridge * from_ridge + 0.006).sqrt();
    let ridge = HEIGHT * height * (1.0 - rounded).max(0.0);
    hollow + ridge
}

fn normal_at(x: f64, y: f64, size_px: [u32; 2]) -> DVec3 {
    let at = |x, y| height_at(x, y, size_px);
    let slope = |there: f64, here: f64| (there - here) * 0.5;
    let along = slope(at(x + 1.0, y), at(x - 1.0, y));
    let up = slope(at(x, y - 1.0), at(x, y + 1.0));
    DVec3::new(-along, -up, 1.0).normalize_or_zero()
}

/// Lambert's law, against the flat; what turns away is not black.
fn shade(x: f64, y: f64, size_px: [u32; 2]) -> f32 {
    let lit = normal_at(x, y, size_px).as_vec3().dot(LIGHT) / LIGHT.z;
    (0.3 + 0.7 * lit.max(0.0)).min(1.35)
}

fn mesh(point: impl Fn(f64, f64) -> DVec3, uv: impl Fn(f64, f64) -> Vec2) -> Option<Mesh> {
    let [across, down] = QUADS;
    let shares = || {
        let share = |n: u32, of: u32| f64::from(n) / f64::from(of);
        (0..=down).flat_map(move |y| (0..=across).map(move |x| (share(x, across), share(y, down))))
    };
    let corner = |x: u32, y: u32| {
        let index = y * (across + 1) + x;
        Corner { position: index, uv: index, normal: NO_INDEX }
    };
    let quads = (0..down).flat_map(|y| (0..across).map(move |x| (x, y)));
    let corners = quads.flat_map(|(x, y)| {
        [corner(x, y), corner(x, y + 1), corner(x + 1, y + 1), corner(x + 1, y)]
    });
    let faces = across * down;
    Mesh::new(MeshData {
        positions: shares().map(|(s, t)| point(s, t).as_vec3()).collect(),
        uvs: shares().map(|(s, t)| uv(s, t)).collect(),
        face_starts: (0..=faces).map(|face| 4 * face).collect(),
        corners: corners.collect(),
        face_parts: vec![PartId(0); faces as usize],
        face_materials: vec![MaterialSlot(0); faces as usize],
        parts: vec![Part { name: "plaque".to_owned(), axis: Vec3::Y }],
        material_names: vec!["plaque".to_owned()],
        ..MeshData::default()
    })
    .ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plaque_has_a_hollow_a_flat_and_a_ridge_and_they_are_seen() {
        let size = [236, 72];
        let plaque = Plaque::new(size).unwrap();
        let at = |share: f64| height_at(236.0 * share, 36.0, size);
        assert!(at(0.27) < -14.0 && at(0.5).abs() < 0.5 && at(0.73) > 12.0);
        assert!((plaque.shade(118, 36) - 1.0).abs() < 0.02);
        // The light comes from the left: a ridge's left side is bright, and its right one dark.
        assert!(plaque.shade(163, 36) > 1.1 && plaque.shade(183, 36) < 0.85);
        assert!(plaque.shade(54, 36) < 0.9 && plaque.shade(76, 36) > 1.1);
    }
}
