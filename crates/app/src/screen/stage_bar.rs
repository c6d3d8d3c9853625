//! The job's stages in order, what is open, and the way back.

use std::time::Duration;

use egui::{Align, Align2, Frame, Layout, Margin, Panel, RichText, Role, Sense, Ui, WidgetInfo};
use lucide_icons::Icon;

use super::first_steps;
use crate::commands::{Command, FileCommand, WindowCommand, entry};
use crate::desk::{Desk, Sheet, Stage};
use crate::panes::{Pane, is_shown};
use crate::theme;
use crate::widgets::{icon_button, icon_text};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(12, 6));
    Panel::top("stages").frame(frame).exact_size(44.0).show(ui, |ui| {
        let bar = ui.max_rect();
        ui.horizontal_centered(|ui| {
            for stage in [Stage::Paint, Stage::Export] {
                stage_button(ui, desk, stage);
            }
            let left = ui.cursor().left();
            let right = ui
                .with_layout(Layout::right_to_left(Align::Center), |ui| {
                    buttons(ui, desk);
                    ui.cursor().right()
                })
                .inner;
            title(ui, desk, bar, (left + 16.0)..(right - 16.0));
        });
    });
}

fn buttons(ui: &mut Ui, desk: &mut Desk) {
    use {FileCommand as File, WindowCommand as Window};
    let window = |command| Command::Window(command);
    command_button(ui, desk, Icon::SlidersHorizontal, window(Window::Sheet(Sheet::Preferences)));
    command_button(ui, desk, Icon::CircleQuestionMark, window(Window::Sheet(Sheet::Help)));
    panels_menu(ui, desk);
    let (can_undo, can_redo) = {
        let (entries, present) = desk.editor.history().entries();
        (present > 0, present + 1 < entries.len())
    };
    ui.add_enabled_ui(can_redo, |ui| {
        command_button(ui, desk, Icon::Redo2, Command::File(File::Redo));
    });
    ui.add_enabled_ui(can_undo, |ui| {
        command_button(ui, desk, Icon::Undo2, Command::File(File::Undo));
    });
    command_button(ui, desk, Icon::FolderOpen, Command::File(File::Open));
}

/// What is open, in the middle of the bar as far as there is room; a click shows what can be done with its file.
fn title(ui: &mut Ui, desk: &mut Desk, bar: egui::Rect, room: std::ops::Range<f32>) {
    let colours = theme::colours(ui);
    let font = theme::semibold(13.0);
    let width = (room.end - room.start).max(0.0);
    let mut job = egui::text::LayoutJob::simple_singleline(desk.title.clone(), font, colours.text);
    let format = egui::TextFormat::simple(egui::FontId::proportional(13.0), colours.text_soft);
    let whereabouts = whereabouts(ui, desk);
    job.append(whereabouts, 16.0, format);
    job.wrap = egui::text::TextWrapping::truncate_at_width(width);
    let galley = ui.painter().layout_job(job);
    let half = galley.size().x / 2.0;
    let middle = bar.center().x.clamp(room.start + half, (room.end - half).max(room.start + half));
    let at = egui::pos2(middle, bar.center().y);
    let at = Align2::CENTER_CENTER.anchor_size(at, galley.size());
    if desk.title.is_empty() {
        return;
    }
    let at = at.expand2(egui::vec2(8.0, 6.0));
    let response = ui.interact(at, ui.scope_id().with("title"), Sense::click());
    response.widget_info(|| {
        let told = format!("{}, {whereabouts}", desk.title);
        WidgetInfo::labeled(Role::Button, true, told.trim_end_matches(", "))
    });
    if response.hovered() || response.has_focus() {
        ui.painter().rect_filled(at, f32::from(theme::RADIUS), colours.raised);
    }
    ui.painter().galley(at.shrink2(egui::vec2(8.0, 6.0)).min, galley, colours.text);
    egui::Popup::menu(&response).show(|ui| file_menu(ui, desk));
    let path = match (&desk.on_disk, &desk.files.looked_at) {
        (Some(on_disk), _) if !on_disk.is_untitled => on_disk.path.display().to_string(),
        (Some(_), _) => "Kept by the program until it has a name".to_owned(),
        (None, Some(path)) => path.display().to_string(),
        (None, None) => "Not changed yet".to_owned(),
    };
    response.on_hover_text(path);
}

