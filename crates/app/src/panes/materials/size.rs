//! The size of a material's textures, and another one: layers are painted again from their recipes, in the
//! background.

use document::{Material, MaterialEdit};
use egui::{Align2, Button, FontId, Popup, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use raster::TextureSize;

use super::ring;
use crate::desk::Desk;
use crate::theme;
use crate::widgets::remark;

const EDGES: [u32; 5] = [512, 1024, 2048, 4096, 8192];

/// The size at the right of a row; a click shows the others. Gives where it stands.
pub(super) fn button(ui: &mut Ui, desk: &mut Desk, material: &Material, row: Rect) -> Rect {
    let colours = theme::colours(ui);
    let edge = material.size.edge();
    let rect = Rect::from_min_max(pos2(row.right() - 40.0, row.top()), row.max);
    let response = ui.interact(rect, ui.scope_id().with(("size", material.id.0)), Sense::click());
    let name = format!("Texture size of {}", material.name);
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::ComboBox, true, &name);
        info.current_text_value = Some(edge.to_string());
        info
    });
    let is_lit_up = response.hovered() || response.has_focus();
    let colour = if is_lit_up { colours.text } else { colours.text_weak };
    let font = FontId::proportional(12.0);
    ui.painter().text(rect.right_center(), Align2::RIGHT_CENTER, edge.to_string(), font, colour);
    ring(ui, response.has_focus(), rect);
    Popup::menu(&response).width(240.0).show(|ui| {
        remark(ui, "Texels along the edge of the textures");
        for wanted in EDGES {
            let is_so = wanted == edge;
            let text = format!("{wanted} x {wanted}");
            let choice = Button::selectable(is_so, text).min_size(vec2(0.0, theme::ROW));
            if ui.add(choice).clicked() && !is_so {
                resize(desk, material, wanted);
            }
        }
    });
    let about = "Size of the textures. Another size paints all strokes again";
    response.on_hover_text(about);
    rect
}

fn resize(desk: &mut Desk, material: &Material, edge: u32) {
    let size = match TextureSize::new(edge) {
        Ok(size) => size,
        Err(error) => return desk.notices.error(error),
    };
    match desk.editor.start_edit(material.id, MaterialEdit::TextureSize(size)) {
        Ok(job) => {
            let label = format!("{}: painting it again at {edge} texels", material.name);
            desk.tasks.add(label, job, |desk, made| {
                if let Err(error) = desk.editor.take_over(made) {
                    desk.notices.error(error);
                }
                desk.settle();
            });
        }
        Err(error) => desk.notices.error(error),
    }
}
