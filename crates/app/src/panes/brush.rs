//! The brush panel: the brush itself, what it paints into, colours to paint with, and how pen and hand act on it.

mod area;
mod dab;
mod decals;
mod does;
mod image_row;
mod library;
mod paths;
mod pen;
mod plaque;
mod sample;
mod stencil;
mod stroke_card;
mod symmetry;
#[cfg(test)]
mod tests;
mod tooth;
mod values;

use brush::BuildUp;
use egui::{Align, Layout, RichText, Ui};
use layers::{ChannelId, Value};
use lucide_icons::Icon;

pub(crate) use self::image_row::ImageOf;
use self::library::Library;
pub use self::library::{BrushPicture, brush_pictures};
use self::sample::Sample;
use self::stroke_card::{Shown, StrokeCard};
use super::held_stencil::SheetPicture;
use super::{palette, scrolled};
use crate::brush_in_hand::{BrushInHand, SizeIn};
use crate::brushes::scale_tooth;
use crate::chosen::Aim;
use crate::commands::{Command, entry};
use crate::desk::Desk;
use crate::does::Does;
use crate::theme;
use crate::tool::Tool;
use crate::widgets::{
    Scale, ValueRow, divide, fold, icon_button, icon_toggle, named_row, remark, wide_segments,
};

/// What the panel remembers between frames.
#[derive(Debug, Default)]
pub(crate) struct BrushPanel {
    card: StrokeCard,
    library: Library,
    sample: Sample,
    /// Words to be laid on the model.
    words: String,
    /// Words to be cut into a stencil.
    stencil_words: String,
    /// How the stencil is drawn.
    pub(super) sheet: SheetPicture,
    /// Paths that are being typed, for images.
    image_paths: [String; ImageOf::COUNT],
    /// What is being typed as a colour's code, and the colour meanwhile.
    pub(super) hex: Option<(String, [u16; 3])>,
    /// The palette's colour that is chosen, for changing it.
    pub(super) kept: Option<usize>,
    /// The palette can be changed.
    pub(super) editing_palette: bool,
}

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "brush", |ui| {
        area::tools(ui, desk);
        match desk.tool.tool {
            Tool::Brush => strokes(ui, desk),
            Tool::Select => area::select(ui, desk),
            Tool::Fill => area::fill(ui, desk),
            Tool::Gradient => area::gradient(ui, desk),
        }
    });
}

/// The brush, and how it paints strokes.
fn strokes(ui: &mut Ui, desk: &mut Desk) {
    card(ui, desk);
    ui.add_space(4.0);
    does::choices(ui, desk);
    let radius_units = radius_units(desk);
    library::show(ui, desk, radius_units);
    shape(ui, desk);
    does::strength(ui, desk);
    divide(ui);
    values::show(ui, desk);
    divide(ui);
    palette::show(ui, desk);
    divide(ui);
    fold(ui, "Tip", false, |ui| dab::tip(ui, desk));
    fold(ui, "Tooth", true, |ui| tooth::show(ui, desk));
    fold(ui, "Stroke", true, |ui| stroke(ui, desk));
    fold(ui, "Jitter", false, |ui| dab::jitter(ui, &mut desk.brush.settings.jitter));
    fold(ui, "Decals", false, |ui| decals::show(ui, desk));
    fold(ui, "Stencil", false, |ui| stencil::show(ui, desk));
    fold(ui, "Paths", false, |ui| paths::show(ui, desk));
    fold(ui, "Symmetry", false, |ui| symmetry::show(ui, desk));
    fold(ui, "Pen and hand", true, |ui| pen::show(ui, desk));
}

/// The brushes that were taken lately, in a row; true where one is taken.
pub(crate) fn recent_brushes(ui: &mut Ui, desk: &mut Desk) -> bool {
    let radius_units = radius_units(desk);
    library::recent(ui, desk, radius_units)
}

/// The radius of the brush in hand in model units, in the middle of the view.
fn radius_units(desk: &Desk) -> f64 {
    match desk.brush.size_in {
        SizeIn::Screen => desk.brush.radius_points / points_per_unit(desk),
        SizeIn::Object => desk.brush.radius_units,
    }
}

