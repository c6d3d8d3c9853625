//! Text on one line that ends in an ellipsis where there is no more room.

use std::sync::Arc;

use egui::text::{LayoutJob, TextWrapping};
use egui::{Color32, FontId, Galley, Ui};

/// The text in a width in points; [`Galley::elided`] tells whether some of it is missing.
pub(crate) fn elided(
    ui: &Ui,
    text: &str,
    font: FontId,
    colour: Color32,
    width: f32,
) -> Arc<Galley> {
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font, colour);
    job.wrap = TextWrapping::truncate_at_width(width.max(0.0));
    ui.painter().layout_job(job)
}
