//! A stroke with the brush in hand, drawn live: by the machine that paints the model, on the folded plaque.
//!
//! The plaque's ground goes from dark to light, so that any paint shows and one sees how well it covers. The
//! pen presses from nothing to full and lets go again.

use std::sync::Arc;

use brush::{
    BrushSettings, LeftOut, LiveStroke, PenSample, Smoothing, StrokeBuffers, StrokeKind,
    StrokeStart,
};
use egui::{Color32, ColorImage, Image, Sense, TextureHandle, TextureOptions, Ui, Vec2, vec2};
use glam::DVec2;
use layers::Value;
use raster::{TILE_EDGE, Tile, TileAt};

use super::plaque::Plaque;
use crate::theme;
use crate::widgets::to_colour32;

/// The card's height, in points.
const HEIGHT: f32 = 72.0;
/// Its greatest width.
const WIDEST: f32 = 480.0;
/// The largest radius that is drawn, as a share of the card's height: a larger brush would only fill it.
const LARGEST: f64 = 0.26;
/// The smallest, in texels: below, dabs get many and show nothing more.
const SMALLEST_TEXELS: f64 = 1.0;
/// Pen reports along the stroke.
const SAMPLES: u32 = 48;

/// All that the picture depends on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shown {
    /// The size of its tooth is in points.
    pub(crate) settings: BrushSettings,
    /// Radius in points.
    pub(crate) radius_points: f64,
    /// What is painted.
    pub(crate) paint: Value,
    /// Takes paint off a painted plaque.
    pub(crate) erases: bool,
}

/// What of the picture depends on the window.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Ground {
    size_px: [u32; 2],
    pixels_per_point: f32,
    dark: Color32,
    light: Color32,
}

impl Ground {
    fn of(ui: &Ui, size: Vec2) -> Self {
        let pixels_per_point = ui.ctx().pixels_per_point();
        let size_px = [size.x, size.y].map(|points| (points * pixels_per_point).round() as u32);
        let colours = theme::colours(ui);
        Self { size_px, pixels_per_point, dark: colours.card_dark, light: colours.card_light }
    }
}

/// The card, and what is kept so that it is made anew only where something changed.
#[derive(Default)]
pub(crate) struct StrokeCard {
    plaque: Option<Plaque>,
    buffers: StrokeBuffers,
    drawn: Option<(Shown, Ground)>,
    texture: Option<TextureHandle>,
}

impl std::fmt::Debug for StrokeCard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("StrokeCard").field("drawn", &self.drawn).finish_non_exhaustive()
    }
}