/// A heading with small buttons at its end, the last of them outermost.
pub(super) fn titled(ui: &mut Ui, title: &str, buttons: impl FnOnce(&mut Ui)) {
    ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        let colour = theme::colours(ui).text_soft;
        ui.label(RichText::new(title).font(theme::semibold(13.0)).color(colour));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            buttons(ui);
        });
    });
}

/// A button for a command, with its name and tooltip from the table.
pub(super) fn command_button(ui: &mut Ui, desk: &mut Desk, icon: Icon, command: Command) {
    let name = entry(command).map_or("", |entry| entry.label);
    if icon_button(ui, icon, name, &desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
}

/// The same for a command that switches something.
pub(super) fn command_toggle(ui: &mut Ui, desk: &mut Desk, icon: Icon, command: Command, on: bool) {
    let name = entry(command).map_or("", |entry| entry.label);
    if icon_toggle(ui, icon, name, &desk.tooltip(command), on).clicked() {
        desk.perform(command);
    }
}

/// What the brush leaves, as one value that can be shown.
fn paint(desk: &Desk) -> Value {
    let brush = &desk.brush;
    match &desk.chosen.aim {
        Aim::Mask(_) => Value::Scalar(brush.mask_value),
        Aim::Cells(cells) if cells.contains(&ChannelId::BASE_COLOUR) => {
            Value::Colour(brush.colour())
        }
        Aim::Cells(cells) => {
            let first = cells.iter().find_map(|channel| brush.values.get(channel));
            first.copied().unwrap_or(Value::Scalar(u16::MAX))
        }
    }
}

fn card(ui: &mut Ui, desk: &mut Desk) {
    let brush = &desk.brush;
    let radius_points = match brush.size_in {
        SizeIn::Screen => brush.radius_points,
        SizeIn::Object => points_per_unit(desk) * brush.radius_units,
    };
    let erases = brush.does == Does::Erase && matches!(desk.chosen.aim, Aim::Cells(_));
    let mut settings = brush.settings.clone();
    // In points, as the radius is.
    scale_tooth(&mut settings, points_per_unit(desk));
    let shown = Shown { settings, radius_points, paint: paint(desk), erases };
    desk.brush_panel.card.show(ui, &shown);
}

/// How many points of the screen a model unit takes at the middle of the view.
fn points_per_unit(desk: &Desk) -> f64 {
    let camera = &desk.model_view.camera;
    let height_units = match camera.projection {
        brush::Projection::Perspective { fov_y_rad } => {
            2.0 * camera.eye.distance(camera.target) * (fov_y_rad * 0.5).tan()
        }
        brush::Projection::Orthographic { height } => height,
    };
    let points = camera.viewport_px.y.max(1.0);
    if height_units > 0.0 { points / height_units } else { 1.0 }
}

/// Size, and how a stroke builds up.
fn shape(ui: &mut Ui, desk: &mut Desk) {
    size(ui, desk);
    let usual = BrushInHand::usual_settings();
    let settings = &mut desk.brush.settings;
    share_row(
        ui,
        ("Opacity", "The ceiling of a stroke, however often it crosses itself"),
        &mut settings.opacity,
        usual.opacity,
    );
    let gradual = settings.build_up == BuildUp::Gradual;
    ui.add_enabled_ui(gradual, |ui| {
        let about = "How fast paint builds up towards the opacity. Even strokes have no use for it";
        share_row(ui, ("Flow", about), &mut settings.flow, usual.flow);
    });
    let mut softness = 1.0 - settings.hardness;
    ui.add_enabled_ui(settings.tip.image.is_none(), |ui| {
        let about = "How much of the radius the edge takes to fall off. An image has its own edge";
        if share_row(ui, ("Softness", about), &mut softness, 1.0 - usual.hardness) {
            settings.hardness = 1.0 - softness;
        }
    });
}

/// How dabs follow each other, what the size is meant on, and how far a stroke reaches.
fn stroke(ui: &mut Ui, desk: &mut Desk) {
    size_on(ui, desk);
    let usual = BrushInHand::usual_settings();
    let settings = &mut desk.brush.settings;
    let mut spacing = f64::from(settings.spacing);
    let row =
        ValueRow::new("Spacing", "From dab to dab, in shares of the brush's width", 0.01..=4.0)
            .scale(Scale::Ratio)
            .percent()
            .usual(f64::from(usual.spacing));
    if row.show(ui, &mut spacing).changed() {
        settings.spacing = (spacing as f32).clamp(0.01, 4.0);
    }
    named_row(ui, "Build-up", |ui| {
        let choices = [
            (BuildUp::Gradual, "Gradual", "Each dab adds to the last, up to the opacity"),
            (BuildUp::Even, "Even", "One even coat: crossing a stroke adds nothing"),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == settings.build_up);
        settings.build_up = chosen.unwrap_or(settings.build_up);
    });
    pen::reach(ui, settings);
}

fn size(ui: &mut Ui, desk: &mut Desk) {
    match desk.brush.size_in {
        SizeIn::Screen => {
            ValueRow::new(
                "Size",
                "Radius on the screen: the same however near you are",
                0.5..=500.0,
            )
            .scale(Scale::Ratio)
            .unit(" px", 1)
            .usual(BrushInHand::USUAL_RADIUS_POINTS)
            .show(ui, &mut desk.brush.radius_points);
        }
        SizeIn::Object => {
            let whole = model_size(desk);
            let decimals = (3.0 - whole.log10()).round().clamp(0.0, 6.0) as usize;
            ValueRow::new("Size", "Radius on the model, in its units", whole * 1e-4..=whole * 0.5)
                .scale(Scale::Ratio)
                .unit("", decimals)
                .usual(whole * 0.02)
                .show(ui, &mut desk.brush.radius_units);
        }
    }
}

fn size_on(ui: &mut Ui, desk: &mut Desk) {
    named_row(ui, "Size on", |ui| {
        let choices = [
            (SizeIn::Screen, "Screen", "The brush stays as large as you see it"),
            (SizeIn::Object, "Model", "The brush stays as large as the model is"),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == desk.brush.size_in);
        if let Some(size_in) = chosen.filter(|chosen| *chosen != desk.brush.size_in) {
            change_size_in(desk, size_in);
        }
    });
}

/// Means the size otherwise, and keeps it as it looks in the middle of the view.
fn change_size_in(desk: &mut Desk, size_in: SizeIn) {
    let points_per_unit = points_per_unit(desk);
    let whole = model_size(desk);
    let brush = &mut desk.brush;
    match size_in {
        SizeIn::Object => {
            brush.radius_units =
                (brush.radius_points / points_per_unit).clamp(whole * 1e-4, whole * 0.5);
        }
        SizeIn::Screen => {
            brush.radius_points = (brush.radius_units * points_per_unit).clamp(0.5, 500.0);
        }
    }
    brush.size_in = size_in;
}

/// The model's diagonal in its own units; 1 before there is one.
fn model_size(desk: &Desk) -> f64 {
    let bounds = desk.document().model.as_ref().map(|model| model.mesh().bounds());
    let diagonal = bounds.map_or(1.0, |(low, high)| f64::from(low.distance(high)));
    if diagonal > 0.0 && diagonal.is_finite() { diagonal } else { 1.0 }
}

/// A row for a share, kept as `f32`. True when it changed.
pub(super) fn share_row(
    ui: &mut Ui,
    (name, tooltip): (&str, &str),
    share: &mut f32,
    usual: f32,
) -> bool {
    let mut value = f64::from(*share);
    let row = ValueRow::new(name, tooltip, 0.0..=1.0).percent().usual(f64::from(usual));
    let changed = row.show(ui, &mut value).changed();
    if changed {
        *share = value as f32;
    }
    changed
}

/// Why nothing can be painted, with what mends it.
pub(super) fn refusal(ui: &mut Ui, desk: &mut Desk) {
    let Some(refusal) = desk.refusal() else { return };
    remark(ui, refusal.text);
    let Some(command) = refusal.mend else { return };
    let name = entry(command).map_or("", |entry| entry.label);
    if ui.button(name).on_hover_text(desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
    ui.add_space(4.0);
}
