//! The controls that panels are made of. Each has a name for screen readers and for tests.

mod elided;
mod focus;
mod fold;
mod icon_button;
mod named_row;
mod segments;
mod swatch;
mod value_row;

pub(crate) use elided::elided;
pub(crate) use focus::focus_ring;
pub(crate) use fold::fold;
pub(crate) use icon_button::{icon_button, icon_text, icon_toggle};
pub(crate) use named_row::named_row;
pub(crate) use segments::{segments, wide_segments, wide_toggles};
pub(crate) use swatch::{choosable_swatch, swatch, to_colour32};
pub(crate) use value_row::{Scale, ValueRow};

use egui::{Response, RichText, Ui};

use crate::theme;

/// The heading of a section.
pub(crate) fn heading(ui: &mut Ui, text: &str) -> Response {
    ui.add_space(4.0);
    let colour = theme::colours(ui).text_soft;
    ui.label(RichText::new(text).font(theme::semibold(13.0)).color(colour))
}

/// Between two sections.
pub(crate) fn divide(ui: &mut Ui) {
    ui.add_space(8.0);
    ui.separator();
}

/// A line that may be passed over.
pub(crate) fn remark(ui: &mut Ui, text: impl Into<String>) -> Response {
    let colour = theme::colours(ui).text_weak;
    ui.add(egui::Label::new(RichText::new(text).color(colour)).wrap())
}
