//! Paths through a few points, laid over a surface.

use brush::{Curve, Guide};
use glam::DVec3;

use crate::meshes::sphere;
use crate::strokes::Bench;

/// Between two points of a sphere the shortest way is the great circle: each point in the plane through both and the
/// middle (Euclid's shortest way on a sphere, as any handbook of navigation has it). A mesh of flat triangles is some
/// thousandths off.
#[test]
fn a_straight_path_over_a_sphere_is_a_great_circle() {
    let bench = Bench::new(sphere(48), 256);
    let ends =
        [DVec3::new(0.2, 0.9, 0.5), DVec3::new(0.8, -0.3, 0.4)].map(DVec3::normalize_or_zero);
    let knots = ends.map(|end| bench.point(end, 0.1)).to_vec();
    let guide = Guide { knots, curve: Curve::Straight, closed: false };
    let laid = guide.laid(&bench.surface);
    let across = ends[0].cross(ends[1]).normalize_or_zero();
    let points: Vec<DVec3> = laid.runs[0].iter().map(|point| point.position.as_dvec3()).collect();
    assert!(points.len() > 100);
    for point in &points {
        assert!(point.normalize_or_zero().dot(across).abs() < 5e-3, "{point}");
        assert!((point.length() - 1.0).abs() < 5e-3, "{point}");
    }
    let length: f64 = points.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    let arc = ends[0].dot(ends[1]).acos();
    assert!((length / arc - 1.0).abs() < 0.01, "{length}, not {arc}");
}

#[test]
fn a_closed_path_ends_where_it_began_and_one_point_is_a_dab() {
    let bench = Bench::new(sphere(16), 256);
    let knots: Vec<_> = [DVec3::X, DVec3::Y, DVec3::Z].map(|p| bench.point(p, 0.1)).to_vec();
    for curve in [Curve::Straight, Curve::Smooth] {
        let closed = Guide { knots: knots.clone(), curve, closed: true }.laid(&bench.surface);
        let run = &closed.runs[0];
        assert!(run[0].position.distance(run[run.len() - 1].position) < 1e-3);
        let open = Guide { knots: knots.clone(), curve, closed: false }.laid(&bench.surface);
        assert!(open.runs[0].len() < run.len());
        let dot = Guide { knots: knots[..1].to_vec(), curve, closed: true }.laid(&bench.surface);
        assert_eq!(dot.runs[0].len(), 1);
    }
}
