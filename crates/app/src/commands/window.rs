//! Panels, sheets and stages.

use super::{Command, Entry};
use crate::desk::{Desk, Sheet, Stage};
use crate::panes::{Pane, is_shown};
use crate::preferences::Preferences;

/// Commands on the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum WindowCommand {
    /// Go to a stage.
    Stage(Stage),
    /// Open or close a sheet.
    Sheet(Sheet),
    /// The first steps, or away with them.
    FirstSteps,
    /// Show or hide a panel.
    Panel(Pane),
    /// Fill the screen, or not.
    FullScreen,
    /// Everything larger.
    Larger,
    /// Everything smaller.
    Smaller,
    /// Everything as large as the system says.
    SystemSize,
}

/// From one size of everything to the next.
const SCALE_STEP: f32 = 1.1;

const fn row(
    command: WindowCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Window(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(WindowCommand::Stage(Stage::Paint), "stage_paint", "Paint", "Go to painting", "Ctrl+1"),
    row(
        WindowCommand::Stage(Stage::Export),
        "stage_export",
        "Export",
        "Go to writing maps and models",
        "Ctrl+2",
    ),
    row(WindowCommand::Sheet(Sheet::Help), "help", "Help", "Show all keys and gestures", "F1"),
    row(
        WindowCommand::FirstSteps,
        "first_steps",
        "First steps",
        "Show what to do first, and where",
        "Shift+F1",
    ),
    row(
        WindowCommand::Sheet(Sheet::Preferences),
        "preferences",
        "Preferences",
        "Theme, size, pen, keys, memory",
        "Ctrl+Comma",
    ),
    panel(Pane::Model, "panel_model", "Model panel", "Show or hide the model", "Shift+F5"),
    panel(Pane::Flat, "panel_flat", "Flat panel", "Show or hide the flat texture", "Shift+F6"),
    panel(Pane::Layers, "panel_layers", "Layers panel", "Show or hide layers", "Shift+F7"),
    panel(
        Pane::Materials,
        "panel_materials",
        "Materials panel",
        "Show or hide materials and parts",
        "Shift+F8",
    ),
    panel(Pane::History, "panel_history", "History panel", "Show or hide the history", "Shift+F9"),
    panel(
        Pane::Stage,
        "panel_stage",
        "Stage panel",
        "Show or hide the brush, or what to export",
        "Shift+F10",
    ),
    panel(
        Pane::References,
        "panel_references",
        "References panel",
        "Show pictures to work from beside the model, or hide them",
        "R",
    )
    .left("Y"),
    row(
        WindowCommand::FullScreen,
        "full_screen",
        "Full screen",
        "Fill the screen, or go back to a window",
        "F11",
    ),
    row(WindowCommand::Larger, "larger", "Larger", "Make everything larger", "Ctrl+Plus"),
    row(WindowCommand::Smaller, "smaller", "Smaller", "Make everything smaller", "Ctrl+Minus"),
    row(
        WindowCommand::SystemSize,
        "system_size",
        "System size",
        "Make everything as large as the system says",
        "Ctrl+0",
    ),
];

const fn panel(
    pane: Pane,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    row(WindowCommand::Panel(pane), key, label, about, shortcut)
}

impl Desk {
    pub(super) fn perform_window(&mut self, command: WindowCommand) {
        match command {
            WindowCommand::Stage(stage) => self.stage = stage,
            WindowCommand::Sheet(sheet) => {
                self.sheet = if self.sheet == Some(sheet) { None } else { Some(sheet) };
            }
            WindowCommand::FirstSteps => {
                self.sheet = None;
                self.first_step = if self.first_step.is_some() { None } else { Some(0) };
            }
            WindowCommand::Panel(pane) => {
                let shown = is_shown(&self.panes, pane);
                self.panel_wishes.push((pane, !shown));
            }
            WindowCommand::FullScreen => self.full_screen = !self.full_screen,
            WindowCommand::Larger => self.scale(self.preferences.ui_scale * SCALE_STEP),
            WindowCommand::Smaller => self.scale(self.preferences.ui_scale / SCALE_STEP),
            WindowCommand::SystemSize => self.scale(1.0),
        }
    }

    fn scale(&mut self, scale: f32) {
        let range = Preferences::UI_SCALES;
        // Steps up and down come back to 1.
        let rounded = (scale * 100.0).round() / 100.0;
        let scale = if (rounded - 1.0).abs() < 0.02 { 1.0 } else { rounded };
        self.preferences.ui_scale = scale.clamp(*range.start(), *range.end());
    }
}
