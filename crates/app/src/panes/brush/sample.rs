//! What the values look like: a folded plaque with a hollow and a ridge, of one material all over, in a plain
//! studio. It is shaded as the model is, by the same functions.

use std::f32::consts::PI;
use std::sync::OnceLock;

use egui::{Color32, ColorImage, Image, Sense, TextureHandle, TextureOptions, Ui, vec2};
use glam::{Vec2, Vec3};
use layers::{ChannelId, Value};
use raster::LinearRgb;
use viewport::shading::{DfgTable, Material, facing, ggx_alpha, image_light, key_light, tone_map};

use crate::brush_in_hand::BrushInHand;
use crate::theme;

const HEIGHT: f32 = 44.0;
const WIDEST: f32 = 480.0;
/// Radius of the key light in radians, and its share of the light.
const KEY_RADIUS: f32 = 0.12;
const KEY_STRENGTH: f32 = 0.55;

/// What the picture was made of.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Made {
    colour: [u16; 3],
    roughness: u16,
    metalness: u16,
    size_px: [u32; 2],
}

/// The sample, made anew only where something changed.
#[derive(Default)]
pub(crate) struct Sample {
    made: Option<Made>,
    texture: Option<TextureHandle>,
}

impl std::fmt::Debug for Sample {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Sample").field("made", &self.made).finish_non_exhaustive()
    }
}

impl Sample {
    /// Shows what the brush's values look like together.
    pub(crate) fn show(&mut self, ui: &mut Ui, brush: &BrushInHand) {
        let size = vec2(ui.available_width().clamp(32.0, WIDEST), HEIGHT);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::Role::Image, true, "What these values look like")
        });
        if !ui.is_rect_visible(rect) {
            return;
        }
        let scale = ui.ctx().pixels_per_point();
        let level = |channel| match brush.values.get(&channel) {
            Some(Value::Scalar(level)) => *level,
            _ => 0,
        };
        let made = Made {
            colour: brush.colour(),
            roughness: level(ChannelId::ROUGHNESS),
            metalness: level(ChannelId::METALNESS),
            size_px: [size.x, size.y].map(|points| (points * scale).round().max(1.0) as u32),
        };
        if self.made != Some(made) {
            let image = picture(&made);
            if let Some(texture) = &mut self.texture {
                texture.set(image, TextureOptions::LINEAR);
            } else {
                let loaded = ui.ctx().load_texture("sample", image, TextureOptions::LINEAR);
                self.texture = Some(loaded);
            }
            self.made = Some(made);
        }
        if let Some(texture) = &self.texture {
            Image::new((texture.id(), size)).corner_radius(theme::RADIUS).paint_at(ui, rect);
        }
        response.on_hover_text("What these values look like together, in a neutral studio");
    }
}

fn picture(made: &Made) -> ColorImage {
    static TABLE: OnceLock<DfgTable> = OnceLock::new();
    let table = TABLE.get_or_init(DfgTable::new);
    let material = Material {
        base_colour: Vec3::from(raster::EncodedRgb::from_stored(made.colour).decode().0),
        roughness: raster::to_unit(made.roughness),
        metalness: raster::to_unit(made.metalness),
    };
    let [width, height] = made.size_px;
    let mut pixels = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            let across = (x as f32 + 0.5) / height as f32;
            let up = 1.0 - (y as f32 + 0.5) / height as f32;
            let normal = plaque(across, up, width as f32 / height as f32);
            pixels.push(shaded(material, normal, table));
        }
    }
    ColorImage::new([width as usize, height as usize], pixels)
}

/// The plaque's normal at a place, in heights: a flat, a fold away from the light, in it a hollow and a ridge, and
/// an end that curls up.
fn plaque(across: f32, up: f32, width: f32) -> Vec3 {
    let share = across / width;
    let fold = if share < 0.16 { 0.0 } else { 0.3 };
    let curl = ((share - 0.84) / 0.16).max(0.0);
    let hollow = bulge(across - 0.36 * width, up - 0.5);
    let ridge = bulge((across - 0.66 * width) * 0.45, up - 0.5);
    let slope = Vec2::new(fold - 1.5 * curl * curl, 0.3 * (up - 0.5)) - hollow
        + ridge * Vec2::new(0.45, 1.0);
    slope.extend(1.0).normalize_or(Vec3::Z)
}

