//! What lies over the flat view: its switches, and whose texture it is.

use egui::{Align2, FontId, Rect, Ui, UiBuilder, pos2, vec2};

use crate::commands::{Command, ViewCommand};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::segments;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, view: Rect) {
    let room = Rect::from_min_max(
        view.min + vec2(12.0, 12.0),
        pos2(view.right() - 12.0, view.top() + 44.0),
    );
    let bar = ui.scope_builder(UiBuilder::new().max_rect(room), |ui| {
        let commands = [ViewCommand::ToggleOutlines, ViewCommand::ToggleFollow].map(Command::View);
        let tips = commands.map(|command| desk.tooltip(command));
        let rows = [
            (commands[0], "Outlines", tips[0].as_str()),
            (commands[1], "Follow", tips[1].as_str()),
        ];
        let on = [desk.flat_view.outlines, desk.flat_view.follows];
        let is_on = |command| if command == commands[0] { on[0] } else { on[1] };
        if let Some(command) = segments(ui, &rows, is_on) {
            desk.perform(command);
        }
    });
    let Some(material) = desk.material() else { return };
    let taken = bar.response.rect.right() + 12.0;
    let right = view.right() - 12.0;
    let colours = theme::colours(ui);
    let galley = {
        let text = egui::text::LayoutJob::simple_singleline(
            material.name.clone(),
            FontId::proportional(13.0),
            colours.text,
        );
        let mut text = text;
        text.wrap = egui::text::TextWrapping::truncate_at_width((right - taken).max(0.0));
        ui.painter().layout_job(text)
    };
    if right - taken > 24.0 {
        let room =
            Rect::from_min_max(pos2(taken, view.top() + 12.0), pos2(right, view.top() + 40.0));
        let at = Align2::RIGHT_CENTER.align_size_within_rect(galley.size(), room);
        ui.painter().galley(at.min, galley, colours.text);
    }
}
