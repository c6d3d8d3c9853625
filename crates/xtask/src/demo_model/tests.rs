//! What makes the demo model fit to test a painter with.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use glam::{Vec2, Vec3};
use surface::{Mesh, MeshData};

use super::shell::Cut;
use super::{dense, files, painted};

/// Texels across the texture that spacing is meant for.
const SIZE: f32 = 2048.0;

fn corners(mesh: &MeshData, face: usize) -> &[surface::Corner] {
    &mesh.corners[mesh.face_starts[face] as usize..mesh.face_starts[face + 1] as usize]
}

/// Corners of a face that follow one another, the last joined to the first.
fn edges(mesh: &MeshData, face: usize) -> Vec<(surface::Corner, surface::Corner)> {
    let corners = corners(mesh, face);
    let next = corners.iter().cycle().skip(1);
    corners.iter().copied().zip(next.copied()).collect()
}

fn faces(mesh: &MeshData) -> std::ops::Range<usize> {
    0..mesh.face_parts.len()
}

fn root(parent: &mut [usize], mut at: usize) -> usize {
    while parent[at] != at {
        parent[at] = parent[parent[at]];
        at = parent[at];
    }
    at
}

/// The faces of each island, by connection through UVs.
fn islands(mesh: &MeshData) -> Vec<Vec<usize>> {
    let mut parent: Vec<usize> = (0..mesh.uvs.len()).collect();
    for face in faces(mesh) {
        for (a, b) in edges(mesh, face) {
            let (a, b) = (root(&mut parent, a.uv as usize), root(&mut parent, b.uv as usize));
            parent[a] = b;
        }
    }
    let mut islands: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for face in faces(mesh) {
        let island = root(&mut parent, corners(mesh, face)[0].uv as usize);
        islands.entry(island).or_default().push(face);
    }
    islands.into_values().collect()
}

fn face_uvs(mesh: &MeshData, face: usize) -> Vec<Vec2> {
    corners(mesh, face).iter().map(|corner| mesh.uvs[corner.uv as usize]).collect()
}

fn face_positions(mesh: &MeshData, face: usize) -> Vec<Vec3> {
    corners(mesh, face).iter().map(|corner| mesh.positions[corner.position as usize]).collect()
}

/// Twice the area in UV, positive where the picture is not mirrored (v points down).
fn uv_area(uvs: &[Vec2]) -> f32 {
    uvs[1..].windows(2).map(|pair| -(pair[0] - uvs[0]).perp_dot(pair[1] - uvs[0])).sum()
}

fn area(points: &[Vec3]) -> f32 {
    points[1..]
        .windows(2)
        .map(|p| (p[0] - points[0]).cross(p[1] - points[0]))
        .sum::<Vec3>()
        .length()
}

#[test]
fn the_committed_files_are_what_the_generator_makes() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets-demo");
    for (name, text) in files() {
        let committed = std::fs::read_to_string(dir.join(name)).unwrap();
        assert!(committed == text, "{name} differs: run `cargo xtask demo-model`");
    }
}

#[test]
fn the_three_meshes_are_valid() {
    for mesh in [painted(Cut::First), painted(Cut::Second), dense()] {
        Mesh::new(mesh).unwrap();
    }
}

#[test]
fn the_two_layouts_have_the_same_faces_and_other_uvs() {
    let (first, second) = (painted(Cut::First), painted(Cut::Second));
    assert_eq!(first.positions, second.positions);
    assert_eq!(first.face_starts, second.face_starts);
    let positions =
        |mesh: &MeshData| mesh.corners.iter().map(|c| (c.position, c.normal)).collect::<Vec<_>>();
    assert_eq!(positions(&first), positions(&second));
    let moved = faces(&first).filter(|&f| face_uvs(&first, f) != face_uvs(&second, f)).count();
    assert!(moved * 10 > faces(&first).len() * 9, "only {moved} faces lie elsewhere");
}

#[test]
fn every_surface_is_closed_and_faces_outwards() {
    for mesh in [painted(Cut::First), dense()] {
        let mut directed = BTreeSet::new();
        for (a, b) in faces(&mesh).flat_map(|face| edges(&mesh, face)) {
            assert!(directed.insert((a.position, b.position)), "an edge is used twice");
        }
        assert!(directed.iter().all(|&(a, b)| directed.contains(&(b, a))), "an edge is open");
        for part in 0..mesh.parts.len() as u32 {
            let own = faces(&mesh).filter(|&face| mesh.face_parts[face].0 == part);
            let volume: f32 = own
                .map(|face| {
                    let p = face_positions(&mesh, face);
                    p[1..].windows(2).map(|pair| p[0].dot(pair[0].cross(pair[1]))).sum::<f32>()
                })
                .sum();
            assert!(volume > 0.0, "part {part} is inside out");
        }
    }
}

