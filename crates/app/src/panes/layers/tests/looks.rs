use super::*;
use crate::commands::{Command, LayerCommand};

/// Ten groups of three painted layers each, beside "Layer 1": 41 rows.
pub(super) fn forty() -> Desk {
    let mut desk = bell_desk();
    for group in 0..10 {
        let id = 100 + group * 10;
        let name = format!("Group {group}");
        add(
            &mut desk,
            id,
            &name,
            NewContent::Group(Isolation::Isolated),
            (None, 1 + group as usize),
        );
        for child in 0..3 {
            let name = format!("Layer {group}.{child}");
            add(&mut desk, id + 1 + child, &name, NewContent::Painted, (Some(id), child as usize));
        }
    }
    desk
}

#[test]
fn of_forty_layers_only_the_rows_in_sight_are_built() {
    let mut harness = harness(forty(), SIZE);
    harness.run();
    let built = harness.state().layer_table.built();
    assert!((3..12).contains(&built), "{built} rows");
    assert!(harness.query_by_label("Layer 0.0").is_some(), "the chosen row at the bottom is near");
    assert!(harness.query_by_label("Layer 9.2").is_none(), "the rows at the top are out of sight");
}

#[test]
fn the_chosen_row_is_scrolled_to() {
    let mut harness = harness(forty(), SIZE);
    harness.run();
    harness.state_mut().choose_layer(LayerId(193));
    harness.run();
    let row = harness.get_by_label("Layer 9.2").rect();
    assert!(row.is_positive() && row.bottom() < SIZE[1], "{row:?}");
}

#[test]
fn a_long_name_ends_in_an_ellipsis_before_the_next_column() {
    let mut desk = layered_desk();
    let name = "A name that somebody gave after a long day and never thought of again ".repeat(4);
    assert!(desk.edit_layer(LayerId(12), LayerEdit::Rename(name.clone())));
    let mut harness = harness(desk, SIZE);
    harness.run();
    let name_at = harness.get_by_label(&name).rect();
    let blend = harness.get_by_label(&format!("Blend of {name}")).rect();
    assert!(name_at.right() <= blend.left(), "{name_at:?} {blend:?}");
}

#[test]
fn an_empty_material_says_what_to_do_next() {
    let mut desk = bell_desk();
    desk.perform(Command::Layer(LayerCommand::Delete));
    let mut harness = harness(desk, SIZE);
    harness.run();
    harness.get_by_label("Add a painted layer").click();
    harness.run();
    assert_eq!(order(&harness).len(), 1);
    assert!(harness.state().chosen.layer.is_some());
}

#[test]
fn thumbnails_come_by_themselves_and_are_made_anew_only_where_something_changed() {
    let mut harness = layered();
    let made = |harness: &mut Harness<'_, Desk>| {
        let mut made = 0;
        loop {
            harness.step();
            let ctx = harness.ctx.clone();
            match harness.state_mut().thumbnails.wait(&ctx) {
                0 => return made,
                some => made += some,
            }
        }
    };
    assert!(made(&mut harness) > 0, "a swatch for each material, a picture for each cell");
    assert!(harness.state_mut().edit_layer(LayerId(12), LayerEdit::Rename("Patina".to_owned())));
    assert_eq!(made(&mut harness), 0, "a name is in no picture");
    let value = LayerEdit::Solid(ChannelId::BASE_COLOUR, Some(Value::Colour([9_000; 3])));
    assert!(harness.state_mut().edit_layer(LayerId(10), value));
    assert_eq!(made(&mut harness), 1, "the swatch of the material");
}