impl StrokeCard {
    /// Shows the card as wide as there is room.
    pub(crate) fn show(&mut self, ui: &mut Ui, shown: &Shown) {
        let size = vec2(ui.available_width().clamp(32.0, WIDEST), HEIGHT);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let enabled = ui.is_enabled();
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::Role::Image, enabled, "A stroke with this brush")
        });
        if !ui.is_rect_visible(rect) {
            return;
        }
        let ground = Ground::of(ui, size);
        let wanted = Some((shown.clone(), ground));
        if self.drawn != wanted {
            let image = self.picture(shown, &ground);
            if let Some(texture) = &mut self.texture {
                texture.set(image, TextureOptions::LINEAR);
            } else {
                let made = ui.ctx().load_texture("stroke", image, TextureOptions::LINEAR);
                self.texture = Some(made);
            }
            self.drawn = wanted;
        }
        if let Some(texture) = &self.texture {
            Image::new((texture.id(), size)).corner_radius(theme::RADIUS).paint_at(ui, rect);
        }
        response.on_hover_text(
            "A stroke with this brush: light pressure at its ends, full in the middle",
        );
    }

    /// A picture of this size, in points.
    pub(super) fn image(&mut self, ui: &Ui, shown: &Shown, size: Vec2) -> ColorImage {
        self.picture(shown, &Ground::of(ui, size))
    }

    /// A picture of so many pixels, a point each, on a ground from one grey to another.
    pub(super) fn pixels(&mut self, shown: &Shown, size_px: [u32; 2]) -> Vec<[u8; 3]> {
        let (dark, light) = (Color32::from_gray(0x38), Color32::from_gray(0x62));
        let ground = Ground { size_px, pixels_per_point: 1.0, dark, light };
        let image = self.picture(shown, &ground);
        image.pixels.iter().map(|pixel| [pixel.r(), pixel.g(), pixel.b()]).collect()
    }

    /// The picture; only the ground where no stroke can be made.
    fn picture(&mut self, shown: &Shown, ground: &Ground) -> ColorImage {
        let [width, height] = ground.size_px;
        let mut image = bare(ground);
        let Some(tiles) = self.stroke(shown, ground) else { return image };
        let paint = to_colour32(shown.paint);
        if shown.erases {
            fill_band(&mut image, paint);
        }
        let before = bare(ground);
        for (at, tile) in tiles {
            let Ok(texels) = tile.read() else { continue };
            let (left, top) = (at.x * TILE_EDGE as u32, at.y * TILE_EDGE as u32);
            for y in top..(top + TILE_EDGE as u32).min(height) {
                for x in left..(left + TILE_EDGE as u32).min(width) {
                    let covered = f32::from(texels.at(raster::texel_index(x, y))) / 65_535.0;
                    let pixel = (y * width + x) as usize;
                    let towards = if shown.erases { before.pixels[pixel] } else { paint };
                    image.pixels[pixel] = mixed(image.pixels[pixel], towards, covered);
                }
            }
        }
        self.shade(&mut image);
        image
    }

    /// Shows the folds.
    fn shade(&self, image: &mut ColorImage) {
        let Some(plaque) = &self.plaque else { return };
        let [width, height] = plaque.size_px();
        let all = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        for (pixel, (x, y)) in image.pixels.iter_mut().zip(all) {
            let lit = |value: u8| (f32::from(value) * plaque.shade(x, y)).min(255.0).round() as u8;
            *pixel = Color32::from_rgb(lit(pixel.r()), lit(pixel.g()), lit(pixel.b()));
        }
    }

    /// Coverage of the plaque, one texel a pixel.
    fn stroke(&mut self, shown: &Shown, ground: &Ground) -> Option<Vec<(TileAt, Tile)>> {
        let [width, height] = ground.size_px;
        let kept = self.plaque.take().filter(|plaque| plaque.size_px() == ground.size_px);
        let plaque = &*self.plaque.insert(match kept {
            Some(plaque) => plaque,
            None => Plaque::new(ground.size_px)?,
        });
        let texel = plaque.texel();
        let largest = f64::from(height) * LARGEST;
        let wanted = shown.radius_points * f64::from(ground.pixels_per_point);
        let radius = wanted.clamp(SMALLEST_TEXELS, largest);
        let mut brush = shown.settings.clone();
        if let Some(tooth) = brush.tooth.as_mut().filter(|tooth| !tooth.is_stamped()) {
            // A brush that is drawn smaller is drawn smaller with its tooth.
            let points = f64::from(tooth.scale * ground.pixels_per_point) * radius / wanted;
            tooth.scale = (points * texel).max(1e-6) as f32;
        }
        let start = StrokeStart {
            view: plaque.view(radius),
            smoothing: Smoothing::Off,
            kind: StrokeKind::Deposit,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        let buffers = std::mem::take(&mut self.buffers);
        let mut live = LiveStroke::begin(&start, Arc::clone(&plaque.tiles), buffers).ok()?;
        live.extend(&pen(f64::from(width), f64::from(height), largest)).ok()?;
        let finished = live.finish().ok()?;
        self.buffers = finished.buffers;
        Some(finished.coverage.tiles)
    }
}

/// A swing from one end to the other, the pen pressed from nothing to full and back.
fn pen(width: f64, height: f64, margin: f64) -> Vec<PenSample> {
    let inset = margin + height * 0.06;
    (0..=SAMPLES)
        .map(|index| {
            let t = f64::from(index) / f64::from(SAMPLES);
            let swing = (std::f64::consts::TAU * t).sin() * height * 0.14;
            PenSample {
                position_px: DVec2::new(inset + (width - 2.0 * inset) * t, height * 0.5 + swing),
                pressure: (1.0 - (2.0 * t - 1.0).abs()) as f32,
                tilt_rad: [0.0; 2],
                eraser: false,
                time_secs: t,
            }
        })
        .collect()
}

