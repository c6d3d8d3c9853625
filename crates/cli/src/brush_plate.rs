//! `scumble brushes`: a plate of every brush that comes with the program, each with the same stroke; brushes as files
//! to hand on.

use std::path::Path;

use app::{bring_in_brush, brush_pictures, shared_brush};
use exchange::{write_picture, write_text};
use raster::{Bitmap, Extent};

use crate::arguments::Brushes;
use crate::contact_sheet::{GROUND, QUIET, Sheet, TEXT};
use crate::failure::Failure;
use crate::sheet_text::Pen;
use crate::show::place;

const COLUMNS: u32 = 4;
const STROKE: [u32; 2] = [420, 150];
const LABEL: u32 = 62;
const GAP: u32 = 20;
const MARGIN: u32 = 32;

pub(crate) fn run(command: &Brushes) -> Result<(), Failure> {
    let told = |fault: String| Failure::Brush(fault);
    if let Some(path) = &command.bring_in {
        let name = bring_in_brush(path).map_err(told)?;
        println!("{name}");
    }
    let Some(out) = &command.out else { return Ok(()) };
    let (folder, name) = place(out)?;
    let written = match &command.share {
        Some(brush) => write_text(folder, name, &shared_brush(brush).map_err(told)?)?,
        None => write(folder, name)?,
    };
    println!("{}", written.display());
    Ok(())
}

fn write(folder: &Path, name: &str) -> Result<std::path::PathBuf, Failure> {
    let brushes = brush_pictures(STROKE);
    let rows = (brushes.len() as u32).div_ceil(COLUMNS);
    let ([width, height], pen) = (STROKE, Pen::new());
    let pen = pen.map_err(|error| Failure::Check(error.to_string()))?;
    let extent = Extent {
        width: 2 * MARGIN + COLUMNS * (width + GAP) - GAP,
        height: 2 * MARGIN + rows * (height + LABEL) - GAP,
    };
    let mut sheet = Sheet(Bitmap::filled(extent, 3, GROUND));
    for (number, brush) in (0..).zip(&brushes) {
        let left = MARGIN + number % COLUMNS * (width + GAP);
        let top = MARGIN + number / COLUMNS * (height + LABEL);
        let wide = |pixel: &[u8; 3]| pixel.map(|value| u16::from(value) * 257);
        let stroke: Vec<[u16; 3]> = brush.pixels.iter().map(wide).collect();
        sheet.lay(&stroke, width, left, top);
        let (x, below) = (left as f32, (top + height) as f32);
        pen.write(&mut sheet, &brush.name, (x, below + 20.0), 17.0, TEXT);
        pen.write(&mut sheet, &brush.about, (x, below + 37.0), 13.0, QUIET);
    }
    Ok(write_picture(folder, name, &sheet.0)?)
}