#[test]
fn no_face_is_mirrored_and_texel_density_is_even_in_each_material() {
    for mesh in [painted(Cut::First), painted(Cut::Second)] {
        for material in 0..mesh.material_names.len() as u32 {
            let own = || faces(&mesh).filter(|&face| mesh.face_materials[face].0 == material);
            let flat: f32 = own().map(|face| uv_area(&face_uvs(&mesh, face))).sum();
            let real: f32 = own().map(|face| area(&face_positions(&mesh, face))).sum();
            for face in own() {
                let flat_of_face = uv_area(&face_uvs(&mesh, face));
                assert!(flat_of_face > 0.0, "face {face} is mirrored or has no area");
                let density = flat_of_face / area(&face_positions(&mesh, face)) / (flat / real);
                let density = density.sqrt();
                assert!((0.9..1.1).contains(&density), "face {face} has density {density}");
            }
        }
    }
}

#[test]
fn islands_lie_in_the_square_and_apart_by_twice_the_padding() {
    for mesh in [painted(Cut::First), painted(Cut::Second)] {
        let mut boxes: BTreeMap<u32, Vec<(Vec2, Vec2)>> = BTreeMap::new();
        for island in islands(&mesh) {
            let uvs: Vec<Vec2> = island.iter().flat_map(|&face| face_uvs(&mesh, face)).collect();
            let low = uvs.iter().copied().reduce(Vec2::min).unwrap() * SIZE;
            let high = uvs.iter().copied().reduce(Vec2::max).unwrap() * SIZE;
            assert!(low.min_element() >= 16.0 && high.max_element() <= SIZE - 16.0);
            boxes.entry(mesh.face_materials[island[0]].0).or_default().push((low, high));
        }
        assert_eq!(boxes.len(), 4);
        for boxes in boxes.values() {
            assert!(boxes.len() > 10, "several islands in each material");
            for (index, a) in boxes.iter().enumerate() {
                for b in &boxes[..index] {
                    let apart = (a.0 - b.1).max(b.0 - a.1).max_element();
                    assert!(apart >= 32.0, "two islands lie {apart} texels apart");
                }
            }
        }
    }
}

#[test]
fn no_texel_belongs_to_two_faces() {
    let size = SIZE as usize;
    for mesh in [painted(Cut::First), painted(Cut::Second)] {
        for material in 0..mesh.material_names.len() as u32 {
            let mut taken = vec![false; size * size];
            let mut count = 0;
            for face in faces(&mesh).filter(|&face| mesh.face_materials[face].0 == material) {
                for (x, y) in texels(&face_uvs(&mesh, face)) {
                    let texel = &mut taken[y * size + x];
                    assert!(!*texel, "face {face} overlaps another at {x}, {y}");
                    *texel = true;
                    count += 1;
                }
            }
            assert!(count * 10 > size * size * 4, "material {material} wastes its square");
        }
    }
}

/// The texels whose middle lies strictly inside a convex face, a hair's breadth from its edges.
fn texels(uvs: &[Vec2]) -> Vec<(usize, usize)> {
    let points: Vec<Vec2> = uvs.iter().map(|&uv| uv * SIZE).collect();
    let low = points.iter().copied().reduce(Vec2::min).unwrap().floor();
    let high = points.iter().copied().reduce(Vec2::max).unwrap().ceil();
    let inside = |middle: Vec2| {
        let next = points.iter().cycle().skip(1);
        points
            .iter()
            .zip(next)
            .all(|(&a, &b)| -(b - a).perp_dot(middle - a) > 1e-3 * (b - a).length())
    };
    let (rows, columns) = (low.y as usize..high.y as usize, low.x as usize..high.x as usize);
    rows.flat_map(|y| columns.clone().map(move |x| (x, y)))
        .filter(|&(x, y)| inside(Vec2::new(x as f32 + 0.5, y as f32 + 0.5)))
        .collect()
}

#[test]
fn the_sizes_are_those_of_a_demo() {
    let triangles = |mesh: &MeshData| mesh.corners.len() - 2 * mesh.face_parts.len();
    let (layout, sculpt) = (painted(Cut::First), dense());
    assert!((15_000..30_000).contains(&triangles(&layout)), "{}", triangles(&layout));
    assert!((60_000..100_000).contains(&triangles(&sculpt)), "{}", triangles(&sculpt));
    assert!(sculpt.uvs.is_empty() && sculpt.normals.is_empty());
    assert!(files().iter().all(|(_, text)| text.len() < 6_000_000));
    let bell = faces(&layout).filter(|&face| layout.face_parts[face].0 == 0);
    let heights: Vec<f32> =
        bell.flat_map(|face| face_positions(&layout, face)).map(|point| point.y).collect();
    let (low, high) =
        heights.iter().fold((f32::MAX, f32::MIN), |(low, high), &y| (low.min(y), high.max(y)));
    assert!((0.30..0.42).contains(&(high - low)), "the bell is {} m high", high - low);
}
