//! Materials of OBJ files. The library parses MTL; it is handed only lines that `mtl_lines` checked.
//!
//! Rules. `Kd` is sRGB-encoded, as `map_Kd` is (common practice, no source: MTL names no colour space);
//! a map is multiplied by its number, colour in linear light. A number of 0 beside a map would make the
//! map void and is taken for 1, with a note. `Pr` and `Pm` are roughness and metalness; without `Pr`,
//! roughness comes from `Ns` (see [`roughness_of_exponent`]). `norm` and `map_Ke` pass through; bump
//! maps are heights, which we do not keep. What is missing is a note, what is broken an error.

use std::path::Path;

use document::{ModelMaterial, PassMapKind};
use raster::{EncodedRgb, Observer};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::error::ExchangeError;
use crate::folder::{Beside, FetchError};
use crate::maps::{Maps, Want, pass_map};
use crate::mtl_lines::{Checked, check};
use crate::notes::Notes;
use crate::text::shown;

/// The materials called `names`, from the libraries that `file` names at their lines.
pub(crate) fn read_materials(
    file: &str,
    libraries: &[(String, u64)],
    names: &[String],
    beside: &dyn Beside,
    notes: &mut Notes,
    observer: &dyn Observer,
) -> Result<Vec<ModelMaterial>, ExchangeError> {
    let mut described: FxHashMap<String, Described> = FxHashMap::default();
    let mut read = FxHashSet::default();
    for (library, line) in libraries.iter().filter(|(library, _)| read.insert(library)) {
        if Path::new(file).file_name().is_some_and(|own| own.to_string_lossy() == **library) {
            let problem = "this names the model itself as its material library; name the MTL file";
            return Err(ExchangeError::line(file, *line, problem));
        }
        for (name, bytes) in fetch_library(file, library, *line, beside, notes)? {
            observer.check()?;
            read_library(&name, &bytes, &mut described, notes)?;
        }
    }
    let mut maps = Maps::default();
    let mut material = |name: &String| {
        observer.check()?;
        let Some(described) = described.get(name) else {
            if !libraries.is_empty() {
                notes.add(format!("material {} is in no MTL file: it is grey", shown(name)));
            }
            return Ok(ModelMaterial::default());
        };
        Making { described, beside, maps: &mut maps, notes }.material()
    };
    names.iter().map(&mut material).collect()
}

type Library = (String, Vec<u8>);

/// The library; where there is none of the whole name, those of each word, as MTL allows several.
fn fetch_library(
    file: &str,
    name: &str,
    line: u64,
    beside: &dyn Beside,
    notes: &mut Notes,
) -> Result<Vec<Library>, ExchangeError> {
    let mut found = Vec::new();
    let words: Vec<&str> = name.split_whitespace().collect();
    let mut fetch = |name: &str, last_try: bool| match beside.fetch(name) {
        Ok(bytes) => {
            found.push((name.to_owned(), bytes));
            Ok(true)
        }
        Err(FetchError::Missing) => {
            if last_try {
                notes.add(format!("material library {} is not there", shown(name)));
            }
            Ok(false)
        }
        Err(error) => Err(error.at_line(file, line, name)),
    };
    if !fetch(name, words.len() < 2)? && words.len() > 1 {
        for word in words {
            fetch(word, true)?;
        }
    }
    Ok(found)
}

/// A material as its library describes it.
struct Described {
    library: String,
    material: tobj::Material,
    lines: FxHashMap<&'static str, u64>,
    normal_scale: f32,
}

fn read_library(
    library: &str,
    bytes: &[u8],
    described: &mut FxHashMap<String, Described>,
    notes: &mut Notes,
) -> Result<(), ExchangeError> {
    let Checked { text, places } = check(library, bytes, notes)?;
    let (materials, _) = tobj::load_mtl_buf(&mut text.as_bytes())
        .map_err(|error| ExchangeError::file(library, error.to_string()))?;
    for (material, place) in materials.into_iter().zip(places) {
        let name = material.name.clone();
        let (lines, normal_scale) = (place.lines, place.normal_scale);
        let new = Described { library: library.to_owned(), material, lines, normal_scale };
        if described.insert(name.clone(), new).is_some() {
            notes.add(format!("material {} is described twice: the last counts", shown(&name)));
        }
    }
    Ok(())
}

/// Perceptual roughness of a Phong exponent: Walter, Marschner, Li, Torrance, "Microfacet Models for
/// Refraction through Rough Surfaces", 2007, section 5.2 (from memory): n = 2 / alpha^2 - 2; and glTF's
/// alpha = roughness^2.
pub(crate) fn roughness_of_exponent(exponent: f32) -> f32 {
    (2.0 / (exponent.max(0.0) + 2.0)).sqrt().sqrt()
}

