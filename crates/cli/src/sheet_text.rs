//! Text on the contact sheet, set in Inter (SIL Open Font License 1.1, `assets/Inter-LICENSE.txt`).

use ab_glyph::{Font, FontRef, InvalidFont, PxScale, ScaleFont, point};

use crate::contact_sheet::Sheet;

/// Writes text on sheets.
pub(crate) struct Pen {
    font: FontRef<'static>,
}

impl Pen {
    /// A pen with the built-in font.
    pub(crate) fn new() -> Result<Self, InvalidFont> {
        let font = FontRef::try_from_slice(include_bytes!("../assets/Inter-Regular.ttf"))?;
        Ok(Self { font })
    }

    /// Writes `text` with its baseline at `y` and its left edge at `x`.
    pub(crate) fn write(
        &self,
        sheet: &mut Sheet,
        text: &str,
        at: (f32, f32),
        px: f32,
        colour: [u16; 3],
    ) {
        let font = self.font.as_scaled(PxScale::from(px));
        let mut x = at.0;
        let mut before = None;
        for letter in text.chars() {
            let id = font.glyph_id(letter);
            x += before.map_or(0.0, |before| font.kern(before, id));
            let glyph = id.with_scale_and_position(PxScale::from(px), point(x, at.1));
            if let Some(outline) = self.font.outline_glyph(glyph) {
                let corner = outline.px_bounds().min;
                outline.draw(|dx, dy, covered| {
                    sheet.mix(
                        corner.x as i64 + i64::from(dx),
                        corner.y as i64 + i64::from(dy),
                        colour,
                        covered,
                    );
                });
            }
            x += font.h_advance(id);
            before = Some(id);
        }
    }
}
