//! What lies over the window until it is closed: a sheet in its middle, closed by Escape or a click beside it.

mod help;
mod in_use;
mod keep;
mod keys;
mod leaving;
mod left;
mod open;
mod pen_pad;
mod point;
mod preferences;

pub(crate) use left::{ago, left_work};
pub(crate) use open::{MODELS, recent_files};

use egui::{Align, Context, Frame, Id, Layout, Margin, Modal, RichText, Ui, Vec2, vec2};
use lucide_icons::Icon;

use crate::desk::{Desk, Sheet};
use crate::theme;
use crate::widgets::icon_button;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    if desk.leaving.is_some() {
        leaving::show(context, desk);
        return;
    }
    if desk.files.in_use.is_some() {
        in_use::show(context, desk);
        return;
    }
    if desk.files.leaving.is_some() {
        leaving::show_waiting(context, desk);
        return;
    }
    match desk.sheet {
        Some(Sheet::Help) => help::show(context, desk),
        Some(Sheet::Preferences) => preferences::show(context, desk),
        Some(Sheet::Open) => open::show(context, desk),
        Some(Sheet::Keep(purpose)) => keep::show(context, desk, purpose),
        Some(Sheet::Point) => point::show(context, desk),
        None => {}
    }
}

/// Shows a sheet with a heading; false once it is to be closed.
fn sheet(context: &Context, name: &str, width: f32, contents: impl FnOnce(&mut Ui)) -> bool {
    let colours = theme::of(context.theme());
    let frame = Frame::new()
        .fill(colours.panel)
        .stroke(egui::Stroke::new(1.0, colours.line))
        .corner_radius(theme::RADIUS + 2)
        .inner_margin(Margin::same(20));
    let room = (context.content_rect().size() - vec2(80.0, 80.0)).max(Vec2::ZERO);
    let mut open = true;
    let shown = Modal::new(Id::unique(name)).frame(frame).show(context, |ui| {
        ui.set_width(width.min(room.x));
        ui.set_max_height(room.y);
        ui.horizontal(|ui| {
            let heading = RichText::new(name).font(theme::semibold(16.0)).color(colours.text);
            ui.label(heading);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let close = format!("Close {}", name.to_lowercase());
                open = !icon_button(ui, Icon::X, &close, "Close  (Escape)").clicked();
            });
        });
        ui.add_space(8.0);
        contents(ui);
    });
    open && !shown.should_close()
}

/// The button that does what a sheet is there for.
fn main_button(ui: &mut Ui, label: &str) -> egui::Response {
    let colours = theme::colours(ui);
    let text = RichText::new(label).color(colours.on_accent);
    ui.add(egui::Button::new(text).fill(colours.accent_deep))
}

/// A field that takes what is typed when its sheet opens. True once Enter was pressed in it.
fn line_field(ui: &mut Ui, name: &'static str, text: &mut String) -> (egui::Response, bool) {
    let edit = egui::TextEdit::singleline(text)
        .id(Id::unique(name))
        .hint_text(name)
        .desired_width(f32::INFINITY)
        .margin(Margin::symmetric(8, 6));
    let response = ui.add(edit).accessible_name(name);
    let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
    if ui.memory(|memory| memory.focused().is_none()) {
        response.request_focus();
    }
    (response, entered)
}

/// Height that a sheet's scrolled contents may take.
fn scroll_height(context: &Context) -> f32 {
    (context.content_rect().height() - 220.0).clamp(160.0, 900.0)
}