/// The slopes of a cap of a ball, as wide as the plaque is high but for a rim.
fn bulge(x: f32, y: f32) -> Vec2 {
    const RADIUS: f32 = 0.42;
    let at = Vec2::new(x, y) / RADIUS;
    let inside = 1.0 - at.length_squared();
    if inside <= 0.0 { Vec2::ZERO } else { at / (inside + 0.25).sqrt() * (inside * 6.0).min(1.0) }
}

fn shaded(material: Material, normal: Vec3, table: &DfgTable) -> Color32 {
    let eye = Vec3::Z;
    let key = Vec3::new(-0.5, 0.65, 0.57).normalize_or(Vec3::Z);
    let n_dot_v = facing(normal, eye);
    let dfg = table.sample(n_dot_v, material.roughness);
    let mirrored = 2.0 * normal.dot(eye) * normal - eye;
    let blur = ggx_alpha(material.roughness).max(0.02);
    let reflected = Vec3::splat(studio(mirrored, blur));
    let irradiance = Vec3::splat(PI * studio(normal, 1.0));
    let ambient = image_light(material, dfg, reflected, irradiance);
    let lit_from = table.sample(normal.dot(key).max(0.0), material.roughness);
    let direct = key_light(material, [normal, eye, key], KEY_RADIUS, dfg, lit_from);
    let linear = tone_map(ambient + direct * KEY_STRENGTH, 0.0, false);
    let [r, g, b] = LinearRgb(linear.to_array()).encode().0.map(|c| (c * 255.0).round() as u8);
    Color32::from_rgb(r, g, b)
}

/// Radiance of the studio in a direction, blurred as widely as `blur`: a dim room, a soft box above, a strip at
/// the right. By eye.
fn studio(direction: Vec3, blur: f32) -> f32 {
    let lit = |towards: Vec3, width: f32| {
        let away = direction.dot(towards.normalize_or(Vec3::Z)).clamp(-1.0, 1.0).acos();
        let edge = (0.08 + 0.9 * blur).min(1.2);
        let inside = 0.5 - 0.5 * ((away - width) / edge).clamp(-1.0, 1.0);
        // What is spread over more is dimmer.
        inside * width / (width + 0.6 * blur)
    };
    let floor = 0.5 + 0.5 * direction.y;
    0.18 + 0.3 * floor
        + 1.5 * lit(Vec3::new(-0.3, 0.9, 0.5), 0.45)
        + 0.9 * lit(Vec3::new(0.9, 0.1, 0.5), 0.22)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(roughness: u16, metalness: u16) -> ColorImage {
        let colour = [0xa8a8, 0x7a7a, 0x4242];
        picture(&Made { colour, roughness, metalness, size_px: [118, 22] })
    }

    fn brightest(image: &ColorImage) -> u8 {
        image.pixels.iter().map(Color32::g).max().unwrap()
    }

    fn darkest(image: &ColorImage) -> u8 {
        image.pixels.iter().map(Color32::g).min().unwrap()
    }

    #[test]
    fn a_smooth_metal_has_more_contrast_than_a_rough_one() {
        let contrast = |image: &ColorImage| brightest(image) - darkest(image);
        let (smooth, rough) = (made(6_000, 65_535), made(60_000, 65_535));
        let (smooth, rough) = (contrast(&smooth), contrast(&rough));
        assert!(smooth > rough + 20, "{smooth} against {rough}");
    }

    #[test]
    fn every_value_changes_the_picture() {
        let plain = made(30_000, 0);
        assert!(plain.pixels != made(50_000, 0).pixels);
        assert!(plain.pixels != made(30_000, 65_535).pixels);
    }
}
