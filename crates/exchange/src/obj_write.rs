//! OBJ and MTL files. Polygons, split normals, UVs, vertex colours, names and order go out as they are;
//! numbers in the fewest digits that read back the same.
//!
//! MTL has no agreed keys for roughness and metalness: `Pr Pm map_Pr map_Pm norm` stand beside the
//! classic ones (common practice, no source). Map lines have no options and files no spaces, as common
//! readers take both for a part of the name; so the scale of a normal map stays behind. Colours, and
//! UVs with v up, are as `obj_read` reads them.

use std::io::{self, Write};

use raster::EncodedRgb;
use surface::{Corner, Mesh, NO_INDEX};

use crate::mtl_read::exponent_of_roughness;

/// Writes a mesh that finds its materials in the file `library`. `parts` and `materials` are the words
/// to call them by.
pub(crate) fn write_obj(
    to: &mut impl Write,
    mesh: &Mesh,
    library: &str,
    parts: &[String],
    materials: &[String],
) -> io::Result<()> {
    let data = mesh.data();
    writeln!(to, "mtllib {library}")?;
    for (index, p) in data.positions.iter().enumerate() {
        write!(to, "v {} {} {}", p.x, p.y, p.z)?;
        if let Some([r, g, b, _]) = data.colours.get(index) {
            write!(to, " {r} {g} {b}")?;
        }
        writeln!(to)?;
    }
    for uv in &data.uvs {
        writeln!(to, "vt {} {}", uv.x, 1.0 - uv.y)?;
    }
    for n in &data.normals {
        writeln!(to, "vn {} {} {}", n.x, n.y, n.z)?;
    }
    let (mut part, mut material) = (None, None);
    for face in 0..mesh.face_count() {
        let its_part = mesh.face_part(face);
        if part.replace(its_part) != Some(its_part) {
            writeln!(to, "o {}", parts[its_part.0 as usize])?;
        }
        let its_material = mesh.face_material(face);
        if material.replace(its_material) != Some(its_material) {
            writeln!(to, "usemtl {}", materials[its_material.0 as usize])?;
        }
        write!(to, "f")?;
        for corner in &mesh.corners()[mesh.face(face)] {
            write_corner(to, corner)?;
        }
        writeln!(to)?;
    }
    Ok(())
}

/// Indices count from 1.
fn write_corner(to: &mut impl Write, corner: &Corner) -> io::Result<()> {
    let one = |index: u32| u64::from(index) + 1;
    let position = one(corner.position);
    match (corner.uv, corner.normal) {
        (NO_INDEX, NO_INDEX) => write!(to, " {position}"),
        (uv, NO_INDEX) => write!(to, " {position}/{}", one(uv)),
        (NO_INDEX, normal) => write!(to, " {position}//{}", one(normal)),
        (uv, normal) => write!(to, " {position}/{}/{}", one(uv), one(normal)),
    }
}

