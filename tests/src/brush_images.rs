//! Tips that are images: what they cover, how they lie, and that flow and opacity hold for them.

use brush::{
    BrushSettings, BuildUp, Coverage, GreyImage, Hold, Lies, Path, Pattern, Relief, TexturePoint,
    Tip, Tooth, stroke_coverage,
};
use glam::{DVec3, Vec2};
use raster::{Extent, Unobserved};

use crate::meshes::{halved_plane, plane};
use crate::strokes::{Bench, stroke};

pub(crate) fn image(width: u32, height: u32, value: impl Fn(u32, u32) -> u16) -> GreyImage {
    let values = (0..width * height).map(|n| value(n % width, n / width)).collect();
    GreyImage::new(Extent { width, height }, values).unwrap()
}

/// Wide below, a point above, softer to one side.
pub(crate) fn leaf(edge: u32) -> GreyImage {
    image(edge, edge, |x, y| {
        let within = 2 * x.abs_diff(edge / 2) <= y;
        if within { (30_000 + 35_000 * x / edge) as u16 } else { 0 }
    })
}

fn with(tip: Tip) -> BrushSettings {
    BrushSettings { tip, ..BrushSettings::default() }
}

fn white(width: u32, height: u32) -> Tip {
    Tip { image: Some(image(width, height, |_, _| u16::MAX)), ..Tip::ROUND }
}

/// An image of sides 2 R and 2 R h covers 4 R^2 h, narrowed by the aspect, wherever it lies and across a seam
/// (analytic). One of a single pixel is a square like any other.
#[test]
fn a_white_image_covers_its_rectangle() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    for (width, height, aspect, share) in
        [(64, 64, 1.0, 1.0), (64, 32, 1.0, 0.5), (1, 1, 1.0, 1.0), (96, 96, 0.25, 0.25)]
    {
        for lies in [Lies::Axis, Lies::Chance] {
            let tip = Tip { aspect, lies, turn: 0.7, ..white(width, height) };
            let point = bench.point(DVec3::new(0.48, 0.0, 0.45), 0.17);
            let got = bench.covered_area(&bench.cover(&[point], with(tip)));
            let expected = 4.0 * 0.17 * 0.17 * share;
            assert!((got / expected - 1.0).abs() < 0.01, "{got} for {expected}: {width} {lies:?}");
        }
    }
}

fn on_texture(points: &[(f32, f32)], radius: f32, brush: &BrushSettings, edge: u32) -> Coverage {
    let bench = Bench::new(plane(1.0), edge);
    let points = points.iter().map(|(u, v)| TexturePoint::of(Vec2::new(*u, *v), radius)).collect();
    let stroke = stroke(Path::Texture(vec![points]), brush.clone());
    stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap()
}

#[test]
fn the_upper_edge_of_an_image_lies_where_its_tip_points() {
    // The upper left quarter is white.
    let quarter = image(64, 64, |x, y| if x < 32 && y < 32 { u16::MAX } else { 0 });
    let tip = |lies| with(Tip { image: Some(quarter.clone()), lies, ..Tip::ROUND });
    let where_white = |brush: &BrushSettings, points: &[(f32, f32)]| {
        let coverage = on_texture(points, 0.2, brush, 128);
        let at = |(du, dv): (i32, i32)| {
            coverage.texel((64 + 12 * du) as u32, (64 + 12 * dv) as u32).unwrap() > 40_000
        };
        [(-1, -1), (1, -1), (-1, 1), (1, 1)].map(at)
    };
    let alone = &[(0.5, 0.5)];
    assert_eq!(where_white(&tip(Lies::Axis), alone), [true, false, false, false]);
    // Up turns to the right, and left to up.
    let mut along = tip(Lies::Stroke);
    along.spacing = 4.0;
    let right = &[(0.5, 0.5), (0.501, 0.5)];
    assert_eq!(where_white(&along, right), [false, true, false, false]);
    assert_eq!(where_white(&tip(Lies::Stroke), alone), [true, false, false, false]);
}

