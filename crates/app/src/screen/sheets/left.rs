//! Work that was left without a name: to go on with, or to be discarded.

use std::path::PathBuf;
use std::time::Duration;

use egui::{Image, RichText, Ui, Vec2, vec2};

use crate::desk::Desk;
use crate::on_disk::texture;
use crate::theme;
use crate::widgets::{heading, remark};

/// Size of a picture, in points.
const PICTURE: Vec2 = vec2(64.0, 48.0);

/// What is done with one.
enum Answer {
    GoOn(PathBuf),
    Doubt(PathBuf),
    Keep(PathBuf),
    Discard(PathBuf),
}

/// Shows what was left, if anything; true once one of it is gone on with.
pub(crate) fn left_work(ui: &mut Ui, desk: &mut Desk) -> bool {
    if desk.files.untitled.left.is_empty() {
        return false;
    }
    heading(ui, "Left without a name");
    let mut answer = None;
    let row = PICTURE.y + 8.0;
    let height = row * (desk.files.untitled.left.len().min(3) as f32);
    egui::ScrollArea::vertical()
        .id_salt("left")
        .max_height(height)
        .auto_shrink([false, true])
        .show(ui, |ui| answer = rows(ui, desk));
    match answer {
        Some(Answer::GoOn(path)) => {
            desk.go_on_with(&path);
            return true;
        }
        Some(Answer::Discard(path)) => desk.discard(&path),
        Some(Answer::Doubt(path)) => doubt(desk, &path, true),
        Some(Answer::Keep(path)) => doubt(desk, &path, false),
        None => {}
    }
    false
}

fn doubt(desk: &mut Desk, path: &std::path::Path, is_doubted: bool) {
    for left in &mut desk.files.untitled.left {
        left.is_doubted = is_doubted && left.path == path;
    }
}

fn rows(ui: &mut Ui, desk: &mut Desk) -> Option<Answer> {
    let mut answer = None;
    let context = ui.ctx().clone();
    for left in &mut desk.files.untitled.left {
        if let Some(picture) = left.picture.take() {
            left.texture = Some(texture(&context, &left.path, picture));
        }
        let colours = theme::colours(ui);
        ui.horizontal(|ui| {
            picture(ui, left.texture.as_ref());
            ui.vertical(|ui| {
                ui.add_space(4.0);
                ui.label(RichText::new(&left.title).color(colours.text));
                let edits = if left.edits == 1 { "edit" } else { "edits" };
                remark(ui, format!("{}, {} {edits}", ago(left.ago), left.edits));
            });
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let path = || left.path.clone();
                if left.is_doubted {
                    if ui.button("Keep it").clicked() {
                        answer = Some(Answer::Keep(path()));
                    }
                    let text = RichText::new("Discard for good").color(colours.error);
                    if ui.button(text).clicked() {
                        answer = Some(Answer::Discard(path()));
                    }
                    return;
                }
                let tip = "Asks once more, in this place";
                if ui.button("Discard").on_hover_text(tip).clicked() {
                    answer = Some(Answer::Doubt(path()));
                }
                let text = RichText::new("Go on with it").color(colours.on_accent);
                if ui.add(egui::Button::new(text).fill(colours.accent_deep)).clicked() {
                    answer = Some(Answer::GoOn(path()));
                }
            });
        });
        ui.add_space(4.0);
    }
    answer
}

/// A small picture, or its place.
pub(super) fn picture(ui: &mut Ui, texture: Option<&egui::TextureHandle>) {
    let (rect, _) = ui.allocate_exact_size(PICTURE, egui::Sense::hover());
    ui.painter().rect_filled(rect, f32::from(theme::RADIUS), theme::colours(ui).surround);
    if let Some(texture) = texture {
        Image::new((texture.id(), PICTURE)).corner_radius(theme::RADIUS).paint_at(ui, rect);
    }
}

/// How long ago, as it is said.
pub(crate) fn ago(ago: Duration) -> String {
    let minutes = ago.as_secs() / 60;
    let said = |count: u64, noun: &str| {
        let s = if count == 1 { "" } else { "s" };
        format!("{count} {noun}{s} ago")
    };
    match minutes {
        0 => "just now".to_owned(),
        1..60 => said(minutes, "minute"),
        60..1440 => said(minutes / 60, "hour"),
        _ => said(minutes / 1440, "day"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_said_in_the_largest_unit_that_fits() {
        for (seconds, expected) in [
            (59, "just now"),
            (60, "1 minute ago"),
            (3599, "59 minutes ago"),
            (7200, "2 hours ago"),
            (86_400, "1 day ago"),
            (864_000, "10 days ago"),
        ] {
            assert_eq!(ago(Duration::from_secs(seconds)), expected);
        }
    }
}
