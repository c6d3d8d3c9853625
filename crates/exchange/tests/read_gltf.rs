//! What glTF files become: parts in their places, faces the right way round, joined vertices, materials
//! multiplied out, and the notes on what is not kept.

#![expect(clippy::unwrap_used, reason = "a test that can't be set up has failed")]

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use exchange::{Embedded, Imported, read_model_bytes};
use glam::Vec3;
use raster::{Unobserved, to_unit};
use serde_json::{Value, json};
use surface::NO_INDEX;

/// A document whose accessors hold the given floats or 16-bit indices, each in a view of its own.
fn document(accessors: &[(&str, Vec<f32>)], indices: &[&[u16]], rest: Value) -> Value {
    let (mut bytes, mut views, mut described) = (Vec::new(), Vec::new(), Vec::new());
    for (shape, values) in accessors {
        let count = values.len() / usize::from(shape.as_bytes()[3] - b'0');
        views.push(json!({"buffer": 0, "byteOffset": bytes.len(), "byteLength": values.len() * 4}));
        described
            .push(json!({"bufferView": views.len() - 1, "componentType": 5126, "count": count,
            "type": shape}));
        bytes.extend(values.iter().flat_map(|v| v.to_le_bytes()));
    }
    for list in indices {
        views.push(json!({"buffer": 0, "byteOffset": bytes.len(), "byteLength": list.len() * 2}));
        described.push(json!({"bufferView": views.len() - 1, "componentType": 5123,
            "count": list.len(), "type": "SCALAR"}));
        bytes.extend(list.iter().flat_map(|v| v.to_le_bytes()));
        bytes.resize(bytes.len().next_multiple_of(4), 0);
    }
    let uri = format!("data:;base64,{}", BASE64_STANDARD.encode(&bytes));
    let mut document = rest;
    document["asset"] = json!({"version": "2.0"});
    document["buffers"] = json!([{"byteLength": bytes.len(), "uri": uri}]);
    document["bufferViews"] = json!(views);
    document["accessors"] = json!(described);
    document
}

fn read_with(document: &Value, beside: &[(&str, &[u8])]) -> Imported {
    let text = document.to_string();
    read_model_bytes("m.gltf", text.as_bytes(), &Embedded(beside), &Unobserved).unwrap()
}

fn read(document: &Value) -> Imported {
    read_with(document, &[])
}

fn square() -> (&'static str, Vec<f32>) {
    ("VEC3", vec![0., 0., 0., 1., 0., 0., 1., 1., 0., 0., 1., 0.])
}

fn faces(read: &Imported) -> Vec<[Vec3; 3]> {
    let mesh = read.model.mesh();
    let (faces, _) = mesh.corners().as_chunks::<3>();
    faces.iter().map(|face| face.map(|c| mesh.positions()[c.position as usize])).collect()
}

fn area(face: &[Vec3; 3]) -> Vec3 {
    (face[1] - face[0]).cross(face[2] - face[0]) / 2.0
}

#[test]
fn strips_and_fans_keep_the_side_that_they_show() {
    // glTF 2.0, section 3.7.2.1.
    for (mode, indices) in
        [(4, vec![0, 1, 2, 0, 2, 3]), (5, vec![0, 1, 3, 2]), (6, vec![0, 1, 2, 3])]
    {
        let primitive = json!({"attributes": {"POSITION": 0}, "indices": 1, "mode": mode});
        let read = read(&document(
            &[square()],
            &[&indices],
            json!({
                "nodes": [{"mesh": 0}], "meshes": [{"primitives": [primitive]}],
            }),
        ));
        let areas: Vec<Vec3> = faces(&read).iter().map(area).collect();
        assert_eq!(areas, [Vec3::Z / 2.0; 2], "mode {mode}");
    }
}