/// The ground alone.
fn bare(ground: &Ground) -> ColorImage {
    let [width, height] = ground.size_px.map(|edge| edge as usize);
    let row: Vec<Color32> = (0..width)
        .map(|x| {
            let t = x as f32 / (width.max(2) - 1) as f32;
            mixed(ground.dark, ground.light, t * t * (3.0 - 2.0 * t))
        })
        .collect();
    ColorImage::new([width, height], row.repeat(height))
}

/// A band of paint along the middle, for an eraser to take off.
fn fill_band(image: &mut ColorImage, paint: Color32) {
    let [width, height] = image.size;
    let band = height * 3 / 16..height * 13 / 16;
    for pixel in &mut image.pixels[band.start * width..band.end * width] {
        *pixel = paint;
    }
}

/// As base colour blends by default: in the encoded values.
fn mixed(from: Color32, to: Color32, share: f32) -> Color32 {
    let one = |a: u8, b: u8| (f32::from(a) + (f32::from(b) - f32::from(a)) * share).round() as u8;
    Color32::from_rgb(one(from.r(), to.r()), one(from.g(), to.g()), one(from.b(), to.b()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Something done to what is shown.
    type Change<'a> = &'a dyn Fn(&mut Shown);

    fn shown() -> Shown {
        Shown {
            settings: BrushSettings::default(),
            radius_points: 12.0,
            paint: Value::Colour([65_535, 0, 0]),
            erases: false,
        }
    }

    fn drawn(shown: &Shown) -> ColorImage {
        let ground = Ground {
            size_px: [236, 72],
            pixels_per_point: 1.0,
            dark: Color32::from_gray(0x20),
            light: Color32::from_gray(0x60),
        };
        StrokeCard::default().picture(shown, &ground)
    }

    #[test]
    fn every_setting_that_changes_the_brush_changes_the_stroke() {
        let plain = drawn(&shown());
        let with = |change: Change<'_>| {
            let mut other = shown();
            change(&mut other);
            drawn(&other)
        };
        let all: [(&str, Change<'_>); 12] = [
            ("size", &|shown| shown.radius_points = 5.0),
            ("paint", &|shown| shown.paint = Value::Colour([0, 65_535, 0])),
            ("erase", &|shown| shown.erases = true),
            ("hardness", &|shown| shown.settings.hardness = 1.0),
            ("opacity", &|shown| shown.settings.opacity = 0.5),
            ("flow", &|shown| shown.settings.flow = 0.1),
            ("spacing", &|shown| shown.settings.spacing = 1.5),
            ("build-up", &|shown| {
                shown.settings.flow = 0.1;
                shown.settings.build_up = brush::BuildUp::Even;
            }),
            ("pressure", &|shown| shown.settings.pressure.size = brush::Response::FULL),
            ("tooth", &|shown| {
                shown.settings.tooth = Some(brush::Tooth { scale: 8.0, ..Default::default() });
            }),
            ("jitter of size", &|shown| shown.settings.jitter.size = 0.5),
            ("jitter of position", &|shown| shown.settings.jitter.position = 0.5),
        ];
        for (what, change) in all {
            assert!(with(change).pixels != plain.pixels, "{what}");
        }
    }

    #[test]
    fn an_opaque_hard_stroke_is_the_paint_itself_and_leaves_the_edges_bare() {
        let mut hard = shown();
        hard.settings.hardness = 1.0;
        let image = drawn(&hard);
        assert_eq!(image.pixels[36 * 236 + 118], Color32::from_rgb(255, 0, 0));
        assert_eq!(image.pixels[0], Color32::from_gray(0x20));
        assert_eq!(image.pixels[236 * 72 - 1], Color32::from_gray(0x60));
    }

    #[test]
    fn the_smallest_brush_at_the_closest_spacing_is_drawn() {
        let mut small = shown();
        small.radius_points = 0.5;
        small.settings.spacing = 0.01;
        small.settings.pressure.size = brush::Response::FULL;
        let image = drawn(&small);
        assert!(image.pixels != bare_of(&image).pixels);
    }

    fn bare_of(image: &ColorImage) -> ColorImage {
        bare(&Ground {
            size_px: image.size.map(|edge| edge as u32),
            pixels_per_point: 1.0,
            dark: Color32::from_gray(0x20),
            light: Color32::from_gray(0x60),
        })
    }
}