/// What can be done with the file.
fn file_menu(ui: &mut Ui, desk: &mut Desk) {
    use FileCommand as File;
    let has_name = desk.on_disk.as_ref().is_some_and(|on_disk| !on_disk.is_untitled);
    let keep = if has_name {
        (File::NamePoint, "Name a point")
    } else {
        (File::Keep, "Keep as a project")
    };
    let mut rows = vec![keep];
    if has_name {
        rows.push((File::KeepElsewhere, "Keep in another place"));
    }
    rows.extend([(File::KeepCopy, "Keep a copy"), (File::Pack, "Pack"), (File::Open, "Open")]);
    for (command, label) in rows {
        let bound = if command == File::NamePoint { File::Keep } else { command };
        let keys = desk.bindings.text(Command::File(bound)).unwrap_or_default();
        let button = egui::Button::new(label).shortcut_text(keys);
        let about = entry(Command::File(command)).map_or("", |entry| entry.about);
        if ui.add(button).on_hover_text(about).clicked() {
            desk.perform(Command::File(command));
            ui.close();
        }
    }
}

/// Where the document is kept, in a few words.
fn whereabouts(ui: &Ui, desk: &Desk) -> &'static str {
    let is_coming = desk.files.untitled.is_coming();
    match &desk.on_disk {
        Some(on_disk) if on_disk.is_all() && !desk.has_unkept_work() => {
            if on_disk.is_untitled {
                "untitled, all on disk"
            } else {
                "all on disk"
            }
        }
        Some(_) => {
            ui.ctx().request_repaint_after(Duration::from_millis(50));
            if desk.on_disk.as_ref().is_some_and(|on_disk| on_disk.is_untitled) {
                "untitled, writing"
            } else {
                "writing"
            }
        }
        None if is_coming => {
            ui.ctx().request_repaint_after(Duration::from_millis(50));
            "untitled, writing"
        }
        None if desk.has_unexported_work() => "in no file yet",
        None if desk.files.looked_at.is_some() => "read only",
        None => "",
    }
}

/// Which panels are shown.
fn panels_menu(ui: &mut Ui, desk: &mut Desk) {
    let colour = theme::colours(ui).text_soft;
    let icon = icon_text(Icon::PanelsTopLeft, 16.0).color(colour);
    let button = egui::Button::new(icon).frame_when_inactive(false);
    let (response, _) = egui::containers::menu::MenuButton::from_button(button).ui(ui, |ui| {
        for pane in Pane::ALL {
            let command = Command::Window(WindowCommand::Panel(pane));
            let mut shown = is_shown(&desk.panes, pane);
            let name = entry(command).map_or("", |entry| entry.label);
            let tip = desk.tooltip(command);
            if ui.checkbox(&mut shown, name).on_hover_text(tip).clicked() {
                desk.perform(command);
            }
        }
        ui.separator();
        if ui.button("Put them back").clicked() {
            desk.panes = crate::panes::arranged();
            ui.close();
        }
        for (command, icon) in [
            (WindowCommand::FullScreen, Icon::Maximize),
            (WindowCommand::FirstSteps, Icon::Footprints),
        ] {
            let command = Command::Window(command);
            let name = entry(command).map_or("", |entry| entry.label);
            let tip = desk.tooltip(command);
            let row = ui.horizontal(|ui| {
                ui.label(icon_text(icon, 16.0).color(colour));
                ui.button(name).on_hover_text(tip).clicked()
            });
            if row.inner {
                desk.perform(command);
                ui.close();
            }
        }
    });
    response.accessible_name("Panels").on_hover_text("Show and hide panels");
}

/// A button for a command, with its name and tooltip from the table.
fn command_button(ui: &mut Ui, desk: &mut Desk, icon: Icon, command: Command) {
    let name = entry(command).map_or("", |entry| entry.label);
    if icon_button(ui, icon, name, &desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
}

fn stage_button(ui: &mut Ui, desk: &mut Desk, stage: Stage) {
    let colours = theme::colours(ui);
    let command = Command::Window(WindowCommand::Stage(stage));
    let chosen = desk.stage == stage;
    let name = entry(command).map_or("", |entry| entry.label);
    let colour = if chosen { colours.on_accent } else { colours.text_soft };
    let text = RichText::new(name).color(colour);
    let fill = if chosen { colours.accent_deep } else { colours.panel };
    let button = egui::Button::selectable(chosen, text).fill(fill);
    let response = ui.add(button).on_hover_text(desk.tooltip(command));
    if stage == Stage::Export {
        ui.data_mut(|data| data.insert_temp(first_steps::export_button(), response.rect));
    }
    if response.clicked() {
        desk.perform(command);
    }
}