#[test]
fn a_node_is_put_where_its_parents_say() {
    let half = std::f32::consts::FRAC_1_SQRT_2;
    let read = read(&document(
        &[square(), ("VEC3", [0., 0., 1.].repeat(4))],
        &[&[0, 1, 2]],
        json!({
            "scene": 0, "scenes": [{"nodes": [0]}],
            "nodes": [
                {"translation": [10, 0, 0], "children": [1], "name": "holder"},
                {"rotation": [0, 0, half, half], "scale": [2, 1, 4], "mesh": 0},
            ],
            "meshes": [{"name": "bell", "primitives": [
                {"attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2},
            ]}],
        }),
    ));
    // A quarter turn about Z takes X to Y.
    let expected = [Vec3::new(10., 0., 0.), Vec3::new(10., 2., 0.), Vec3::new(9., 2., 0.)];
    for (got, expected) in faces(&read)[0].iter().zip(expected) {
        assert!(got.distance(expected) < 1e-5, "{got} {expected}");
    }
    assert_eq!(read.model.mesh().parts()[0].name, "bell");
    assert!(read.model.mesh().normals()[0].distance(Vec3::Z) < 1e-6);
}

#[test]
fn a_mirroring_node_turns_its_faces_round() {
    let read = read(&document(
        &[square(), ("VEC3", [0., 0.6, 0.8].repeat(4))],
        &[&[0, 1, 2]],
        json!({
            "nodes": [{"mesh": 0, "scale": [-1, 1, 1]}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2}]}],
        }),
    ));
    // Seen from +Z the front stays the front.
    assert_eq!(area(&faces(&read)[0]), Vec3::Z / 2.0);
    assert!(read.model.mesh().normals()[0].distance(Vec3::new(0.0, 0.6, 0.8)) < 1e-6);
}

#[test]
fn a_mesh_shown_twice_is_two_parts() {
    let read = read(&document(
        &[square()],
        &[&[0, 1, 2]],
        json!({
            "nodes": [{"mesh": 0, "name": "left"}, {"mesh": 0, "translation": [5, 0, 0]}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        }),
    ));
    let mesh = read.model.mesh();
    let names: Vec<&str> = mesh.parts().iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["left", "part 2"]);
    assert_eq!(mesh.positions().len(), 6);
    assert_eq!(faces(&read)[1][0], Vec3::new(5., 0., 0.));
}

#[test]
fn vertices_that_differ_only_in_normal_or_uv_are_one_position() {
    let (_, mut positions) = square();
    positions.extend_from_within(0..3);
    let normals = [0., 0., 1.].repeat(4).into_iter().chain([0., 1., 0.]).collect();
    let uvs = vec![0., 0., 1., 0., 1., 1., 0., 1., 0.5, 0.5];
    let read = read(&document(
        &[("VEC3", positions), ("VEC3", normals), ("VEC2", uvs)],
        &[&[0, 1, 2, 4, 2, 3]],
        json!({
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [
                {"attributes": {"POSITION": 0, "NORMAL": 1, "TEXCOORD_0": 2}, "indices": 3},
            ]}],
        }),
    ));
    let mesh = read.model.mesh();
    assert_eq!(mesh.positions().len(), 4);
    let (first, split) = (mesh.corners()[0], mesh.corners()[3]);
    assert_eq!(first.position, split.position);
    assert!(first.uv != split.uv && first.normal != split.normal);
    assert_eq!(mesh.uvs()[split.uv as usize].to_array(), [0.5, 0.5]);
}

#[test]
fn sparse_elements_and_shorts_are_read() {
    let mut text = document(
        &[square(), ("VEC3", vec![7., 8., 9.])],
        &[&[2, 0], &[0, 2, 3]],
        json!({
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [
                {"attributes": {"POSITION": 0, "TEXCOORD_0": 4}, "indices": 3},
            ]}],
        }),
    );
    text["accessors"][0]["sparse"] = json!({
        "count": 1,
        "indices": {"bufferView": 2, "componentType": 5123},
        "values": {"bufferView": 1},
    });
    // The same bytes as normalised 16-bit integers: 4 UVs out of the square's 48 bytes.
    let uvs = json!({"bufferView": 0, "componentType": 5123, "normalized": true, "count": 4,
        "type": "VEC2"});
    text["accessors"].as_array_mut().unwrap().push(uvs);
    let read = read(&text);
    assert_eq!(faces(&read)[0][1], Vec3::new(7., 8., 9.));
    // 1.0 is 0x3F80 in its upper half: 16256 / 65535.
    assert!(read.model.mesh().uvs().iter().any(|uv| uv.y == 16_256.0 / 65_535.0));
}

fn png(texel: image::Rgb<u8>) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::RgbImage::from_pixel(3, 2, texel);
    image.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

fn with_material(material: &Value, images: &Value) -> Value {
    let images_count = images.as_array().unwrap().len();
    let textures: Vec<Value> = (0..images_count).map(|n| json!({"source": n})).collect();
    document(
        &[square()],
        &[&[0, 1, 2]],
        json!({
            "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "material": 0}]}],
            "materials": [material], "textures": textures, "images": images,
        }),
    )
}

