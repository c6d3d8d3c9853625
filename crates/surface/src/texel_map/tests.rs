use glam::{DVec2, DVec3};
use raster::{Cancelled, TILE_EDGE, TextureSize, TileAt, Unobserved};

use super::*;
use crate::affine::centre;
use crate::testing::{
    Builder, cube, halved_cylinder, plane_of_islands, prepared, six_sided_sphere, turned,
};
use crate::{DecodedTile, Mesh};

const MATERIAL: MaterialSlot = MaterialSlot(0);

fn size(edge: u32) -> TextureSize {
    TextureSize::new(edge).unwrap()
}

fn built(surface: &Surface, edge: u32) -> TexelMap {
    TexelMap::build(surface, MATERIAL, size(edge), &Unobserved).unwrap()
}

fn decoded(map: &TexelMap, surface: &Surface) -> Vec<(TileAt, DecodedTile)> {
    let tile = |at| {
        let mut tile = DecodedTile::default();
        map.decode(surface, at, &mut tile);
        (at, tile)
    };
    map.tiles().map(tile).collect()
}

fn owned_count(map: &TexelMap) -> u32 {
    let edge = map.size().edge();
    (0..edge).map(|y| (0..edge).filter(|&x| map.owner(x, y).is_some()).count() as u32).sum()
}

fn two_squares(first: impl Fn(DVec2) -> DVec2, second: impl Fn(DVec2) -> DVec2) -> Mesh {
    let mut builder = Builder::default();
    builder.patch((4, 4), |st| DVec3::new(st.x, st.y, 0.0), first, 0);
    builder.patch((4, 4), |st| DVec3::new(st.x + 2.0, st.y, 0.0), second, 0);
    builder.mesh()
}

/// The lowest triangle that holds the texel's centre, by looking at all of them.
fn lowest_holder(surface: &Surface, edge: u32, x: u32, y: u32) -> Option<TriangleId> {
    let at = centre(x, y);
    (0..surface.triangle_count() as u32).map(TriangleId).find(|&id| {
        let [a, b, c] = surface.uvs_of(id).unwrap().map(|uv| uv * f64::from(edge));
        let turns = [(b - a).perp_dot(at - a), (c - b).perp_dot(at - b), (a - c).perp_dot(at - c)];
        (b - a).perp_dot(c - a) != 0.0
            && (turns.iter().all(|&t| t >= 0.0) || turns.iter().all(|&t| t <= 0.0))
    })
}

#[test]
fn every_texel_belongs_to_the_lowest_triangle_that_holds_its_centre() {
    // Edges through texel centres: the square's sides and diagonals lie on halves of a texel.
    let on_centres = |st: DVec2| DVec2::new(8.5 + 32.0 * st.x, 40.5 - 32.0 * st.y) / 64.0;
    let over = turned(DVec2::new(0.6, 0.6), DVec2::new(0.5, 0.4), 0.7);
    let surface = prepared(two_squares(on_centres, over));
    let map = built(&surface, 64);
    for y in 0..64 {
        for x in 0..64 {
            assert_eq!(map.owner(x, y), lowest_holder(&surface, 64, x, y), "{x} {y}");
        }
    }
    assert!(map.owner(8, 8).is_some() && map.owner(40, 40).is_some());
}

#[test]
fn texels_times_their_area_is_the_area_of_a_plane_cut_into_turned_islands() {
    for angles in [vec![0.0], vec![0.3, 1.0], vec![0.1, 0.7, 2.0, 4.0], vec![0.5; 9]] {
        let surface = prepared(plane_of_islands(8, &angles));
        let map = built(&surface, 1024);
        let islands = surface.islands().list();
        let uv_area: f64 = islands.iter().map(|island| island.uv_area).sum();
        let texel = 1.0 / (uv_area * 1024.0 * 1024.0);
        let area = f64::from(owned_count(&map)) * texel;
        assert!((area - 1.0).abs() < 0.005, "{area} for {angles:?}");
    }
}

