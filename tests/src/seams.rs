//! Seams do not show: both sides of one carry the same paint, texel by texel and through mips.

use brush::{BrushSettings, BuildUp, Coverage, PathPoint};
use glam::{DVec2, DVec3};
use raster::to_unit;
use surface::DecodedTile;

use crate::meshes::{cut_plane, cut_plane_layout, halved_plane, sphere};
use crate::strokes::Bench;

/// A short stroke of few dabs over `middle`.
fn across(bench: &Bench, middle: DVec3, radius: f64) -> Vec<PathPoint> {
    (0..12)
        .map(|step| {
            let along = DVec3::new(0.02, 0.0, 0.013) * f64::from(step - 6);
            bench.point(middle + along, radius)
        })
        .collect()
}

/// Padding of each half coincides with owned texels of the other: the weights of one surface point,
/// evaluated from both sides, agree within one stored step.
#[test]
fn both_sides_of_a_seam_carry_one_value() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let padding = bench.map.padding();
    assert_eq!(padding, 8);
    let seam = 64 + 128;
    for (hardness, flow) in [(0.0, 1.0), (1.0, 1.0), (0.3, 0.2)] {
        let brush = BrushSettings { hardness, flow, ..BrushSettings::default() };
        for middle in [DVec3::new(0.5, 0.0, 0.5), DVec3::new(0.431, 0.0, 0.377)] {
            let coverage = bench.cover(&across(&bench, middle, 0.15), brush.clone());
            let at = |x: u32, y: u32| coverage.texel(x, y).unwrap();
            let mut between = 0;
            for y in 64..64 + 256 {
                for x in seam - padding..seam + padding {
                    let (here, there) = (at(x, y), at(x + 400, y));
                    assert!(here.abs_diff(there) <= 1, "{here} and {there} at {x}, {y}");
                    between += usize::from((1..u16::MAX).contains(&here));
                }
            }
            assert!(between > 20, "only {between} texels are neither bare nor full");
        }
    }
}

