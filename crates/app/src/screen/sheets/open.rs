//! The sheet that opens models: a path that is typed, the system's dialog, what was open lately, the demo.

use std::path::PathBuf;

use egui::{Context, Key, Modifiers, RichText, ScrollArea, TextEdit, Ui};

use super::{left, left_work, sheet};
use crate::desk::Desk;
use crate::file_dialog::{Asked, FileDialog};
use crate::on_disk::PROJECT;
use crate::opening::shown_name;
use crate::path_field::PathField;
use crate::theme;
use crate::widgets::{heading, remark, segments};

/// Endings of projects and of models that are read.
pub(crate) const MODELS: &[&str] = &[PROJECT, "obj", "glb", "gltf"];

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let mut chosen = None;
    let (mut demo, mut gone_on) = (false, false);
    let open = sheet(context, "Open a project or a model", 560.0, |ui| {
        chosen = typed(ui, desk);
        ui.add_space(4.0);
        ui.horizontal(|ui| {
            let waiting = desk.dialog.is_some();
            let text = if waiting { "The dialog is open" } else { "Browse" };
            let browse = ui.add_enabled(!waiting, egui::Button::new(text));
            if browse.on_hover_text("Choose the file in the system's dialog").clicked() {
                desk.dialog = Some(FileDialog::open(Asked::Model, ui.ctx().clone()));
            }
            remark(ui, "A project, or OBJ, glTF or GLB. Or drop a file on the window.");
        });
        texture_size(ui, desk);
        gone_on = left_work(ui, desk);
        if let Some(path) = recent(ui, desk) {
            chosen = Some(path);
        }
        if desk.demo.is_some() {
            heading(ui, "To try things out");
            demo = ui.button("The harbour bell").clicked();
        }
    });
    if chosen.is_some() || demo || gone_on || !open {
        desk.sheet = None;
        desk.path = PathField::default();
    }
    if let Some(path) = chosen {
        desk.open_file(path);
    } else if let (true, Some(bell)) = (demo, desk.demo) {
        desk.open_demo(bell);
    }
}

/// The field for a path, with what it may go on as below it. Gives the file that was chosen.
fn typed(ui: &mut Ui, desk: &mut Desk) -> Option<PathBuf> {
    let field = &mut desk.path;
    let context = ui.ctx().clone();
    let offered = field.offered(MODELS, move || context.request_repaint());
    let id = ui.make_persistent_id("path");
    let completion = field.completion(&offered);
    let is_focused = ui.memory(|memory| memory.has_focus(id));
    let mut enter = false;
    if is_focused {
        let pressed =
            |ui: &mut Ui, key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
        if let Some(name) = completion.as_ref().filter(|_| pressed(ui, Key::Tab)) {
            field.take(name);
            put_cursor_at_end(ui, id, &field.text);
        }
        let last = offered.len().saturating_sub(1);
        if pressed(ui, Key::ArrowDown) && !offered.is_empty() {
            field.picked = Some(field.picked.map_or(0, |picked| (picked + 1).min(last)));
        }
        if pressed(ui, Key::ArrowUp) {
            field.picked = field.picked.and_then(|picked| picked.checked_sub(1));
        }
        enter = pressed(ui, Key::Enter);
    }
    let edit = TextEdit::singleline(&mut field.text)
        .id(id)
        // Tab completes, and goes on to the next control where there is nothing to complete.
        .lock_focus(completion.is_some())
        .hint_text("Path of a model: Tab completes it")
        .desired_width(f32::INFINITY)
        .margin(egui::Margin::symmetric(8, 6));
    let response = ui.add(edit).accessible_name("Path of the model");
    if ui.memory(|memory| memory.focused().is_none()) {
        response.request_focus();
    }
    if response.changed() {
        field.changed();
    }
    let taken = list(ui, desk, &offered).or_else(|| {
        let picked = desk.path.picked.filter(|_| enter)?;
        offered.get(picked).cloned()
    });
    if let Some(name) = taken {
        desk.path.take(&name);
        put_cursor_at_end(ui, id, &desk.path.text);
        return (!name.ends_with('/')).then(|| desk.path.path());
    }
    if let Some(fault) = &desk.path.fault {
        let colour = theme::colours(ui).error;
        ui.label(RichText::new(fault).color(colour));
    }
    let file = enter.then(|| desk.path.path())?;
    desk.path.fault = fault(&file);
    desk.path.fault.is_none().then_some(file)
}