/// A quarter of a fine chequer's pixels is white: a dab of few texels covers a quarter, everywhere within.
#[test]
fn a_small_dab_of_a_fine_image_is_smooth() {
    let chequer = image(256, 256, |x, y| if x % 2 == 0 && y % 2 == 0 { u16::MAX } else { 0 });
    let tip = Tip { image: Some(chequer), ..Tip::ROUND };
    let coverage = on_texture(&[(0.503, 0.497)], 6.0 / 128.0, &with(tip), 128);
    for (x, y) in (60..68).flat_map(|x| (60..68).map(move |y| (x, y))) {
        let covered = f64::from(coverage.texel(x, y).unwrap()) / 65_535.0;
        assert!((covered - 0.25).abs() < 0.01, "{covered} at {x}, {y}");
    }
}

/// The same length of path deposits the same at another spacing: exactly where the image is white (closed form of
/// `flow_at_spacing`), and at a low flow nearly so where it is grey.
#[test]
fn flow_of_an_image_is_a_rate_along_the_path() {
    let grey = image(64, 64, |x, _| (x * 1040) as u16);
    let at = |spacing, flow| {
        let tip = Tip { image: Some(grey.clone()), ..Tip::ROUND };
        let brush = BrushSettings { spacing, flow, ..with(tip) };
        on_texture(&[(0.2, 0.5), (0.8, 0.5)], 0.1, &brush, 256)
    };
    let (coarse, middle, fine) = (at(0.05, 0.1), at(0.025, 0.1), at(0.0125, 0.1));
    let mut most = 0.0_f64;
    for (x, y) in (90..166).step_by(3).flat_map(|x| (106..150).map(move |y| (x, y))) {
        let [a, b, c] =
            [&coarse, &middle, &fine].map(|found| f64::from(found.texel(x, y).unwrap()) / 65_535.0);
        assert!((a - c).abs() < 0.008 && (b - c).abs() < 0.008, "{a} {b} {c} at {x}, {y}");
        most = most.max(c);
    }
    assert!(most > 0.15 && most < 0.4, "{most}");
}

#[test]
fn the_opacity_of_an_image_is_a_ceiling_however_often_it_goes_there() {
    let leaf = Tip { image: Some(leaf(64)), lies: Lies::Chance, ..Tip::ROUND };
    for build_up in [BuildUp::Gradual, BuildUp::Even] {
        let brush = BrushSettings { opacity: 0.5, build_up, ..with(leaf.clone()) };
        let path: Vec<_> = (0..40).map(|n| (0.4 + 0.2 * (n % 2) as f32, 0.5)).collect();
        let coverage = on_texture(&path, 0.1, &brush, 128);
        let all = (0..128 * 128).map(|n| coverage.texel(n % 128, n / 128).unwrap());
        let most = all.max().unwrap();
        assert!(most <= 32_767 && most > 30_000, "{most} {build_up:?}");
    }
}

/// A stamped tooth belongs to the dab: the same dab some texels on is the same. One of the surface is not.
#[test]
fn a_stamped_tooth_comes_along_with_its_dab() {
    let tooth = |hold| {
        let relief = Relief::Pattern(Pattern::Cellular);
        let scale = if hold == Hold::Stamped { 0.4 } else { 0.04 };
        let tooth = Some(Tooth { relief, hold, scale, ..Tooth::default() });
        BrushSettings { tooth, hardness: 0.8, ..BrushSettings::default() }
    };
    let differ = |brush: &BrushSettings| {
        let at = |u: f32| on_texture(&[(u, 0.5)], 0.1, brush, 256);
        let (here, there) = (at(0.25), at(0.25 + 64.0 / 256.0));
        let values = (40..90).flat_map(|x| (104..152).map(move |y| (x, y)));
        values
            .map(|(x, y)| here.texel(x, y).unwrap().abs_diff(there.texel(x + 64, y).unwrap()))
            .max()
            .unwrap()
    };
    assert!(differ(&tooth(Hold::Stamped)) <= 1);
    assert!(differ(&tooth(Hold::Anchored)) > 20_000);
}