#[test]
fn stacked_islands_map_to_the_first_and_points_of_the_second_to_its_points() {
    let layout = || turned(DVec2::splat(0.5), DVec2::splat(0.6), 0.3);
    let surface = prepared(two_squares(layout(), layout()));
    let map = built(&surface, 256);
    let first_of_second = 32;
    for y in 0..256 {
        for x in 0..256 {
            assert!(map.owner(x, y).is_none_or(|owner| owner.0 < first_of_second));
        }
    }
    for id in 0..first_of_second {
        let barycentric = [0.2, 0.5, 0.3];
        let first = SurfacePoint { triangle: TriangleId(id), barycentric };
        let second = SurfacePoint { triangle: TriangleId(id + first_of_second), barycentric };
        assert_eq!(map.primary_point(&surface, &first), first);
        let mapped = map.primary_point(&surface, &second);
        assert_eq!(mapped.triangle, first.triangle);
        assert!((0..3).all(|k| (mapped.barycentric[k] - barycentric[k]).abs() < 1e-6));
    }
}

#[test]
fn points_of_islands_that_own_their_texels_stay_where_they_are() {
    let (mesh, _) = halved_cylinder(32);
    let surface = prepared(mesh);
    let map = built(&surface, 256);
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        let point = SurfacePoint { triangle: id, barycentric: [0.98, 0.01, 0.01] };
        assert_eq!(map.primary_point(&surface, &point), point);
    }
}

#[test]
fn every_texel_within_the_padding_of_an_owned_one_is_shown() {
    for (mesh, edge) in
        [(plane_of_islands(6, &[0.3, 1.0, 2.2, 5.0]), 256), (six_sided_sphere(8), 1024)]
    {
        let surface = prepared(mesh);
        let map = built(&surface, edge);
        let padding = map.padding() as i64;
        let shown = map.shown_texels();
        for y in 0..i64::from(edge) {
            for x in 0..i64::from(edge) {
                if map.owner(x as u32, y as u32).is_none() {
                    continue;
                }
                // Corners and sides of the square around it: what lies between was asked before.
                for (dx, dy) in
                    [(-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)]
                {
                    let (x, y) = (x + dx * padding, y + dy * padding);
                    if (0..i64::from(edge)).contains(&x) && (0..i64::from(edge)).contains(&y) {
                        assert!(shown[(y * i64::from(edge) + x) as usize], "{x} {y}");
                    }
                }
            }
        }
        assert!(!shown.iter().all(|&shown| shown));
    }
}

/// The triangles whose borders come within `reach` of a texel's centre both across and down, and how far
/// off they are; by looking at points along all borders.
fn near_borders(surface: &Surface, edge: u32, at: DVec2, reach: f64) -> Vec<(f64, TriangleId)> {
    let mut found = Vec::new();
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        let corners = surface.uvs_of(id).unwrap().map(|uv| uv * f64::from(edge));
        for k in (0..3).filter(|&k| !surface.islands().goes_on(id, k)) {
            let (from, to) = (corners[k], corners[(k + 1) % 3]);
            let along = (1..300).map(|step| from.lerp(to, f64::from(step) / 300.0));
            let offsets = along.chain([from, to]).map(|point| point - at);
            let square = offsets.clone().map(|o| o.abs().max_element()).fold(f64::MAX, f64::min);
            let distance = offsets.map(DVec2::length).fold(f64::MAX, f64::min);
            if square <= reach {
                found.push((distance, id));
            }
        }
    }
    found
}

