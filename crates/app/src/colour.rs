//! Colours as people choose them: by hue, saturation and value, or by a hex code.
//!
//! All of it is about sRGB-encoded values, as base colour is stored.

mod hex;

pub(crate) use hex::{hex_text, parse_hex};
pub(crate) use raster::Hsv;
