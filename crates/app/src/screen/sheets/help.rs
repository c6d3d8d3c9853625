//! All keys and gestures, from the one table.

use egui::{Context, RichText, ScrollArea, TextEdit, Ui};

use super::{scroll_height, sheet};
use crate::commands::{Entry, TABLE};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{heading, remark};

/// What the hand does in the views: gesture, and what it does.
const GESTURES: &[(&str, &str)] = &[
    ("Left drag or pen on the model", "Paint"),
    ("Right click", "Recent brushes and colours at the pointer"),
    ("Right drag", "Turn the model"),
    ("Middle drag", "Move the model"),
    ("Wheel", "Come closer to what is under the pointer, or go away from it"),
    ("Two fingers", "Move, and come closer"),
    ("Drag the bead of the light dial", "Turn and raise the light"),
    ("The pen's other end", "Erase"),
];

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let open = sheet(context, "Keys and gestures", 760.0, |ui| {
        let field = TextEdit::singleline(&mut desk.sought)
            .hint_text("Search")
            .desired_width(f32::INFINITY)
            .margin(egui::Margin::symmetric(8, 6));
        let response = ui.add(field).accessible_name("Search keys and gestures");
        if ui.memory(|memory| memory.focused().is_none()) {
            response.request_focus();
        }
        ui.add_space(4.0);
        let height = scroll_height(ui.ctx());
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            found(ui, desk);
        });
    });
    if !open {
        desk.sheet = None;
        desk.sought.clear();
    }
}

fn found(ui: &mut Ui, desk: &Desk) {
    let sought = desk.sought.trim().to_lowercase();
    let fits = |text: &str| text.to_lowercase().contains(&sought);
    let gestures: Vec<(String, String, &str)> = GESTURES
        .iter()
        .filter(|(gesture, does)| fits(gesture) || fits(does))
        .map(|(gesture, does)| ((*does).to_owned(), (*gesture).to_owned(), ""))
        .collect();
    let mut areas = vec![("In the views", gestures)];
    for (name, entries) in TABLE {
        let rows = entries.iter().filter_map(|entry| row(desk, entry, &fits)).collect();
        areas.push((name, rows));
    }
    areas.retain(|(_, rows)| !rows.is_empty());
    if areas.is_empty() {
        remark(ui, "Nothing of that name");
        return;
    }
    // Two columns of about the same height.
    let total: usize = areas.iter().map(|(_, rows)| rows.len() + 2).sum();
    let mut first = 0;
    let split = areas.iter().position(|(_, rows)| {
        first += rows.len() + 2;
        first * 2 >= total
    });
    let (left, right) = areas.split_at(split.map_or(areas.len(), |index| index + 1));
    ui.columns(2, |columns| {
        for (ui, areas) in columns.iter_mut().zip([left, right]) {
            for (name, rows) in areas {
                area(ui, name, rows);
            }
        }
    });
}

/// What it is called, its keys, and what it does.
fn row(
    desk: &Desk,
    entry: &Entry,
    fits: &dyn Fn(&str) -> bool,
) -> Option<(String, String, &'static str)> {
    let keys = desk.bindings.text(entry.command)?;
    let fits = fits(entry.label) || fits(entry.about) || fits(&keys);
    fits.then(|| (entry.label.to_owned(), keys, entry.about))
}

fn area(ui: &mut Ui, name: &str, rows: &[(String, String, &str)]) {
    let colours = theme::colours(ui);
    heading(ui, name);
    for (does, keys, about) in rows {
        ui.horizontal(|ui| {
            ui.set_min_height(24.0);
            ui.spacing_mut().item_spacing.x = 12.0;
            let half = ui.available_width() * 0.46;
            ui.allocate_ui_with_layout(
                egui::vec2(half, 20.0),
                egui::Layout::left_to_right(egui::Align::Center),
                |ui| {
                    ui.set_width(half);
                    let text = RichText::new(keys).color(colours.accent);
                    ui.add(egui::Label::new(text).wrap());
                },
            );
            let label = ui.add(egui::Label::new(RichText::new(does).color(colours.text)).wrap());
            if !about.is_empty() {
                label.on_hover_text(*about);
            }
        });
    }
    ui.add_space(8.0);
}
