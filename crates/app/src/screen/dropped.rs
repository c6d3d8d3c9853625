//! Files that are dropped on the window.

use std::path::PathBuf;

use egui::{Align2, Context, LayerId, Order};

use super::sheets::MODELS;
use crate::brushes::{ENDING, is_shared};
use crate::desk::Desk;
use crate::opening::shown_name;
use crate::theme;

const LIGHTS: &[&str] = &["hdr", "exr"];
const PICTURES: &[&str] = &["png", "jpg", "jpeg", "tif", "tiff"];

/// Takes what was dropped in this frame.
pub(super) fn take(context: &Context, desk: &mut Desk) {
    let dropped = context
        .input(|input| input.raw.dropped_files.iter().map(|file| file.path().to_owned()).collect());
    take_files(desk, dropped);
}

/// Models are opened, environments become the light, pictures references.
pub(crate) fn take_files(desk: &mut Desk, dropped: Vec<PathBuf>) {
    for path in dropped {
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        let is_one_of = |endings: &[&str]| endings.contains(&ending.as_str());
        if is_shared(&path) {
            desk.bring_in_brush(&path);
        } else if is_one_of(MODELS) {
            desk.sheet = None;
            desk.open_file(path);
        } else if is_one_of(LIGHTS) {
            desk.light_from(&path);
        } else if is_one_of(PICTURES) {
            desk.dropped_pictures.push(path);
        } else {
            let name = shown_name(&path);
            desk.notices.error(format!(
                "{name}: this can't be opened: drop a project, a model (OBJ, glTF, GLB), a light (HDR, EXR), a picture (PNG, \
                 JPEG, TIFF) or a brush ({ENDING})"
            ));
        }
    }
}

/// Says that a file can be dropped here.
pub(super) fn show_hovering(context: &Context) {
    if context.input(|input| input.raw.hovered_files.is_empty()) {
        return;
    }
    let colours = theme::of(context.theme());
    let painter = context.layer_painter(LayerId::new(Order::Foreground, egui::Id::unique("drop")));
    let room = context.content_rect();
    painter.rect_filled(room, 0.0, colours.deep.gamma_multiply(0.85));
    let text = "Drop a model to open it, an HDR or EXR to light it, a picture to keep it beside";
    painter.text(room.center(), Align2::CENTER_CENTER, text, theme::semibold(16.0), colours.text);
}
