//! A window without a window system or a GPU, for tests: the desk with the harbour bell on it.

use std::path::Path;
use std::sync::Arc;

use document::Edit;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use raster::{TextureSize, Unobserved};

use crate::chosen::Chosen;
use crate::desk::Desk;
use crate::preferences::Preferences;
use crate::{screen, theme};

/// A desk with the harbour bell, its textures 256 texels wide, and an empty painted layer in each material.
pub(crate) fn bell_desk() -> Desk {
    let mut desk = Desk::new(Preferences::default()).unwrap();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets-demo/harbour-bell.obj");
    let imported = exchange::read_model(&path, &Unobserved).unwrap();
    let size = TextureSize::new(256).unwrap();
    assert!(desk.apply(&Edit::Import { model: Arc::new(imported.model), size }));
    desk.title = "harbour-bell".to_owned();
    for material in desk.document().materials.clone() {
        desk.chosen = Chosen::of(desk.document(), material.id);
        desk.perform(crate::commands::Command::Layer(crate::commands::LayerCommand::AddPainted));
    }
    desk.chosen = Chosen::of(desk.document(), document::MaterialId(0));
    desk
}

/// The whole screen over a desk, of this size in points.
pub(crate) fn harness(desk: Desk, size: [f32; 2]) -> Harness<'static, Desk> {
    Harness::builder()
        .with_size(size)
        .with_context_setup(theme::install)
        .build_ui_state(screen::show, desk)
}

/// Two clicks on a control, so quickly that they are in one frame.
pub(crate) fn double_click(harness: &mut Harness<'static, Desk>, label: &str) {
    let pos = harness.get_by_label(label).rect().center();
    harness.hover_at(pos);
    harness.run_ok();
    for pressed in [true, false, true, false] {
        let modifiers = egui::Modifiers::NONE;
        let button = egui::PointerButton::Primary;
        let event = egui::Event::PointerButton { pos, button, pressed, modifiers };
        harness.input_mut().events.push(event);
    }
    harness.run_ok();
}
