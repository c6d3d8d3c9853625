//! All that can be set of the light: opens beside the dial.

use std::path::PathBuf;

use egui::{
    Button, Frame, Key, Popup, PopupCloseBehavior, Rect, RectAlign, TextEdit, Ui, UiBuilder, vec2,
};
use lucide_icons::Icon;
use viewport::ToneMapping;

use crate::commands::{Command, LightCommand, entry};
use crate::desk::{Desk, LightSetup};
use crate::theme;
use crate::widgets::{ValueRow, divide, heading, icon_button, segments};

/// Width of what opens, in points.
const WIDTH: f32 = 288.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, dial: Rect) {
    let size = theme::square(theme::ROW);
    let at = Rect::from_min_size(dial.left_bottom() - vec2(size.x + 4.0, size.y), size);
    let ground = theme::colours(ui).panel.gamma_multiply(0.92);
    let button = ui.scope_builder(UiBuilder::new().max_rect(at), |ui| {
        Frame::new().fill(ground).corner_radius(theme::RADIUS).show(ui, |ui| {
            icon_button(ui, Icon::Sun, "Light setup", "Light setups, exposure and tone")
        })
    });
    let button = button.inner.inner;
    Popup::menu(&button)
        .align(RectAlign::TOP_END)
        .gap(8.0)
        .width(WIDTH)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .show(|ui| {
            ui.set_width(WIDTH);
            Frame::new().inner_margin(8.0).show(ui, |ui| contents(ui, desk));
        });
}

fn contents(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Light");
    setups(ui, desk);
    divide(ui);
    values(ui, desk);
    divide(ui);
    tone(ui, desk);
}

fn setups(ui: &mut Ui, desk: &mut Desk) {
    let command = |setup| Command::Light(LightCommand::Setup(setup));
    let tips = LightSetup::OURS.map(|setup| desk.tooltip(command(setup)));
    let named = LightSetup::OURS.iter().zip(&tips);
    let rows: Vec<(LightSetup, &str, &str)> = named
        .map(|(setup, tip)| {
            (*setup, entry(command(*setup)).map_or("", |row| row.label), tip.as_str())
        })
        .collect();
    let chosen = desk.model_view.light.setup;
    if let Some(setup) = segments(ui, &rows, |setup| setup == chosen) {
        desk.perform(command(setup));
    }
    let picture = desk.model_view.light.picture.as_ref().map(|(name, _)| name.clone());
    if let Some(name) = picture {
        let button = Button::selectable(chosen == LightSetup::Picture, name).truncate();
        let tip = desk.tooltip(command(LightSetup::Picture));
        let size = vec2(ui.available_width(), theme::ROW);
        if ui.add_sized(size, button).on_hover_text(tip).clicked() {
            desk.perform(command(LightSetup::Picture));
        }
    }
    typed_picture(ui, desk);
}

/// A picture of a place, by its path: where nothing can be dropped on the window.
fn typed_picture(ui: &mut Ui, desk: &mut Desk) {
    let typed = &mut desk.model_view.light.typed;
    let field = TextEdit::singleline(typed)
        .hint_text("Path of a .hdr or .exr picture")
        .align(egui::Align2::LEFT_CENTER)
        .margin(egui::Margin::symmetric(8, 4));
    let size = vec2(ui.available_width(), theme::ROW);
    let field = ui.add_sized(size, field).accessible_name("Path of a light picture");
    let field = field.on_hover_text("Light the model by the picture of a place: Enter reads it");
    if field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) && !typed.is_empty() {
        let path = PathBuf::from(typed.trim());
        desk.light_from(&path);
    }
}

fn values(ui: &mut Ui, desk: &mut Desk) {
    let lighting = &mut desk.model_view.lighting;
    let mut row =
        |name, tip, range: std::ops::RangeInclusive<f64>, unit, decimals, value: &mut f32| {
            let mut shown = f64::from(*value);
            ValueRow::new(name, tip, range).unit(unit, decimals).show(ui, &mut shown);
            *value = shown as f32;
        };
    row("Exposure", "Stops brighter or darker", -6.0..=6.0, " EV", 1, &mut lighting.exposure_ev);
    let strength = &mut lighting.environment_strength;
    row("Environment", "How strong the light from all around is", 0.0..=4.0, "", 2, strength);
    let mut degrees = lighting.environment_turn_rad.to_degrees();
    row("Turned", "The environment, turned about the model", -180.0..=180.0, "°", 0, &mut degrees);
    lighting.environment_turn_rad = degrees.to_radians();
    let key = &mut lighting.key;
    row("Key light", "How strong the light of the dial is", 0.0..=4.0, "", 2, &mut key.strength);
    let mut degrees = key.radius_rad.to_degrees();
    row("Softness", "How wide the key light is: soft shadows", 0.0..=30.0, "°", 1, &mut degrees);
    key.radius_rad = degrees.to_radians();
}

fn tone(ui: &mut Ui, desk: &mut Desk) {
    let tip = desk.tooltip(Command::Light(LightCommand::ToggleLinear));
    let rows = [
        (
            ToneMapping::Neutral,
            "Neutral tone",
            "Bright light rolls off; base colour comes back true",
        ),
        (ToneMapping::Linear, "Linear", tip.as_str()),
    ];
    let chosen = desk.model_view.lighting.tone;
    if let Some(tone) = segments(ui, &rows, |tone| tone == chosen) {
        desk.model_view.lighting.tone = tone;
    }
}
