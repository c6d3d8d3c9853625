//! What is to be read, one line each, the latest on top. They lie over the model view's foot, so that nothing below
//! a hand moves when one comes or goes.

use std::time::Duration;

use egui::{
    Align, Align2, Area, Context, FontId, Frame, Id, Layout, Margin, Order, RichText, ScrollArea,
    Stroke, Ui, vec2,
};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::notices::{Gravity, Notice};
use crate::theme;
use crate::widgets::{icon_button, icon_text};

/// Lines that are shown without scrolling.
const MOST_LINES: f32 = 4.0;
/// Most that a line is wide before it is broken.
const WIDTH: f32 = 760.0;
/// What a line has beside its text.
const BESIDE_TEXT: f32 = 16.0 + theme::ROW + 3.0 * theme::GAP;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    // Nothing comes between the view and a pen that is down.
    if desk.gesture.is_none() {
        desk.notices.note_shown();
    }
    let now = context.input(|input| input.time);
    if let Some(left) = desk.notices.let_go(now) {
        context.request_repaint_after(Duration::from_secs_f64(left));
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
    let room = context.content_rect();
    let view = desk.model_view.rect.intersect(room);
    let over = if view.width() >= 320.0 && view.height() >= 160.0 { view } else { room };
    let area = Area::new(Id::unique("notices")).order(Order::Middle).pivot(Align2::CENTER_BOTTOM);
    area.fixed_pos(over.center_bottom() - vec2(0.0, theme::GAP)).constrain_to(room).show(
        context,
        |ui| {
            frame.show(ui, |ui| {
                ui.set_width(width(ui, desk, over.width() - 48.0));
                let height = theme::ROW * MOST_LINES;
                ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(
                    ui,
                    |ui| {
                        notices(ui, desk);
                    },
                );
            });
        },
    );
}

/// As wide as the longest line, where there is room for it.
fn width(ui: &Ui, desk: &Desk, room: f32) -> f32 {
    let colour = theme::colours(ui).text;
    let wide = |notice: &Notice| {
        let font = FontId::proportional(13.0);
        let text = ui.painter().layout_no_wrap(notice.text.clone(), font, colour).size().x;
        text + button_width(ui, notice)
    };
    let shown = desk.notices.all().iter().take(desk.notices.shown());
    let longest = shown.map(wide).fold(0.0, f32::max).ceil() + 1.0;
    (longest + BESIDE_TEXT).min(WIDTH).min(room).max(0.0)
}

fn notices(ui: &mut Ui, desk: &mut Desk) {
    let (mut read, mut taken) = (None, None);
    let shown = desk.notices.shown();
    for (index, notice) in desk.notices.all().iter().enumerate().take(shown).rev() {
        match line(ui, notice) {
            Some(Answer::Read) => read = Some(index),
            Some(Answer::Taken) => (read, taken) = (Some(index), notice.way_out),
            None => {}
        }
    }
    if let Some(index) = read {
        desk.notices.dismiss(index);
    }
    if let Some(way_out) = taken {
        desk.perform(way_out.command);
    }
}

/// What a person did with a line.
enum Answer {
    /// It was read.
    Read,
    /// Its way out was taken.
    Taken,
}

fn line(ui: &mut Ui, notice: &Notice) -> Option<Answer> {
    let colours = theme::colours(ui);
    let (icon, colour) = match notice.gravity {
        Gravity::Error => (Icon::TriangleAlert, colours.error),
        Gravity::Note => (Icon::Info, colours.text_soft),
    };
    let row = ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        ui.label(icon_text(icon, 16.0).color(colour));
        let text = RichText::new(&notice.text).color(colours.text);
        let beside = theme::ROW + theme::GAP + button_width(ui, notice);
        let room = (ui.available_width() - beside).max(0.0);
        ui.allocate_ui_with_layout(
            vec2(room, theme::ROW),
            Layout::left_to_right(Align::Center).with_main_wrap(true),
            |ui| {
                ui.set_width(room);
                ui.add(egui::Label::new(text).wrap().selectable(true));
            },
        );
        let way_out = notice.way_out.filter(|way_out| ui.button(way_out.label).clicked());
        if icon_button(ui, Icon::X, "Close this line", "I have read this").clicked() {
            Some(Answer::Read)
        } else {
            way_out.map(|_| Answer::Taken)
        }
    });
    row.inner
}

/// What a line's button takes, with the gap before it.
fn button_width(ui: &Ui, notice: &Notice) -> f32 {
    let Some(way_out) = notice.way_out else { return 0.0 };
    let font = egui::TextStyle::Button.resolve(ui.style());
    let colour = theme::colours(ui).text;
    let text = ui.painter().layout_no_wrap(way_out.label.to_owned(), font, colour).size().x;
    (text + 2.0 * ui.spacing().button_padding.x).ceil() + theme::GAP
}
