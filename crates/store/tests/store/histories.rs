//! Any edits, undo, redo, naming, collecting and reopening, held against the history in memory.

use document::History;
use layers::{
    ChannelId, Combine, Content, Isolation, Layer, LayerId, MaskSource, MaskTerm, Place, TermId,
    Value,
};
use proptest::prelude::*;
use store::{Access, Changes, Opened, Project};

use crate::content::{assert_same, entries};
use crate::documents::{any_step, full, opacity, plane, size, soft, with_layer, with_material};
use crate::round_trip::folder;

#[derive(Debug, Clone, Copy)]
struct Op {
    kind: u8,
    a: u32,
    b: u32,
}

fn ops() -> impl Strategy<Value = Vec<Op>> {
    let op = (0..18_u8, 0..1000_u32, 0..1000_u32).prop_map(|(kind, a, b)| Op { kind, a, b });
    prop::collection::vec(op, 1..40)
}

const EDGE: u32 = 1024;

/// The document after an edit; `None` where the edit means nothing for it.
fn edited(document: &document::Document, op: Op) -> Option<document::Document> {
    let material = &document.materials[0];
    let ids: Vec<LayerId> = material.stack.ids().collect();
    let layer = *ids.get(op.a as usize % ids.len().max(1))?;
    let channel = ChannelId(op.b as u16 % 3);
    let changed = |stack| {
        let mut material = document::Material::clone(material);
        material.stack = stack;
        with_material(document, material)
    };
    let free = LayerId(ids.iter().map(|id| id.0).max().unwrap_or(0) + 1);
    Some(match op.kind {
        0..5 => {
            let is_painted = material
                .stack
                .find(layer)
                .is_some_and(|l| matches!(l.content, Content::Painted(_)));
            let tiles = [(op.b % 16, op.a % 16), (op.b / 7 % 16, op.a % 16), (3, op.b % 16)];
            is_painted.then_some(())?;
            any_step(document, layer, channel, &tiles, op.a + op.b)
        }
        5 => with_layer(document, 0, layer, |layer| layer.name = format!("{}", op.b % 3)),
        6 => with_layer(document, 0, layer, |layer| layer.opacity = opacity(op.b as f32 / 1000.0)),
        7 => with_layer(document, 0, layer, |layer| {
            let source = MaskSource::Painted(plane(EDGE, [(op.b % 16, 2, soft(op.b))]));
            layer.mask.terms.push(MaskTerm {
                id: TermId(100 + layer.mask.terms.len() as u32),
                on: true,
                invert: false,
                strength: opacity(0.5),
                combine: Combine::Add,
                source,
            });
        }),
        8 => with_layer(document, 0, layer, |layer| layer.mask.terms.truncate(op.b as usize % 3)),
        9 => {
            let content = match op.b % 3 {
                0 => Content::Painted(std::collections::BTreeMap::new()),
                1 => Content::Solid([(channel, Value::Scalar(op.b as u16))].into()),
                _ => Content::Group { isolation: Isolation::Isolated, children: Vec::new() },
            };
            let new = Layer::new(free, "new", content);
            changed(material.stack.inserted(new, Place { parent: None, index: 0 }).ok()?)
        }
        10 if ids.len() > 2 => changed(material.stack.removed(layer).ok()?),
        11 => {
            let copy = Layer { id: free, ..Layer::clone(material.stack.find(layer)?) };
            let place = material.stack.place_of(layer)?;
            changed(material.stack.inserted(copy, place).ok()?)
        }
        12 => {
            let mut other = document::Material::clone(&document.materials[1]);
            other.size = size(64 << (op.a % 4));
            with_material(document, other)
        }
        _ => return None,
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 20, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_way_through_a_history_is_there_when_the_file_is_opened_again(ops in ops()) {
        let folder = folder();
        let path = folder.path().join("a.scumble");
        let mut history = History::new(full(EDGE));
        let first = entries(&history);
        let mut project = Project::create(&path, &history).unwrap();
        for op in ops {
            match op.kind {
                13 => _ = history.undo(),
                14 => _ = history.redo(),
                15 => {
                    let entries = history.entries().0.len();
                    history.go_to(op.a as usize % entries);
                }
                16 => {
                    project.commit(&Changes::of_history(&history)).unwrap();
                    drop(project);
                    let opened = Project::open(&path, Access::ReadWrite).unwrap();
                    prop_assert_eq!(&opened.damage, &[]);
                    assert_same(&opened.history, &history);
                    Opened { project, history, .. } = opened;
                }
                17 if op.a % 2 == 0 => _ = project.collect_garbage(u64::MAX).unwrap(),
                17 => project.name_point(&format!("{}", op.b % 4), &history).unwrap(),
                _ => {
                    if let Some(document) = edited(history.present(), op) {
                        history.push(document, format!("{op:?}"));
                    }
                }
            }
            if op.b % 3 == 0 {
                project.commit(&Changes::of_history(&history)).unwrap();
            }
        }
        project.commit(&Changes::of_history(&history)).unwrap();
        prop_assert_eq!(project.verify().unwrap(), &[]);
        project.close().unwrap();
        let Opened { history: mut back, damage, .. } =
            Project::open(&path, Access::ReadWrite).unwrap();
        prop_assert_eq!(damage, &[]);
        assert_same(&back, &history);
        while back.undo() {}
        let start = back.entries().0.next().unwrap();
        prop_assert_eq!(crate::content::difference(
            &crate::content::lines(&start.document), &first[&1].1), None);
    }
}

#[test]
fn after_undoing_all_the_start_has_the_hash_that_it_had() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let roots = || {
        let connection = rusqlite::Connection::open(&path).unwrap();
        let mut rows = connection.prepare("SELECT root FROM revision ORDER BY number").unwrap();
        let roots = rows.query_map([], |row| row.get::<_, Vec<u8>>(0)).unwrap();
        roots.map(Result::unwrap).collect::<Vec<_>>()
    };
    let mut history = History::new(full(EDGE));
    let mut project = Project::create(&path, &history).unwrap();
    for seed in 1..5 {
        let painted =
            any_step(history.present(), LayerId(3), ChannelId::ROUGHNESS, &[(1, 1)], seed);
        history.push(painted, "paint");
    }
    project.commit(&Changes::of_history(&history)).unwrap();
    project.close().unwrap();
    let before = roots();

    // What is read from the file has the hashes of what was written, in another file too.
    let Opened { mut project, mut history, .. } = Project::open(&path, Access::ReadWrite).unwrap();
    while history.undo() {}
    let start = history.present().clone();
    history.push(start, "as at the start");
    project.commit(&Changes::of_history(&history)).unwrap();
    project.close().unwrap();
    assert_eq!(roots(), [&before[0], &before[0]].map(Clone::clone));

    let other = folder.path().join("b.scumble");
    drop(Project::create(&other, &history).unwrap());
    std::fs::rename(&other, &path).unwrap();
    assert_eq!(roots(), [&before[0], &before[0]].map(Clone::clone));
}
