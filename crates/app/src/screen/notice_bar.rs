//! What is to be read: one line each, until it is closed. And what goes on, with a way to stop it.

use std::time::Duration;

use egui::{Align, Frame, Layout, Margin, Panel, ProgressBar, RichText, ScrollArea, Ui};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::notices::{Gravity, Notice};
use crate::theme;
use crate::widgets::{icon_button, icon_text};

/// Lines that are shown without scrolling.
const MOST_LINES: f32 = 4.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    if desk.notices.all().is_empty() && desk.tasks.is_empty() {
        return;
    }
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.raised).inner_margin(Margin::symmetric(12, 2));
    Panel::top("notices").frame(frame).show(ui, |ui| {
        tasks(ui, desk);
        let height = theme::ROW * MOST_LINES;
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            notices(ui, desk);
        });
    });
}

fn tasks(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    for task in &mut desk.tasks.0 {
        ui.horizontal(|ui| {
            ui.set_min_height(theme::ROW);
            let text = if task.is_stopping() { "Stopping" } else { task.label.as_str() };
            ui.label(RichText::new(text).color(colours.text));
            match task.share() {
                Some(share) => {
                    let bar = ProgressBar::new(share).desired_width(200.0).desired_height(4.0);
                    ui.add(bar.fill(colours.accent)).accessible_name(format!("{text}: progress"));
                    let text = format!("{:.0} %", share * 100.0);
                    ui.label(RichText::new(text).color(colours.text_soft));
                }
                None => {
                    ui.add(egui::Spinner::new().size(14.0).color(colours.accent));
                }
            }
            let name = format!("Stop: {}", task.label);
            if icon_button(ui, Icon::X, &name, "Stop this").clicked() {
                task.stop();
            }
        });
    }
    if !desk.tasks.is_empty() {
        ui.ctx().request_repaint_after(Duration::from_millis(50));
    }
}

fn notices(ui: &mut Ui, desk: &mut Desk) {
    let mut read = None;
    for (index, notice) in desk.notices.all().iter().enumerate() {
        if line(ui, notice) {
            read = Some(index);
        }
    }
    if let Some(index) = read {
        desk.notices.dismiss(index);
    }
}

/// True once it was read.
fn line(ui: &mut Ui, notice: &Notice) -> bool {
    let colours = theme::colours(ui);
    let (icon, colour) = match notice.gravity {
        Gravity::Error => (Icon::TriangleAlert, colours.error),
        Gravity::Note => (Icon::Info, colours.text_soft),
    };
    let row = ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        ui.label(icon_text(icon, 16.0).color(colour));
        let text = RichText::new(&notice.text).color(colours.text);
        let room = ui.available_width() - theme::ROW - theme::GAP;
        ui.allocate_ui_with_layout(
            egui::vec2(room, theme::ROW),
            Layout::left_to_right(Align::Center).with_main_wrap(true),
            |ui| {
                ui.set_width(room);
                ui.add(egui::Label::new(text).wrap().selectable(true));
            },
        );
        icon_button(ui, Icon::X, "Close this line", "I have read this").clicked()
    });
    row.inner
}
