//! Dabs that differ in what they paint.

use brush::{BrushSettings, Jitter, Path, TexturePoint, stroke_coverage, texture_dabs};
use glam::Vec2;
use raster::Unobserved;

use crate::meshes::plane;
use crate::strokes::{Bench, stroke};

fn brush(spacing: f32) -> BrushSettings {
    let jitter = Jitter { hue: 90.0, shade: 0.4, value: 0.2, ..Jitter::NONE };
    BrushSettings { hardness: 1.0, jitter, spacing, ..BrushSettings::default() }
}

fn line(from: f32, to: f32, radius: f32) -> Vec<Vec<TexturePoint>> {
    let point = |x| TexturePoint::of(Vec2::new(x, 0.5), radius);
    vec![vec![point(from), point(to)]]
}

/// Numbers that are even over -a..a have mean 0 and variance a^2 / 3 (any handbook of statistics), and the three
/// have nothing to do with each other.
#[test]
fn dabs_differ_evenly_to_both_sides() {
    let dabs = texture_dabs(&line(0.0, 1.0, 0.001), &brush(0.05), 11).unwrap();
    let count = dabs.len() as f64;
    assert!(count > 9_000.0);
    let number = |n: usize, which: usize| f64::from(dabs[n].touch.shades[which]);
    let mean = |of: &dyn Fn(usize) -> f64| (0..dabs.len()).map(of).sum::<f64>() / count;
    for (which, most) in [(0, 0.5), (1, 0.4), (2, 0.2)] {
        assert!((0..dabs.len()).all(|n| number(n, which).abs() <= most + 1e-6));
        assert!(mean(&|n| number(n, which)).abs() < 0.03 * most);
        let variance = mean(&|n| number(n, which) * number(n, which));
        let expected = most * most / 3.0;
        assert!((variance / expected - 1.0).abs() < 0.03, "{variance}, expected {expected}");
        let other = (which + 1) % 3;
        let together = mean(&|n| number(n, which) * number(n, other));
        assert!(together.abs() < 0.02, "{together}");
    }
}

/// Opaque dabs hide those before them: each texel is as the last dab over it.
#[test]
fn the_last_dab_is_on_top() {
    let bench = Bench::new(plane(1.0), 512);
    let (runs, brush) = (line(0.3, 0.7, 0.1), brush(0.25));
    let dabs = texture_dabs(&runs, &brush, 0).unwrap();
    let stroke = stroke(Path::Texture(runs), brush);
    let coverage = stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap();
    let shade = |x: u32, y: u32| {
        let at = raster::TileAt::of_texel(x, y);
        let number = coverage.tiles.iter().position(|(known, _)| *known == at).unwrap();
        let stored = |tile: &raster::Tile| tile.read().unwrap().at(raster::texel_index(x, y));
        coverage.shades[number].0.each_ref().map(stored)
    };
    for x in (160..350).step_by(7) {
        let u = (f64::from(x) + 0.5) / 512.0;
        let over = |away: f64| dabs.iter().rev().find(|dab| (dab.centre.x - u).abs() < away);
        // Not where an edge runs through the texel.
        let (Some(last), Some(near)) = (over(0.098), over(0.102)) else { continue };
        if last.centre == near.centre {
            let stored = last.touch.shades.map(|shade| (32_768.5 + 32_767.0 * shade) as u16);
            assert_eq!(shade(x, 256), stored, "at {x}");
        }
    }
}

#[test]
fn jitter_out_of_range_is_told() {
    let jitter = Jitter { hue: 200.0, ..Jitter::NONE };
    let told = BrushSettings { jitter, ..brush(0.1) }.check().unwrap_err().to_string();
    assert_eq!(told, "jitter of hue is 200: give 0 to 180 degrees");
}
