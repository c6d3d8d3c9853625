use std::f64::consts::PI;

use glam::{DVec2, DVec3};
use raster::{TILE_EDGE, TextureSize, TileAt, Unobserved};

use crate::testing::{
    Builder, cylinder_side, halved_cylinder, plane_of_islands, prepared, six_sided_sphere, turned,
};
use crate::{DecodedTile, MaterialSlot, Surface, SurfaceTexel, TexelMap, TriangleId};

fn built(surface: &Surface, edge: u32) -> TexelMap {
    let size = TextureSize::new(edge).unwrap();
    TexelMap::build(surface, MaterialSlot(0), size, &Unobserved).unwrap()
}

/// Every texel that shows anything: its centre in UV, the texel, its point.
fn texels(map: &TexelMap, surface: &Surface) -> Vec<(DVec2, SurfaceTexel, DVec3)> {
    let mut all = Vec::new();
    let mut tile = DecodedTile::default();
    for at in map.tiles() {
        map.decode(surface, at, &mut tile);
        all.extend(
            tile.texels().map(|texel| (centre_of(map, at, texel.index), texel, tile.point(&texel))),
        );
    }
    all
}

fn centre_of(map: &TexelMap, at: TileAt, index: u16) -> DVec2 {
    let (left, top) = at.first_texel();
    let (x, y) = (index as usize % TILE_EDGE, index as usize / TILE_EDGE);
    DVec2::new(left as f64 + x as f64 + 0.5, top as f64 + y as f64 + 0.5)
        / f64::from(map.size().edge())
}

/// (s, t) of a UV in a layout that is affine.
fn inverse(layout: &dyn Fn(DVec2) -> DVec2, uv: DVec2) -> DVec2 {
    let (origin, right, up) = (layout(DVec2::ZERO), layout(DVec2::X), layout(DVec2::Y));
    let matrix = glam::DMat2::from_cols(right - origin, up - origin);
    matrix.inverse() * (uv - origin)
}

/// A cylinder's side unrolls without stretch, facets and all: so where a padding texel must lie is
/// known exactly. s in 0..1 once round, between `around` facets.
fn on_facets(around: u32, s: f64, t: f64) -> DVec3 {
    let facet = (s * f64::from(around)).floor();
    let corner = |k: f64| cylinder_side(k / f64::from(around), t);
    corner(facet).lerp(corner(facet + 1.0), s * f64::from(around) - facet)
}

#[test]
fn on_a_cylinder_padding_lies_where_the_side_unrolls_to() {
    let around = 48;
    let (mesh, layouts) = halved_cylinder(around);
    let surface = prepared(mesh);
    let map = built(&surface, 1024);
    let half = surface.triangle_count() as u32 / 2;
    // Model units a texel of each half; the facets' chord is a little shorter than the arc.
    let texel = [1.0 / (0.2 * 1024.0), 1.0 / (0.15 * 1024.0)];
    let (mut across, mut beyond) = (0, 0);
    for (uv, shown, point) in texels(&map, &surface) {
        let island = usize::from(shown.owner.0 >= half);
        let st = inverse(&*layouts[island], uv);
        if !shown.padding || !(0.0..=1.0).contains(&st.y) {
            beyond += u32::from(shown.padding);
            continue;
        }
        let round = (st.x + island as f64) * 0.5;
        let expected = on_facets(around, round, st.y);
        let error = point.distance(expected) / texel[island];
        assert!(error < 2e-3, "{error} texels at {st}, island {island}");
        let frame = usize::from(surface.islands().island_of(shown.owner).unwrap().0 == 1);
        assert_eq!(frame, island);
        // The UV is that of the same point in the other half's layout.
        let other = if st.x < 0.0 || st.x > 1.0 { 1 - island } else { island };
        let s = round.rem_euclid(1.0) * 2.0 - other as f64;
        let expected = layouts[other](DVec2::new(s, st.y));
        assert!((shown.uv.as_dvec2() - expected).length() * 1024.0 < 2e-3, "{}", shown.uv);
        across += 1;
    }
    assert!(across > 4000 && beyond > 4000, "{across} {beyond}");
}

