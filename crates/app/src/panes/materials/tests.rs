use egui::Modifiers;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

use crate::desk::Desk;
use crate::testing::{bell_desk, double_click, harness};

fn bell() -> Harness<'static, Desk> {
    let mut harness = harness(bell_desk(), [1280.0, 1600.0]);
    harness.run();
    harness
}

fn hidden(harness: &Harness<'_, Desk>) -> usize {
    harness.state().model_view.parts.iter().filter(|part| part.hidden).count()
}

fn first_part(harness: &Harness<'_, Desk>) -> String {
    let desk = harness.state();
    let part = desk.parts_of_materials.of(document::MaterialId(0))[0];
    desk.document().model.as_ref().unwrap().mesh().parts()[part.0 as usize].name.clone()
}

#[test]
fn a_click_chooses_a_material() {
    let mut harness = bell();
    let name = harness.state().document().materials[1].name.clone();
    harness.get_all_by_label(&name).next().unwrap().click();
    harness.run();
    assert_eq!(harness.state().chosen.material.0, 1);
    assert!(harness.state().chosen.layer.is_some());
}

#[test]
fn the_eye_hides_a_part_and_with_a_key_held_all_others() {
    let mut harness = bell();
    let eye = format!("{} visible", first_part(&harness));
    harness.get_by_label(&eye).click();
    harness.run();
    assert_eq!(hidden(&harness), 1);
    harness.get_by_label(&eye).click();
    harness.run();
    harness.get_by_label(&eye).click_modifiers(Modifiers::ALT);
    harness.run();
    let parts = harness.state().model_view.parts.len();
    assert_eq!(hidden(&harness), parts - 1);
    harness.get_by_label(&eye).click_modifiers(Modifiers::ALT);
    harness.run();
    assert_eq!(hidden(&harness), 0);
}

#[test]
fn a_lock_keeps_paint_off_a_part() {
    let mut harness = bell();
    let lock = format!("{} locked", first_part(&harness));
    harness.get_by_label(&lock).click();
    harness.run();
    assert_eq!(harness.state().model_view.parts.iter().filter(|part| part.locked).count(), 1);
}

#[test]
fn a_part_is_brought_into_view_by_a_double_click() {
    let mut harness = bell();
    let before = harness.state().model_view.camera.target;
    let name = first_part(&harness);
    double_click(&mut harness, &name);
    assert_ne!(harness.state().model_view.camera.target, before);
}

#[test]
fn another_texture_size_is_made_as_a_task_and_is_one_edit() {
    let mut harness = bell();
    let before = harness.state().editor.history().entries().0.len();
    let name = harness.state().document().materials[0].name.clone();
    harness.get_by_label(&format!("Texture size of {name}")).click();
    harness.run();
    harness.get_by_label("512 x 512").click();
    while harness.state().tasks.is_empty() {
        harness.step();
    }
    while !harness.state().tasks.is_empty() {
        harness.step();
    }
    assert_eq!(harness.state().document().materials[0].size.edge(), 512);
    assert_eq!(harness.state().editor.history().entries().0.len(), before + 1);
}

#[test]
fn every_material_lists_the_parts_that_have_faces_of_it() {
    let harness = bell();
    let desk = harness.state();
    for material in &desk.document().materials {
        assert!(!desk.parts_of_materials.of(material.id).is_empty(), "{}", material.name);
    }
}