/// Half a cosine from the centre to the radius, at the point that the layout, laid flat, has under each
/// texel (analytic). Padding texels come out as those of the strip across the seam.
#[test]
fn texels_and_padding_of_turned_islands_follow_the_analytic_falloff() {
    let (scale, edge) = (0.4, 512u32);
    for turn in [0.0, 0.3, 1.1, 2.5] {
        let angles = [turn, turn * 2.0, 0.1 - turn, 1.7];
        let bench = Bench::new(cut_plane(scale, angles), edge);
        let (centre, radius) = (DVec3::new(0.53, 0.0, 0.48), 0.22);
        let brush = BrushSettings { hardness: 0.0, ..BrushSettings::default() };
        let point = bench.point(centre, radius);
        let coverage = bench.cover(&[point], brush);
        let (centre, radius) = (point.position.as_dvec3(), f64::from(point.radius));
        let mut decoded = DecodedTile::default();
        let mut padding = 0;
        for tile in bench.map.tiles() {
            bench.map.decode(&bench.surface, tile, &mut decoded);
            let (left, top) = tile.first_texel();
            for texel in decoded.texels() {
                let (x, y) =
                    (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
                // 8 x 8 quads of two triangles make one strip.
                let strip = texel.owner.0 as usize / 128;
                let uv = (DVec2::new(f64::from(x), f64::from(y)) + 0.5) / f64::from(edge);
                let (middle, rotation) = cut_plane_layout(strip, angles);
                let local = DVec2::from_angle(-rotation).rotate(uv - middle) / scale;
                let shown = DVec3::new(strip as f64 * 0.25 + 0.125 + local.x, 0.0, 0.5 + local.y);
                let share = (shown.distance(centre) / radius).min(1.0);
                let expected = 0.5 + 0.5 * (std::f64::consts::PI * share).cos();
                let got = f64::from(coverage.texel(x, y).unwrap());
                let off = (got - expected * 65_535.0).abs();
                assert!(off <= 1.5, "{off} steps off at {x}, {y}, padding: {}", texel.padding);
                padding += usize::from(texel.padding && got > 0.0);
            }
        }
        assert!(padding > 500, "only {padding} padding texels are covered");
    }
}

/// Level L of a coverage plane: each texel the mean of 2^L x 2^L.
struct Mip {
    edge: usize,
    values: Vec<f64>,
}

impl Mip {
    fn of(coverage: &Coverage) -> Self {
        let edge = coverage.extent.width as usize;
        let mut values = vec![0.0; edge * edge];
        for (at, tile) in &coverage.tiles {
            let ((left, top), read) = (at.first_texel(), tile.read().unwrap());
            for index in 0..4096 {
                let (x, y) = (left as usize + index % 64, top as usize + index / 64);
                values[y * edge + x] = f64::from(to_unit(read.at(index)));
            }
        }
        Self { edge, values }
    }

    fn halved(&self) -> Self {
        let edge = self.edge / 2;
        let at = |x: usize, y: usize| self.values[y * self.edge + x];
        let mean =
            |x: usize, y: usize| (at(x, y) + at(x + 1, y) + at(x, y + 1) + at(x + 1, y + 1)) / 4.0;
        let values = (0..edge * edge).map(|i| mean(i % edge * 2, i / edge * 2)).collect();
        Self { edge, values }
    }

    fn bilinear(&self, uv: DVec2) -> f64 {
        let at = uv * self.edge as f64 - 0.5;
        let (low, share) = (at.floor(), at - at.floor());
        let texel = |dx: usize, dy: usize| {
            self.values[(low.y as usize + dy) * self.edge + low.x as usize + dx]
        };
        let row = |dy: usize| texel(0, dy) * (1.0 - share.x) + texel(1, dy) * share.x;
        row(0) * (1.0 - share.y) + row(1) * share.y
    }
}

/// The UVs that a seam has on its two sides, at a place 0..1 along it.
type Seam = Box<dyn Fn(f64) -> [DVec2; 2]>;

/// Looks at 1000 points of each seam from both sides at each level. The bound is 1/255: what an 8-bit
/// map could show.
fn assert_seams_agree(coverage: &Coverage, seams: &[Seam], levels: std::ops::RangeInclusive<u32>) {
    let mut mip = Mip::of(coverage);
    for level in 0..=*levels.end() {
        if level > 0 {
            mip = mip.halved();
        }
        if !levels.contains(&level) {
            continue;
        }
        let (mut worst, mut covered) = (0.0f64, 0);
        for seam in seams {
            for step in 0..1000 {
                let [here, there] =
                    seam((f64::from(step) + 0.5) / 1000.0).map(|uv| mip.bilinear(uv));
                worst = worst.max((here - there).abs());
                covered += usize::from(here > 0.01);
            }
        }
        assert!(covered > 300, "the stroke covers only {covered} points of the seams");
        assert!(worst <= 1.0 / 255.0, "{:.3} / 255 at level {level}", worst * 255.0);
    }
}

/// Dabs so near to each other that the strongest of them is half a cosine about the path: at the default
/// spacing the creases between dabs alone come to 1.8 / 255 in a bilinear look-up at R = 20 texels.
fn soft() -> BrushSettings {
    let build_up = BuildUp::Even;
    BrushSettings { hardness: 0.0, build_up, spacing: 0.03, ..BrushSettings::default() }
}

/// Padding of p texels is exact to mip L while 1.5 x 2^L <= p: 8 texels at 1024 to level 2, 16 at 2048
/// to level 3. The stroke's radius is 20 x 2^L texels.
#[test]
fn a_soft_stroke_shows_no_seam_through_the_mips_of_a_cut_plane() {
    let (scale, angles) = (0.4, [0.0, 0.3, 1.1, 2.0]);
    let seams: Vec<Seam> = (0..3)
        .map(|strip| {
            let seam: Seam = Box::new(move |t| {
                [(strip, 0.125), (strip + 1, -0.125)].map(|(strip, x)| {
                    let (middle, angle) = cut_plane_layout(strip, angles);
                    middle + DVec2::from_angle(angle).rotate(DVec2::new(x, t - 0.5) * scale)
                })
            });
            seam
        })
        .collect();
    for (edge, levels) in [(1024u32, 0..=0), (1024, 1..=1), (1024, 2..=2), (2048, 3..=3)] {
        let bench = Bench::new(cut_plane(scale, angles), edge);
        let reach = 1.5 * f64::from(1u32 << levels.end());
        assert!(reach <= f64::from(bench.map.padding()));
        let radius = 20.0 * f64::from(1u32 << levels.end()) / (scale * f64::from(edge));
        let points: Vec<_> = (0..=60)
            .map(|step| {
                let t = f64::from(step) / 60.0;
                bench.point(DVec3::new(0.2 + 0.6 * t, 0.0, 0.3 + 0.4 * t), radius)
            })
            .collect();
        assert_seams_agree(&bench.cover(&points, soft()), &seams, levels);
    }
}

/// The twelve seams of the sphere that is a cube of six islands. A texel is largest in the middle of an
/// island's rim lines: a quarter turn of 297 texels.
#[test]
fn a_soft_stroke_shows_no_seam_through_the_mips_of_a_sphere() {
    let bench = Bench::new(sphere(32), 1024);
    let seams = sphere_seams(&bench);
    assert_eq!(seams.len(), 12);
    for level in 0..=2u32 {
        let radius = 20.0 * f64::from(1u32 << level) * std::f64::consts::FRAC_PI_2 / 297.0;
        let points: Vec<_> = (0..=60)
            .map(|step| {
                let angle = f64::from(step) * 0.05;
                let around = DVec3::new(angle.cos(), 0.9 * (angle * 0.7).sin(), angle.sin());
                bench.point(around.normalize_or_zero(), radius)
            })
            .collect();
        assert_seams_agree(&bench.cover(&points, soft()), &seams, level..=level);
    }
}

/// Found from the mesh: edges of one pair of points that two islands give other UVs, gathered by pair
/// of islands.
fn sphere_seams(bench: &Bench) -> Vec<Seam> {
    use std::collections::BTreeMap;
    type Ends = [DVec2; 2];
    let mesh = bench.surface.mesh();
    let mut edges: BTreeMap<(u32, u32), Vec<(usize, Ends)>> = BTreeMap::new();
    for face in 0..mesh.face_count() {
        let corners = &mesh.corners()[mesh.face(face)];
        for (index, from) in corners.iter().enumerate() {
            let to = corners[(index + 1) % corners.len()];
            let mut ends = [from, &to];
            ends.sort_by_key(|corner| corner.position);
            let uvs = ends.map(|corner| mesh.uvs()[corner.uv as usize].as_dvec2());
            let island = face * 6 / mesh.face_count();
            let key = (ends[0].position, ends[1].position);
            edges.entry(key).or_default().push((island, uvs));
        }
    }
    let mut seams: BTreeMap<(usize, usize), Vec<[Ends; 2]>> = BTreeMap::new();
    for sides in edges.into_values() {
        let [(first, here), (second, there)] = sides[..] else { panic!("an open edge") };
        if first != second {
            seams.entry((first, second)).or_default().push([here, there]);
        }
    }
    let seam = |pieces: Vec<[Ends; 2]>| -> Seam {
        Box::new(move |t| {
            let along = t * pieces.len() as f64;
            let (piece, share) = (along as usize, along.fract());
            pieces[piece].map(|[from, to]| from.lerp(to, share))
        })
    };
    seams.into_values().map(seam).collect()
}
