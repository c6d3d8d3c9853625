//! What hides a texel from a stroke is what a ray from it meets, however it is found out.

use brush::{BrushSettings, Coverage, Path, PathPoint, SurfacePath, stroke_coverage};
use glam::DVec3;
use raster::Unobserved;
use surface::{DecodedTile, SurfaceTexel, TexelFrame};

use crate::meshes::{Builder, add_box, cut_plane, row_of_cells, sphere};
use crate::strokes::{Bench, stroke};

/// Boxes that stand on, beside and before each other, and a plate through one of them.
fn yard() -> Bench {
    let mut builder = Builder::default();
    let boxes = [
        (DVec3::ZERO, DVec3::new(0.6, 0.3, 0.6)),
        (DVec3::new(0.5, 0.0, 0.0), DVec3::new(1.1, 0.7, 0.6)),
        (DVec3::new(0.1, 0.32, 0.1), DVec3::new(0.3, 0.5, 0.3)),
    ];
    for (number, (low, high)) in boxes.into_iter().enumerate() {
        builder.part("box");
        add_box(&mut builder, low, high, row_of_cells(0.02 + 0.2 * number as f64, 0.14), 0.14);
    }
    builder.part("plate");
    let uv = |s: f64, t: f64| glam::DVec2::new(0.05 + s * 0.3, 0.65 + t * 0.3);
    builder.grid(5, |s, t| DVec3::new(s, 0.2 + 0.3 * s * t, t - 0.2), uv);
    Bench::new(builder.mesh(), 512)
}

/// Whether a ray meets nothing on its way: from the eye, or from above the dab as far as its width.
fn is_seen(
    bench: &Bench,
    dab: &PathPoint,
    eye: Option<DVec3>,
    point: DVec3,
    frame: &TexelFrame,
) -> bool {
    let above = dab.normal.as_dvec3() * (2.0 * f64::from(dab.radius));
    let towards = eye.map_or(above, |eye| eye - point);
    let (distance, direction) = (towards.length(), towards.normalize_or_zero());
    if frame.geometric_normal.as_dvec3().dot(direction) <= 0.0 {
        return false;
    }
    let lift = 0.01 * f64::from(frame.du.length().min(frame.dv.length()));
    !bench.surface.is_blocked(point + direction * lift, direction, distance, frame.triangle)
}

/// Well inside of the dab, and facing it well.
fn is_under(dab: &PathPoint, point: DVec3, texel: &SurfaceTexel) -> bool {
    let near = point.distance(dab.position.as_dvec3()) < 0.8 * f64::from(dab.radius);
    near && texel.normal.dot(dab.normal) > 0.51
}

/// Counts the texels under the dab that are seen and that are hidden, and holds each against its coverage.
fn compare(bench: &Bench, dab: &PathPoint, eye: Option<DVec3>) -> [usize; 2] {
    let path = Path::Surface(SurfacePath { runs: vec![vec![*dab]], eye });
    let brush = BrushSettings { hardness: 0.95, ..BrushSettings::default() };
    let made = stroke_coverage(&stroke(path, brush), &bench.surface, &bench.map, &Unobserved);
    let coverage: Coverage = made.unwrap();
    let mut counts = [0; 2];
    let mut decoded = DecodedTile::default();
    for at in bench.map.tiles() {
        bench.map.decode(&bench.surface, at, &mut decoded);
        let (left, top) = at.first_texel();
        for texel in decoded.texels() {
            let (x, y) = (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
            let (point, frame) = (decoded.point(&texel), &decoded.frames[texel.frame as usize]);
            let seen = is_seen(bench, dab, eye, point, frame);
            let covered = coverage.texel(x, y).unwrap();
            if is_under(dab, point, &texel) {
                counts[usize::from(!seen)] += 1;
                assert_eq!(covered, if seen { u16::MAX } else { 0 }, "at {x}, {y}, {point}");
            } else if !seen {
                assert_eq!(covered, 0, "at {x}, {y}, {point}");
            }
        }
    }
    counts
}

#[test]
fn what_is_painted_is_what_a_ray_from_each_texel_sees() {
    let angles = [0.0, 0.3, 1.1, 2.0];
    let benches = [yard(), Bench::new(sphere(16), 256), Bench::new(cut_plane(0.4, angles), 256)];
    for (bench, least_hidden) in benches.iter().zip([2000, 0, 0]) {
        let mut counts = [0; 2];
        for (x, y, z) in [(0.45, 0.31, 0.3), (0.55, 0.72, 0.5), (0.2, 0.5, 0.2), (0.9, 0.4, 0.62)] {
            for radius in [0.12, 0.4] {
                let middle = bench.surface.nearest(DVec3::new(x, y, z)).unwrap();
                let on = bench.surface.position(middle.triangle, middle.barycentric);
                let dab = bench.point(on, radius);
                let above = on + dab.normal.as_dvec3() * 1.5;
                let eyes = [above, above + DVec3::new(0.9, 0.4, -0.7), DVec3::new(-2.0, 1.0, 3.0)];
                for eye in eyes.map(Some).into_iter().chain([None]) {
                    let more = compare(bench, &dab, eye);
                    counts = [counts[0] + more[0], counts[1] + more[1]];
                }
            }
        }
        assert!(counts[0] > 2000 && counts[1] >= least_hidden, "{counts:?} seen and hidden");
    }
}
