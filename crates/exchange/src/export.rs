//! A painted model as files: PNG maps, OBJ with MTL, GLB. All of them appear, or none.
//!
//! Files are called `model_material_map.png`, `model.obj`, `model.mtl` and `model.glb`, with names made
//! safe. One material's maps are in memory at a time.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use document::{PassMap, PassMapKind};
use raster::{Bitmap, EncodedRgb, Observer};
use surface::{MaterialSlot, Surface};

use crate::atomic::Staging;
use crate::error::ExchangeError;
use crate::glb_write::GlbWriter;
use crate::names::{safe_file_stem, safe_file_stems, words};
use crate::obj_write::{MtlMaterial, write_mtl, write_obj};
use crate::png_write::{BitDepth, Tag, write_png};
use crate::text::shown;

/// A material's painted maps, already padded, all of one extent.
#[derive(Debug, Clone, PartialEq)]
pub struct MaterialMaps {
    /// Three components, sRGB-encoded.
    pub base_colour: Bitmap<u16>,
    /// One component, linear; white is rough.
    pub roughness: Bitmap<u16>,
    /// One component, linear; white is metal.
    pub metalness: Bitmap<u16>,
}

/// A material to export, but for its maps.
#[derive(Debug, Clone, Copy)]
pub struct ExportMaterial<'a> {
    /// Its name.
    pub name: &'a str,
    /// What came with it and goes out as it came.
    pub pass_maps: &'a [PassMap],
}

/// Which files to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ExportFiles {
    /// PNG maps, with this many bits; GLB always has its own of 8.
    pub maps: Option<BitDepth>,
    /// An OBJ and an MTL file, which names the maps where they are written.
    pub obj: bool,
    /// A GLB file with all maps in it.
    pub glb: bool,
}

/// What to export.
#[derive(Debug, Clone, Copy)]
pub struct ExportModel<'a> {
    /// The name that files begin with.
    pub name: &'a str,
    /// The surface that was painted.
    pub surface: &'a Surface,
    /// One for each material of its mesh, in that order.
    pub materials: &'a [ExportMaterial<'a>],
}

/// Gives a material's maps when they are wanted: once each, in order.
pub type MapSource<'a> = &'a mut dyn FnMut(MaterialSlot) -> Result<MaterialMaps, ExchangeError>;

/// Writes the files into `folder`, which must be there, and gives their paths. Files of the same names
/// are replaced.
///
/// # Errors
/// [`ExchangeError`] when a file can't be written, when maps are not of the kind that
/// [`MaterialMaps`] says, or when `maps` fails; [`ExchangeError::Cancelled`] when the observer asks.
/// Then no file was written and none replaced.
pub fn export(
    model: &ExportModel<'_>,
    maps: MapSource<'_>,
    files: ExportFiles,
    folder: &Path,
    observer: &dyn Observer,
) -> Result<Vec<PathBuf>, ExchangeError> {
    let needed = model.surface.mesh().material_names().len();
    if model.materials.len() != needed {
        let problem = format!("{} materials given for {needed}", model.materials.len());
        return Err(ExchangeError::file(model.name, problem));
    }
    let mut exporting = Exporting {
        model,
        files,
        stem: safe_file_stem(model.name),
        staging: Staging::new(folder)?,
        glb: files.glb.then(GlbWriter::default),
        described: Vec::new(),
    };
    // Steps: each material, the OBJ, the GLB, naming the files.
    let steps = needed as u64 + 3;
    let names = model.materials.iter().map(|material| material.name);
    let (stems, words) = (safe_file_stems(names.clone()), words(names));
    for (index, (stem, word)) in stems.iter().zip(words).enumerate() {
        observer.progress(index as u64, steps);
        observer.check()?;
        let maps = maps(MaterialSlot(index as u32))?;
        exporting.material(index, stem, word, &maps)?;
    }
    observer.progress(steps - 3, steps);
    observer.check()?;
    exporting.write_obj()?;
    observer.progress(steps - 2, steps);
    observer.check()?;
    exporting.write_glb()?;
    observer.progress(steps - 1, steps);
    observer.check()?;
    let paths = exporting.staging.commit()?;
    observer.progress(steps, steps);
    Ok(paths)
}

