//! Pictures to work from: one at a time, zoomed and moved, with colours to pick from.

#[cfg(test)]
mod tests;

use egui::{
    Align, Color32, Image, Layout, PointerButton, Rect, RichText, Sense, Stroke, TextEdit,
    TextureOptions, Ui, UiBuilder, Vec2, WidgetInfo, pos2, vec2,
};
use layers::{ChannelId, Value};
use lucide_icons::Icon;

use super::brush::command_toggle;
use super::empty_view;
use crate::brush_in_hand::Pick;
use crate::colour::hex_text;
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::file_dialog::{Asked, FileDialog};
use crate::references::{Placing, Reference, Sample};
use crate::theme;
use crate::widgets::{icon_button, segments, to_colour32};

/// Points a texel, at the least and at the most.
const SMALLEST: f32 = 0.01;
const LARGEST: f32 = 64.0;
const BAR: f32 = 40.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let rect = ui.max_rect();
    let (bars, view) = rect.split_top_bottom_at_y(rect.top() + 2.0 * BAR);
    ui.painter().rect_filled(bars, 0.0, theme::colours(ui).panel);
    let (top, below) = bars.split_top_bottom_at_y(bars.top() + BAR);
    bar(ui, top, |ui| adding(ui, desk));
    bar(ui, below, |ui| choosing(ui, desk));
    if desk.references.all.is_empty() {
        empty_view(ui, view, "No pictures yet", "Drop a file here, or give its path above");
        return;
    }
    picture(ui, desk, view);
}

fn bar(ui: &mut Ui, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    let inside = rect.shrink2(vec2(f32::from(theme::MARGIN), 6.0));
    let builder = UiBuilder::new().max_rect(inside).layout(Layout::left_to_right(Align::Center));
    ui.scope_builder(builder, |ui| {
        ui.set_clip_rect(rect.intersect(ui.clip_rect()));
        contents(ui);
    });
}

fn adding(ui: &mut Ui, desk: &mut Desk) {
    let tip = "Choose a picture to show beside the model";
    if icon_button(ui, Icon::FolderOpen, "Choose a picture", tip).clicked() {
        desk.dialog = Some(FileDialog::open(Asked::Picture, ui.ctx().clone()));
    }
    let width = (ui.available_width() - 72.0).max(60.0);
    let field = TextEdit::singleline(&mut desk.references.path)
        .hint_text("Path of a picture")
        .desired_width(width - 16.0)
        .margin(vec2(8.0, 4.0));
    let response = ui.add(field).accessible_name("Path of a picture");
    let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
    let named = !desk.references.path.trim().is_empty();
    let add = ui
        .add_enabled(named, egui::Button::new("Add"))
        .on_hover_text("Show this picture beside the model")
        .on_disabled_hover_text("Give the path of a picture first");
    if named && (entered || add.clicked()) {
        let path = std::mem::take(&mut desk.references.path);
        desk.add_reference(path.trim().trim_matches('"').into());
    }
}

fn choosing(ui: &mut Ui, desk: &mut Desk) {
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        ui.add_enabled_ui(!desk.references.all.is_empty(), |ui| {
            let chosen = desk.references.chosen;
            if icon_button(ui, Icon::Trash2, "Remove picture", "Take this picture away").clicked() {
                desk.references.remove(chosen);
            }
            let tip = "Show the whole picture";
            if icon_button(ui, Icon::Maximize, "Fit picture", tip).clicked()
                && let Some(shown) = desk.references.shown()
            {
                shown.placing = Placing::Fit;
            }
            let command = Command::Brush(BrushCommand::PickOne(ChannelId::BASE_COLOUR));
            let on = desk.brush.picking == Some(Pick::One(ChannelId::BASE_COLOUR));
            command_toggle(ui, desk, Icon::Pipette, command, on);
        });
        ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
            let choices = [
                (Sample::Texel, "Texel", "A pick takes one texel, exactly"),
                (Sample::Disc, "Disc", "A pick takes the average of a small disc"),
            ];
            let now = desk.references.sample;
            desk.references.sample = segments(ui, &choices, |one| one == now).unwrap_or(now);
            names(ui, desk);
        });
    });
}

