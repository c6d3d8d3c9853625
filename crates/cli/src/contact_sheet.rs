//! The contact sheet: every map of every material, small, on one page.

use editor::ChannelMap;
use raster::{Bitmap, Extent, decode_srgb, encode_srgb, from_unit, to_unit};

use crate::sheet_text::Pen;

const THUMB: u32 = 448;
const GAP: u32 = 16;
const MARGIN: u32 = 32;
const HEAD: u32 = 96;
const ROW_LABEL: u32 = 36;
pub(crate) const GROUND: u16 = 0x2b * 257;
pub(crate) const TEXT: [u16; 3] = [0xe6 * 257; 3];
pub(crate) const QUIET: [u16; 3] = [0xa8 * 257; 3];

/// A page of sRGB texels.
#[derive(Debug)]
pub(crate) struct Sheet(pub(crate) Bitmap<u16>);

impl Sheet {
    /// Mixes a colour into one texel; places off the page are passed over.
    pub(crate) fn mix(&mut self, x: i64, y: i64, colour: [u16; 3], share: f32) {
        let extent = self.0.extent();
        if x < 0 || y < 0 || x >= i64::from(extent.width) || y >= i64::from(extent.height) {
            return;
        }
        for (texel, new) in self.0.texel_mut(x as u32, y as u32).iter_mut().zip(colour) {
            let mixed = f32::from(*texel) + (f32::from(new) - f32::from(*texel)) * share.min(1.0);
            *texel = mixed.round() as u16;
        }
    }

    /// Lays a picture of this width, row by row, onto the page.
    pub(crate) fn lay(&mut self, picture: &[[u16; 3]], width: u32, left: u32, top: u32) {
        for (index, texel) in (0u32..).zip(picture) {
            self.0.texel_mut(left + index % width, top + index / width).copy_from_slice(texel);
        }
    }
}

/// One material's row: its name, what to say of it, and a small image a channel.
#[derive(Debug)]
pub(crate) struct SheetRow {
    name: String,
    remark: String,
    thumbs: Vec<(String, Vec<[u16; 3]>)>,
}

impl SheetRow {
    /// Makes the small images.
    pub(crate) fn new(name: &str, remark: String, maps: &[ChannelMap]) -> Self {
        let thumbs = maps.iter().map(|map| (map.channel.label.clone(), thumbnail(&map.image)));
        Self { name: name.to_owned(), remark, thumbs: thumbs.collect() }
    }
}

/// The page.
pub(crate) fn contact_sheet(
    title: &str,
    rows: &[SheetRow],
) -> Result<Bitmap<u16>, ab_glyph::InvalidFont> {
    let pen = Pen::new()?;
    let columns = rows.iter().map(|row| row.thumbs.len()).max().unwrap_or(0) as u32;
    let extent = Extent {
        width: 2 * MARGIN + columns * THUMB + columns.saturating_sub(1) * GAP,
        height: MARGIN + HEAD + rows.len() as u32 * (ROW_LABEL + THUMB + GAP),
    };
    let mut sheet = Sheet(Bitmap::filled(extent, 3, GROUND));
    pen.write(&mut sheet, title, (MARGIN as f32, 62.0), 32.0, TEXT);
    for (number, row) in (0u32..).zip(rows) {
        let top = HEAD + number * (ROW_LABEL + THUMB + GAP);
        let baseline = (top + 24) as f32;
        pen.write(&mut sheet, &row.name, (MARGIN as f32, baseline), 22.0, TEXT);
        for (column, (label, thumb)) in (0u32..).zip(&row.thumbs) {
            let left = MARGIN + column * (THUMB + GAP);
            let text = if column == 0 { &row.remark } else { label };
            let indent = if column == 0 { 120.0 } else { 0.0 };
            pen.write(&mut sheet, text, (left as f32 + indent, baseline), 18.0, QUIET);
            sheet.lay(thumb, THUMB, left, top + ROW_LABEL);
        }
    }
    Ok(sheet.0)
}

/// A small version, averaged in linear light where the image is a colour.
fn thumbnail(image: &Bitmap<u16>) -> Vec<[u16; 3]> {
    let extent = image.extent();
    let colour = image.components() == 3;
    let decode = |value: u16| if colour { decode_srgb(to_unit(value)) } else { to_unit(value) };
    (0..THUMB * THUMB)
        .map(|index| {
            let columns = span(index % THUMB, extent.width);
            let rows = span(index / THUMB, extent.height);
            let mut sum = [0.0f32; 3];
            let mut count = 0.0;
            for y in rows {
                for x in columns.clone() {
                    let texel = image.texel(x, y);
                    for (component, sum) in sum.iter_mut().enumerate() {
                        *sum += decode(texel[if colour { component } else { 0 }]);
                    }
                    count += 1.0;
                }
            }
            sum.map(|sum| {
                let mean = sum / count;
                from_unit(if colour { encode_srgb(mean) } else { mean })
            })
        })
        .collect()
}

fn span(index: u32, edge: u32) -> std::ops::Range<u32> {
    let from = (u64::from(index) * u64::from(edge) / u64::from(THUMB)) as u32;
    let to = (u64::from(index + 1) * u64::from(edge) / u64::from(THUMB)) as u32;
    from..to.max(from + 1)
}