/// A material as MTL describes it.
pub(crate) struct MtlMaterial {
    /// The word to call it by.
    pub(crate) name: String,
    /// The mean of its base colour map.
    pub(crate) base_colour: EncodedRgb,
    /// The mean of its roughness map.
    pub(crate) roughness: f32,
    /// The mean of its metalness map.
    pub(crate) metalness: f32,
    /// What its emission map is multiplied by.
    pub(crate) emission: Option<[f32; 3]>,
    /// Key and file of each map; where there are any, their other factors are 1.
    pub(crate) maps: Vec<(&'static str, String)>,
}

/// Writes a material library.
pub(crate) fn write_mtl(to: &mut impl Write, materials: &[MtlMaterial]) -> io::Result<()> {
    for (index, material) in materials.iter().enumerate() {
        if index > 0 {
            writeln!(to)?;
        }
        let mapped = !material.maps.is_empty();
        let [r, g, b] = material.base_colour.0;
        // What a mirror of this stuff shows head-on: glTF 2.0, appendix B.3.5, in MTL's one space.
        let metal = material.metalness;
        let mirrored = [r, g, b].map(|c| hundredths(0.04 * (1.0 - metal) + c * metal));
        writeln!(to, "newmtl {}", material.name)?;
        let [r, g, b] = if mapped { [1.0; 3] } else { [r, g, b].map(hundredths) };
        writeln!(to, "Kd {r} {g} {b}")?;
        writeln!(to, "Ks {} {} {}", mirrored[0], mirrored[1], mirrored[2])?;
        writeln!(to, "Ns {}", exponent_of_roughness(material.roughness).round())?;
        writeln!(to, "d 1")?;
        writeln!(to, "illum 2")?;
        writeln!(to, "Pr {}", if mapped { 1.0 } else { hundredths(material.roughness) })?;
        writeln!(to, "Pm {}", if mapped { 1.0 } else { hundredths(metal) })?;
        if let Some([r, g, b]) = material.emission {
            writeln!(to, "Ke {r} {g} {b}")?;
        }
        for (key, file) in &material.maps {
            writeln!(to, "{key} {file}")?;
        }
    }
    Ok(())
}

fn hundredths(value: f32) -> f32 {
    (value * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Embedded, read_model_bytes};
    use proptest::prelude::*;
    use raster::Unobserved;
    use std::fmt::Write as _;
    use std::sync::Arc;

    fn written(mesh: &Mesh) -> String {
        let parts: Vec<String> = mesh.parts().iter().map(|part| part.name.clone()).collect();
        let mut text = Vec::new();
        write_obj(&mut text, mesh, "m.mtl", &parts, mesh.material_names()).unwrap();
        String::from_utf8(text).unwrap()
    }

    fn read(text: &str) -> Arc<Mesh> {
        let read = read_model_bytes("m.obj", text.as_bytes(), &Embedded(&[]), &Unobserved);
        Arc::clone(read.unwrap().model.mesh())
    }

    fn number() -> impl Strategy<Value = f32> {
        prop_oneof![-2.0f32..2.0, any::<f32>().prop_filter("finite", |v| v.is_finite())]
    }

    /// OBJ text of any numbers, with faces that name anything, in parts and materials that come again.
    fn any_text() -> impl Strategy<Value = String> {
        let position = (number(), number(), number());
        let index = || (1usize..=20, 0usize..=20, 0usize..=20);
        let face = (0u8..3, 0u8..3, prop::collection::vec(index(), 3..6));
        let uv = prop::collection::vec((number(), number()), 20);
        (prop::collection::vec(position, 20), uv, prop::collection::vec(face, 1..12)).prop_map(
            |(positions, uvs, faces)| {
                let mut text = String::new();
                for ((x, y, z), (u, v)) in positions.into_iter().zip(uvs) {
                    _ = write!(text, "v {x} {y} {z}\nvt {u} {v}\nvn {z:e} {x:e} {y:e}\n");
                }
                let some =
                    |index: usize| if index == 0 { String::new() } else { index.to_string() };
                for (part, material, corners) in faces {
                    _ = write!(text, "o part{part}\nusemtl stuff{material}\nf");
                    for (position, uv, normal) in corners {
                        _ = write!(text, " {position}/{}/{}", some(uv), some(normal));
                    }
                    text.push('\n');
                }
                text
            },
        )
    }

    proptest! {
        #[test]
        fn what_was_read_is_read_the_same_after_writing(text in any_text()) {
            let first = read(&text);
            let second = read(&written(&first));
            // One reading settles what 1 - v rounds away for UVs far outside the square.
            let settled = read(&written(&second));
            prop_assert_eq!(settled.data(), second.data());
            prop_assert_eq!(&second.data().corners, &first.data().corners);
            prop_assert_eq!(&second.data().positions, &first.data().positions);
            prop_assert_eq!(&second.data().normals, &first.data().normals);
            for (a, b) in second.uvs().iter().zip(first.uvs()) {
                prop_assert!((a.y - b.y).abs() <= 1e-7 * b.y.abs().max(1.0));
            }
        }
    }
}
