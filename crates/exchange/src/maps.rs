//! Images as the maps of a material: multiplied by their factors, each made once.

use std::sync::Arc;

use document::{PassMap, PassMapKind};
use raster::{Bitmap, decode_srgb, encode_srgb, from_unit, to_unit};
use rustc_hash::FxHashMap;

use crate::error::ExchangeError;
use crate::image_read::{ImageUse, image_extent, read_image_bytes};
use crate::notes::Notes;

/// Which map to make of an image.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Want {
    /// Three components, sRGB-encoded, times a factor in linear light.
    Colour([f32; 3]),
    /// One component, linear, times a factor. A grey image has only its first.
    Scalar(usize, f32),
}

impl Want {
    fn use_of(self) -> ImageUse {
        match self {
            Self::Colour(_) => ImageUse::Colour,
            Self::Scalar(..) => ImageUse::Values,
        }
    }

    fn key(self) -> (usize, [u32; 3]) {
        match self {
            Self::Colour(factor) => (usize::MAX, factor.map(f32::to_bits)),
            Self::Scalar(component, factor) => (component, [factor.to_bits(), 0, 0]),
        }
    }
}

type Key = (String, (usize, [u32; 3]));

/// The maps made so far, and the image decoded last, since one image often gives two maps.
#[derive(Debug, Default)]
pub(crate) struct Maps {
    made: FxHashMap<Key, Arc<Bitmap<u16>>>,
    last: Option<(String, ImageUse, Bitmap<u16>)>,
}

impl Maps {
    /// The map of the image that `fetch` gives; `name` tells images apart.
    pub(crate) fn map(
        &mut self,
        name: &str,
        want: Want,
        fetch: impl FnOnce() -> Result<Vec<u8>, ExchangeError>,
        notes: &mut Notes,
    ) -> Result<Arc<Bitmap<u16>>, ExchangeError> {
        let key = (name.to_owned(), want.key());
        if let Some(map) = self.made.get(&key) {
            return Ok(Arc::clone(map));
        }
        let image = self.image(name, want.use_of(), fetch, notes)?;
        let map = Arc::new(make(image, want));
        self.made.insert(key, Arc::clone(&map));
        Ok(map)
    }

    fn image(
        &mut self,
        name: &str,
        wanted: ImageUse,
        fetch: impl FnOnce() -> Result<Vec<u8>, ExchangeError>,
        notes: &mut Notes,
    ) -> Result<&Bitmap<u16>, ExchangeError> {
        let (last_name, last_use, bitmap) = match self.last.take() {
            Some(last) if last.0 == name && last.1 == wanted => last,
            _ => {
                let image = read_image_bytes(name, &fetch()?, wanted)?;
                image.notes.into_iter().for_each(|note| notes.add(note));
                (name.to_owned(), wanted, image.bitmap)
            }
        };
        Ok(&self.last.insert((last_name, last_use, bitmap)).2)
    }
}

fn make(image: &Bitmap<u16>, want: Want) -> Bitmap<u16> {
    let components = image.components();
    let texels = image.values().chunks_exact(components);
    let (made, values) = match want {
        Want::Colour(factor) => (3, colours(texels, components, factor)),
        Want::Scalar(component, factor) => {
            let component = if components < 3 { 0 } else { component };
            let value = |texel: &[u16]| scaled(texel[component], factor);
            (1, texels.map(value).collect())
        }
    };
    Bitmap::new(image.extent(), made, values)
        .unwrap_or_else(|| Bitmap::filled(image.extent(), made, 0))
}

fn colours<'a>(
    texels: impl Iterator<Item = &'a [u16]>,
    components: usize,
    factor: [f32; 3],
) -> Vec<u16> {
    let tables = factor.map(|factor| {
        if factor == 1.0 {
            return Vec::new();
        }
        let times = |v: u16| from_unit(encode_srgb((decode_srgb(to_unit(v)) * factor).min(1.0)));
        (0..=u16::MAX).map(times).collect::<Vec<u16>>()
    });
    let colour = |texel: &[u16]| -> [u16; 3] {
        let rgb = if components < 3 { [texel[0]; 3] } else { [texel[0], texel[1], texel[2]] };
        std::array::from_fn(|c| tables[c].get(usize::from(rgb[c])).copied().unwrap_or(rgb[c]))
    };
    texels.flat_map(colour).collect()
}

fn scaled(value: u16, factor: f32) -> u16 {
    if factor == 1.0 { value } else { from_unit(to_unit(value) * factor) }
}

/// An image that passes through byte for byte; `None`, with a note, where it is neither PNG nor JPEG,
/// the only kinds that glTF takes.
pub(crate) fn pass_map(
    kind: PassMapKind,
    name: &str,
    bytes: Vec<u8>,
    factor: [f32; 3],
    notes: &mut Notes,
) -> Result<Option<PassMap>, ExchangeError> {
    let media_type = if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        "image/png"
    } else if bytes.starts_with(&[0xFF, 0xD8, 0xFF]) {
        "image/jpeg"
    } else {
        notes.add(format!("{name} was left out: only PNG and JPEG images pass through"));
        return Ok(None);
    };
    image_extent(name, &bytes)?;
    let media_type = media_type.to_owned();
    Ok(Some(PassMap { kind, media_type, bytes: bytes.into(), factor }))
}
