//! glTF and GLB files that must be refused.

use crate::{Case, case};

/// A triangle as glTF; `change` edits the JSON text.
pub(crate) fn gltf(change: impl Fn(String) -> String) -> String {
    let positions: Vec<u8> = [0f32, 0., 0., 1., 0., 0., 0., 1., 0.]
        .iter()
        .flat_map(|v| v.to_le_bytes())
        .chain([0, 0, 1, 0, 2, 0])
        .collect();
    let data = base64::Engine::encode(&base64::prelude::BASE64_STANDARD, positions);
    change(format!(
        r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],
"nodes":[{{"mesh":0}}],
"meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}},"indices":1}}]}}],
"accessors":[{{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3","min":[0,0,0],"max":[1,1,0]}},
{{"bufferView":1,"componentType":5123,"count":3,"type":"SCALAR"}}],
"bufferViews":[{{"buffer":0,"byteLength":36}},{{"buffer":0,"byteOffset":36,"byteLength":6}}],
"buffers":[{{"byteLength":42,"uri":"data:application/octet-stream;base64,{data}"}}]}}"#
    ))
}

pub(crate) fn changed(
    file: &'static str,
    from: &str,
    to: &str,
    says: &'static [&'static str],
) -> Case {
    let text = gltf(|text| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    });
    case(file, text, says)
}

pub(crate) fn glb(version: u32, length: u32, chunk: &[u8], json: &str) -> Vec<u8> {
    let mut bytes = b"glTF".to_vec();
    bytes.extend(version.to_le_bytes());
    bytes.extend(length.to_le_bytes());
    bytes.extend((json.len() as u32).to_le_bytes());
    bytes.extend(chunk);
    bytes.extend(json.as_bytes());
    bytes
}

pub(crate) fn gltf_cases() -> Vec<Case> {
    [file_cases(), node_cases(), accessor_cases(), neighbour_cases()]
        .into_iter()
        .flatten()
        .collect()
}

fn file_cases() -> Vec<Case> {
    vec![
        case("magic.glb", "GLTF\x02\0\0\0", &["magic.glb: header: ", "glTF"]),
        case("stub.glb", "glTF", &["stub.glb: header: ", "cut short"]),
        case("old.glb", glb(1, 28, b"JSON", "{}"), &["old.glb: header: ", "version 1"]),
        case("long.glb", glb(2, 9999, b"JSON", "{}"), &["long.glb: header: ", "9999"]),
        case("tiny.glb", glb(2, 3, b"JSON", "{}"), &["tiny.glb: header: ", "3 bytes"]),
        case("chunk.glb", glb(2, 22, b"ABCD", "{}"), &["chunk.glb: chunks: ", "unknown"]),
        case("json.glb", glb(2, 22, b"JSON", "{\n"), &["json.glb: JSON chunk, line 2", "broken"]),
        case("asset.glb", glb(2, 22, b"JSON", "{}"), &["asset.glb: ", "asset"]),
        case("broken.gltf", "{\"asset\":\n{\"version\":\"2.0\"\n", &["broken.gltf:3: ", "JSON"]),
        case("text.gltf", "not JSON", &["text.gltf:1: ", "brace"]),
        case(
            "maps.gltf",
            r#"{"asset":{"version":"1.0"},"nodes":{"a":{}}}"#,
            &["maps.gltf: ", "version '1.0'"],
        ),
        changed("version.gltf", "2.0", "1.0", &["version.gltf: ", "'1.0'"]),
        changed(
            "needs.gltf",
            r#""scene":0"#,
            r#""extensionsRequired":["KHR_draco_mesh_compression"],"scene":0"#,
            &["needs.gltf: extensionsRequired: ", "'KHR_draco_mesh_compression'"],
        ),
    ]
}