/// Which picture is shown, where there are several.
fn names(ui: &mut Ui, desk: &mut Desk) {
    let references = &mut desk.references;
    let Some(chosen) = references.all.get(references.chosen) else { return };
    if references.all.len() == 1 {
        let text = RichText::new(&chosen.name).color(theme::colours(ui).text_soft);
        ui.add(egui::Label::new(text).truncate());
        return;
    }
    let selected =
        format!("{} of {}  {}", references.chosen + 1, references.all.len(), chosen.name);
    let mut picked = references.chosen;
    let combo = egui::ComboBox::from_id_salt("reference")
        .selected_text(selected)
        .width(ui.available_width().min(220.0))
        .truncate()
        .show_ui(ui, |ui| {
            for (index, reference) in references.all.iter().enumerate() {
                ui.selectable_value(&mut picked, index, &reference.name);
            }
        });
    combo.response.accessible_name("Picture");
    references.chosen = picked;
}

fn picture(ui: &mut Ui, desk: &mut Desk, view: Rect) {
    let response = ui.allocate_rect(view, Sense::click_and_drag());
    let longest = ui.input(|input| input.max_texture_side);
    let sample = desk.references.sample;
    let picks = desk.brush.picking.is_some() || ui.input(|input| input.modifiers.command);
    let Some(shown) = desk.references.shown() else { return };
    let name = shown.name.clone();
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &name));
    if let Some(image) = shown.take_image(longest) {
        let texture = ui.ctx().load_texture(&shown.name, image, TextureOptions::LINEAR);
        shown.texture = Some(texture);
    }
    navigate(ui, &response, shown, view, picks);
    let place = rect_of(shown, view);
    let painter = ui.painter().with_clip_rect(view);
    if let Some(texture) = &shown.texture {
        let mut inside = ui.new_child(UiBuilder::new().max_rect(view));
        inside.set_clip_rect(view.intersect(ui.clip_rect()));
        Image::new((texture.id(), place.size())).paint_at(&inside, place);
    }
    let Some(at) = response.hover_pos() else { return };
    let colour = shown.colour_at((at - place.min) / place.size(), sample);
    if !picks {
        return;
    }
    ui.ctx().set_cursor_icon(egui::CursorIcon::Crosshair);
    let Some(colour) = colour else { return };
    let colours = theme::colours(ui);
    let patch = Rect::from_min_size(at + vec2(16.0, 16.0), Vec2::splat(28.0));
    let ring = Stroke::new(2.0, colours.handle);
    painter.rect(patch, 4.0, to_colour32(Value::Colour(colour)), ring, egui::StrokeKind::Outside);
    let below = pos2(patch.left(), patch.bottom() + 4.0);
    let text = hex_text(colour);
    let galley = painter.layout_no_wrap(text, egui::FontId::proportional(12.0), Color32::WHITE);
    let ground = Rect::from_min_size(below, galley.size()).expand2(vec2(4.0, 1.0));
    painter.rect_filled(ground, 3.0, Color32::from_black_alpha(200));
    painter.galley(below, galley, Color32::WHITE);
    if response.clicked_by(PointerButton::Primary) {
        desk.pick_colour(colour);
    }
}

/// A drag moves the picture, the wheel goes to the pointer, a double click shows all of it.
fn navigate(ui: &Ui, response: &egui::Response, shown: &mut Reference, view: Rect, picks: bool) {
    let before = rect_of(shown, view);
    if response.double_clicked() && !picks {
        shown.placing = Placing::Fit;
        return;
    }
    let moved = response.drag_delta();
    let wheel = ui.input(|input| input.smooth_scroll_delta.y);
    let pinch = ui.input(egui::InputState::zoom_delta);
    let at = response.hover_pos().filter(|_| response.contains_pointer());
    let zoom = at.map_or(1.0, |_| (wheel / 200.0).exp() * pinch);
    if moved == Vec2::ZERO && zoom == 1.0 {
        return;
    }
    let width = shown.extent().width as f32;
    let scale = before.width() / width;
    let after_scale = (scale * zoom).clamp(SMALLEST, LARGEST);
    let fixed = at.unwrap_or_else(|| view.center());
    let min = fixed + (before.min - fixed) * (after_scale / scale) + moved;
    let size = before.size() * (after_scale / scale);
    let centre = ((view.center() - min) / size).clamp(Vec2::ZERO, Vec2::splat(1.0));
    shown.placing = Placing::At { points_per_texel: after_scale, centre };
}

/// Where a picture lies in the panel.
fn rect_of(shown: &Reference, view: Rect) -> Rect {
    let extent = shown.extent();
    let texels = vec2(extent.width as f32, extent.height as f32);
    match shown.placing {
        Placing::Fit => {
            let room = view.shrink(8.0).size();
            let scale = (room.x / texels.x).min(room.y / texels.y).max(SMALLEST);
            Rect::from_center_size(view.center(), texels * scale)
        }
        Placing::At { points_per_texel, centre } => {
            let size = texels * points_per_texel;
            Rect::from_min_size(view.center() - centre * size, size)
        }
    }
}