#[test]
fn on_a_sphere_padding_lies_on_the_surface_where_a_straight_way_over_it_ends() {
    let surface = prepared(six_sided_sphere(24));
    let map = built(&surface, 1024);
    let islands = surface.islands();
    let mut compared = 0;
    for (uv, shown, point) in texels(&map, &surface).into_iter().filter(|(_, t, _)| t.padding) {
        let on = surface.nearest(point).unwrap();
        assert!(surface.position(on.triangle, on.barycentric).distance(point) < 1e-6);
        let density = {
            let island = islands.get(islands.island_of(shown.owner).unwrap());
            (island.surface_area / island.uv_area).sqrt() / 1024.0
        };
        // Where the owner's plane says that the texel is, seen from its middle: the way on a sphere.
        let corners = surface.uvs_of(shown.owner).unwrap();
        let affine = crate::affine::Affine::new(corners, map.size()).unwrap();
        let middle = surface.position(shown.owner, [1.0 / 3.0; 3]);
        let target = surface.position(shown.owner, affine.weights(uv * 1024.0));
        let foot = middle.normalize_or_zero();
        let flat = target - middle;
        let tangent = flat - foot * flat.dot(foot);
        let length = tangent.length();
        let expected = foot * length.cos() + tangent / length * length.sin();
        let error = point.normalize_or_zero().distance(expected) / density;
        assert!(error < 0.05, "{error} texels");
        compared += 1;
    }
    assert!(compared > 10_000, "{compared}");
}

#[test]
fn on_a_plane_padding_lies_in_the_plane_exactly_and_a_cut_does_not_show() {
    let angles = [0.3, 2.0, 4.4];
    let surface = prepared(plane_of_islands(5, &angles));
    let map = built(&surface, 512);
    let mut carried = 0;
    for (uv, shown, point) in texels(&map, &surface).into_iter().filter(|(_, t, _)| t.padding) {
        assert_eq!(point.y, 0.0);
        let affine =
            crate::affine::Affine::new(surface.uvs_of(shown.owner).unwrap(), map.size()).unwrap();
        let expected = surface.position(shown.owner, affine.weights(uv * 512.0));
        let inside = (0.0..=1.0).contains(&expected.x) && (0.0..=1.0).contains(&expected.z);
        if inside {
            // A texel is 1 / (512 x density) wide: about 1 / 200.
            assert!(point.distance(expected) < 1e-5, "{point} {expected}");
            let same = surface.islands().island_of(shown.owner)
                == surface.islands().island_of(map_triangle(&surface, point));
            carried += u32::from(!same);
        }
    }
    assert!(carried > 500, "{carried}");
}

fn map_triangle(surface: &Surface, point: DVec3) -> TriangleId {
    surface.nearest(point).unwrap().triangle
}

#[test]
fn at_another_material_and_at_an_open_border_padding_goes_on_in_the_owners_plane() {
    let mut builder = Builder::default();
    let layout = || turned(DVec2::splat(0.5), DVec2::splat(0.5), 0.5);
    builder.patch((2, 2), |st| DVec3::new(st.x, 0.0, 1.0 - st.y), layout(), 0);
    // The other material's square stands upright on the first one's right edge.
    builder.patch((2, 2), |st| DVec3::new(1.0, st.x, 1.0 - st.y), layout(), 1);
    let surface = prepared(builder.mesh());
    let map = built(&surface, 256);
    let padding: Vec<_> =
        texels(&map, &surface).into_iter().filter(|(_, t, _)| t.padding).collect();
    for (uv, shown, point) in &padding {
        let st = inverse(&layout(), *uv);
        assert!(point.distance(DVec3::new(st.x, 0.0, 1.0 - st.y)) < 1e-5, "{point} {st}");
        assert!((shown.uv.as_dvec2() - *uv).length() < 1e-6);
    }
    assert!(padding.len() > 2000);
}

