//! A glTF or GLB file as its JSON and its buffers.

use std::sync::Arc;

use base64::Engine as _;
use base64::engine::DecodePaddingMode;
use base64::engine::general_purpose::{GeneralPurpose, GeneralPurposeConfig};
use gltf::json::Root;
use rustc_hash::FxHashMap;

use crate::error::ExchangeError;
use crate::folder::Beside;
use crate::notes::Notes;
use crate::text::{BYTE_ORDER_MARK, UTF16, looks_like_utf16, shown};

const REMEDY: &str = "export the model again";

/// Extensions that we read, or that change nothing that we keep.
const READ: [&str; 2] = ["KHR_mesh_quantization", "KHR_materials_unlit"];

/// The JSON, and the binary chunk of a GLB.
pub(crate) fn open(
    file: &str,
    bytes: &[u8],
    notes: &mut Notes,
) -> Result<(Root, Option<Vec<u8>>), ExchangeError> {
    let is_binary = bytes.starts_with(b"glTF");
    let (json, blob) = if is_binary { split(file, bytes)? } else { (bytes.to_vec(), None) };
    if looks_like_utf16(&json) {
        return Err(ExchangeError::file(file, UTF16));
    }
    let json = json.strip_prefix(BYTE_ORDER_MARK).unwrap_or(&json);
    let root = Root::from_slice(json).map_err(|error| {
        let older = version_of(json).filter(|version| !version.starts_with("2."));
        older.map_or_else(|| broken(file, is_binary, &error), |version| unread(file, &version))
    })?;
    if !root.asset.version.starts_with("2.") {
        return Err(unread(file, &root.asset.version));
    }
    check_extensions(file, &root, notes)?;
    Ok((root, blob))
}

fn broken(file: &str, is_binary: bool, error: &serde_json::Error) -> ExchangeError {
    let whole = error.to_string();
    let reason = whole.split(" at line ").next().unwrap_or_default();
    let problem = format!("the JSON is broken: {}; {REMEDY}", reason.replace('\n', " "));
    if is_binary {
        let place = format!("JSON chunk, line {} column {}", error.line(), error.column());
        ExchangeError::place(file, place, problem)
    } else {
        ExchangeError::line(file, error.line().max(1) as u64, problem)
    }
}

fn unread(file: &str, version: &str) -> ExchangeError {
    let problem = format!("glTF version {} is not read; export it as glTF 2.0", shown(version));
    ExchangeError::file(file, problem)
}

/// The version that a text claims, for one whose shape is another: glTF 1 names things by maps.
fn version_of(json: &[u8]) -> Option<String> {
    let root: serde_json::Value = serde_json::from_slice(json).ok()?;
    Some(root["asset"]["version"].as_str()?.to_owned())
}

fn check_extensions(file: &str, root: &Root, notes: &mut Notes) -> Result<(), ExchangeError> {
    for extension in &root.extensions_required {
        if !READ.contains(&extension.as_str()) {
            let problem = format!(
                "it can't be read without the extension {}, which is unknown here; export the model \
                 without it",
                shown(extension)
            );
            return Err(ExchangeError::place(file, "extensionsRequired", problem));
        }
    }
    for extension in root.extensions_used.iter().filter(|name| !READ.contains(&name.as_str())) {
        notes.add(format!("the extension {} is not kept", shown(extension)));
    }
    Ok(())
}

type Chunks = (Vec<u8>, Option<Vec<u8>>);

fn split(file: &str, bytes: &[u8]) -> Result<Chunks, ExchangeError> {
    let field = |at: usize| {
        let field = bytes.get(at..at + 4)?;
        Some(u32::from_le_bytes([field[0], field[1], field[2], field[3]]))
    };
    let (Some(version), Some(length)) = (field(4), field(8)) else {
        return Err(ExchangeError::place(file, "header", format!("it is cut short; {REMEDY}")));
    };
    if version != 2 {
        let problem = format!("GLB version {version} is not read; export it as glTF 2.0");
        return Err(ExchangeError::place(file, "header", problem));
    }
    // The library subtracts the header's size from this number.
    if length < 20 || length as usize > bytes.len() {
        let problem = format!("it tells of {length} bytes, the file has {}; {REMEDY}", bytes.len());
        return Err(ExchangeError::place(file, "header", problem));
    }
    let glb = gltf::Glb::from_slice(&bytes[..length as usize])
        .map_err(|error| ExchangeError::place(file, "chunks", format!("{error}; {REMEDY}")))?;
    Ok((glb.json.into_owned(), glb.bin.map(std::borrow::Cow::into_owned)))
}