#[test]
fn textures_are_multiplied_by_their_factors() {
    // The texel and factor that glTF 2.0, section 3.9.2 gives; the product worked out in linear light.
    let surface = png(image::Rgb([0, 100, 200]));
    let colour = png(image::Rgb([64, 124, 231]));
    let read = read_with(
        &with_material(
            &json!({"name": "bronze", "pbrMetallicRoughness": {
                "baseColorTexture": {"index": 0}, "baseColorFactor": [0.2, 1.0, 0.7, 1.0],
                "metallicRoughnessTexture": {"index": 1}, "metallicFactor": 0.5,
            }}),
            &json!([{"uri": "a%20b.png"}, {"uri": "c.png"}]),
        ),
        &[("a b.png", &colour), ("c.png", &surface)],
    );
    let material = &read.model.materials()[0];
    let map = material.base_colour_map.as_ref().unwrap();
    assert_eq!((map.components(), map.extent().width), (3, 3));
    for (&got, linear) in map.texel(2, 1).iter().zip([0.0102, 0.202, 0.5593]) {
        assert!((raster::decode_srgb(to_unit(got)) - linear).abs() < 5e-4, "{got} {linear}");
    }
    assert_eq!(material.roughness_map.as_ref().unwrap().values()[0], 100 * 257);
    assert_eq!(material.metalness_map.as_ref().unwrap().values()[0], 100 * 257);
    assert_eq!(read.model.mesh().material_names(), ["bronze"]);
}

#[test]
fn factors_alone_are_values_and_the_default_is_rough_metal() {
    let pbr = json!({"baseColorFactor": [0.214_041_1, 1.0, 0.0, 1.0], "roughnessFactor": 0.25});
    let read = read(&with_material(&json!({"pbrMetallicRoughness": pbr}), &json!([])));
    let material = &read.model.materials()[0];
    // sRGB 0.5 is 0.2140411 linear: IEC 61966-2-1.
    assert!((material.base_colour.0[0] - 0.5).abs() < 1e-5);
    assert_eq!((material.roughness, material.metalness), (0.25, 1.0));
}

#[test]
fn other_maps_pass_through_byte_for_byte() {
    let image = png(image::Rgb([128, 128, 255]));
    let read = read_with(
        &with_material(
            &json!({
                "normalTexture": {"index": 0, "scale": 0.5},
                "occlusionTexture": {"index": 0, "strength": 0.75},
                "emissiveTexture": {"index": 0}, "emissiveFactor": [1.0, 0.5, 0.0],
                "alphaMode": "BLEND",
            }),
            &json!([{"uri": "a.png"}]),
        ),
        &[("a.png", &image)],
    );
    let factors: Vec<f32> =
        read.model.materials()[0].pass_maps.iter().map(|map| map.factor[0]).collect();
    assert_eq!(factors, [0.5, 1.0, 0.75]);
    assert!(read.model.materials()[0].pass_maps.iter().all(|map| *map.bytes == *image));
    assert_eq!(read.notes, ["material 'material 1': transparency is not kept"]);
}

#[test]
fn what_is_not_kept_is_noted() {
    let read = read(&document(
        &[square(), ("VEC2", vec![0.; 8]), ("VEC4", vec![0.25; 16])],
        &[&[0, 1, 2]],
        json!({
            "extensionsUsed": ["KHR_texture_transform"],
            "scene": 0, "scenes": [{"nodes": [0]}],
            "nodes": [{"mesh": 0}, {"mesh": 0}],
            "skins": [{"joints": [0]}],
            "meshes": [{"primitives": [
                {"attributes": {"POSITION": 0, "TEXCOORD_1": 1, "COLOR_0": 2}, "indices": 3},
                {"attributes": {"POSITION": 0}, "mode": 0},
                {"attributes": {"POSITION": 0}, "indices": 3, "targets": [{"POSITION": 0}]},
            ]}],
        }),
    ));
    for words in [
        "KHR_texture_transform",
        "skins",
        "morph targets",
        "first UV set",
        "vertex colours",
        "points and lines",
        "1 nodes that the scene does not show",
    ] {
        assert!(read.notes.iter().any(|note| note.contains(words)), "{words}: {:?}", read.notes);
    }
    let data = read.model.mesh().data();
    assert_eq!(data.corners[0].uv, NO_INDEX);
    // The second primitive's vertices have no colour, so they are others than the first's.
    assert_eq!(data.colours, [[[0.25; 4]; 3], [[1.0; 4]; 3]].concat());
}

#[test]
fn a_chain_of_a_hundred_thousand_nodes_costs_no_stack() {
    let count = 100_000;
    let mut nodes: Vec<Value> = (1..count).map(|child| json!({"children": [child]})).collect();
    nodes.push(json!({"mesh": 0}));
    let read = read(&document(
        &[square()],
        &[&[0, 1, 2]],
        json!({
            "scene": 0, "scenes": [{"nodes": [0]}], "nodes": nodes,
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        }),
    ));
    assert_eq!(read.model.mesh().face_count(), 1);
}
