//! Words as an image: white letters, to be laid on the surface.

use ab_glyph::{Font as _, FontRef, Glyph, ScaleFont as _, point};
use brush::{GreyImage, LONGEST_IMAGE_EDGE};
use raster::{Extent, from_unit};

/// Height of a line, in pixels of the image.
const LINE: f32 = 192.0;
/// Around the letters, in pixels.
const MARGIN: f32 = 12.0;

/// The image of a text; lines break where it says so.
///
/// # Errors
/// One line that says why there is none.
pub(crate) fn lettering(text: &str) -> Result<GreyImage, String> {
    let font = FontRef::try_from_slice(include_bytes!("../assets/Inter-SemiBold.ttf"))
        .map_err(|error| error.to_string())?;
    let lines: Vec<&str> = text.trim_end().lines().collect();
    let widest = widest(&font, &lines, LINE);
    if widest <= 0.0 {
        return Err("there are no letters to lay: type some".to_owned());
    }
    let most = LONGEST_IMAGE_EDGE as f32 - 2.0 * MARGIN;
    let height = LINE * lines.len() as f32;
    // Long texts are drawn smaller, so that they fit.
    let line = LINE * (most / widest).min(most / height).min(1.0);
    let (width, height) = (widest * line / LINE, line * lines.len() as f32);
    let [columns, rows] = [width, height].map(|edge| (edge + 2.0 * MARGIN).ceil() as u32);
    let mut values = vec![0_u16; columns as usize * rows as usize];
    let scaled = font.as_scaled(line);
    for (number, text) in lines.iter().enumerate() {
        let mut x = MARGIN + 0.5 * (width - row_width(&font, text, line));
        let baseline = MARGIN + line * number as f32 + scaled.ascent() * line / scaled.height();
        for glyph in glyphs(&font, text, line) {
            let advance = scaled.h_advance(glyph.id);
            let glyph = Glyph { position: point(x + glyph.position.x, baseline), ..glyph };
            x += advance;
            let Some(outline) = font.outline_glyph(glyph) else { continue };
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, covered| {
                let (column, row) =
                    (corner.x as i64 + i64::from(dx), corner.y as i64 + i64::from(dy));
                let inside = (0..i64::from(columns)).contains(&column)
                    && (0..i64::from(rows)).contains(&row);
                if inside {
                    let value = &mut values[(row * i64::from(columns) + column) as usize];
                    *value = (*value).max(from_unit(covered.min(1.0)));
                }
            });
        }
    }
    let extent = Extent { width: columns, height: rows };
    GreyImage::new(extent, values).map_err(|fault| fault.to_string())
}

/// The letters of a row, each at its own kerning.
fn glyphs<'a>(font: &'a FontRef<'_>, text: &'a str, line: f32) -> impl Iterator<Item = Glyph> + 'a {
    let scaled = font.as_scaled(line);
    let mut last = None;
    text.chars().map(move |letter| {
        let id = scaled.glyph_id(letter);
        let kern = last.map_or(0.0, |last| scaled.kern(last, id));
        last = Some(id);
        Glyph { position: point(kern, 0.0), ..id.with_scale(line) }
    })
}

fn row_width(font: &FontRef<'_>, text: &str, line: f32) -> f32 {
    let scaled = font.as_scaled(line);
    glyphs(font, text, line).map(|glyph| scaled.h_advance(glyph.id) + glyph.position.x).sum()
}

fn widest(font: &FontRef<'_>, lines: &[&str], line: f32) -> f32 {
    let shown = lines.iter().filter(|text| !text.trim().is_empty());
    shown.map(|text| row_width(font, text, line)).fold(0.0, f32::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ink(image: &GreyImage) -> f64 {
        image.values().iter().map(|value| f64::from(*value) / 65_535.0).sum()
    }

    #[test]
    fn more_letters_are_wider_and_lines_stand_below_each_other() {
        let one = lettering("No 7").unwrap();
        let two = lettering("No 7 No 7").unwrap();
        let below = lettering("No 7\nNo 7").unwrap();
        assert!(two.extent().width > one.extent().width * 3 / 2);
        assert_eq!(two.extent().height, one.extent().height);
        assert!(below.extent().height > one.extent().height * 3 / 2);
        assert!((ink(&below) / ink(&one) - 2.0).abs() < 0.02);
    }

    #[test]
    fn a_long_text_fits_and_none_is_told() {
        let long = lettering(&"harbour bell ".repeat(80)).unwrap();
        assert!(long.extent().width <= LONGEST_IMAGE_EDGE && ink(&long) > 100.0);
        for nothing in ["", "   ", "\n\n"] {
            assert!(lettering(nothing).unwrap_err().contains("type some"));
        }
    }
}
