//! Which meshes a glTF scene shows, and where: the walk over its nodes. A node that is met twice, or
//! that has two parents, is refused; the depth of the tree costs no stack.

use glam::{DMat4, DQuat, DVec3};
use gltf::json::{Index, Root, scene};

use crate::error::ExchangeError;
use crate::notes::Notes;

const REMEDY: &str = "export the model again";

/// A node that shows a mesh.
pub(crate) struct Placed {
    /// Its number.
    pub(crate) node: usize,
    /// Where it is, from the model's origin.
    pub(crate) transform: DMat4,
}

/// The nodes with a mesh, in the order of the scene's tree, parents first.
pub(crate) fn placed_meshes(
    file: &str,
    root: &Root,
    notes: &mut Notes,
) -> Result<Vec<Placed>, ExchangeError> {
    let roots = roots(file, root)?;
    let mut met = vec![false; root.nodes.len()];
    let mut waiting: Vec<(Index<scene::Node>, DMat4)> =
        roots.into_iter().rev().map(|node| (node, DMat4::IDENTITY)).collect();
    let mut placed = Vec::new();
    while let Some((index, parent)) = waiting.pop() {
        let fail = |problem: &str| {
            Err(ExchangeError::place(file, format!("node {index}"), format!("{problem}; {REMEDY}")))
        };
        let Some(node) = root.get(index) else { return fail("there is no such node") };
        if std::mem::replace(&mut met[index.value()], true) {
            return fail("it is reached twice: nodes must form a tree");
        }
        let transform = own_transform(node).map_or(parent, |own| parent * own);
        if !transform.is_finite() {
            return fail("its transform is not finite");
        }
        if node.mesh.is_some() {
            placed.push(Placed { node: index.value(), transform });
        }
        let children = node.children.iter().flatten().rev();
        waiting.extend(children.map(|&child| (child, transform)));
    }
    let left = root.nodes.iter().zip(met).filter(|(node, met)| node.mesh.is_some() && !met).count();
    if left > 0 {
        notes.add(format!("{left} nodes that the scene does not show were left out"));
    }
    Ok(placed)
}

/// The scene's own root nodes; in a file without scenes, all nodes that are nobody's child.
fn roots(file: &str, root: &Root) -> Result<Vec<Index<scene::Node>>, ExchangeError> {
    let scene = root.scene.or_else(|| (!root.scenes.is_empty()).then(|| Index::new(0)));
    if let Some(index) = scene {
        let Some(scene) = root.get(index) else {
            let problem = format!("there is no such scene; {REMEDY}");
            return Err(ExchangeError::place(file, format!("scene {index}"), problem));
        };
        return Ok(scene.nodes.clone());
    }
    let mut is_child = vec![false; root.nodes.len()];
    for child in root.nodes.iter().flat_map(|node| node.children.iter().flatten()) {
        if let Some(is_child) = is_child.get_mut(child.value()) {
            *is_child = true;
        }
    }
    let nobodys = (0..root.nodes.len()).filter(|&node| !is_child[node]);
    Ok(nobodys.map(|node| Index::new(node as u32)).collect())
}

/// A node's transform, or `None` where it has none: then positions stay as they are, to the bit.
fn own_transform(node: &scene::Node) -> Option<DMat4> {
    if let Some(matrix) = node.matrix {
        let matrix = DMat4::from_cols_array(&matrix.map(f64::from));
        return (matrix != DMat4::IDENTITY).then_some(matrix);
    }
    let (translation, rotation, scale) = (node.translation, node.rotation, node.scale);
    if translation.is_none() && rotation.is_none() && scale.is_none() {
        return None;
    }
    let [x, y, z, w] = rotation.unwrap_or_default().0.map(f64::from);
    let rotation = DQuat::from_xyzw(x, y, z, w);
    let length = rotation.length();
    let rotation = if length > 0.0 { rotation / length } else { DQuat::IDENTITY };
    let vector = |v: [f32; 3]| DVec3::from_array(v.map(f64::from));
    let scale = scale.map_or(DVec3::ONE, vector);
    let translation = translation.map_or(DVec3::ZERO, vector);
    let matrix = DMat4::from_scale_rotation_translation(scale, rotation, translation);
    (matrix != DMat4::IDENTITY).then_some(matrix)
}
