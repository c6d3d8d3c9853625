//! What is to be read: one line each, until it is closed. They lie over the panels, so that nothing below a hand
//! moves when one comes.

use egui::{
    Align, Align2, Area, Context, Frame, Id, Layout, Margin, Order, RichText, ScrollArea, Stroke,
    Ui, vec2,
};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::notices::{Gravity, Notice};
use crate::theme;
use crate::widgets::{icon_button, icon_text};

/// Lines that are shown without scrolling.
const MOST_LINES: f32 = 4.0;
/// Width, where the window has room for it.
const WIDTH: f32 = 760.0;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    // Nothing comes between the view and a pen that is down.
    if desk.gesture.is_none() {
        desk.notices.note_shown();
    }
    if desk.notices.shown() == 0 {
        return;
    }
    let colours = theme::of(context.theme());
    let frame = Frame::new()
        .fill(colours.raised)
        .stroke(Stroke::new(1.0, colours.line))
        .corner_radius(theme::RADIUS)
        .shadow(context.global_style().visuals.popup_shadow)
        .inner_margin(Margin::symmetric(12, 4));
    let width = WIDTH.min(context.content_rect().width() - 48.0).max(0.0);
    Area::new(Id::unique("notices"))
        .order(Order::Middle)
        .anchor(Align2::CENTER_BOTTOM, vec2(0.0, -theme::ROW - theme::GAP))
        .show(context, |ui| {
            frame.show(ui, |ui| {
                ui.set_width(width);
                let height = theme::ROW * MOST_LINES;
                ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(
                    ui,
                    |ui| {
                        notices(ui, desk);
                    },
                );
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
        let room = (ui.available_width() - theme::ROW - theme::GAP).max(0.0);
        ui.allocate_ui_with_layout(
            vec2(room, theme::ROW),
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
