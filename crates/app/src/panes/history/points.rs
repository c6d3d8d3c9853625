//! Named points, to return to.

use egui::{Align, Align2, FontId, Layout, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};
use lucide_icons::Icon;

use super::LINE;
use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::screen::sheets::ago;
use crate::theme;
use crate::widgets::{elided, icon_button};

/// Most points that are shown without scrolling.
const MOST_POINTS: usize = 5;

/// What a person does with a point.
enum OnPoint {
    Return(store::Point),
    Rename(String),
    Remove(String),
}

/// The named points, the latest first, above the edits.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let Some(on_disk) = desk.on_disk.as_ref().filter(|on_disk| !on_disk.is_untitled) else {
        return;
    };
    let mut wish = None;
    let known = on_disk.points.all();
    if head(ui, &desk.tooltip(Command::File(FileCommand::NamePoint))) {
        wish = Some(None);
    }
    let height = LINE * known.len().min(MOST_POINTS) as f32;
    ScrollArea::vertical().id_salt("points").auto_shrink([false, true]).max_height(height).show(
        ui,
        |ui| {
            for point in known {
                if let Some(done) = point_line(ui, point) {
                    wish = Some(Some(done));
                }
            }
        },
    );
    ui.add_space(4.0);
    ui.separator();
    match wish {
        None => {}
        Some(None) => desk.ask_for_point(),
        Some(Some(OnPoint::Return(point))) => desk.return_to_point(&point),
        Some(Some(OnPoint::Rename(name))) => desk.ask_for_other_name(name),
        Some(Some(OnPoint::Remove(name))) => desk.remove_point(name),
    }
}

/// The heading, with a button for a new point; true when that is clicked.
fn head(ui: &mut Ui, tip: &str) -> bool {
    let colours = theme::colours(ui);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), theme::ROW), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, "Named points"));
    let at = rect.left_center() + vec2(12.0, 0.0);
    let font = theme::semibold(13.0);
    ui.painter().text(at, Align2::LEFT_CENTER, "Named points", font, colours.text_soft);
    let layout = Layout::right_to_left(Align::Center);
    let inner = egui::UiBuilder::new().max_rect(rect.shrink2(vec2(8.0, 0.0))).layout(layout);
    ui.scope_builder(inner, |ui| icon_button(ui, Icon::Plus, "Name a point", tip).clicked()).inner
}

/// A point with its time; a click returns to it, its menu renames it or lets go of it.
fn point_line(ui: &mut Ui, point: &store::Point) -> Option<OnPoint> {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), LINE), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &point.name));
    let back = rect.shrink2(vec2(8.0, 0.0));
    if response.hovered() || response.has_focus() {
        let fill = colours.raised.gamma_multiply(0.45);
        ui.painter().rect_filled(back, f32::from(theme::RADIUS), fill);
    }
    let font = FontId::proportional(12.0);
    let when = elided(ui, &ago(since(point.made_at)), font, colours.text_weak, 120.0);
    let right = back.right() - 4.0 - when.size().x;
    let at = pos2(right, rect.center().y - when.size().y / 2.0);
    ui.painter().galley(at, when, colours.text_weak);
    let font = FontId::proportional(13.0);
    let room = right - back.left() - 12.0;
    let name = elided(ui, &point.name, font, colours.text_soft, room);
    let at = pos2(back.left() + 4.0, rect.center().y - name.size().y / 2.0);
    ui.painter().galley(at, name, colours.text_soft);
    let mut wish = None;
    response.context_menu(|ui| {
        let name = || point.name.clone();
        if ui.button("Return to it").clicked() {
            wish = Some(OnPoint::Return(point.clone()));
        }
        if ui.button("Rename").clicked() {
            wish = Some(OnPoint::Rename(name()));
        }
        if ui.button("Remove the name").clicked() {
            wish = Some(OnPoint::Remove(name()));
        }
    });
    let tip = format!("{}\nReturn to it: a new edit, so nothing is cut off", point.name);
    if response.on_hover_text(tip).clicked() {
        wish = Some(OnPoint::Return(point.clone()));
    }
    wish
}

/// How long a time is past, in milliseconds since 1970.
fn since(made_at: i64) -> std::time::Duration {
    let made_at = std::time::Duration::from_millis(u64::try_from(made_at).unwrap_or(0));
    let now = std::time::SystemTime::now();
    let now = now.duration_since(std::time::SystemTime::UNIX_EPOCH).unwrap_or_default();
    now.saturating_sub(made_at)
}