fn node_cases() -> Vec<Case> {
    vec![
        changed("scene.gltf", r#""scene":0"#, r#""scene":7"#, &["scene.gltf: scene 7: "]),
        changed("node.gltf", "\"nodes\":[0]", "\"nodes\":[5]", &["node.gltf: node 5: "]),
        changed(
            "cycle.gltf",
            r#"{"mesh":0}"#,
            r#"{"mesh":0,"children":[1]},{"children":[0]}"#,
            &["cycle.gltf: node 0: ", "twice"],
        ),
        changed(
            "parents.gltf",
            r#""nodes":[0]"#,
            r#""nodes":[0,0]"#,
            &["parents.gltf: node 0: ", "twice"],
        ),
        changed("mesh.gltf", r#"{"mesh":0}"#, r#"{"mesh":3}"#, &["mesh.gltf: node 0: ", "mesh 3"]),
        changed(
            "matrix.gltf",
            r#"{"mesh":0}"#,
            r#"{"mesh":0,"scale":[3e38,3e38,3e38],"children":[1]},{"mesh":0,"scale":[3e38,1,1]}"#,
            &["matrix.gltf: node 1: ", "transform"],
        ),
        changed("position.gltf", "POSITION", "NORMAL", &["mesh 0 primitive 0: ", "POSITION"]),
        changed(
            "attribute.gltf",
            r#""POSITION":0"#,
            r#""POSITION":9"#,
            &["attribute.gltf: accessor 9: ", "no such"],
        ),
    ]
}

const POSITION: &str = r#""componentType":5126,"count":3,"type":"VEC3""#;

fn accessor_cases() -> Vec<Case> {
    let nan = gltf(|text| text.replacen("base64,AAAAAAAA", "base64,AADAfwAA", 1));
    vec![
        changed("type.gltf", "VEC3", "VEC2", &["type.gltf: accessor 0: ", "vectors of 3"]),
        changed(
            "component.gltf",
            POSITION,
            r#""componentType":5125,"count":3,"type":"VEC3""#,
            &["component.gltf: accessor 0: ", "32-bit"],
        ),
        changed(
            "whole.gltf",
            POSITION,
            r#""componentType":5123,"count":3,"type":"VEC3""#,
            &["whole.gltf: accessor 0: ", "normalised"],
        ),
        changed(
            "unknown.gltf",
            POSITION,
            r#""componentType":77,"count":3,"type":"VEC3""#,
            &["unknown.gltf: accessor 0: ", "unknown"],
        ),
        changed(
            "past.gltf",
            POSITION,
            r#""componentType":5126,"count":4,"type":"VEC3""#,
            &["past.gltf: accessor 0: ", "36 bytes"],
        ),
        changed(
            "wrap.gltf",
            r#"{"bufferView":0,"#,
            r#"{"bufferView":0,"byteOffset":18446744073709551615,"#,
            &["wrap.gltf: accessor 0: ", "reach past"],
        ),
        changed(
            "many.gltf",
            POSITION,
            r#""componentType":5126,"count":4000000000,"type":"VEC3""#,
            &["many.gltf: accessor 0: ", "too many"],
        ),
        changed(
            "stride.gltf",
            r#"{"buffer":0,"byteLength":36}"#,
            r#"{"buffer":0,"byteLength":36,"byteStride":4}"#,
            &["stride.gltf: accessor 0: ", "overlap"],
        ),
        changed(
            "view.gltf",
            r#"{"buffer":0,"byteLength":36}"#,
            r#"{"buffer":0,"byteLength":360}"#,
            &["view.gltf: accessor 0: ", "buffer view 0", "42 bytes"],
        ),
        changed(
            "sparse.gltf",
            POSITION,
            r#""sparse":{"count":1,"indices":{"bufferView":0,"componentType":5125,"byteOffset":12},
"values":{"bufferView":0}},"componentType":5126,"count":3,"type":"VEC3""#,
            &["sparse.gltf: accessor 0: ", "replaces element"],
        ),
        changed(
            "sparsecount.gltf",
            POSITION,
            r#""sparse":{"count":9,"indices":{"bufferView":0,"componentType":5121},
"values":{"bufferView":0}},"componentType":5126,"count":3,"type":"VEC3""#,
            &["sparsecount.gltf: accessor 0: ", "more elements"],
        ),
        changed("index.gltf", "AAABAAIA", "AAABAAMA", &["primitive 0: ", "index 2", "vertex 3"]),
        changed(
            "indextype.gltf",
            r#""componentType":5123"#,
            r#""componentType":5122"#,
            &["indextype.gltf: accessor 1: ", "whole"],
        ),
        case("nan.gltf", nan, &["nan.gltf: accessor 0: element 0 is not a finite number"]),
    ]
}

fn neighbour_cases() -> Vec<Case> {
    let buffer = r#""uri":"data:application/octet-stream;base64,"#;
    let material = |image: &str| {
        format!(
            r#""materials":[{{"pbrMetallicRoughness":{{"baseColorTexture":{{"index":0}}}}}}],
"textures":[{{"source":0}}],"images":[{image}],"accessors""#
        )
    };
    let with_image = |file, image: &str, says| {
        let text = gltf(|text| {
            text.replacen(r#""indices":1"#, r#""indices":1,"material":0"#, 1).replacen(
                r#""accessors""#,
                &material(image),
                1,
            )
        });
        case(file, text, says)
    };
    vec![
        changed("data.gltf", "base64,AAAA", "base64,!!!!", &["data.gltf: buffer 0: ", "data URI"]),
        changed("comma.gltf", ";base64,", ";base64", &["comma.gltf: buffer 0: ", "comma"]),
        changed(
            "short.gltf",
            r#""byteLength":42"#,
            r#""byteLength":43"#,
            &["short.gltf: buffer 0: ", "43"],
        ),
        changed(
            "climb.gltf",
            buffer,
            r#""uri":"..%2f..%2fetc/hostname","name":""#,
            &["climb.gltf: buffer 0: ", "'../../etc/hostname'", "folder"],
        ),
        changed(
            "gone.gltf",
            buffer,
            r#""uri":"gone.bin","name":""#,
            &["gone.gltf: buffer 0: ", "'gone.bin'", "not there"],
        ),
        changed(
            "material.gltf",
            r#""indices":1"#,
            r#""indices":1,"material":4"#,
            &["material.gltf: material 4: ", "no such"],
        ),
        with_image(
            "image.gltf",
            r#"{"bufferView":9}"#,
            &["image.gltf: image 0: ", "buffer view 9"],
        ),
        with_image("noimage.gltf", "{}", &["noimage.gltf: image 0: ", "no data"]),
        with_image(
            "bomb.gltf",
            r#"{"uri":"bomb.png"}"#,
            &["bomb.gltf: image 0: ", "60000 x 60000"],
        ),
        with_image("cut.gltf", r#"{"uri":"cut.png"}"#, &["cut.gltf: image 0: ", "decoded"]),
    ]
}
