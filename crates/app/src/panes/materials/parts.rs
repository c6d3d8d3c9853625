//! The parts of a material: hidden, locked against paint, or alone in sight.

use std::sync::Arc;

use document::{MaterialId, Model};
use egui::{FontId, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use glam::DVec3;
use lucide_icons::Icon;
use surface::PartId;

use super::{choose, icon, ring};
use crate::desk::{Desk, PartState};
use crate::theme;
use crate::widgets::elided;

/// Which parts have faces of which material, and where parts are. Found once for each model.
#[derive(Debug, Default)]
pub(crate) struct PartsOfMaterials {
    model: Option<Arc<Model>>,
    parts: Vec<Vec<PartId>>,
    bounds: Vec<Option<(DVec3, DVec3)>>,
}

impl PartsOfMaterials {
    /// Makes sure that this is about a model.
    pub(crate) fn follow(&mut self, model: &Arc<Model>) {
        if self.model.as_ref().is_some_and(|known| Arc::ptr_eq(known, model)) {
            return;
        }
        let mesh = model.mesh();
        let mut parts: Vec<Vec<PartId>> = vec![Vec::new(); mesh.material_names().len()];
        let mut bounds: Vec<Option<(DVec3, DVec3)>> = vec![None; mesh.parts().len()];
        for face in 0..mesh.face_count() {
            let (part, material) = (mesh.face_part(face), mesh.face_material(face));
            if let Some(of_material) = parts.get_mut(material.0 as usize)
                && !of_material.contains(&part)
            {
                of_material.push(part);
            }
            let Some(bound) = bounds.get_mut(part.0 as usize) else { continue };
            for corner in &mesh.corners()[mesh.face(face)] {
                let point = mesh.positions()[corner.position as usize].as_dvec3();
                let (low, high) = bound.unwrap_or((point, point));
                *bound = Some((low.min(point), high.max(point)));
            }
        }
        for of_material in &mut parts {
            of_material.sort_unstable();
        }
        *self = Self { model: Some(Arc::clone(model)), parts, bounds };
    }

    /// A material's parts, in the model's order.
    pub(crate) fn of(&self, material: MaterialId) -> Vec<PartId> {
        self.parts.get(material.0 as usize).cloned().unwrap_or_default()
    }

    /// The lowest and highest corner of the box around a part, in model units.
    pub(crate) fn bounds(&self, part: PartId) -> Option<(DVec3, DVec3)> {
        self.bounds.get(part.0 as usize).copied().flatten()
    }
}

pub(super) fn row(ui: &mut Ui, desk: &mut Desk, material: MaterialId, model: &Model, part: PartId) {
    let parts = model.mesh().parts();
    let Some(name) = parts.get(part.0 as usize).map(|found| found.name.as_str()) else { return };
    desk.model_view.parts.resize(parts.len(), PartState::default());
    let state = desk.model_view.parts[part.0 as usize];
    let colours = theme::colours(ui);
    let (rect, within) = super::row(ui, false);
    let eye_at = Rect::from_min_max(
        pos2(within.right() - 24.0, rect.top()),
        pos2(within.right(), rect.bottom()),
    );
    let lock_at = eye_at.translate(vec2(-24.0, 0.0));
    ui.push_id(("part", material.0, part.0), |ui| {
        eye(ui, desk, part, name, eye_at);
        lock(ui, desk, part, name, (lock_at, ui.rect_contains_pointer(rect)));
    });

    let name_at = Rect::from_min_max(
        pos2(within.left() + 24.0, rect.top()),
        pos2(lock_at.left(), rect.bottom()),
    );
    let response = ui.interact(
        Rect::from_min_max(within.min, name_at.max),
        ui.scope_id().with(("part", material.0, part.0)),
        Sense::click(),
    );
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
    let colour = if state.hidden { colours.text_weak } else { colours.text_soft };
    let galley = elided(ui, name, FontId::proportional(13.0), colour, name_at.width());
    let at = pos2(name_at.left(), rect.center().y - galley.size().y / 2.0);
    ui.painter().galley(at, galley, colour);
    ring(ui, response.has_focus(), within);
    if response.clicked() && desk.chosen.material != material {
        choose(desk, material);
    }
    if response.double_clicked()
        && let Some((low, high)) = desk.parts_of_materials.bounds(part)
    {
        desk.model_view.camera = viewport::navigation::framed(&desk.model_view.camera, low, high);
    }
    response.context_menu(|ui| menu(ui, desk, part));
    response.on_hover_text("Click to paint its material, twice to bring it into view");
}

fn eye(ui: &Ui, desk: &mut Desk, part: PartId, name: &str, at: Rect) {
    let colours = theme::colours(ui);
    let hidden = desk.model_view.parts[part.0 as usize].hidden;
    let response = ui.interact(at, ui.scope_id().with("eye"), Sense::click());
    let label = format!("{name} visible");
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, !hidden, &label));
    let is_lit_up = response.hovered() || response.has_focus();
    let colour = if is_lit_up { colours.text } else { colours.text_weak };
    icon(ui, if hidden { Icon::EyeOff } else { Icon::Eye }, at, 16.0, colour);
    ring(ui, response.has_focus(), at.shrink2(vec2(4.0, 6.0)));
    if response.clicked() {
        if ui.input(|input| input.modifiers.alt) {
            isolate(desk, part);
        } else {
            desk.model_view.parts[part.0 as usize].hidden = !hidden;
        }
    }
    let about = if hidden { "Show this part" } else { "Hide this part" };
    response.on_hover_text(format!("{about}. With Alt: this part alone, or all again"));
}

