//! Meshes as the adapter gets them.

use std::sync::Arc;

use glam::{DVec3, Vec3};
use raster::{Observer, Unobserved};
use surface::{PartId, Surface};
use viewport::{MeshBuffers, ViewportError};

use crate::stage::{buffers, quads, square};

fn cube() -> [[Vec3; 4]; 6] {
    let mut faces = Vec::new();
    for axis in 0..3 {
        for side in [-1.0f32, 1.0] {
            let mut face = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(s, t)| {
                let mut point = Vec3::ZERO;
                point[axis] = side;
                (point[(axis + 1) % 3], point[(axis + 2) % 3]) = (s, t);
                point
            });
            if side < 0.0 {
                face.reverse();
            }
            faces.push(face);
        }
    }
    faces.try_into().unwrap()
}

#[test]
fn a_quad_is_two_triangles_with_four_vertices() {
    let made = buffers(quads(&[(square(0.0), 0)]));
    assert_eq!((made.triangle_count(), made.vertex_count()), (2, 4));
    // Vertices of 32 bytes, indices of 4, four edges and four outlines of 8.
    assert_eq!(made.bytes(), 4 * 32 + 6 * 4 + 4 * 8 + 4 * 8);
}

#[test]
fn a_part_has_its_own_box() {
    let far = square(0.0).map(|corner| corner + Vec3::X * 10.0);
    let made = buffers(quads(&[(square(0.0), 0), (far, 0)]));
    let (low, high) = made.bounds_of(|part| part == PartId(1)).unwrap();
    assert_eq!((low, high), (DVec3::new(9.0, -1.0, 0.0), DVec3::new(11.0, 1.0, 0.0)));
    let (low, high) = made.bounds_of(|_| true).unwrap();
    assert_eq!((low.x, high.x), (-1.0, 11.0));
    assert_eq!(made.bounds_of(|_| false), None);
}

#[test]
fn sharp_corners_without_normals_stay_sharp() {
    let made = buffers(quads(&cube().map(|face| (face, 0))));
    assert_eq!(made.vertex_count(), 24, "four for each face");
}

/// Asks to stop at once.
struct Stop;

impl Observer for Stop {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        true
    }
}

#[test]
fn making_them_stops_when_asked_to() {
    let surface = Surface::prepare(Arc::new(quads(&[(square(0.0), 0)])), &Unobserved).unwrap();
    let stopped = MeshBuffers::build(&surface, &Stop);
    assert!(matches!(stopped, Err(ViewportError::Cancelled(_))));
}
