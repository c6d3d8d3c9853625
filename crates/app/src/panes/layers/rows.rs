//! The table's rows: the stack from the top down, without what folded groups hold.

use std::collections::BTreeSet;
use std::sync::Arc;

use layers::{Content, Layer, LayerId, Place, Stack};

/// A row.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// The layer.
    pub(crate) layer: Arc<Layer>,
    /// How many groups it lies in.
    pub(crate) depth: usize,
    /// Where it stands.
    pub(crate) place: Place,
    /// A group whose layers have rows too.
    pub(crate) is_open: bool,
    /// No group that it lies in is hidden.
    pub(crate) in_sight: bool,
}

impl Row {
    /// It holds layers.
    pub(crate) fn is_group(&self) -> bool {
        matches!(self.layer.content, Content::Group { .. })
    }
}

/// All rows, the topmost first.
pub(crate) fn rows(stack: &Stack, folded: &BTreeSet<LayerId>) -> Vec<Row> {
    let mut rows = Vec::new();
    add(&stack.layers, None, (0, true), folded, &mut rows);
    rows
}

fn add(
    list: &[Arc<Layer>],
    parent: Option<LayerId>,
    (depth, in_sight): (usize, bool),
    folded: &BTreeSet<LayerId>,
    rows: &mut Vec<Row>,
) {
    for (index, layer) in list.iter().enumerate().rev() {
        let is_group = matches!(layer.content, Content::Group { .. });
        let is_open = is_group && !folded.contains(&layer.id);
        let place = Place { parent, index };
        rows.push(Row { layer: Arc::clone(layer), depth, place, is_open, in_sight });
        if is_open {
            let inside = (depth + 1, in_sight && layer.visible);
            add(layer.children(), Some(layer.id), inside, folded, rows);
        }
    }
}

/// The groups that a layer lies in, the innermost first.
pub(crate) fn groups_around(stack: &Stack, layer: LayerId) -> Vec<LayerId> {
    let mut groups = Vec::new();
    let mut inner = layer;
    while let Some(parent) = stack.place_of(inner).and_then(|place| place.parent) {
        groups.push(parent);
        inner = parent;
    }
    groups
}

#[cfg(test)]
pub(super) mod tests {
    use layers::Isolation;

    use super::*;

    fn layer(id: u32, content: Content) -> Arc<Layer> {
        Arc::new(Layer::new(LayerId(id), format!("layer {id}"), content))
    }

    fn painted(id: u32) -> Arc<Layer> {
        layer(id, Content::Painted([].into()))
    }

    fn group(id: u32, children: Vec<Arc<Layer>>) -> Arc<Layer> {
        layer(id, Content::Group { isolation: Isolation::Isolated, children })
    }

    /// From the top: 5, group 4 (3, group 2 (1)), 0.
    pub(crate) fn nested() -> Stack {
        let inner = group(2, vec![painted(1)]);
        Stack { layers: vec![painted(0), group(4, vec![inner, painted(3)]), painted(5)] }
    }

    fn ids(rows: &[Row]) -> Vec<(u32, usize)> {
        rows.iter().map(|row| (row.layer.id.0, row.depth)).collect()
    }

    #[test]
    fn the_topmost_layer_comes_first_and_folded_groups_hold_theirs_back() {
        let open = rows(&nested(), &BTreeSet::new());
        assert_eq!(ids(&open), [(5, 0), (4, 0), (3, 1), (2, 1), (1, 2), (0, 0)]);
        let folded = rows(&nested(), &BTreeSet::from([LayerId(4)]));
        assert_eq!(ids(&folded), [(5, 0), (4, 0), (0, 0)]);
        assert_eq!(open[4].place, Place { parent: Some(LayerId(2)), index: 0 });
    }

    #[test]
    fn the_groups_around_a_layer_are_told_from_the_inside_out() {
        assert_eq!(groups_around(&nested(), LayerId(1)), [LayerId(2), LayerId(4)]);
        assert_eq!(groups_around(&nested(), LayerId(5)), []);
    }
}