#[test]
fn around_acute_tips_padding_still_finds_the_surface() {
    // A square cut into sixteen wedges that meet in its middle, each an island of its own.
    let mut builder = Builder::default();
    let rim = |k: u32| {
        let angle = f64::from(k) * PI / 8.0;
        let side = DVec2::new(angle.cos(), angle.sin());
        side / side.abs().max_element()
    };
    for k in 0..16 {
        let wedge = [DVec2::ZERO, rim(k + 1), rim(k)];
        let cell = DVec2::new(f64::from(k % 4) + 0.5, f64::from(k / 4) + 0.5) / 4.0;
        let middle = (wedge[0] + wedge[1] + wedge[2]) / 3.0;
        let uvs = wedge.map(|at| cell + (at - middle) * DVec2::new(1.0, -1.0) * 0.12);
        let points = wedge.map(|at| DVec3::new(at.x, at.y, 0.0));
        builder.face(&[points[0], points[2], points[1]], &[uvs[0], uvs[2], uvs[1]], 0, 0);
    }
    let surface = prepared(builder.mesh());
    let map = built(&surface, 1024);
    let (mut tile, mut near_the_middle) = (DecodedTile::default(), 0);
    for at in map.tiles() {
        map.decode(&surface, at, &mut tile);
        for texel in tile.texels().filter(|texel| texel.padding) {
            let point = tile.point(&texel);
            if point.abs().max_element() < 0.999 {
                let shown = tile.frames[texel.frame as usize].triangle;
                let nearest = surface.nearest_on(shown, point);
                let distance = surface.position(shown, nearest.barycentric).distance(point);
                assert!(distance < 1e-6, "{distance} from {shown:?} at {point}");
                near_the_middle += u32::from(point.length() < 0.03);
            }
        }
    }
    assert!(near_the_middle > 500, "{near_the_middle}");
}

#[test]
fn a_needle_at_a_border_throws_no_texel_far_off() {
    let mut builder = Builder::default();
    let layout = turned(DVec2::splat(0.5), DVec2::splat(0.5), 0.0);
    builder.patch((1, 1), |st| DVec3::new(st.x, st.y, 0.0), &layout, 0);
    // One unit wide on the surface, a ten-thousandth of that in the layout.
    let needle = [DVec2::new(1.0, 0.0), DVec2::new(1.0001, 0.0), DVec2::ONE];
    let points = [DVec3::X, DVec3::X * 2.0, DVec3::new(1.0, 1.0, 0.0)];
    builder.face(&points, &needle.map(&layout), 0, 0);
    let surface = prepared(builder.mesh());
    let map = built(&surface, 512);
    // 16 times the padding's four texels, of sqrt(1.5 / 0.25) / 512 units each, are 0.31.
    let points: Vec<_> = texels(&map, &surface).into_iter().map(|(_, _, point)| point).collect();
    assert!(points.iter().all(|point| point.x < 2.32 && point.x > -0.1));
    assert!(points.iter().any(|point| point.x > 1.2));
}

#[test]
fn padding_stops_where_the_surface_across_the_seam_ends() {
    let mut builder = Builder::default();
    let wide = turned(DVec2::new(0.4, 0.5), DVec2::splat(0.5), 0.0);
    let narrow = turned(DVec2::new(0.85, 0.5), DVec2::new(0.005, 0.5), 0.0);
    builder.patch((4, 4), |st| DVec3::new(st.x, 0.0, 1.0 - st.y), &wide, 0);
    builder.patch((1, 4), |st| DVec3::new(1.0 + 0.01 * st.x, 0.0, 1.0 - st.y), narrow, 0);
    let surface = prepared(builder.mesh());
    let map = built(&surface, 512);
    let end = f64::from(1.01f32);
    let (mut within, mut at_end) = (0, 0);
    for (uv, shown, point) in texels(&map, &surface) {
        let st = inverse(&wide, uv);
        if shown.padding && shown.owner.0 < 32 && st.x > 1.0 && (0.0..1.0).contains(&st.y) {
            let expected = DVec3::new(st.x.min(end), 0.0, 1.0 - st.y);
            assert!(point.distance(expected) < 1e-6, "{point} {expected}");
            within += u32::from(st.x < end);
            at_end += u32::from(st.x > end);
        }
    }
    assert!(within > 400 && at_end > 200, "{within} {at_end}");
}