#[test]
fn every_texel_within_the_padding_of_a_border_shows_what_lies_across_the_nearest() {
    let near_over = turned(DVec2::new(0.66, 0.6), DVec2::new(0.3, 0.2), 0.7);
    let first = turned(DVec2::new(0.3, 0.3), DVec2::new(0.4, 0.3), 0.2);
    for mesh in [two_squares(first, near_over), plane_of_islands(2, &[0.3, 1.0, 2.2, 5.0])] {
        let surface = prepared(mesh);
        let map = built(&surface, 64);
        let padding = f64::from(map.padding());
        let mut owners = vec![None; 64 * 64];
        for (at, tile) in decoded(&map, &surface) {
            let (left, top) = at.first_texel();
            for texel in tile.texels().filter(|texel| texel.padding) {
                let (x, y) = (texel.index as usize % TILE_EDGE, texel.index as usize / TILE_EDGE);
                owners[(top as usize + y) * 64 + left as usize + x] = Some(texel.owner);
            }
        }
        let mut compared = 0;
        for (index, owner) in (0..64 * 64).zip(owners) {
            let (x, y) = (index % 64, index / 64);
            if map.owner(x, y).is_some() {
                assert_eq!(owner, None, "{x} {y}");
                continue;
            }
            // Points along a border stand up to a ninth of a texel apart.
            let near = |reach| near_borders(&surface, 64, centre(x, y), reach);
            let (sure, all) = (near(padding - 0.1), near(padding + 0.1));
            let least = sure.iter().map(|(distance, _)| *distance).fold(f64::MAX, f64::min);
            if let Some(owner) = owner {
                let close = all.iter().filter(|(distance, _)| *distance <= least + 0.05);
                let found: Vec<_> = close.map(|(_, id)| *id).collect();
                assert!(found.contains(&owner), "{x} {y}: {owner:?} of {found:?}");
                compared += 1;
            } else {
                assert_eq!(sure, [], "{x} {y}");
            }
        }
        assert!(compared > 500, "{compared}");
    }
}

#[test]
fn islands_too_small_to_hold_a_texels_centre_still_show() {
    // A square of a fifth of a texel and a sliver of a tenth by twenty, off every centre.
    let speck = |st: DVec2| DVec2::new(20.6 + 0.2 * st.x, 20.9 - 0.2 * st.y) / 64.0;
    let sliver = |st: DVec2| DVec2::new(40.8 + 0.1 * st.x, 50.0 - 20.0 * st.y) / 64.0;
    let surface = prepared(two_squares(speck, sliver));
    let map = built(&surface, 64);
    assert_eq!(owned_count(&map), 0);
    let tiles = decoded(&map, &surface);
    let second = |id: TriangleId| id.0 >= 32;
    let texels: Vec<_> = tiles[0].1.texels().collect();
    assert!(texels.iter().all(|texel| texel.padding));
    let near = |x: u32, y: u32| {
        texels.iter().find(|texel| texel.index as usize == texel_index(x, y)).unwrap()
    };
    assert!(!second(near(20, 20).owner));
    for y in 30..50 {
        assert!(second(near(40, y).owner) && second(near(41, y).owner), "{y}");
    }
    // Even specks throw no texel further than a few widths of the padding at their density.
    for texel in texels.iter().filter(|texel| !second(texel.owner)) {
        let distance = tiles[0].1.point(texel).distance(DVec3::new(0.5, 0.5, 0.0));
        assert!(distance < 4.0 * LONGEST / 0.2 + 1.0, "{distance}");
    }
}

#[test]
fn nothing_wraps_and_what_lies_outside_owns_nothing() {
    let out = turned(DVec2::new(1.0, 0.5), DVec2::splat(0.25), 0.0);
    let huge = turned(DVec2::new(1e20, 1e20), DVec2::splat(1e19), 0.0);
    let surface = prepared(two_squares(out, huge));
    let map = built(&surface, 64);
    for y in 0..64 {
        for x in 0..64 {
            assert_eq!(map.owner(x, y).is_some(), x >= 56 && (24..40).contains(&y), "{x} {y}");
        }
    }
    assert_eq!(map.owner(64, 30), None);
}

#[test]
fn a_material_without_uvs_or_without_area_shows_nothing_and_costs_nothing() {
    let surface = prepared(cube());
    let map = built(&surface, 1024);
    assert_eq!(map.tiles().count(), 0);
    assert_eq!(map.bytes(), 16 * 16 * 8);
    let line = |st: DVec2| DVec2::splat(st.x);
    let surface = prepared(two_squares(line, line));
    assert_eq!(built(&surface, 256).tiles().count(), 0);
    let mut tile = DecodedTile::default();
    map.decode(&surface, TileAt { x: 99, y: 0 }, &mut tile);
    assert_eq!(tile, DecodedTile::default());
}

