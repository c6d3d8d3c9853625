//! What lies under the pointer, in either view: part, material, texel, values, and where the brush would be.

use brush::BrushSize;
use document::{Document, MaterialId};
use egui::Pos2;
use glam::{DVec2, DVec3};
use layers::{ChannelId, Value};
use raster::Unobserved;
use surface::{PartId, Surface, TriangleId};
use viewport::Footprint;

use super::Desk;
use crate::brush_in_hand::SizeIn;
use crate::symmetry_in_hand::About;
use crate::tool::Tool;

/// A point of the surface that is seen somewhere in the model view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Met {
    /// Where it is, in model units.
    pub(crate) position: DVec3,
    /// Its triangle.
    pub(crate) triangle: TriangleId,
    /// The part that it is of.
    pub(crate) part: PartId,
    /// The material that it is of.
    pub(crate) material: MaterialId,
    /// Its place on the texture; none where it has none, or lies outside of it.
    pub(crate) uv: Option<DVec2>,
}

/// What the status line says, and what a pick takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct UnderPointer {
    /// The part; none on the flat texture between islands.
    pub(crate) part: Option<PartId>,
    /// The material.
    pub(crate) material: MaterialId,
    /// Column and row of the texel; none without UVs.
    pub(crate) texel: Option<[u32; 2]>,
    /// What is shown there, channel by channel.
    pub(crate) values: Vec<(ChannelId, Value)>,
}

impl UnderPointer {
    /// What it says, as pairs of a name (empty where the value speaks for itself) and a value.
    pub(crate) fn texts(&self, document: &Document) -> Vec<(String, String)> {
        let mut texts = Vec::new();
        let model = document.model.as_ref();
        if let (Some(part), Some(model)) = (self.part, model)
            && let Some(part) = model.mesh().parts().get(part.0 as usize)
        {
            texts.push((String::new(), part.name.clone()));
        }
        if let Some(material) = document.materials.get(self.material.0 as usize) {
            texts.push((String::new(), material.name.clone()));
        }
        if let Some([x, y]) = self.texel {
            texts.push(("texel".to_owned(), format!("{x}, {y}")));
        }
        for (channel, value) in &self.values {
            let label = document.channels.iter().find(|known| known.id == *channel);
            let label = label.map_or_else(String::new, |known| known.label.to_lowercase());
            texts.push((label, value_text(*value)));
        }
        texts
    }
}

/// A colour as three 8-bit codes, a scalar with two decimals.
fn value_text(value: Value) -> String {
    let code = |stored: u16| (u32::from(stored) + 128) / 257;
    match value {
        Value::Colour([r, g, b]) => format!("{} {} {}", code(r), code(g), code(b)),
        Value::Scalar(stored) => format!("{:.2}", f64::from(stored) / f64::from(u16::MAX)),
    }
}

/// The texel that holds a UV; none outside of the texture.
pub(crate) fn texel_of(uv: DVec2, edge: u32) -> Option<[u32; 2]> {
    let at = (uv * f64::from(edge)).floor();
    let inside = |texel: f64| texel >= 0.0 && texel < f64::from(edge);
    (inside(at.x) && inside(at.y)).then_some([at.x as u32, at.y as u32])
}

impl Desk {
    /// The nearest point of what is shown at a place of the model view.
    pub(crate) fn met(&self, at: Pos2) -> Option<Met> {
        self.met_px(self.model_view.pixel(at))
    }

    pub(crate) fn met_px(&self, at_px: DVec2) -> Option<Met> {
        let surface = self.readiness.surface.as_ref()?;
        let view = &self.model_view;
        let ray = view.camera.ray(at_px);
        let hit = surface.raycast_where(&ray, |part| !view.part(part).hidden)?;
        let uv = surface.uv(hit.triangle, hit.barycentric);
        Some(Met {
            position: surface.position(hit.triangle, hit.barycentric),
            triangle: hit.triangle,
            part: surface.part_of(hit.triangle),
            material: MaterialId(surface.material_of(hit.triangle).0),
            uv: uv.filter(|uv| uv.min_element() >= 0.0 && uv.max_element() <= 1.0),
        })
    }

