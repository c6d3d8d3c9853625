//! The brush panel.

use egui::Ui;

use super::scrolled;
use crate::brush_in_hand::SizeIn;
use crate::desk::Desk;
use crate::widgets::{Scale, ValueRow};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "brush", |ui| {
        let brush = &mut desk.brush;
        if brush.size_in == SizeIn::Screen {
            ValueRow::new("Size", "Radius on the screen", 0.5..=500.0)
                .scale(Scale::Ratio)
                .unit(" px", 1)
                .show(ui, &mut brush.radius_points);
        }
        let mut opacity = f64::from(brush.settings.opacity);
        ValueRow::new(
            "Opacity",
            "The ceiling of a stroke, however often it crosses itself",
            0.0..=1.0,
        )
        .percent()
        .show(ui, &mut opacity);
        brush.settings.opacity = opacity as f32;
    });
}