/// The lock, faint before it is closed and only under the pointer or the keyboard.
fn lock(ui: &Ui, desk: &mut Desk, part: PartId, name: &str, (at, is_near): (Rect, bool)) {
    let colours = theme::colours(ui);
    let locked = desk.model_view.parts[part.0 as usize].locked;
    let response = ui.interact(at, ui.scope_id().with("lock"), Sense::click());
    let label = format!("{name} locked");
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, locked, &label));
    let is_lit_up = response.hovered() || response.has_focus();
    if locked || is_near || is_lit_up {
        let colour = match (is_lit_up, locked) {
            (true, _) => colours.text,
            (false, true) => colours.accent,
            (false, false) => colours.text_weak,
        };
        icon(ui, if locked { Icon::Lock } else { Icon::LockOpen }, at, 14.0, colour);
    }
    ring(ui, response.has_focus(), at.shrink2(vec2(4.0, 6.0)));
    if response.clicked() {
        desk.model_view.parts[part.0 as usize].locked = !locked;
    }
    let about = if locked { "Let this part take paint" } else { "Keep paint off this part" };
    response.on_hover_text(about);
}

fn menu(ui: &mut Ui, desk: &mut Desk, part: PartId) {
    let state = desk.model_view.parts[part.0 as usize];
    if ui.button(if state.hidden { "Show" } else { "Hide" }).clicked() {
        desk.model_view.parts[part.0 as usize].hidden = !state.hidden;
    }
    if ui.button(if state.locked { "Unlock" } else { "Lock" }).clicked() {
        desk.model_view.parts[part.0 as usize].locked = !state.locked;
    }
    if ui.button(if is_alone(desk, part) { "Show all parts" } else { "Show it alone" }).clicked() {
        isolate(desk, part);
    }
    if ui.button("Bring into view").clicked()
        && let Some((low, high)) = desk.parts_of_materials.bounds(part)
    {
        desk.model_view.camera = viewport::navigation::framed(&desk.model_view.camera, low, high);
    }
}

fn is_alone(desk: &Desk, part: PartId) -> bool {
    let mut states = desk.model_view.parts.iter().enumerate();
    states.all(|(number, state)| state.hidden != (number == part.0 as usize))
}

/// Hides all other parts; shows all again where it is alone already.
fn isolate(desk: &mut Desk, part: PartId) {
    let alone = is_alone(desk, part);
    for (number, state) in desk.model_view.parts.iter_mut().enumerate() {
        state.hidden = !alone && number != part.0 as usize;
    }
}