/// The other way round, held within MTL's 0 to 1000.
pub(crate) fn exponent_of_roughness(roughness: f32) -> f32 {
    let alpha = (roughness * roughness).max(1e-3);
    (2.0 / (alpha * alpha) - 2.0).clamp(0.0, 1000.0)
}

struct Making<'a> {
    described: &'a Described,
    beside: &'a dyn Beside,
    maps: &'a mut Maps,
    notes: &'a mut Notes,
}

impl Making<'_> {
    fn material(&mut self) -> Result<ModelMaterial, ExchangeError> {
        let source = &self.described.material;
        let number = |key: &str| source.unknown_param.get(key).and_then(|v| v.parse::<f32>().ok());
        let (roughness, metalness) = (number("Pr"), number("Pm"));
        let mut made = ModelMaterial::default();
        if let Some(image) = source.diffuse_texture.as_deref() {
            let factor = self.factor("Kd", source.diffuse.unwrap_or([1.0; 3]));
            let factor = EncodedRgb(factor).decode().0;
            made.base_colour_map = self.map("map_Kd", image, Want::Colour(factor))?;
        }
        if let Some(colour) = source.diffuse {
            made.base_colour = EncodedRgb(colour.map(|value| value.clamp(0.0, 1.0)));
        }
        if let Some(image) = source.unknown_param.get("map_Pr") {
            let [factor, ..] = self.factor("Pr", [roughness.unwrap_or(1.0); 3]);
            made.roughness_map = self.map("map_Pr", image, Want::Scalar(0, factor))?;
        }
        if let Some(image) = source.unknown_param.get("map_Pm") {
            let [factor, ..] = self.factor("Pm", [metalness.unwrap_or(1.0); 3]);
            made.metalness_map = self.map("map_Pm", image, Want::Scalar(0, factor))?;
        }
        let from_exponent = source.shininess.map(roughness_of_exponent);
        made.roughness = roughness.or(from_exponent).unwrap_or(made.roughness).clamp(0.0, 1.0);
        made.metalness = metalness.unwrap_or(0.0).clamp(0.0, 1.0);
        self.pass_maps(&mut made)?;
        Ok(made)
    }

    fn pass_maps(&mut self, made: &mut ModelMaterial) -> Result<(), ExchangeError> {
        let source = &self.described.material;
        let emission = source.emissive.unwrap_or([0.0; 3]);
        let lit = emission.iter().any(|&value| value > 0.0);
        let glow = if lit { emission.map(|value| value.clamp(0.0, 1.0)) } else { [1.0; 3] };
        let scale = [self.described.normal_scale; 3];
        let named = |key: &str| source.unknown_param.get(key);
        for (key, kind, image, factor) in [
            ("norm", PassMapKind::Normal, named("norm"), scale),
            ("map_Ke", PassMapKind::Emission, named("map_Ke"), glow),
        ] {
            let Some(image) = image else { continue };
            let Some(bytes) = self.fetch(key, image)? else { continue };
            made.pass_maps.extend(pass_map(kind, image, bytes, factor, self.notes)?);
        }
        if lit && named("map_Ke").is_none() {
            let name = shown(&source.name);
            self.notes.add(format!("material {name}: its emission has no map and was left out"));
        }
        Ok(())
    }

    fn factor(&mut self, key: &str, factor: [f32; 3]) -> [f32; 3] {
        if factor == [0.0; 3] {
            let name = shown(&self.described.material.name);
            self.notes.add(format!("material {name}: {key} is 0 beside a map and was taken for 1"));
            return [1.0; 3];
        }
        factor.map(|value| value.clamp(0.0, 1.0))
    }

    fn map(
        &mut self,
        key: &'static str,
        image: &str,
        want: Want,
    ) -> Result<Option<std::sync::Arc<raster::Bitmap<u16>>>, ExchangeError> {
        let Some(bytes) = self.fetch(key, image)? else { return Ok(None) };
        self.maps.map(image, want, || Ok(bytes), self.notes).map(Some)
    }

    fn fetch(&mut self, key: &'static str, image: &str) -> Result<Option<Vec<u8>>, ExchangeError> {
        match self.beside.fetch(image) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(FetchError::Missing) => {
                let name = shown(&self.described.material.name);
                self.notes.add(format!("material {name}: {} is not there", shown(image)));
                Ok(None)
            }
            Err(error) => {
                let line = self.described.lines.get(key).copied().unwrap_or(1);
                Err(error.at_line(&self.described.library, line, image))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponent_and_roughness_undo_each_other() {
        for roughness in [0.25f32, 0.5, 0.9, 1.0] {
            let back = roughness_of_exponent(exponent_of_roughness(roughness));
            assert!((back - roughness).abs() < 1e-4, "{roughness} {back}");
        }
        assert_eq!(exponent_of_roughness(0.0), 1000.0);
    }
}
