//! Rows with a name before a control, their names all in one column.

use egui::{Align2, FontId, Sense, Ui, vec2};

use crate::theme;

/// A row with a name, and beside it whatever `contents` shows.
pub(crate) fn named_row<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    let row = ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        ui.spacing_mut().item_spacing.x = 4.0;
        let width = theme::NAME_WIDTH.min(ui.available_width() * 0.4);
        let (rect, _) = ui.allocate_exact_size(vec2(width, theme::ROW), Sense::hover());
        let colours = theme::colours(ui);
        let colour = colours.text_soft;
        let at = rect.left_center();
        ui.painter().text(at, Align2::LEFT_CENTER, name, FontId::proportional(13.0), colour);
        contents(ui)
    });
    row.inner
}
