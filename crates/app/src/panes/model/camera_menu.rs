//! From where the model is seen: a small menu.

use brush::Projection;
use egui::{Button, Ui, vec2};
use lucide_icons::Icon;
use viewport::navigation::AxisView;

use super::shown_bar::{MENU_WIDTH, command_row};
use crate::commands::{Command, ViewCommand};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{icon_button, icon_text};

const AXES: [AxisView; 6] = [
    AxisView::Front,
    AxisView::Back,
    AxisView::Left,
    AxisView::Right,
    AxisView::Top,
    AxisView::Bottom,
];

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let icon = icon_text(Icon::Camera, 15.0);
    let menu = ui.menu_button(icon, |ui| {
        ui.set_max_width(MENU_WIDTH);
        rows(ui, desk);
    });
    menu.response.on_hover_text("From where the model is seen").accessible_name("Camera");
}

fn rows(ui: &mut Ui, desk: &mut Desk) {
    let row = |ui: &mut Ui, desk: &mut Desk, command, on| {
        command_row(ui, desk, Command::View(command), on);
    };
    row(ui, desk, ViewCommand::FrameAll, None);
    ui.separator();
    for view in AXES {
        row(ui, desk, ViewCommand::Along(view), None);
    }
    ui.separator();
    let projection = desk.model_view.camera.projection;
    let is_parallel = matches!(projection, Projection::Orthographic { .. });
    row(ui, desk, ViewCommand::ToggleOrthographic, Some(is_parallel));
    let mirrored = desk.model_view.mirrored;
    row(ui, desk, ViewCommand::ToggleMirror, Some(mirrored));
    row(ui, desk, ViewCommand::Upright, None);
    ui.separator();
    row(ui, desk, ViewCommand::SaveView, None);
    saved(ui, desk);
}

/// The views that were kept: to go to, or to be removed.
fn saved(ui: &mut Ui, desk: &mut Desk) {
    for index in 0..desk.model_view.saved.len() {
        let name = format!("View {}", index + 1);
        ui.horizontal(|ui| {
            let button =
                Button::new(&name).min_size(vec2(MENU_WIDTH - theme::ROW - theme::GAP, theme::ROW));
            if ui.add(button).clicked() {
                desk.go_to_view(index);
                ui.close();
            }
            let remove = format!("Remove view {}", index + 1);
            if icon_button(ui, Icon::X, &remove, "Keep this view no longer").clicked() {
                desk.model_view.saved.remove(index);
                ui.close();
            }
        });
    }
}