#[test]
fn on_a_sheet_with_a_back_padding_stays_on_the_side_that_it_began_on() {
    let mut builder = Builder::default();
    let cell = |k: f64| turned(DVec2::new(0.25 * k + 0.125, 0.5), DVec2::new(0.2, 0.4), 0.0);
    // The back first: it has the lower triangles. All four halves meet in the middle.
    for k in [0.0, 1.0] {
        let back = move |st: DVec2| DVec3::new((k + 1.0 - st.x) * 0.5, 0.0, 1.0 - st.y);
        builder.patch((4, 4), back, cell(k), 0);
    }
    for k in [0.0, 1.0] {
        let front = move |st: DVec2| DVec3::new((k + st.x) * 0.5, 0.0, 1.0 - st.y);
        builder.patch((4, 4), front, cell(k + 2.0), 0);
    }
    let surface = prepared(builder.mesh());
    let map = built(&surface, 512);
    let mut tile = DecodedTile::default();
    let mut crossed = 0;
    for at in map.tiles() {
        map.decode(&surface, at, &mut tile);
        for texel in tile.texels().filter(|texel| texel.padding) {
            let point = tile.point(&texel);
            let began = surface.geometric_normal(texel.owner);
            let shown = &tile.frames[texel.frame as usize];
            let middle = (point.x - 0.5).abs() < 0.03 && (0.1..0.9).contains(&point.z);
            if middle {
                assert!(began.dot(shown.geometric_normal.as_dvec3()) > 0.9, "{point}");
                crossed += u32::from(shown.triangle != texel.owner);
            }
        }
    }
    assert!(crossed > 1000, "{crossed}");
}

/// A chain of mips of an image of f32, box filtered.
fn halved(image: &[f32], edge: usize) -> Vec<f32> {
    let half = edge / 2;
    let at = |x: usize, y: usize| image[y * edge + x];
    (0..half * half)
        .map(|index| {
            let (x, y) = (index % half * 2, index / half * 2);
            (at(x, y) + at(x + 1, y) + at(x, y + 1) + at(x + 1, y + 1)) / 4.0
        })
        .collect()
}

fn bilinear(image: &[f32], edge: usize, uv: DVec2) -> f64 {
    let at = uv * edge as f64 - 0.5;
    let (x, y) = (at.x.floor(), at.y.floor());
    let (fx, fy) = (at.x - x, at.y - y);
    let texel = |dx: f64, dy: f64| {
        let clamp = |v: f64| v.clamp(0.0, edge as f64 - 1.0) as usize;
        f64::from(image[clamp(y + dy) * edge + clamp(x + dx)])
    };
    (texel(0.0, 0.0) * (1.0 - fx) + texel(1.0, 0.0) * fx) * (1.0 - fy)
        + (texel(0.0, 1.0) * (1.0 - fx) + texel(1.0, 1.0) * fx) * fy
}

/// The greatest difference between both sides of the seams, at `seam` points of the surface, of a
/// cosine falloff with a radius of 20 x 2^level texels around `centre`, read from mip `level`.
fn worst_seam(surface: &Surface, edge: u32, level: u32, centre: DVec3, seam: &[DVec3]) -> f64 {
    worst_seam_of(surface, edge, level, centre, seam, |_| true)
}

