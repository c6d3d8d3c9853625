//! Models, their images and maps.

use std::sync::Arc;

use brush::GreyImage;
use document::{Model, ModelMaterial, PassMap};
use glam::{Vec2, Vec3};
use raster::{Bitmap, Extent};
use surface::{Corner, MaterialSlot, Mesh, MeshData, PartId};

use crate::StoreError;
use crate::damage::Lost;
use crate::hash::{Hash, Kind};
use crate::load::{Found, Loader};
use crate::node::{Column, ImageNode, MeshNode, ModelNode, PassMapNode};

/// A model; `None` where its mesh is lost.
pub(crate) fn model(
    loader: &mut Loader<'_>,
    hash: &Hash,
) -> Result<Option<Found<Model>>, StoreError> {
    let Some(node) = loader.node::<ModelNode>(hash)? else { return Ok(None) };
    let Some(mesh) = loader.node::<MeshNode>(&node.mesh)? else { return Ok(None) };
    let Some(data) = mesh_data(loader, mesh)? else { return Ok(None) };
    let Ok(mesh) = Mesh::new(data) else { return Ok(None) };
    let before = loader.damage.len();
    let mut maps_lost = false;
    let mut materials = Vec::with_capacity(node.materials.len());
    for came in node.materials {
        let mut pass_maps = Vec::new();
        for map in &came.pass_maps {
            pass_maps.extend(pass_map(loader, map)?);
        }
        maps_lost |= pass_maps.len() < came.pass_maps.len();
        let [base_colour, roughness, metalness] = &came.images;
        materials.push(ModelMaterial {
            base_colour: came.base_colour,
            roughness: came.roughness,
            metalness: came.metalness,
            base_colour_map: image(loader, base_colour.as_ref())?,
            roughness_map: image(loader, roughness.as_ref())?,
            metalness_map: image(loader, metalness.as_ref())?,
            pass_maps,
        });
    }
    let whole = !maps_lost && loader.damage.len() == before;
    Ok(Some(Found { value: Model::new(Arc::new(mesh), materials), whole }))
}

fn image(
    loader: &mut Loader<'_>,
    hash: Option<&Hash>,
) -> Result<Option<Arc<Bitmap<u16>>>, StoreError> {
    let Some(hash) = hash else { return Ok(None) };
    let found = bitmap(loader, hash)?;
    if found.is_none() {
        loader.lose(Lost::ModelMap);
    }
    Ok(found.map(Arc::new))
}

fn bitmap(loader: &mut Loader<'_>, hash: &Hash) -> Result<Option<Bitmap<u16>>, StoreError> {
    let Some(node) = loader.node::<ImageNode>(hash)? else { return Ok(None) };
    let Some(values) = words(loader, &node.values, u16::from_le_bytes)? else { return Ok(None) };
    let extent = Extent { width: node.width, height: node.height };
    let texels = u64::from(node.width) * u64::from(node.height);
    let fits = texels.checked_mul(u64::from(node.components)) == Some(values.len() as u64);
    Ok(fits.then(|| Bitmap::new(extent, node.components as usize, values)).flatten())
}

/// An image of a brush; `None` where it is lost, which is named once.
pub(crate) fn brush_image(
    loader: &mut Loader<'_>,
    hash: &Hash,
) -> Result<Option<GreyImage>, StoreError> {
    if let Some(known) = loader.memo.brush_images.get(hash) {
        return Ok(known.clone());
    }
    let found = bitmap(loader, hash)?.filter(|bitmap| bitmap.components() == 1);
    let found = found.and_then(|bitmap| GreyImage::of_bitmap(&bitmap).ok());
    match &found {
        Some(image) => _ = loader.known.brush_images.insert(image.name(), *hash),
        None => loader.lose(Lost::BrushImage),
    }
    loader.memo.brush_images.insert(*hash, found.clone());
    Ok(found)
}

/// A map that goes through unpainted; `None` where it is lost, which is named.
pub(crate) fn pass_map(
    loader: &mut Loader<'_>,
    hash: &Hash,
) -> Result<Option<PassMap>, StoreError> {
    if let Some(known) = loader.memo.pass_maps.get(hash) {
        return Ok(known.clone());
    }
    let found = read_pass_map(loader, hash)?;
    if found.is_none() {
        loader.lose(Lost::PassMap);
    }
    loader.memo.pass_maps.insert(*hash, found.clone());
    Ok(found)
}