/// The names that are offered; gives the one that was clicked.
fn list(ui: &mut Ui, desk: &Desk, offered: &[String]) -> Option<String> {
    if offered.is_empty() || desk.path.text.trim().is_empty() {
        return None;
    }
    let mut clicked = None;
    let row = theme::ROW + 4.0;
    let height = (offered.len() as f32 * row).min(row * 5.0);
    ScrollArea::vertical().id_salt("offered").max_height(height).auto_shrink([false, true]).show(
        ui,
        |ui| {
            for (index, name) in offered.iter().enumerate() {
                let picked = desk.path.picked == Some(index);
                let label = ui.selectable_label(picked, name);
                if picked {
                    label.scroll_to_me(None);
                }
                if label.clicked() {
                    clicked = Some(name.clone());
                }
            }
        },
    );
    clicked
}

fn put_cursor_at_end(ui: &Ui, id: egui::Id, text: &str) {
    use egui::text::{CCursor, CCursorRange};
    if let Some(mut state) = TextEdit::load_state(ui.ctx(), id) {
        let end = CCursor::new(text.chars().count());
        state.cursor.set_char_range(Some(CCursorRange::one(end)));
        state.store(ui.ctx(), id);
    }
    ui.memory_mut(|memory| memory.request_focus(id));
}

/// What keeps a file from being opened, as far as its name tells.
fn fault(file: &std::path::Path) -> Option<String> {
    let ending = file.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let fault = if file.as_os_str().is_empty() {
        "Type the path of a model"
    } else if file.is_dir() {
        "This is a folder: go on to a file in it"
    } else if !file.exists() {
        "There is no such file"
    } else if !MODELS.contains(&ending.as_str()) {
        "This can't be read: choose a project, OBJ, glTF or GLB"
    } else {
        return None;
    };
    Some(fault.to_owned())
}

fn texture_size(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Textures");
    let edges = [(1024, "1024"), (2048, "2048"), (4096, "4096"), (8192, "8192")];
    let choices =
        edges.map(|(edge, name)| (edge, name, "Texels along the edge of each material's textures"));
    ui.horizontal(|ui| {
        if let Some(edge) = segments(ui, &choices, |edge| edge == desk.preferences.texture_edge) {
            desk.preferences.texture_edge = edge;
        }
        remark(ui, "texels a side; can be changed later");
    });
}

fn recent(ui: &mut Ui, desk: &mut Desk) -> Option<PathBuf> {
    if desk.preferences.recent.is_empty() {
        return None;
    }
    heading(ui, "Opened lately");
    recent_files(ui, desk)
}

/// Files that were open lately; gives the one that was clicked.
pub(crate) fn recent_files(ui: &mut Ui, desk: &mut Desk) -> Option<PathBuf> {
    let colours = theme::colours(ui);
    let mut clicked = None;
    let Desk { files, editor, preferences, .. } = desk;
    for path in preferences.recent.iter().take(6) {
        let picture = files.small_pictures.look(ui.ctx(), editor, path);
        ui.horizontal(|ui| {
            if picture.is_some() {
                left::picture(ui, picture.as_ref());
            }
            let button = egui::Button::new(shown_name(path)).frame_when_inactive(false);
            if ui.add(button).on_hover_text(path.display().to_string()).clicked() {
                clicked = Some(path.clone());
            }
            let folder = path.parent().map_or(String::new(), |folder| folder.display().to_string());
            let text = RichText::new(folder).color(colours.text_weak);
            ui.add(egui::Label::new(text).truncate());
        });
    }
    clicked
}