fn worst_seam_of(
    surface: &Surface,
    edge: u32,
    level: u32,
    centre: DVec3,
    seam: &[DVec3],
    painted: impl Fn(&SurfaceTexel) -> bool,
) -> f64 {
    let map = built(surface, edge);
    assert!(1.5 * f64::from(1 << level) <= f64::from(map.padding()));
    let islands = surface.islands().list();
    let widest = islands.iter().map(|island| (island.surface_area / island.uv_area).sqrt());
    let radius = widest.fold(0.0, f64::max) / f64::from(edge) * 20.0 * f64::from(1 << level);
    let mut image = vec![0.0f32; (edge * edge) as usize];
    for (uv, _, point) in texels(&map, surface).into_iter().filter(|(_, t, _)| painted(t)) {
        let (x, y) = ((uv.x * f64::from(edge)) as u32, (uv.y * f64::from(edge)) as u32);
        let far = (point.distance(centre) / radius).min(1.0);
        image[(y * edge + x) as usize] = (0.5 + 0.5 * (far * PI).cos()) as f32;
    }
    let mut width = edge as usize;
    for _ in 0..level {
        image = halved(&image, width);
        width /= 2;
    }
    let (mut worst, mut lit, mut pairs, mut found) = (0.0f64, 0, 0, Vec::new());
    for &point in seam {
        surface.triangles_in_ball(point, 1e-5, &mut found);
        let sides: Vec<f64> = found
            .iter()
            .map(|&id| surface.nearest_on(id, point))
            .map(|on| bilinear(&image, width, surface.uv(on.triangle, on.barycentric).unwrap()))
            .collect();
        let (low, high) = sides.iter().fold((1.0f64, 0.0f64), |(l, h), &v| (l.min(v), h.max(v)));
        worst = worst.max(high - low);
        lit += u32::from(high > 0.1);
        let islands: std::collections::BTreeSet<_> =
            found.iter().map(|&id| surface.islands().island_of(id)).collect();
        pairs += u32::from(islands.len() > 1);
    }
    assert!(lit > 100 && pairs as usize == seam.len(), "{lit} {pairs}");
    worst
}

/// Texture sizes, and mips whose reach, 1.5 x 2^L texels, the padding there covers.
const SIZES_AND_LEVELS: [(u32, u32); 4] = [(512, 0), (512, 1), (1024, 2), (2048, 3)];

#[test]
fn both_sides_of_a_cylinders_seam_read_alike_down_to_the_mip_that_padding_allows() {
    let surface = prepared(halved_cylinder(64).0);
    let seam: Vec<_> =
        (0..1000).map(|k| on_facets(64, 0.5, 0.1 + 0.8 * f64::from(k) / 999.0)).collect();
    for (edge, level) in SIZES_AND_LEVELS {
        let worst = worst_seam(&surface, edge, level, on_facets(64, 0.503, 0.5), &seam);
        assert!(worst <= 1.0 / 255.0, "{} of 255 at {edge}, mip {level}", worst * 255.0);
    }
}

#[test]
fn both_sides_of_a_spheres_seams_read_alike_down_to_the_mip_that_padding_allows() {
    let surface = prepared(six_sided_sphere(32));
    let side = |s: f64, t: f64| {
        // On the edge between the sides of +x and +y, between corners of its 32 quads.
        let t = t * 32.0;
        let corner = |k: f64| DVec3::new(1.0, 1.0, ((k / 32.0 - 0.5) * PI / 2.0).tan());
        let ends = [t.floor(), t.floor() + 1.0].map(|k| corner(k).normalize_or_zero());
        ends[0].lerp(ends[1], t.fract()) * s
    };
    let seam: Vec<_> = (0..1000).map(|k| side(1.0, 0.02 + 0.96 * f64::from(k) / 999.0)).collect();
    for (edge, level) in SIZES_AND_LEVELS {
        let worst = worst_seam(&surface, edge, level, side(1.0, 0.51), &seam);
        assert!(worst <= 1.0 / 255.0, "{} of 255 at {edge}, mip {level}", worst * 255.0);
    }
}

#[test]
fn without_padding_the_same_reading_shows_the_seam() {
    let surface = prepared(halved_cylinder(64).0);
    let seam: Vec<_> = (0..1000).map(|k| on_facets(64, 0.5, 0.1 + 0.0008 * f64::from(k))).collect();
    let centre = on_facets(64, 0.503, 0.5);
    let worst = worst_seam_of(&surface, 512, 0, centre, &seam, |texel| !texel.padding);
    assert!(worst > 0.1, "{worst}");
}
