//! What was done, the last at the bottom; what was taken back is fainter. A click goes there.

mod points;

use document::History;
use egui::{Align, Align2, FontId, Rect, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};

use super::panel_margin;
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{elided, remark};

/// Height of an entry.
const LINE: f32 = 24.0;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    ui.spacing_mut().item_spacing.y = 0.0;
    let (count, present) = {
        let (entries, present) = desk.editor.history().entries();
        (entries.len(), present)
    };
    if count <= 1 && desk.document().model.is_none() {
        panel_margin(ui, |ui| remark(ui, "Each edit comes here. A click goes back to it."));
        return;
    }
    points::show(ui, desk);
    let follow = desk.history_view.is_news(count, present);
    let mut chosen = None;
    let foot = 24.0;
    let height = (ui.available_height() - foot).max(LINE);
    ScrollArea::vertical()
        .id_salt("history")
        .auto_shrink(false)
        .max_height(height)
        .animated(false)
        .show_viewport(ui, |ui, viewport| {
            let size = vec2(ui.available_width(), count as f32 * LINE);
            let (area, _) = ui.allocate_exact_size(size, Sense::hover());
            let first = (viewport.min.y / LINE).floor().max(0.0) as usize;
            let end = ((viewport.max.y / LINE).ceil() as usize).min(count);
            let (entries, _) = desk.editor.history().entries();
            for (number, entry) in entries.enumerate().take(end).skip(first) {
                let rect = line_rect(area, number);
                if line(ui, rect, (number, present), &entry.label) {
                    chosen = Some(number);
                }
            }
            if follow {
                ui.scroll_to_rect(line_rect(area, present), Some(Align::Center));
            }
        });
    foot_line(ui, desk.editor.history(), desk.is_history_coming());
    if let Some(entry) = chosen {
        desk.drop_in_hand();
        desk.editor.go_to(entry);
        desk.settle();
    }
}

fn line_rect(area: Rect, number: usize) -> Rect {
    let top = area.top() + number as f32 * LINE;
    Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), LINE))
}

/// An entry; true when it is clicked.
fn line(ui: &Ui, rect: Rect, (number, present): (usize, usize), label: &str) -> bool {
    let colours = theme::colours(ui);
    let response = ui.interact(rect, ui.scope_id().with(("entry", number)), Sense::click());
    let is_present = number == present;
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_present, label));
    let back = rect.shrink2(vec2(8.0, 0.0));
    let is_lit_up = response.hovered() || response.has_focus();
    if is_present || is_lit_up {
        let fill = if is_present { colours.raised } else { colours.raised.gamma_multiply(0.45) };
        ui.painter().rect_filled(back, f32::from(theme::RADIUS), fill);
    }
    let (font, colour) = match number.cmp(&present) {
        std::cmp::Ordering::Less => (FontId::proportional(13.0), colours.text_soft),
        std::cmp::Ordering::Equal => (theme::semibold(13.0), colours.text),
        std::cmp::Ordering::Greater => {
            (FontId::proportional(13.0), colours.text_weak.gamma_multiply(0.75))
        }
    };
    let galley = elided(ui, label, font, colour, back.width() - 8.0);
    let is_cut = galley.elided;
    let at = pos2(back.left() + 4.0, rect.center().y - galley.size().y / 2.0);
    ui.painter().galley(at, galley, colour);
    let about = match number.cmp(&present) {
        std::cmp::Ordering::Less => "Go back to here",
        std::cmp::Ordering::Equal => "What is shown",
        std::cmp::Ordering::Greater => "Taken back: go forward to here",
    };
    let about = if is_cut { format!("{label}\n{about}") } else { about.to_owned() };
    response.on_hover_text(about).clicked()
}

/// How much there is, and what it takes.
fn foot_line(ui: &mut Ui, history: &History, is_coming: bool) {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 24.0), Sense::hover());
    let bytes = history.tile_bytes() + history.step_bytes();
    let edits = history.entries().0.len() - 1;
    let noun = if edits == 1 { "edit" } else { "edits" };
    let coming = if is_coming { ", reading those before" } else { "" };
    let text = format!("{edits} {noun}, {}{coming}", in_mebibytes(bytes));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &text));
    let at = rect.left_center() + vec2(12.0, 0.0);
    let font = FontId::proportional(12.0);
    ui.painter().text(at, Align2::LEFT_CENTER, &text, font, colours.text_weak);
    response.on_hover_text("What all edits keep in memory. The oldest go first when it gets short");
}

fn in_mebibytes(bytes: usize) -> String {
    let mebibytes = bytes as f64 / f64::from(1 << 20);
    if mebibytes < 10.0 { format!("{mebibytes:.1} MiB") } else { format!("{mebibytes:.0} MiB") }
}

/// Which entry the list was scrolled to last.
#[derive(Debug, Default)]
pub(crate) struct HistoryView {
    followed: (usize, usize),
}

impl HistoryView {
    /// Whether the number of entries or the present one is another than in the last frame.
    fn is_news(&mut self, count: usize, present: usize) -> bool {
        std::mem::replace(&mut self.followed, (count, present)) != (count, present)
    }
}

#[cfg(test)]
mod tests {
    use egui_kittest::kittest::Queryable as _;

    use crate::commands::{Command, FileCommand, LayerCommand};
    use crate::testing::{bell_desk, harness};

    #[test]
    fn a_click_on_an_entry_goes_there_and_back() {
        let mut harness = harness(bell_desk(), [1280.0, 1000.0]);
        let command = Command::Layer(LayerCommand::Duplicate);
        harness.state_mut().perform(command);
        harness.run();
        let layers = |desk: &crate::desk::Desk| desk.material().unwrap().stack.walk().count();
        assert_eq!(layers(harness.state()), 2);
        harness.get_by_label("Import").click();
        harness.run();
        assert_eq!(harness.state().editor.history().entries().1, 1);
        assert_eq!(layers(harness.state()), 0);
        harness.get_by_label("Duplicate Layer 1").click();
        harness.run();
        assert_eq!(layers(harness.state()), 2);
    }

    #[test]
    fn the_present_entry_is_in_sight_however_long_the_list_is() {
        let mut desk = bell_desk();
        for _ in 0..60 {
            desk.perform(Command::Layer(LayerCommand::ToggleVisible));
        }
        desk.perform(Command::Layer(LayerCommand::Duplicate));
        let mut harness = harness(desk, [1280.0, 800.0]);
        harness.run();
        assert!(harness.query_by_label("Duplicate Layer 1").is_some());
        assert!(harness.query_by_label("Start").is_none(), "entries out of sight are not built");
        for _ in 0..65 {
            harness.state_mut().perform(Command::File(FileCommand::Undo));
        }
        harness.run();
        assert!(harness.query_by_label("Start").is_some());
    }
}
