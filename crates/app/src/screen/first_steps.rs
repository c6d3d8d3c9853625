//! A newcomer's first steps: a few cards, each beside what it speaks of.

use egui::{
    Align2, Area, Context, Frame, Id, Margin, Order, Rect, RichText, Stroke, StrokeKind, vec2,
};

use crate::commands::{Command, WindowCommand};
use crate::desk::Desk;
use crate::panes::Pane;
use crate::theme;

/// What a step speaks of.
#[derive(Debug, Clone, Copy)]
enum About {
    Panel(Pane),
    /// The corner of the model view.
    LightDial,
    ExportStage,
}

const STEPS: [(About, &str, &str); 5] = [
    (
        About::Panel(Pane::Model),
        "Paint",
        "Drag over the model with the left button or the pen. What you see around the pointer is what the brush covers.",
    ),
    (
        About::Panel(Pane::Model),
        "Turn",
        "Drag with the right button to turn the model, with the middle one to move it. The wheel comes closer.",
    ),
    (
        About::LightDial,
        "Light",
        "Drag the bead round the dial to turn the light, towards the middle to raise it.",
    ),
    (
        About::Panel(Pane::Layers),
        "Layers",
        "Each row is a layer, each column a channel. Click a cell, and the brush paints just that.",
    ),
    (
        About::ExportStage,
        "Export",
        "When it is done, write maps and a model here. Painting goes on meanwhile.",
    ),
];

/// Where the button of the export stage is: told by the stage bar.
pub(super) fn export_button() -> Id {
    Id::unique("where the export stage is")
}

pub(super) fn show(context: &Context, desk: &mut Desk) {
    if desk.document().model.is_none() {
        return;
    }
    if !desk.preferences.knows_first_steps && desk.first_step.is_none() {
        desk.first_step = Some(0);
    }
    let Some(step) = desk.first_step else { return };
    if desk.sheet.is_some() || desk.leaving.is_some() {
        return;
    }
    let Some((about, heading, text)) = STEPS.get(step) else {
        close(desk);
        return;
    };
    let room = context.content_rect();
    let place = place_of(context, desk, *about).unwrap_or(room);
    let colours = theme::of(context.theme());
    let ring = context.layer_painter(egui::LayerId::new(Order::Middle, Id::unique("step ring")));
    ring.rect_stroke(place.shrink(2.0), 6.0, Stroke::new(2.0, colours.accent), StrokeKind::Inside);
    let (pivot, at) = beside(place, room);
    let area = Area::new(Id::unique("first steps")).order(Order::Foreground).pivot(pivot);
    area.fixed_pos(at).constrain_to(room.shrink(8.0)).show(context, |ui| {
        let frame = Frame::new()
            .fill(colours.raised)
            .stroke(Stroke::new(1.0, colours.accent))
            .shadow(context.global_style().visuals.popup_shadow)
            .corner_radius(theme::RADIUS + 2)
            .inner_margin(Margin::same(16));
        frame.show(ui, |ui| {
            ui.set_width(280.0);
            card(ui, desk, (step, heading, text));
        });
    });
}

fn card(ui: &mut egui::Ui, desk: &mut Desk, (step, heading, text): (usize, &str, &str)) {
    let colours = theme::colours(ui);
    ui.horizontal(|ui| {
        ui.label(RichText::new(heading).font(theme::semibold(14.0)).color(colours.text));
        let count = format!("{} of {}", step + 1, STEPS.len());
        ui.label(RichText::new(count).color(colours.text_soft));
    });
    ui.add(egui::Label::new(RichText::new(text).color(colours.text_soft)).wrap());
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let last = step + 1 == STEPS.len();
        let next = RichText::new(if last { "Done" } else { "Next step" }).color(colours.on_accent);
        if ui.add(egui::Button::new(next).fill(colours.accent_deep)).clicked() {
            desk.first_step = Some(step + 1);
            if last {
                close(desk);
            }
        }
        if step > 0 && ui.button("Step back").clicked() {
            desk.first_step = Some(step - 1);
        }
        let tip = desk.tooltip(Command::Window(WindowCommand::FirstSteps));
        if !last && ui.button("Skip").on_hover_text(format!("To see it again: {tip}")).clicked() {
            close(desk);
        }
    });
}

fn close(desk: &mut Desk) {
    desk.first_step = None;
    desk.preferences.knows_first_steps = true;
}

fn place_of(context: &Context, desk: &Desk, about: About) -> Option<Rect> {
    match about {
        About::Panel(pane) => {
            desk.pane_places.iter().find(|(known, _)| *known == pane).map(|(_, at)| *at)
        }
        About::LightDial => {
            let model = place_of(context, desk, About::Panel(Pane::Model))?;
            let size = vec2(148.0, 148.0).min(model.size());
            Some(Rect::from_min_size(model.max - size, size))
        }
        About::ExportStage => context.data(|data| data.get_temp(export_button())),
    }
}

/// Where a card of about 300 x 160 stands beside a place: which of its corners, and where that is.
fn beside(place: Rect, room: Rect) -> (Align2, egui::Pos2) {
    if place.width() * place.height() > room.width() * room.height() * 0.15 {
        // Over it, where it hides least.
        return (Align2::LEFT_BOTTOM, place.left_bottom() + vec2(16.0, -16.0));
    }
    let x = if place.center().x < room.center().x { Align2::LEFT_TOP } else { Align2::RIGHT_TOP };
    let left = place.center().x < room.center().x;
    if place.bottom() + 180.0 < room.bottom() {
        let at = if left { place.left_bottom() } else { place.right_bottom() };
        (x, at + vec2(0.0, 8.0))
    } else {
        let at = if left { place.left_top() } else { place.right_top() };
        let pivot = if left { Align2::LEFT_BOTTOM } else { Align2::RIGHT_BOTTOM };
        (pivot, at - vec2(0.0, 8.0))
    }
}
