//! What is to be read: one line each, until it is closed.

use egui::{Align, Frame, Layout, Margin, Panel, RichText, ScrollArea, Ui};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::notices::{Gravity, Notice};
use crate::theme;
use crate::widgets::{icon_button, icon_text};

/// Lines that are shown without scrolling.
const MOST_LINES: f32 = 4.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    // Nothing moves under a pen that is down.
    if desk.gesture.is_none() {
        desk.notices.note_shown();
    }
    if desk.notices.shown() == 0 {
        return;
    }
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.raised).inner_margin(Margin::symmetric(12, 2));
    Panel::top("notices").frame(frame).show(ui, |ui| {
        let height = theme::ROW * MOST_LINES;
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            notices(ui, desk);
        });
    });
}

fn notices(ui: &mut Ui, desk: &mut Desk) {
    let mut read = None;
    let shown = desk.notices.shown();
    for (index, notice) in desk.notices.all().iter().enumerate().take(shown) {
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