/// Every buffer's bytes.
pub(crate) fn load_buffers(
    file: &str,
    root: &Root,
    blob: Option<Vec<u8>>,
    beside: &dyn Beside,
) -> Result<Vec<Arc<[u8]>>, ExchangeError> {
    let mut by_uri: FxHashMap<&str, Arc<[u8]>> = FxHashMap::default();
    let mut blob = blob;
    let mut loaded = Vec::with_capacity(root.buffers.len());
    for (index, buffer) in root.buffers.iter().enumerate() {
        let place = format!("buffer {index}");
        let known = buffer.uri.as_ref().and_then(|uri| by_uri.get(uri.as_str()));
        let bytes: Arc<[u8]> = if let Some(bytes) = known {
            Arc::clone(bytes)
        } else if let Some(uri) = &buffer.uri {
            load_uri(file, &place, uri, beside)?.into()
        } else if let Some(bytes) = blob.take().filter(|_| index == 0) {
            bytes.into()
        } else {
            return Err(ExchangeError::place(file, place, format!("it has no data; {REMEDY}")));
        };
        if let Some(uri) = &buffer.uri {
            by_uri.insert(uri, Arc::clone(&bytes));
        }
        if buffer.byte_length.0 > bytes.len() as u64 {
            let (told, has) = (buffer.byte_length.0, bytes.len());
            let problem = format!("it should have {told} bytes but has {has}; {REMEDY}");
            return Err(ExchangeError::place(file, place, problem));
        }
        loaded.push(bytes);
    }
    Ok(loaded)
}

/// The bytes that a URI stands for: data in itself, or a file beside the model.
pub(crate) fn load_uri(
    file: &str,
    place: &str,
    uri: &str,
    beside: &dyn Beside,
) -> Result<Vec<u8>, ExchangeError> {
    let fail = |problem: String| Err(ExchangeError::place(file, place, problem));
    if let Some(data) = uri.strip_prefix("data:") {
        let Some((head, data)) = data.split_once(',') else {
            return fail(format!("its data URI has no comma; {REMEDY}"));
        };
        if !head.ends_with(";base64") {
            return fail(format!("its data URI is not base64; {REMEDY}"));
        }
        let config =
            GeneralPurposeConfig::new().with_decode_padding_mode(DecodePaddingMode::Indifferent);
        let engine = GeneralPurpose::new(&base64::alphabet::STANDARD, config);
        return match engine.decode(data) {
            Ok(bytes) => Ok(bytes),
            Err(error) => fail(format!("its data URI is broken: {error}; {REMEDY}")),
        };
    }
    let Some(name) = percent_decoded(uri) else {
        return fail(format!("{} is no URI; {REMEDY}", shown(uri)));
    };
    beside.fetch(&name).map_err(|error| error.at_place(file, place.to_owned(), &name))
}

/// RFC 3986, section 2.1.
fn percent_decoded(uri: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(uri.len());
    let mut rest = uri.as_bytes();
    while let Some((&byte, after)) = rest.split_first() {
        rest = after;
        if byte != b'%' {
            bytes.push(byte);
            continue;
        }
        let (digits, after) = rest.split_at_checked(2)?;
        let digits = std::str::from_utf8(digits).ok()?;
        bytes.push(u8::from_str_radix(digits, 16).ok()?);
        rest = after;
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percent_signs_stand_for_bytes() {
        assert_eq!(percent_decoded("oak%20b%C3%B6ard.png").unwrap(), "oak böard.png");
        for broken in ["%", "%4", "%zz", "%ff"] {
            assert_eq!(percent_decoded(broken), None);
        }
    }
}
