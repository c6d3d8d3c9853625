//! Edits of the layer tree.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{Content, Isolation, Layer, LayerId, LayersError, MAX_DEPTH, Place, Stack};
use proptest::prelude::*;
use proptest::sample::Index;

fn leaf(id: u32) -> Arc<Layer> {
    Arc::new(Layer::new(LayerId(id), format!("leaf {id}"), Content::Solid(BTreeMap::new())))
}

fn group(id: u32, children: Vec<Arc<Layer>>) -> Arc<Layer> {
    let content = Content::Group { isolation: Isolation::Isolated, children };
    Arc::new(Layer::new(LayerId(id), format!("group {id}"), content))
}

/// 0, 1 [2, 3 [4]], 5
fn stack() -> Stack {
    let inner = group(3, vec![leaf(4)]);
    Stack { layers: vec![leaf(0), group(1, vec![leaf(2), inner]), leaf(5)] }
}

fn place(parent: impl Into<Option<u32>>, index: usize) -> Place {
    Place { parent: parent.into().map(LayerId), index }
}

/// The tree in one line.
fn drawn(layers: &[Arc<Layer>]) -> String {
    let one = |layer: &Arc<Layer>| match &layer.content {
        Content::Group { children, .. } => format!("{}[{}]", layer.id, drawn(children)),
        _ => layer.id.to_string(),
    };
    layers.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn check(edited: Result<Stack, LayersError>, expected: Result<&str, LayersError>) {
    assert_eq!(edited.map(|stack| drawn(&stack.layers)), expected.map(str::to_owned));
}

#[test]
fn layers_are_found_wherever_they_stand() {
    let stack = stack();
    let ids: Vec<u32> = stack.ids().map(|id| id.0).collect();
    assert_eq!(ids, [0, 1, 2, 3, 4, 5]);
    assert_eq!(stack.find(LayerId(4)).unwrap().name, "leaf 4");
    assert!(stack.find(LayerId(9)).is_none());
    assert_eq!(stack.place_of(LayerId(4)), Some(place(3, 0)));
    assert_eq!(stack.place_of(LayerId(5)), Some(place(None, 2)));
    assert_eq!(stack.place_of(LayerId(9)), None);
}

#[test]
fn layers_are_inserted_where_told() {
    let stack = stack();
    check(stack.inserted(leaf(9), place(None, 0)), Ok("9 0 1[2 3[4]] 5"));
    check(stack.inserted(leaf(9), place(None, 3)), Ok("0 1[2 3[4]] 5 9"));
    check(stack.inserted(leaf(9), place(3, 1)), Ok("0 1[2 3[4 9]] 5"));
    let out_of_range = LayersError::IndexOutOfRange { index: 2, len: 1 };
    check(stack.inserted(leaf(9), place(3, 2)), Err(out_of_range));
    check(stack.inserted(leaf(9), place(7, 0)), Err(LayersError::UnknownLayer(LayerId(7))));
    check(stack.inserted(leaf(9), place(5, 0)), Err(LayersError::NotAGroup(LayerId(5))));
    let double = group(9, vec![leaf(2)]);
    check(stack.inserted(double, place(None, 0)), Err(LayersError::DuplicateLayer(LayerId(2))));
}

#[test]
fn layers_are_removed_with_what_they_hold() {
    check(stack().removed(LayerId(1)), Ok("0 5"));
    check(stack().removed(LayerId(4)), Ok("0 1[2 3[]] 5"));
    check(stack().removed(LayerId(9)), Err(LayersError::UnknownLayer(LayerId(9))));
}

#[test]
fn layers_are_moved_and_a_group_never_into_itself() {
    let stack = stack();
    check(stack.moved(LayerId(0), place(None, 2)), Ok("1[2 3[4]] 5 0"));
    check(stack.moved(LayerId(5), place(3, 0)), Ok("0 1[2 3[5 4]]"));
    check(stack.moved(LayerId(4), place(None, 0)), Ok("4 0 1[2 3[]] 5"));
    check(stack.moved(LayerId(3), place(1, 0)), Ok("0 1[3[4] 2] 5"));
    for inside in [1, 3] {
        let refused = Err(LayersError::MoveIntoItself(LayerId(1)));
        check(stack.moved(LayerId(1), place(inside, 0)), refused);
    }
    check(stack.moved(LayerId(9), place(None, 0)), Err(LayersError::UnknownLayer(LayerId(9))));
    let out_of_range = LayersError::IndexOutOfRange { index: 3, len: 2 };
    check(stack.moved(LayerId(0), place(None, 3)), Err(out_of_range));
}

#[test]
fn a_replaced_layer_shares_all_others() {
    let before = stack();
    let now = before
        .replaced(LayerId(4), |layer| {
            Ok::<_, LayersError>(Layer { name: "other".to_owned(), ..layer.clone() })
        })
        .unwrap();
    for id in [0, 2, 5].map(LayerId) {
        assert!(Arc::ptr_eq(before.find(id).unwrap(), now.find(id).unwrap()));
    }
    for id in [1, 3, 4].map(LayerId) {
        assert!(!Arc::ptr_eq(before.find(id).unwrap(), now.find(id).unwrap()));
    }
    assert_eq!(now.find(LayerId(4)).unwrap().name, "other");
    assert_eq!(before.find(LayerId(4)).unwrap().name, "leaf 4");
}

#[test]
fn a_replacement_may_be_refused_or_not_fit() {
    let renumbered = stack().replaced(LayerId(4), |layer| {
        Ok::<_, LayersError>(Layer { id: LayerId(5), ..layer.clone() })
    });
    check(renumbered, Err(LayersError::DuplicateLayer(LayerId(5))));
    let refused = stack().replaced(LayerId(4), |_| Err(LayersError::Opacity(2.0)));
    check(refused, Err(LayersError::Opacity(2.0)));
}

#[test]
fn groups_nest_to_a_bound() {
    let nested = |depth| (1..depth).fold(leaf(0), |inner, id| group(id as u32, vec![inner]));
    let empty = Stack::default();
    assert!(empty.inserted(nested(MAX_DEPTH), place(None, 0)).is_ok());
    check(empty.inserted(nested(MAX_DEPTH + 1), place(None, 0)), Err(LayersError::TooDeep));
}

proptest! {
    #[test]
    fn moving_back_gives_the_tree_that_was(which in 0_u32..6, parent in 0_usize..3, index in any::<Index>()) {
        let before = stack();
        let id = LayerId(which);
        let back = before.place_of(id).unwrap();
        let parent = [None, Some(1), Some(3)][parent];
        let there = Place { parent: parent.map(LayerId), index: index.index(3) };
        if let Ok(moved) = before.moved(id, there) {
            prop_assert_eq!(moved.place_of(id), Some(there));
            prop_assert_eq!(drawn(&moved.moved(id, back).unwrap().layers), drawn(&before.layers));
        }
    }
}
