//! Writes a mesh as OBJ text, and the material file beside it.

use surface::{MeshData, NO_INDEX};

/// The OBJ text. Without a material library, faces name no material.
pub(crate) fn obj(mesh: &MeshData, heading: &str, library: Option<&str>) -> String {
    let mut lines = vec![format!("# {heading}")];
    lines.extend(library.map(|name| format!("mtllib {name}")));
    lines.extend(mesh.positions.iter().map(|p| format!("v {:.5} {:.5} {:.5}", p.x, p.y, p.z)));
    lines.extend(mesh.uvs.iter().map(|uv| format!("vt {:.6} {:.6}", uv.x, 1.0 - uv.y)));
    lines.extend(mesh.normals.iter().map(|n| format!("vn {:.4} {:.4} {:.4}", n.x, n.y, n.z)));
    let mut part = None;
    for face in 0..mesh.face_parts.len() {
        if part != Some(mesh.face_parts[face]) {
            part = Some(mesh.face_parts[face]);
            lines.push(format!("o {}", mesh.parts[mesh.face_parts[face].0 as usize].name));
            if library.is_some() {
                let material = mesh.face_materials[face].0 as usize;
                lines.push(format!("usemtl {}", mesh.material_names[material]));
            }
        }
        lines.push(face_line(mesh, face));
    }
    lines.push(String::new());
    lines.join("\n")
}

fn face_line(mesh: &MeshData, face: usize) -> String {
    let range = mesh.face_starts[face] as usize..mesh.face_starts[face + 1] as usize;
    let corners = mesh.corners[range].iter().map(|corner| {
        if corner.uv == NO_INDEX {
            format!(" {}", corner.position + 1)
        } else {
            format!(" {}/{}/{}", corner.position + 1, corner.uv + 1, corner.normal + 1)
        }
    });
    format!("f{}", corners.collect::<String>())
}

/// One material of the library.
pub(crate) struct Stuff {
    /// Its name.
    pub(crate) name: &'static str,
    /// sRGB-encoded base colour, in which the classic `Kd` is read by most.
    pub(crate) colour: [f32; 3],
    /// Perceptual roughness.
    pub(crate) roughness: f32,
    /// Metalness.
    pub(crate) metalness: f32,
}

/// The MTL text: classic keys, and `Pr`, `Pm` for physically based readers.
pub(crate) fn mtl(materials: &[Stuff], heading: &str) -> String {
    let mut lines = vec![format!("# {heading}")];
    for Stuff { name, colour: [r, g, b], roughness, metalness } in materials {
        lines.push(format!("\nnewmtl {name}\nKd {r:.3} {g:.3} {b:.3}\nKs 0.000 0.000 0.000"));
        lines.push(format!("d 1.000\nillum 1\nPr {roughness:.3}\nPm {metalness:.3}"));
    }
    lines.push(String::new());
    lines.join("\n")
}
