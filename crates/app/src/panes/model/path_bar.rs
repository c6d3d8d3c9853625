//! While a path is laid: its line and points over the model, and a bar that says what to do.

use brush::Curve;
use egui::{Align2, Area, Color32, Frame, Id, Margin, Order, Rect, Stroke, Ui, vec2};
use lucide_icons::Icon;

use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{icon_text, icon_toggle, segments};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk, rect: Rect) {
    if desk.laying.is_none() {
        return;
    }
    keys(ui, desk);
    line(ui, desk);
    floating(ui, "path bar", rect, |ui| bar(ui, desk));
}

/// A bar that lies over the view's head, below the one that says what is shown.
pub(super) fn floating(ui: &Ui, name: &str, rect: Rect, contents: impl FnOnce(&mut Ui)) {
    let colours = theme::colours(ui);
    let area = Area::new(Id::unique(name)).order(Order::Middle);
    let area = area.pivot(Align2::CENTER_TOP).fixed_pos(rect.center_top() + vec2(0.0, 60.0));
    area.constrain_to(rect).show(ui.ctx(), |ui| {
        let frame = Frame::new().fill(colours.panel).corner_radius(theme::RADIUS);
        frame.inner_margin(Margin::symmetric(12, 8)).show(ui, contents);
    });
}

/// Keys that are the path's while one is laid, and nobody types.
fn keys(ui: &Ui, desk: &mut Desk) {
    if desk.is_covered() || ui.ctx().text_edit_focused() {
        return;
    }
    let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    if pressed(egui::Key::Enter) {
        desk.keep_path();
    } else if pressed(egui::Key::Escape) {
        desk.drop_path();
    } else if pressed(egui::Key::Backspace) {
        desk.drop_last_knot();
    }
}

/// The line as it lies on the surface, then its points.
fn line(ui: &Ui, desk: &Desk) {
    let Some(path) = &desk.laying else { return };
    let view = &desk.model_view;
    let painter = ui.painter().with_clip_rect(view.rect);
    let accent = theme::colours(ui).accent;
    if let Some(surface) = desk.readiness.surface.as_ref().filter(|_| path.guide.knots.len() > 1) {
        let laid = path.guide.laid(surface);
        let places = laid.runs.iter().flatten().step_by(4).filter_map(|point| {
            Some(view.place_of(view.camera.project(point.position.as_dvec3())?))
        });
        painter.line(places.collect(), Stroke::new(1.5, accent));
    }
    for (number, place) in desk.knot_places().into_iter().enumerate() {
        let Some(place) = place else { continue };
        let held = path.grabbed == Some(number);
        let fill = if held { Color32::WHITE } else { accent };
        painter.circle(place, if held { 6.0 } else { 5.0 }, fill, Stroke::new(1.5, Color32::BLACK));
    }
}

fn bar(ui: &mut Ui, desk: &mut Desk) {
    let Some(path) = &desk.laying else { return };
    let (curve, closed, is_new) = (path.guide.curve, path.guide.closed, path.kept.is_none());
    let count = path.guide.knots.len();
    let hint = match (is_new, count) {
        (true, 0) => "Click on the model to set points",
        (true, _) => "Click to go on, drag points to move them",
        (false, _) => "Drag points to move them, click to add one",
    };
    ui.label(hint);
    ui.horizontal(|ui| {
        let choices = [
            (Curve::Smooth, "Smooth", "In one bend through all points"),
            (Curve::Straight, "Straight", "Straight from point to point, and so onto the surface"),
        ];
        if let Some(chosen) = segments(ui, &choices, |choice| choice == curve) {
            desk.change_path(|guide| guide.curve = chosen);
        }
        let tip = "Let the path end where it began";
        if icon_toggle(ui, Icon::RefreshCw, "Closed", tip, closed).clicked() {
            desk.change_path(|guide| guide.closed = !guide.closed);
        }
        ui.add_space(theme::GAP);
        let keep = if is_new { "Keep" } else { "Done" };
        let button = egui::Button::new((icon_text(Icon::Check, 14.0), keep));
        let keeps = ui.add_enabled(count > 0, button);
        if keeps.on_hover_text("Paint the path  (Enter)").clicked() {
            desk.perform(Command::Brush(BrushCommand::KeepPath));
        }
        if is_new && ui.button("Give up").on_hover_text("Leave it unpainted  (Escape)").clicked() {
            desk.perform(Command::Brush(BrushCommand::DropPath));
        }
    });
    if !ui.input(|input| input.pointer.any_down()) {
        desk.repaint_path();
    }
}
