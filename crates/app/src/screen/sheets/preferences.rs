//! What is set once and for all.

use egui::{Context, ScrollArea, Ui};

use super::{keys, pen_pad, scroll_height, sheet};
use crate::commands::Bindings;
use crate::desk::Desk;
use crate::preferences::{Handed, Preferences, ThemeChoice};
use crate::widgets::{Scale, ValueRow, divide, heading, remark, segments};

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let open = sheet(context, "Preferences", 560.0, |ui| {
        let height = scroll_height(ui.ctx());
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            ui.set_max_width(ui.available_width() - 12.0);
            appearance(ui, desk);
            divide(ui);
            hands(ui, desk);
            divide(ui);
            memory(ui, desk);
            divide(ui);
            disk(ui, desk);
            divide(ui);
            keys::show(ui, desk);
            divide(ui);
            reset(ui, desk);
        });
    });
    if !open && desk.rebinding.is_none() {
        desk.sheet = None;
    }
}

fn appearance(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Appearance");
    let choices = [
        (ThemeChoice::System, "As the system", "Light or dark as the system is"),
        (ThemeChoice::Dark, "Dark", "A dark neutral surround"),
        (ThemeChoice::Light, "Light", "A light neutral surround"),
    ];
    row(ui, "Theme", |ui| {
        if let Some(theme) = segments(ui, &choices, |theme| theme == desk.preferences.theme) {
            desk.preferences.theme = theme;
        }
    });
    let scales = [0.75, 0.9, 1.0, 1.15, 1.25, 1.5, 2.0];
    let names = scales.map(|scale| format!("{:.0} %", scale * 100.0));
    let tip = "Size of everything in the window";
    let choices: Vec<(f32, &str, &str)> =
        scales.iter().zip(&names).map(|(scale, name)| (*scale, name.as_str(), tip)).collect();
    row(ui, "Size", |ui| {
        let is_it = |scale: f32| (scale - desk.preferences.ui_scale).abs() < 0.01;
        if let Some(scale) = segments(ui, &choices, is_it) {
            desk.preferences.ui_scale = scale;
        }
    });
}

fn hands(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Hand and pen");
    let choices = [
        (Handed::Right, "Right", "Keys lie under the left hand"),
        (Handed::Left, "Left", "Keys lie under the right hand"),
    ];
    row(ui, "Pen hand", |ui| {
        if let Some(handed) = segments(ui, &choices, |handed| handed == desk.preferences.handed) {
            desk.preferences.handed = handed;
            desk.rebind();
        }
    });
    row(ui, "Ground", |ui| {
        ui.checkbox(
            &mut desk.preferences.ground_orbits,
            "A drag on empty ground beside the model turns it",
        );
    });
    let mut gamma = f64::from(desk.preferences.pen_gamma);
    let range = Preferences::PEN_GAMMAS;
    let range = f64::from(*range.start())..=f64::from(*range.end());
    let tip = "Below 1 a light hand is enough; above 1 the pen wants to be pressed";
    if ValueRow::new("Pressure", tip, range).scale(Scale::Ratio).show(ui, &mut gamma).changed() {
        desk.preferences.pen_gamma = gamma as f32;
    }
    pen_pad::show(ui, desk);
}

fn memory(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Memory");
    let mut gibibytes = f64::from(desk.preferences.memory_mib) / 1024.0;
    let tip =
        "What the document and all that is made from it should take; undo's oldest steps go first";
    let shown = ValueRow::new("Budget", tip, 0.5..=64.0).scale(Scale::Ratio).unit(" GiB", 1);
    if shown.show(ui, &mut gibibytes).changed() {
        let mebibytes = (gibibytes * 1024.0).round() as u32;
        let range = Preferences::MEMORY_MIB;
        desk.preferences.memory_mib = mebibytes.clamp(*range.start(), *range.end());
        let settings = desk.settings();
        desk.editor.set_memory_bytes(settings.memory_bytes);
    }
    let used: usize = desk.editor.ledger().holdings.iter().map(|holding| holding.bytes).sum();
    remark(ui, format!("{:.2} GiB in use now", used as f64 / f64::from(1 << 30)));
}

fn disk(ui: &mut Ui, desk: &mut Desk) {
    heading(ui, "Disk");
    let mut gibibytes = f64::from(desk.preferences.history_mib) / 1024.0;
    let tip = "What a project's file should take: the oldest steps of its history go first, while nothing is painted. \
               Named points stay";
    let shown = ValueRow::new("History", tip, 0.125..=256.0).scale(Scale::Ratio).unit(" GiB", 1);
    if shown.show(ui, &mut gibibytes).changed() {
        let range = Preferences::HISTORY_MIB;
        let mebibytes = (gibibytes * 1024.0).round() as u32;
        desk.preferences.history_mib = mebibytes.clamp(*range.start(), *range.end());
    }
    let Some(on_disk) = &desk.on_disk else { return };
    if let Ok(file) = std::fs::metadata(&on_disk.path) {
        let gibibytes = file.len() as f64 / f64::from(1 << 30);
        remark(ui, format!("{gibibytes:.2} GiB in this project now"));
    }
}

fn reset(ui: &mut Ui, desk: &mut Desk) {
    ui.horizontal(|ui| {
        if ui
            .button("Reset preferences")
            .on_hover_text("As if the program were new; files opened lately stay")
            .clicked()
        {
            desk.set_preferences_back();
        }
        if ui
            .button("Put the panels back")
            .on_hover_text("Each panel where it was at first")
            .clicked()
        {
            desk.panes = crate::panes::arranged();
        }
    });
}

fn row(ui: &mut Ui, name: &str, control: impl FnOnce(&mut Ui)) {
    ui.horizontal(|ui| {
        ui.set_min_height(crate::theme::ROW + 4.0);
        let (at, _) = ui.allocate_exact_size(
            egui::vec2(crate::theme::NAME_WIDTH, crate::theme::ROW),
            egui::Sense::hover(),
        );
        let colour = crate::theme::colours(ui).text_soft;
        let font = egui::FontId::proportional(13.0);
        ui.painter().text(at.left_center(), egui::Align2::LEFT_CENTER, name, font, colour);
        control(ui);
    });
}

impl Desk {
    /// The preferences' keys come into force.
    pub(crate) fn rebind(&mut self) {
        let (bindings, faults) = Bindings::of(&self.preferences);
        self.bindings = bindings;
        for fault in &faults {
            self.notices.error(fault);
        }
    }

    /// All preferences as they were at first; what was opened lately is no preference.
    pub(crate) fn set_preferences_back(&mut self) {
        let recent = std::mem::take(&mut self.preferences.recent);
        self.preferences =
            Preferences { recent, knows_first_steps: true, ..Preferences::default() };
        let settings = self.settings();
        self.editor.set_memory_bytes(settings.memory_bytes);
        self.panes = crate::panes::arranged();
        self.rebind();
    }
}
