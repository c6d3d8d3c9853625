//! Tangents as glTF wants them where there is a normal map (2.0, section 3.7.2.1): by `MikkTSpace`,
//! computed here by a library, with arithmetic that gives the same on every processor.

use bevy_mikktspace::{Geometry, Ops, TangentSpace, generate_tangents};
use glam::{Vec2, Vec3};

/// A corner of a triangle, as tangents depend on it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TangentCorner {
    /// Where it is.
    pub(crate) position: Vec3,
    /// Its normal, of unit length.
    pub(crate) normal: Vec3,
    /// Its UV.
    pub(crate) uv: Vec2,
}

/// A unit tangent for each corner, and the sign of its bitangent. Three corners make a triangle.
pub(crate) fn tangents(corners: &[TangentCorner]) -> Vec<[f32; 4]> {
    let mut triangles = Triangles { corners, tangents: vec![[0.0; 4]; corners.len()] };
    // The error type has no value.
    _ = generate_tangents(&mut triangles);
    let mut tangents = triangles.tangents;
    for (tangent, corner) in tangents.iter_mut().zip(corners) {
        let [x, y, z, _] = *tangent;
        let length = Vec3::new(x, y, z).length();
        // UVs without area give none: any will do there.
        if !(0.999..1.001).contains(&length) {
            let any = corner.normal.try_normalize().unwrap_or(Vec3::Y).any_orthonormal_vector();
            *tangent = [any.x, any.y, any.z, 1.0];
        }
    }
    tangents
}

struct Triangles<'a> {
    corners: &'a [TangentCorner],
    tangents: Vec<[f32; 4]>,
}

struct SameEverywhere;

impl Ops for SameEverywhere {
    fn sqrt(x: f32) -> f32 {
        libm::sqrtf(x)
    }

    fn acos(x: f32) -> f32 {
        libm::acos(f64::from(x)) as f32
    }
}

impl Geometry<SameEverywhere> for Triangles<'_> {
    fn num_faces(&self) -> usize {
        self.corners.len() / 3
    }

    fn num_vertices_of_face(&self, _face: usize) -> usize {
        3
    }

    fn position(&self, face: usize, vert: usize) -> [f32; 3] {
        self.corners[face * 3 + vert].position.to_array()
    }

    fn normal(&self, face: usize, vert: usize) -> [f32; 3] {
        self.corners[face * 3 + vert].normal.to_array()
    }

    fn tex_coord(&self, face: usize, vert: usize) -> [f32; 2] {
        self.corners[face * 3 + vert].uv.to_array()
    }

    fn set_tangent(&mut self, space: Option<TangentSpace>, face: usize, vert: usize) {
        if let Some(space) = space {
            // Its sign is that of v itself, which points down in glTF; green means up.
            let [x, y, z, sign] = space.tangent_encoded();
            self.tangents[face * 3 + vert] = [x, y, z, -sign];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upright_square_has_its_tangent_right_and_its_bitangent_up() {
        // glTF 2.0, section 3.9.3: +X is right, +Y is up; section 3.7.2.1: the bitangent is
        // cross(normal, tangent) * w.
        let corner = |x: f32, y: f32| TangentCorner {
            position: Vec3::new(x, y, 0.0),
            normal: Vec3::Z,
            uv: Vec2::new(x, 1.0 - y),
        };
        let (a, b, c, d) = (corner(0., 0.), corner(1., 0.), corner(1., 1.), corner(0., 1.));
        for tangent in tangents(&[a, b, c, a, c, d]) {
            assert_eq!(tangent, [1.0, 0.0, 0.0, 1.0]);
        }
    }

    #[test]
    fn uvs_without_area_still_give_unit_tangents() {
        let corner = |x: f32, y: f32| TangentCorner {
            position: Vec3::new(x, y, 0.0),
            normal: Vec3::Z,
            uv: Vec2::ZERO,
        };
        for [x, y, z, w] in tangents(&[corner(0., 0.), corner(1., 0.), corner(1., 1.)]) {
            assert!((Vec3::new(x, y, z).length() - 1.0).abs() < 1e-6 && w.abs() == 1.0);
        }
    }
}
