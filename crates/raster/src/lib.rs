//! Texels: colour types, tiles, sparse planes, sampling, mips and padding.
//!
//! Conventions. A texel value is a `u16`: 0 is 0.0 and 65535 is 1.0. Planes are scalar; a colour is
//! three planes. Row 0 is the top row and `v` points down, as in glTF. Tiles are 64 x 64 texels, row
//! by row. Base colour is stored sRGB-encoded and straight (never premultiplied); coverage has a plane
//! of its own.
//!
//! This crate knows no layer, no mesh, no file, no clock and no thread of its own.

mod bitmap;
mod colour;
mod error;
mod hsv;
mod lanes;
mod mip;
mod observer;
mod packed;
mod padding;
mod plane;
mod resample;
mod srgb_table;
mod tile;
mod tile_set;

pub use bitmap::Bitmap;
pub use colour::{
    EncodedRgb, LinearRgb, Premultiplied, Straight, decode_srgb, encode_srgb, from_unit, to_unit,
};
pub use error::{Cancelled, PageError, RasterError};
pub use hsv::Hsv;
pub use lanes::{Lanes, Work};
pub use mip::{MipChannel, halve_colour, halve_scalar, tile_mips_colour, tile_mips_scalar};
pub use observer::{Observer, Share, Unobserved};
pub use packed::{PackedTexels, TILE_BYTES, differences, texels_of_differences};
pub use padding::{push_pull_colour, push_pull_scalar};
pub use plane::{Extent, Plane, PlaneMark, TextureSize};
pub use resample::{resample_covered, resample_scalar};
pub use srgb_table::{decode_stored, encode_stored};
pub use tile::{
    PagedTexels, TILE_EDGE, TILE_TEXELS, Texels, Tile, TileAt, TileBody, TileRead, texel_index,
};
pub use tile_set::TileSet;
