//! From a model to objects.

use std::sync::Arc;

use brush::GreyImage;
use document::{Model, ModelMaterial, PassMap};
use raster::{Bitmap, Extent};
use surface::MeshData;

use crate::StoreError;
use crate::hash::{Hash, Kind};
use crate::node::{Column, ImageNode, MeshNode, ModelMaterialNode, ModelNode, PassMapNode};
use crate::save::Saver;
use crate::squeezed::Encoding;

/// Bytes of a piece of a long list.
pub(crate) const PIECE_BYTES: usize = 1 << 20;

pub(crate) fn model(saver: &mut Saver<'_>, model: &Arc<Model>) -> Result<Hash, StoreError> {
    if let Some(hash) = saver.known.models.get(model) {
        return Ok(hash);
    }
    let mesh = mesh(saver, model.mesh().data())?;
    let materials = model.materials().iter().map(|came| model_material(saver, came));
    let materials = materials.collect::<Result<_, _>>()?;
    let hash = saver.node(&ModelNode { mesh, materials })?;
    saver.known.models.insert(model, hash);
    Ok(hash)
}

/// A list of words of `N` bytes, in pieces that hold whole words.
fn column<const N: usize>(
    saver: &mut Saver<'_>,
    words: impl Iterator<Item = [u8; N]>,
) -> Result<Column, StoreError> {
    let encoding = match N {
        2 => Encoding::Halves,
        4 => Encoding::Words,
        _ => Encoding::Bytes,
    };
    let bytes: Vec<u8> = words.flatten().collect();
    let pieces = bytes.chunks(PIECE_BYTES);
    let pieces = pieces.map(|piece| saver.content(Kind::Piece, piece, encoding));
    Ok(Column { bytes: bytes.len() as u64, pieces: pieces.collect::<Result<_, _>>()? })
}

fn floats(saver: &mut Saver<'_>, values: &[f32]) -> Result<Column, StoreError> {
    column(saver, values.iter().map(|value| value.to_le_bytes()))
}

fn indices(saver: &mut Saver<'_>, values: impl Iterator<Item = u32>) -> Result<Column, StoreError> {
    column(saver, values.map(u32::to_le_bytes))
}

fn mesh(saver: &mut Saver<'_>, data: &MeshData) -> Result<Hash, StoreError> {
    let node = MeshNode {
        positions: floats(saver, bytemuck::cast_slice(&data.positions))?,
        rest_positions: floats(saver, bytemuck::cast_slice(&data.rest_positions))?,
        normals: floats(saver, bytemuck::cast_slice(&data.normals))?,
        uvs: floats(saver, bytemuck::cast_slice(&data.uvs))?,
        colours: floats(saver, bytemuck::cast_slice(&data.colours))?,
        face_starts: indices(saver, data.face_starts.iter().copied())?,
        corner_positions: indices(saver, data.corners.iter().map(|corner| corner.position))?,
        corner_uvs: indices(saver, data.corners.iter().map(|corner| corner.uv))?,
        corner_normals: indices(saver, data.corners.iter().map(|corner| corner.normal))?,
        face_parts: indices(saver, data.face_parts.iter().map(|part| part.0))?,
        face_materials: indices(saver, data.face_materials.iter().map(|slot| slot.0))?,
        parts: data.parts.clone(),
        material_names: data.material_names.clone(),
    };
    saver.node(&node)
}

fn model_material(
    saver: &mut Saver<'_>,
    came: &ModelMaterial,
) -> Result<ModelMaterialNode, StoreError> {
    let mut image = |map: &Option<Arc<Bitmap<u16>>>| {
        map.as_ref().map(|bitmap| image(saver, bitmap)).transpose()
    };
    let images =
        [image(&came.base_colour_map)?, image(&came.roughness_map)?, image(&came.metalness_map)?];
    let pass_maps = came.pass_maps.iter().map(|map| pass_map(saver, map));
    Ok(ModelMaterialNode {
        base_colour: came.base_colour,
        roughness: came.roughness,
        metalness: came.metalness,
        images,
        pass_maps: pass_maps.collect::<Result<_, _>>()?,
    })
}

fn image(saver: &mut Saver<'_>, bitmap: &Bitmap<u16>) -> Result<Hash, StoreError> {
    let extent = bitmap.extent();
    let node = ImageNode {
        width: extent.width,
        height: extent.height,
        components: bitmap.components() as u32,
        values: column(saver, bitmap.values().iter().map(|value| value.to_le_bytes()))?,
    };
    saver.node(&node)
}

/// An image of a brush: as one of a model, with one component.
pub(crate) fn brush_image(saver: &mut Saver<'_>, image: &GreyImage) -> Result<Hash, StoreError> {
    if let Some(hash) = saver.known.brush_images.get(&image.name()) {
        return Ok(*hash);
    }
    let Extent { width, height } = image.extent();
    let values = column(saver, image.values().iter().map(|value| value.to_le_bytes()))?;
    let hash = saver.node(&ImageNode { width, height, components: 1, values })?;
    saver.known.brush_images.insert(image.name(), hash);
    Ok(hash)
}

pub(crate) fn pass_map(saver: &mut Saver<'_>, map: &PassMap) -> Result<Hash, StoreError> {
    let bytes = if let Some(known) = saver.known.map_bytes.get(&map.bytes) {
        known
    } else {
        let written = column(saver, map.bytes.iter().map(|byte| [*byte]))?;
        saver.known.map_bytes.insert(&map.bytes, written.clone());
        written
    };
    let (kind, media_type, factor) = (map.kind, map.media_type.clone(), map.factor);
    saver.node(&PassMapNode { kind, media_type, factor, bytes })
}
