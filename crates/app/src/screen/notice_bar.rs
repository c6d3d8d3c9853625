//! What is to be read: one line each, until it is closed. And what goes on, with a way to stop it.

use egui::{Align, Frame, Layout, Margin, Panel, ProgressBar, RichText, Ui};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::notices::Gravity;
use crate::theme;
use crate::widgets::{icon_button, icon_text};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    if desk.notices.all().is_empty() && desk.tasks.is_empty() {
        return;
    }
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.raised).inner_margin(Margin::symmetric(12, 2));
    Panel::top("notices").frame(frame).show(ui, |ui| {
        tasks(ui, desk);
        notices(ui, desk);
    });
}

fn tasks(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    for task in &mut desk.tasks.0 {
        ui.horizontal(|ui| {
            let text = if task.is_stopping() { "Stopping" } else { task.label.as_str() };
            ui.label(RichText::new(text).color(colours.text));
            let bar = ProgressBar::new(task.share().unwrap_or(0.0))
                .desired_width(200.0)
                .desired_height(4.0);
            ui.add(bar.fill(colours.accent));
            let name = format!("Stop: {}", task.label);
            if icon_button(ui, Icon::X, &name, "Stop this").clicked() {
                task.stop();
            }
        });
        ui.ctx().request_repaint_after(std::time::Duration::from_millis(50));
    }
}

fn notices(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let mut read = None;
    for (index, notice) in desk.notices.all().iter().enumerate() {
        let (icon, colour) = match notice.gravity {
            Gravity::Error => (Icon::TriangleAlert, colours.error),
            Gravity::Note => (Icon::Info, colours.text_soft),
        };
        ui.horizontal(|ui| {
            ui.label(icon_text(icon, 16.0).color(colour));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if icon_button(ui, Icon::X, "Close this line", "I have read this").clicked() {
                    read = Some(index);
                }
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    let text = RichText::new(&notice.text).color(colours.text);
                    ui.add(egui::Label::new(text).wrap().selectable(true));
                });
            });
        });
    }
    if let Some(index) = read {
        desk.notices.dismiss(index);
    }
}