#[test]
fn bounds_hold_every_point_and_normal_of_their_tile() {
    for mesh in [halved_cylinder(64).0, six_sided_sphere(12), plane_of_islands(3, &[0.4, 2.0])] {
        let surface = prepared(mesh);
        let map = built(&surface, 512);
        let mut with_cone = 0;
        for (at, tile) in decoded(&map, &surface) {
            let bounds = map.bounds(at).unwrap();
            with_cone += u32::from(bounds.cosine > 0.0);
            for texel in tile.texels() {
                let point = tile.point(&texel);
                assert_eq!(bounds.distance_squared(point), 0.0, "{point} {bounds:?}");
                let geometric = tile.frames[texel.frame as usize].geometric_normal;
                for normal in [texel.normal, geometric] {
                    assert!((normal.length() - 1.0).abs() < 1e-5);
                    assert!(
                        bounds.cosine == -1.0
                            || bounds.axis.dot(normal.as_dvec3()) >= bounds.cosine
                    );
                }
            }
            // Not much wider than needed: every side is within a few texels of a point.
            let low = tile.texels().map(|t| tile.point(&t)).reduce(DVec3::min).unwrap();
            let high = tile.texels().map(|t| tile.point(&t)).reduce(DVec3::max).unwrap();
            assert!((low - bounds.low).max(bounds.high - high).max_element() < 0.05);
        }
        assert!(with_cone > 0);
    }
}

#[test]
fn owned_texels_show_their_own_uv_and_step_as_their_frame_says() {
    let (mesh, layouts) = halved_cylinder(32);
    let surface = prepared(mesh);
    let map = built(&surface, 512);
    let mut steps = 0;
    for (at, tile) in decoded(&map, &surface) {
        let mut texels: Vec<_> = tile.texels().collect();
        texels.sort_unstable_by_key(|texel| texel.index);
        assert!(texels.windows(2).all(|pair| pair[0].index < pair[1].index));
        let mut triangles: Vec<_> = tile.frames.iter().map(|frame| frame.triangle).collect();
        triangles.sort_unstable();
        assert!(triangles.windows(2).all(|pair| pair[0] < pair[1]));
        let (left, top) = at.first_texel();
        for pair in texels.windows(2).filter(|pair| !pair[0].padding && !pair[1].padding) {
            let index = u32::from(pair[0].index);
            let (x, y) = (left + index % TILE_EDGE as u32, top + index / TILE_EDGE as u32);
            assert_eq!(map.owner(x, y), Some(pair[0].owner));
            assert!((pair[0].uv.as_dvec2() - centre(x, y) / 512.0).length() < 1e-7);
            if pair[0].owner == pair[1].owner && pair[1].index == pair[0].index + 1 {
                let frame = &tile.frames[pair[0].frame as usize];
                assert_eq!(frame.triangle, pair[0].owner);
                assert!((pair[1].offset - pair[0].offset - frame.du).length() < 1e-6);
                steps += 1;
            }
        }
    }
    assert!(steps > 1000 && layouts.len() == 2);
}

#[test]
fn decoding_again_allocates_nothing() {
    let surface = prepared(six_sided_sphere(12));
    let map = built(&surface, 512);
    let mut tile = DecodedTile::default();
    map.tiles().for_each(|at| map.decode(&surface, at, &mut tile));
    let before = (tile.blocks.as_ptr(), tile.blocks.capacity(), tile.frames.as_ptr());
    map.tiles().for_each(|at| map.decode(&surface, at, &mut tile));
    assert_eq!(before, (tile.blocks.as_ptr(), tile.blocks.capacity(), tile.frames.as_ptr()));
}

#[test]
fn one_thread_builds_what_many_build() {
    let surface = prepared(six_sided_sphere(16));
    let with_threads = |count| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(count).build().unwrap();
        let map = pool.install(|| built(&surface, 1024));
        (decoded(&map, &surface), map.shown_texels())
    };
    assert!(with_threads(1) == with_threads(7));
}

struct Stopped;

impl Observer for Stopped {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        true
    }
}

#[test]
fn building_stops_when_asked_to() {
    let surface = prepared(six_sided_sphere(4));
    let stopped = TexelMap::build(&surface, MATERIAL, size(64), &Stopped);
    assert_eq!(stopped.unwrap_err(), SurfaceError::Cancelled(Cancelled));
}
