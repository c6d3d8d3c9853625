//! Rays and the UV that they hit, against values computed outside of this project.

use std::path::Path;

use brush::{Camera, Projection};
use exchange::read_model;
use glam::{DVec2, DVec3};
use raster::Unobserved;
use surface::{Ray, Surface};

struct Row {
    pixel: DVec2,
    direction: DVec3,
    /// Distance and UV, v down.
    hit: Option<(f64, DVec2)>,
}

/// `pick_uv.csv`: trimesh 5.2 in float64; Embree agrees within 1.2e-6 (its first line says how).
fn rows(folder: &Path) -> Vec<Row> {
    let text = std::fs::read_to_string(folder.join("pick_uv.csv")).unwrap();
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |index: usize| cells[index].parse::<f64>().unwrap();
        let hit = cells[5] == "1";
        Row {
            pixel: DVec2::new(number(0), number(1)),
            direction: DVec3::new(number(2), number(3), number(4)),
            hit: hit.then(|| (number(7), DVec2::new(number(10), 1.0 - number(11)))),
        }
    };
    text.lines().skip(2).map(row).collect()
}

fn camera() -> Camera {
    Camera {
        eye: DVec3::new(1.8, 1.6, 2.4),
        target: DVec3::ZERO,
        up: DVec3::Y,
        projection: Projection::Perspective { fov_y_rad: 40.0f64.to_radians() },
        viewport_px: DVec2::splat(64.0),
    }
}

/// Rows checked, and the farthest that a UV was off.
fn worst(rays: impl Fn(&Row) -> Ray) -> (usize, f64) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference");
    let imported = read_model(&folder.join("torus.obj"), &Unobserved).unwrap();
    let surface = Surface::prepare(imported.model.mesh().clone(), &Unobserved).unwrap();
    let (mut hits, mut worst) = (0, 0.0f64);
    for row in rows(&folder) {
        let found = surface.raycast(&rays(&row));
        assert_eq!(found.is_some(), row.hit.is_some(), "pixel {}", row.pixel);
        if let (Some(found), Some((distance, uv))) = (found, row.hit) {
            let got = surface.uv(found.triangle, found.barycentric).unwrap();
            worst = worst.max((got - uv).abs().max_element());
            assert!((found.distance - distance).abs() < 2e-6, "pixel {}", row.pixel);
            hits += 1;
        }
    }
    (hits, worst)
}

#[test]
fn rays_meet_the_torus_where_the_reference_says() {
    let (hits, worst) =
        worst(|row| Ray { origin: DVec3::new(1.8, 1.6, 2.4), direction: row.direction });
    assert_eq!(hits, 346);
    assert!(worst < 2e-6, "a UV is {worst:e} off");
}

#[test]
fn the_camera_sends_the_reference_rays_through_its_pixels() {
    let camera = camera();
    let ray = |row: &Row| camera.ray(row.pixel + 0.5);
    let (hits, worst) = worst(|row| {
        let ray = ray(row);
        let off = (ray.direction - row.direction).abs().max_element();
        assert!(off < 1e-9, "pixel {}: direction {off:e} off", row.pixel);
        ray
    });
    assert_eq!(hits, 346);
    assert!(worst < 2e-6, "a UV is {worst:e} off");
}