    /// Points that the brush's outline, and a ring half as wide, would meet about a place of the model view.
    pub(crate) fn met_around(&self, at: Pos2, pixels_per_point: f32) -> impl Iterator<Item = Met> {
        const SPOKES: u32 = 12;
        let middle = self.model_view.pixel(at);
        let radius = self.radius_px_at(middle, pixels_per_point);
        (0..2 * SPOKES).filter_map(move |spoke| {
            let angle = f64::from(spoke) * std::f64::consts::TAU / f64::from(SPOKES);
            let reach = if spoke < SPOKES { 0.5 } else { 1.0 };
            self.met_px(middle + DVec2::from_angle(angle) * radius * reach)
        })
    }

    /// The brush's radius in pixels of the model view, about that place.
    fn radius_px_at(&self, at_px: DVec2, pixels_per_point: f32) -> f64 {
        match self.brush_size(pixels_per_point) {
            BrushSize::Screen(radius) => radius,
            BrushSize::Object(radius) => {
                let camera = &self.model_view.camera;
                let point = self.met_px(at_px).map_or(camera.target, |met| met.position);
                radius / camera.units_per_px(camera.depth(point).max(1e-9))
            }
        }
    }

    /// The brush's radius as a stroke on the model takes it.
    pub(crate) fn brush_size(&self, pixels_per_point: f32) -> BrushSize {
        match self.brush.size_in {
            SizeIn::Screen => {
                BrushSize::Screen(self.brush.radius_points * f64::from(pixels_per_point))
            }
            SizeIn::Object => BrushSize::Object(self.brush.radius_units),
        }
    }

    /// The brush's radius in UV units, as a stroke on the flat texture takes it. A size on the object is turned
    /// into texels by the scale of the island that lies there, or that most of the material has.
    pub(crate) fn radius_uv(&self, uv: DVec2, pixels_per_point: f32) -> f64 {
        match self.brush_size(pixels_per_point) {
            BrushSize::Screen(radius) => radius * self.flat_view.camera.uv_per_px,
            BrushSize::Object(radius) => radius * self.uv_per_unit(uv),
        }
    }

    fn uv_per_unit(&self, uv: DVec2) -> f64 {
        let Some(surface) = &self.readiness.surface else { return 1.0 };
        let scale = |uv_area: f64, area: f64| (uv_area.abs() / area.max(1e-30)).sqrt();
        let islands = surface.islands();
        if let Some(island) = self.owner_of(uv).and_then(|triangle| islands.island_of(triangle)) {
            let island = islands.get(island);
            return scale(island.uv_area, island.surface_area);
        }
        let slot = self.chosen.material.slot();
        let all = islands.list().iter().filter(|island| island.material == slot);
        let (uv_area, area) = all.fold((0.0, 0.0), |(uv_area, area), island| {
            (uv_area + island.uv_area.abs(), area + island.surface_area)
        });
        scale(uv_area, area).max(1e-9)
    }

    /// The triangle whose texel lies there on the chosen material's texture.
    pub(super) fn owner_of(&self, uv: DVec2) -> Option<TriangleId> {
        let material = self.material()?;
        if !self.editor.is_prepared(material.id) {
            return None;
        }
        let map = self.editor.texel_map(material.id, &Unobserved).ok()?;
        let [x, y] = texel_of(uv, material.size.edge())?;
        map.owner(x, y)
    }

