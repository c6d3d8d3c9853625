//! Writes everything that can be written of a painted document: maps, OBJ with MTL, GLB.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::{Material, MaterialId};
use editor::{ChannelMap, Editor};
use exchange::{
    BitDepth, ExchangeError, ExportFiles, ExportMaterial, ExportModel, MaterialMaps, export,
};
use layers::ChannelId;
use raster::{Bitmap, Unobserved};
use surface::MaterialSlot;

use crate::arguments::Depth;
use crate::failure::Failure;
use crate::progress::Bar;

/// Where to, under which name, and how.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output<'a> {
    pub(crate) folder: &'a Path,
    pub(crate) name: &'a str,
    pub(crate) depth: Depth,
}

/// Writes the files and gives their paths; `see` is shown each material's maps on the way.
pub(crate) fn write_everything(
    editor: &mut Editor,
    output: &Output<'_>,
    mut see: impl FnMut(&Material, &[ChannelMap]),
) -> Result<Vec<PathBuf>, Failure> {
    make_folder(output.folder)?;
    let materials: Vec<Arc<Material>> = editor.document().materials.clone();
    let surface = editor.surface(&Unobserved)?;
    let named: Vec<ExportMaterial<'_>> = materials
        .iter()
        .map(|material| ExportMaterial { name: &material.name, pass_maps: &material.pass_maps })
        .collect();
    let model = ExportModel { name: output.name, surface: &surface, materials: &named };
    let depth = match output.depth {
        Depth::Eight => BitDepth::Eight,
        Depth::Sixteen => BitDepth::Sixteen,
    };
    let files = ExportFiles { maps: Some(depth), obj: true, glb: true };
    let mut failed = None;
    let mut source = |slot: MaterialSlot| {
        let made = editor.maps(MaterialId(slot.0), &Unobserved).map_err(|error| {
            let file = output.name.to_owned();
            let refused = ExchangeError::File { file, problem: error.to_string() };
            failed = Some(error);
            refused
        })?;
        see(&materials[slot.0 as usize], &made);
        Ok(material_maps(made))
    };
    let written = export(&model, &mut source, files, output.folder, &Bar::new("writing"));
    match failed {
        Some(error) => Err(error.into()),
        None => Ok(written?),
    }
}

fn material_maps(made: Vec<ChannelMap>) -> MaterialMaps {
    let mut maps = MaterialMaps { base_colour: empty(3), roughness: empty(1), metalness: empty(1) };
    for map in made {
        match map.channel.id {
            ChannelId::BASE_COLOUR => maps.base_colour = map.image,
            ChannelId::ROUGHNESS => maps.roughness = map.image,
            ChannelId::METALNESS => maps.metalness = map.image,
            _ => {}
        }
    }
    maps
}

fn empty(components: usize) -> Bitmap<u16> {
    Bitmap::filled(raster::Extent { width: 1, height: 1 }, components, 0)
}

fn make_folder(folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|error| Failure::Text {
        path: folder.to_owned(),
        reason: format!("can't be made: {error}"),
    })
}
