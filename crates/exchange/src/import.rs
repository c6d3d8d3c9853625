//! Models from files. What a file is, its content says first and its name second.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use document::Model;
use raster::Observer;

use crate::error::ExchangeError;
use crate::folder::{Beside, Folder};
use crate::gltf_read::read_gltf;
use crate::obj_read::read_obj;
use crate::obj_scan::Input;
use crate::text::shown_path;

/// A model that was read.
#[derive(Debug, Clone)]
pub struct Imported {
    /// The model.
    pub model: Model,
    /// What was left out or taken otherwise than it may have been meant: plain lines for the person at
    /// the screen.
    pub notes: Vec<String>,
}

enum Format {
    Obj,
    Gltf,
}

/// Reads an OBJ (with MTL), glTF or GLB file and the files that it names, which must lie in its folder
/// or below.
///
/// # Errors
/// [`ExchangeError`] naming file and place; [`ExchangeError::Cancelled`] when the observer asks.
pub fn read_model(path: &Path, observer: &dyn Observer) -> Result<Imported, ExchangeError> {
    let name = shown_path(path);
    let opening = |error| ExchangeError::io(path, "opening", error);
    let metadata = std::fs::metadata(path).map_err(opening)?;
    if !metadata.is_file() {
        return Err(ExchangeError::file(&name, "this is no file; name an OBJ, glTF or GLB file"));
    }
    let mut first = Vec::new();
    let file = File::open(path).map_err(opening)?;
    file.take(4096).read_to_end(&mut first).map_err(opening)?;
    let beside = Folder::of(path);
    match format_of(&name, path, &first)? {
        Format::Obj => {
            let open = || -> io::Result<Input<'_>> {
                Ok(Box::new(BufReader::with_capacity(1 << 18, File::open(path)?)))
            };
            read_obj(&name, metadata.len(), &open, &beside, observer)
        }
        Format::Gltf => {
            let bytes = std::fs::read(path).map_err(opening)?;
            read_gltf(&name, &bytes, &beside, observer)
        }
    }
}

/// Reads a model that is in memory; `name` is for messages and, by its extension, the format where the
/// content does not tell. `beside` has the files that it names.
///
/// # Errors
/// As [`read_model`].
pub fn read_model_bytes(
    name: &str,
    bytes: &[u8],
    beside: &dyn Beside,
    observer: &dyn Observer,
) -> Result<Imported, ExchangeError> {
    match format_of(name, Path::new(name), bytes)? {
        Format::Obj => {
            let open = || -> io::Result<Input<'_>> { Ok(Box::new(bytes)) };
            read_obj(name, bytes.len() as u64, &open, beside, observer)
        }
        Format::Gltf => read_gltf(name, bytes, beside, observer),
    }
}

fn format_of(name: &str, path: &Path, first: &[u8]) -> Result<Format, ExchangeError> {
    if first.is_empty() {
        return Err(ExchangeError::file(name, "the file is empty; export the model again"));
    }
    let text = first.strip_prefix(crate::text::BYTE_ORDER_MARK).unwrap_or(first);
    if first.starts_with(b"glTF") || text.trim_ascii_start().starts_with(b"{") {
        return Ok(Format::Gltf);
    }
    let extension = path.extension().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
    match extension.as_str() {
        "obj" => Ok(Format::Obj),
        "glb" => Err(ExchangeError::place(
            name,
            "header",
            "it does not begin with glTF, so this is no GLB file; export the model again",
        )),
        "gltf" => Err(ExchangeError::line(
            name,
            1,
            "it does not begin with a brace, so this is no glTF file; export the model again",
        )),
        _ => Err(ExchangeError::file(name, "this is no model that is read; give OBJ, glTF or GLB")),
    }
}