    /// Looks at what lies under the pointer in the model view.
    pub(crate) fn hover_model(&mut self, at: Pos2, pixels_per_point: f32) -> Option<Met> {
        let met = self.met(at);
        self.under_pointer = met.map(|met| self.seen(Some(met.part), met.material, met.uv));
        if let Some(part) = met.map(|met| met.part).filter(|_| self.stroke.is_none()) {
            self.look_for_symmetry(part);
        }
        // A decal in hand is what is placed, not a dab.
        let is_brush = self.tool.tool == Tool::Brush && self.decal.is_none();
        self.model_view.footprint = met.filter(|_| is_brush).map(|met| {
            let camera = &self.model_view.camera;
            let radius = match self.brush_size(pixels_per_point) {
                BrushSize::Screen(radius) => {
                    radius * camera.units_per_px(camera.depth(met.position))
                }
                BrushSize::Object(radius) => radius,
            };
            let hardness = self.brush.settings.hardness;
            Footprint::Surface { centre: met.position, radius, hardness }
        });
        if let Some(Met { material, uv: Some(uv), .. }) = met
            && self.flat_view.follows
            && material == self.chosen.material
            && self.stroke.is_none()
        {
            self.flat_view.is_framed = false;
            self.flat_view.look_at(uv);
        }
        met
    }

    /// Strokes are repeated about the middle of this part, where they are about one's.
    fn look_for_symmetry(&mut self, part: PartId) {
        let is_known = self.symmetry_part.as_ref().is_some_and(|(known, _)| *known == part);
        if self.symmetry.about == About::Part && !is_known {
            let bounds = self.bounds_of(|other| other == part);
            self.symmetry_part = bounds.map(|bounds| (part, bounds));
        }
    }

    /// Looks at what lies under the pointer in the flat view.
    pub(crate) fn hover_flat(&mut self, at: Pos2, pixels_per_point: f32) {
        let uv = self.flat_view.camera.uv(self.flat_view.pixel(at));
        let Some(material) = self.material().map(|material| material.id) else { return };
        let part = self.owner_of(uv);
        let part = part.zip(self.readiness.surface.as_ref());
        let part = part
            .map(|(triangle, surface): (_, &std::sync::Arc<Surface>)| surface.part_of(triangle));
        let inside = uv.min_element() >= 0.0 && uv.max_element() <= 1.0;
        self.under_pointer = inside.then(|| self.seen(part, material, Some(uv)));
        let is_brush = self.tool.tool == Tool::Brush;
        self.model_view.footprint = is_brush.then(|| Footprint::Texture {
            material: material.slot(),
            centre: uv,
            radius: self.radius_uv(uv, pixels_per_point),
            hardness: self.brush.settings.hardness,
        });
    }

    fn seen(&self, part: Option<PartId>, material: MaterialId, uv: Option<DVec2>) -> UnderPointer {
        let edge =
            self.document().materials.get(material.0 as usize).map(|found| found.size.edge());
        let texel = uv.zip(edge).and_then(|(uv, edge)| texel_of(uv, edge));
        // A tile that can't be read has nothing to say here: whoever paints on it is told.
        let values = texel.and_then(|[x, y]| self.editor.texel_values(material, x, y).ok());
        UnderPointer { part, material, texel, values: values.unwrap_or_default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_texel_holds_its_left_and_upper_edge_and_the_texture_ends_where_it_ends() {
        assert_eq!(texel_of(DVec2::ZERO, 256), Some([0, 0]));
        assert_eq!(texel_of(DVec2::new(0.5, 255.9 / 256.0), 256), Some([128, 255]));
        for outside in [DVec2::new(-1e-9, 0.5), DVec2::new(0.5, 1.0), DVec2::NAN] {
            assert_eq!(texel_of(outside, 256), None);
        }
    }

    #[test]
    fn values_are_told_as_they_are_read_elsewhere() {
        let colour = Value::Colour([122 * 257, 96 * 257, 58 * 257]);
        assert_eq!(value_text(colour), "122 96 58");
        assert_eq!(value_text(Value::Scalar(u16::MAX)), "1.00");
        assert_eq!(value_text(Value::Scalar(24_248)), "0.37");
    }
}