fn read_pass_map(loader: &mut Loader<'_>, hash: &Hash) -> Result<Option<PassMap>, StoreError> {
    let Some(node) = loader.node::<PassMapNode>(hash)? else { return Ok(None) };
    let Some(bytes) = column(loader, &node.bytes)? else { return Ok(None) };
    let bytes: Arc<[u8]> = bytes.into();
    loader.known.map_bytes.insert(&bytes, node.bytes);
    let (kind, media_type, factor) = (node.kind, node.media_type, node.factor);
    Ok(Some(PassMap { kind, media_type, bytes, factor }))
}

/// All bytes of a column; `None` where one of its pieces is lost.
fn column(loader: &mut Loader<'_>, column: &Column) -> Result<Option<Vec<u8>>, StoreError> {
    let mut bytes = Vec::new();
    for piece in &column.pieces {
        let Some(content) = loader.content(Kind::Piece, piece)? else { return Ok(None) };
        loader.known.nodes.insert(*piece);
        // One piece named many times over would fill the memory.
        if (bytes.len() + content.len()) as u64 > column.bytes {
            return Ok(None);
        }
        bytes.extend(content);
    }
    Ok((bytes.len() as u64 == column.bytes).then_some(bytes))
}

fn words<const N: usize, T>(
    loader: &mut Loader<'_>,
    of: &Column,
    word: fn([u8; N]) -> T,
) -> Result<Option<Vec<T>>, StoreError> {
    let Some(bytes) = column(loader, of)? else { return Ok(None) };
    let (words, rest) = bytes.as_chunks::<N>();
    Ok(rest.is_empty().then(|| words.iter().map(|bytes| word(*bytes)).collect()))
}

/// Groups of `N` floats.
fn floats<const N: usize>(
    loader: &mut Loader<'_>,
    of: &Column,
) -> Result<Option<Vec<[f32; N]>>, StoreError> {
    let Some(floats) = words(loader, of, f32::from_le_bytes)? else { return Ok(None) };
    let (groups, rest) = floats.as_chunks::<N>();
    Ok(rest.is_empty().then(|| groups.to_vec()))
}

fn mesh_data(loader: &mut Loader<'_>, node: MeshNode) -> Result<Option<MeshData>, StoreError> {
    let points =
        |groups: Vec<[f32; 3]>| -> Vec<Vec3> { groups.into_iter().map(Vec3::from).collect() };
    let Some(positions) = floats(loader, &node.positions)?.map(points) else { return Ok(None) };
    let rest_positions = floats(loader, &node.rest_positions)?.map(points);
    let Some(rest_positions) = rest_positions else { return Ok(None) };
    let Some(normals) = floats(loader, &node.normals)?.map(points) else { return Ok(None) };
    let Some(uvs) = floats::<2>(loader, &node.uvs)? else { return Ok(None) };
    let Some(colours) = floats::<4>(loader, &node.colours)? else { return Ok(None) };
    let mut indices = |column: &Column| words(loader, column, u32::from_le_bytes);
    let Some(face_starts) = indices(&node.face_starts)? else { return Ok(None) };
    let Some(at) = indices(&node.corner_positions)? else { return Ok(None) };
    let Some(uv) = indices(&node.corner_uvs)? else { return Ok(None) };
    let Some(normal) = indices(&node.corner_normals)? else { return Ok(None) };
    let Some(parts) = indices(&node.face_parts)? else { return Ok(None) };
    let Some(materials) = indices(&node.face_materials)? else { return Ok(None) };
    if at.len() != uv.len() || at.len() != normal.len() {
        return Ok(None);
    }
    let corners = at.into_iter().zip(uv).zip(normal);
    let corners = corners.map(|((position, uv), normal)| Corner { position, uv, normal });
    Ok(Some(MeshData {
        positions,
        rest_positions,
        normals,
        uvs: uvs.into_iter().map(Vec2::from).collect(),
        colours,
        face_starts,
        corners: corners.collect(),
        face_parts: parts.into_iter().map(PartId).collect(),
        face_materials: materials.into_iter().map(MaterialSlot).collect(),
        parts: node.parts,
        material_names: node.material_names,
    }))
}