/// The names of the files that [`export`] writes, in its order.
pub fn export_names(
    name: &str,
    materials: &[ExportMaterial<'_>],
    files: ExportFiles,
) -> Vec<String> {
    let model = safe_file_stem(name);
    let mut names = Vec::new();
    if files.maps.is_some() {
        let stems = safe_file_stems(materials.iter().map(|material| material.name));
        for (material, stem) in materials.iter().zip(stems) {
            let painted = PAINTED_MAPS.map(|map| map_file(&model, &stem, map, "png"));
            let passed = material.pass_maps.iter().map(|map| pass_file(&model, &stem, map));
            names.extend(painted.into_iter().chain(passed));
        }
    }
    if files.obj {
        names.extend([format!("{model}.mtl"), format!("{model}.obj")]);
    }
    if files.glb {
        names.push(format!("{model}.glb"));
    }
    names
}

const PAINTED_MAPS: [&str; 3] = ["base_colour", "roughness", "metalness"];

fn map_file(model: &str, material: &str, map: &str, extension: &str) -> String {
    format!("{model}_{material}_{map}.{extension}")
}

fn pass_file(model: &str, material: &str, map: &PassMap) -> String {
    let what = match map.kind {
        PassMapKind::Normal => "normal",
        PassMapKind::Emission => "emission",
        PassMapKind::Occlusion => "occlusion",
    };
    let extension = if map.media_type == "image/jpeg" { "jpg" } else { "png" };
    map_file(model, material, what, extension)
}

struct Exporting<'a> {
    model: &'a ExportModel<'a>,
    files: ExportFiles,
    stem: String,
    staging: Staging,
    glb: Option<GlbWriter>,
    described: Vec<MtlMaterial>,
}

impl Exporting<'_> {
    fn material(
        &mut self,
        index: usize,
        stem: &str,
        word: String,
        maps: &MaterialMaps,
    ) -> Result<(), ExchangeError> {
        let ExportMaterial { name, pass_maps } = self.model.materials[index];
        let MaterialMaps { base_colour, roughness, metalness } = maps;
        let components = [base_colour, roughness, metalness].map(Bitmap::components);
        let extents = [roughness.extent(), metalness.extent()];
        if components != [3, 1, 1] || extents != [base_colour.extent(); 2] {
            let problem = "its maps must have 3, 1 and 1 components and one size";
            return Err(ExchangeError::place(
                self.model.name,
                format!("material {}", shown(name)),
                problem,
            ));
        }
        let mut described = MtlMaterial {
            name: word,
            base_colour: EncodedRgb([0, 1, 2].map(|component| mean(base_colour, component))),
            roughness: mean(roughness, 0),
            metalness: mean(metalness, 0),
            emission: None,
            maps: Vec::new(),
        };
        if let Some(depth) = self.files.maps {
            let images = [
                ("map_Kd", base_colour, Tag::Encoded),
                ("map_Pr", roughness, Tag::Linear),
                ("map_Pm", metalness, Tag::Linear),
            ];
            for ((key, image, tag), map) in images.into_iter().zip(PAINTED_MAPS) {
                let file = map_file(&self.stem, stem, map, "png");
                self.staging.write(&file, |to| write_png(to, image, depth, tag))?;
                described.maps.push((key, file));
            }
            for map in pass_maps {
                described.maps.extend(self.pass_map(stem, map)?);
                if map.kind == PassMapKind::Emission {
                    described.emission = Some(map.factor);
                }
            }
        }
        self.described.push(described);
        if let Some(glb) = &mut self.glb {
            glb.add_material(name, [base_colour, roughness, metalness], pass_maps).map_err(
                |error| {
                    ExchangeError::file(self.model.name, format!("a map can't be made: {error}"))
                },
            )?;
        }
        Ok(())
    }

    /// Writes a map that passes through; its MTL key and file. MTL has no key for occlusion.
    fn pass_map(
        &mut self,
        stem: &str,
        map: &PassMap,
    ) -> Result<Option<(&'static str, String)>, ExchangeError> {
        let key = match map.kind {
            PassMapKind::Normal => Some("norm"),
            PassMapKind::Emission => Some("map_Ke"),
            PassMapKind::Occlusion => None,
        };
        let file = pass_file(&self.stem, stem, map);
        self.staging.write(&file, |to| to.write_all(&map.bytes))?;
        Ok(key.map(|key| (key, file)))
    }

    fn write_obj(&mut self) -> Result<(), ExchangeError> {
        if !self.files.obj {
            return Ok(());
        }
        let mesh = self.model.surface.mesh();
        let parts = words(mesh.parts().iter().map(|part| part.name.as_str()));
        let materials: Vec<String> = self.described.iter().map(|m| m.name.clone()).collect();
        let library = format!("{}.mtl", self.stem);
        self.staging.write(&library, |to| write_mtl(to, &self.described))?;
        let file = format!("{}.obj", self.stem);
        self.staging.write(&file, |to| write_obj(to, mesh, &library, &parts, &materials))
    }

    fn write_glb(&mut self) -> Result<(), ExchangeError> {
        let Some(glb) = self.glb.take() else { return Ok(()) };
        let file = format!("{}.glb", self.stem);
        self.staging.write(&file, |to| glb.write(to, self.model.surface))
    }
}

/// The mean of one component, 0..1.
fn mean(image: &Bitmap<u16>, component: usize) -> f32 {
    let values = image.values().iter().skip(component).step_by(image.components());
    let sum: u64 = values.map(|&value| u64::from(value)).sum();
    let count = image.extent().texels().max(1);
    (sum as f64 / count as f64 / 65_535.0) as f32
}
