//! What goes on, how far it is, and a way to stop it: in the status line, so that nothing moves when it begins or ends.

use std::time::Duration;

use egui::{ProgressBar, RichText, Ui};
use lucide_icons::Icon;

use crate::desk::Desk;
use crate::tasks::Task;
use crate::theme;
use crate::widgets::icon_button;

/// Tasks that are shown; of others it is told how many.
const MOST: usize = 2;

/// Shows tasks from right to left, the oldest last.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let tasks = &mut desk.tasks.0;
    if tasks.is_empty() {
        return;
    }
    ui.ctx().request_repaint_after(Duration::from_millis(50));
    let surplus = tasks.len().saturating_sub(MOST);
    if surplus > 0 {
        let text = RichText::new(format!("and {surplus} more"));
        ui.label(text.color(theme::colours(ui).text_soft));
    }
    for task in tasks.iter_mut().take(MOST) {
        one(ui, task);
        ui.add_space(8.0);
    }
}

fn one(ui: &mut Ui, task: &mut Task) {
    let colours = theme::colours(ui);
    let name = format!("Stop: {}", task.label);
    if icon_button(ui, Icon::X, &name, "Stop this").clicked() {
        task.stop();
    }
    let share = task.share().unwrap_or(0.0);
    let number = RichText::new(format!("{:.0} %", share * 100.0)).color(colours.text_soft);
    ui.add_sized([40.0, theme::ROW - 8.0], egui::Label::new(number));
    let bar = ProgressBar::new(share).desired_width(96.0).desired_height(4.0).fill(colours.accent);
    ui.add(bar).accessible_name(format!("{}: progress", task.label));
    let text = if task.is_stopping() { "Stopping" } else { task.label.as_str() };
    ui.add(egui::Label::new(RichText::new(text).color(colours.text)).truncate());
}
