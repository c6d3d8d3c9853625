//! Files that are damaged: what they cost, and that nothing wrong is shown as right.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use document::{Document, History};
use layers::{ChannelId, LayerId};
use rusqlite::Connection;
use store::{Access, Changes, Damage, Lost, Opened, PlaneOf, Project, StoreError};
use tempfile::TempDir;

use crate::chance::Chance;
use crate::content::{Lines, assert_same, difference, entries, lines, present};
use crate::documents::{selected, stroke, with_layer};
use crate::round_trip::{PAINTED, folder};

/// A closed project with four revisions, the third shown.
pub(crate) struct Sample {
    _folder: TempDir,
    pub(crate) path: PathBuf,
    pub(crate) history: History,
}

impl Sample {
    pub(crate) fn new(edge: u32) -> Self {
        let folder = folder();
        let path = folder.path().join("a.scumble");
        let mut history = History::new(Document::default());
        history.push(selected(edge), "import");
        let painted =
            stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0), (1, 0)], 1);
        history.push(painted, "paint");
        let name = |layer: &mut layers::Layer| layer.name.push_str(" on top");
        history.push(with_layer(history.present(), 0, LayerId(5), name), "rename");
        history.undo();
        let mut project = Project::create(&path, &history).unwrap();
        project.commit(&Changes::naming("here", &history)).unwrap();
        project.set_view_state("a view").unwrap();
        project.close().unwrap();
        Self { _folder: folder, path, history }
    }

    fn change(&self, sql: &str) {
        let changed = Connection::open(&self.path).unwrap().execute(sql, []).unwrap();
        assert!(changed > 0, "{sql}");
    }

    fn open(&self) -> Opened {
        all_read(Project::open(&self.path, Access::ReadWrite).unwrap())
    }
}

/// Reads every tile, and names what damage that shows with the rest of it.
pub(crate) fn all_read(mut opened: Opened) -> Opened {
    _ = entries(&opened.history);
    opened.damage.extend(opened.project.watch().damage(0));
    opened
}

const FILE_PAGE: usize = 16_384;

const TILE: u8 = 1;
const PAGE: u8 = 2;
const PLANE: u8 = 3;
const PIECE: u8 = 4;
const PASS_MAP: u8 = 7;
const STEP: u8 = 9;
const STEPS: u8 = 10;
const BASE: u8 = 11;
const RECIPE: u8 = 12;
const LAYER: u8 = 13;
const MATERIAL: u8 = 14;
const DOCUMENT: u8 = 15;

/// Spoils the first, or last, object of a kind.
fn spoil(which: &str, kind: u8) -> String {
    format!(
        "UPDATE object SET bytes = \
         CAST(substr(bytes, 1, length(bytes) - 1) || x'55' AS BLOB) \
         WHERE id = (SELECT {which}(id) FROM object WHERE kind = {kind} AND length(bytes) > 0)"
    )
}

fn is_bare(text: &str) -> bool {
    text == "uniform 0"
}

/// Looks whether all that a document holds is what it was, bare, or gone.
fn check_nothing_wrong(found: &Lines, was: &Lines, damage: &[Damage]) {
    let material_lost = damage.iter().any(|damage| damage.lost == Lost::Material);
    for (place, text) in found {
        let same = was.get(place) == Some(text);
        let listed = place.ends_with("/layers");
        let stands_in = text.contains("KernelVersion(0)");
        // What follows a lost step or map has moved in its list.
        let in_list = place.contains("/step ") || place.contains("/pass map ");
        let moved = in_list && was.values().any(|old| old == text);
        let base = place.ends_with("/base") && text == "false";
        let hash = place == "model/hash"
            && damage.iter().any(|d| matches!(d.lost, Lost::ModelMap | Lost::PassMap));
        let selections = |damage: &Damage| {
            let of = PlaneOf::Selection;
            matches!(&damage.lost, Lost::Plane(plane) | Lost::Tiles { plane, .. } if *plane == of)
        };
        let is_selected = place.ends_with("/is selected") && text == "false";
        let unselected = is_selected && damage.iter().any(selections);
        let bare_material = material_lost && place.starts_with("material ");
        assert!(
            same || is_bare(text)
                || listed
                || stands_in
                || moved
                || base
                || hash
                || unselected
                || bare_material,
            "{place}: {text:.200} instead of {:.200?}, {damage:?}",
            was.get(place)
        );
    }
}

pub(crate) fn check_opened(opened: &Opened, sample: &BTreeMap<u64, (String, Lines)>, shown: u64) {
    let found = entries(&opened.history);
    for (number, (label, lines)) in &found {
        let (was_label, was) = &sample[number];
        assert_eq!(label, was_label);
        if opened.damage.is_empty() {
            let differs = difference(lines, was);
            assert_eq!(differs, None, "revision {number}, and nothing is said of it");
        }
        check_nothing_wrong(lines, was, &opened.damage);
    }
    if opened.damage.is_empty() {
        assert_eq!(found.len(), sample.len());
        assert_eq!(present(&opened.history), shown);
    }
}

#[test]
fn a_tile_that_is_wrong_is_bare_and_named_and_all_else_is_there() {
    let sample = Sample::new(1024);
    // The last tile is coverage; those of the values stand before.
    sample.change(
        "UPDATE object SET bytes = zeroblob(100) WHERE id = \
         (SELECT id FROM object WHERE kind = 1 ORDER BY id DESC LIMIT 1 OFFSET 2)",
    );
    let opened = sample.open();
    let [damage] = &opened.damage[..] else { panic!("{:?}", opened.damage) };
    assert_eq!(
        damage.to_string(),
        "revision 3: material \"bronze\", layer \"painted\", roughness, component 0, tile 1, 0 \
         is lost and empty now"
    );
    let (found, was) = (lines(opened.history.present()), lines(sample.history.present()));
    let differs: Vec<_> = was.keys().filter(|place| found[*place] != was[*place]).collect();
    let expected = "material 0/layer 3/painted/1/values 0/tile 1 0";
    assert_eq!(differs, [expected]);
    assert!(is_bare(&found[expected]));
    check_opened(&opened, &entries(&sample.history), 3);
    assert_eq!(opened.project.verify().unwrap(), opened.damage);
}

#[test]
fn a_tile_that_is_gone_and_one_that_is_another_one_are_told_too() {
    for sql in [
        "DELETE FROM object WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
        "UPDATE object SET (encoding, bytes) = \
         (SELECT encoding, bytes FROM object WHERE kind = 1 ORDER BY id DESC LIMIT 1) \
         WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
        "UPDATE object SET length = 1 << 60 WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
        "UPDATE object SET encoding = -3 WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
        "UPDATE object SET kind = 2 WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
        "UPDATE object SET bytes = 'text' WHERE id = (SELECT min(id) FROM object WHERE kind = 1)",
    ] {
        let sample = Sample::new(1024);
        sample.change(sql);
        let opened = sample.open();
        assert_eq!(opened.damage.len(), 1, "{sql}: {:?}", opened.damage);
        let tiles =
            matches!(&opened.damage[0].lost, Lost::Tiles { first, last, .. } if first == last);
        assert!(tiles, "{:?}", opened.damage);
        check_opened(&opened, &entries(&sample.history), 3);
    }
}

#[test]
fn a_node_that_is_wrong_costs_what_it_holds_and_is_named() {
    type Case = (&'static str, u8, fn(&Lost) -> bool);
    let cases: [Case; 11] = [
        ("max", PAGE, |lost| matches!(lost, Lost::Tiles { first, last, .. } if first != last)),
        ("max", PLANE, |lost| matches!(lost, Lost::Plane(PlaneOf::Coverage(_)))),
        ("max", PASS_MAP, |lost| *lost == Lost::PassMap),
        ("max", STEP, |lost| *lost == Lost::Strokes),
        ("max", STEPS, |lost| *lost == Lost::Strokes),
        ("max", BASE, |lost| *lost == Lost::RecipeBase),
        ("max", RECIPE, |lost| *lost == Lost::Strokes),
        ("max", LAYER, |lost| matches!(lost, Lost::Layer(_))),
        ("min", LAYER, |lost| matches!(lost, Lost::Layer(_))),
        ("max", MATERIAL, |lost| *lost == Lost::Material),
        ("max", DOCUMENT, |lost| *lost == Lost::Revision),
    ];
    for (which, kind, expected) in cases {
        let sample = Sample::new(1024);
        sample.change(&spoil(which, kind));
        let opened = sample.open();
        let lost: Vec<_> = opened.damage.iter().map(|damage| &damage.lost).collect();
        assert!(lost.iter().any(|lost| expected(lost)), "kind {kind}: {:?}", opened.damage);
        assert!(lost.len() <= 2, "kind {kind}: {:?}", opened.damage);
        check_opened(&opened, &entries(&sample.history), 3);
        assert!(!opened.project.verify().unwrap().is_empty());
    }
}

#[test]
fn a_recipe_with_a_lost_step_is_not_painted_again() {
    let sample = Sample::new(1024);
    assert!(sample.history.present().materials[0].recipe(LayerId(1)).can_replay());
    sample.change(&spoil("max", STEP));
    let opened = sample.open();
    assert!(!opened.history.present().materials[0].recipe(PAINTED).can_replay());
}

#[test]
fn where_the_present_document_is_lost_the_newest_older_one_is_shown() {
    let sample = Sample::new(128);
    sample.change("DELETE FROM object WHERE hash = (SELECT root FROM revision WHERE number = 3)");
    let opened = sample.open();
    let lost: Vec<_> = opened.damage.iter().map(ToString::to_string).collect();
    assert_eq!(lost, ["revision 3: the revision is lost"]);
    assert_eq!(present(&opened.history), 2);
    assert_eq!(entries(&opened.history).into_keys().collect::<Vec<_>>(), [1, 2, 4]);

    // And one goes on from there.
    let Opened { mut project, mut history, .. } = opened;
    let painted = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], 1);
    history.push(painted, "paint");
    project.commit(&Changes::of_history(&history)).unwrap();
    project.close().unwrap();
    let opened = sample.open();
    assert_same(&opened.history, &history);
}

#[test]
fn a_file_without_a_model_opens_before_it_came_and_one_without_anything_says_so() {
    let sample = Sample::new(128);
    sample.change(&spoil("min", PIECE));
    let opened = sample.open();
    assert_eq!(present(&opened.history), 1);
    assert_eq!(opened.damage.iter().filter(|damage| damage.lost == Lost::Model).count(), 3);
    drop(opened);
    sample.change("DELETE FROM object");
    let error = Project::open(&sample.path, Access::ReadOnly).unwrap_err();
    assert!(matches!(error, StoreError::NothingWhole(_)));
    assert!(error.to_string().contains("revision 3: the revision is lost"), "{error}");
}

#[test]
fn rows_beside_the_objects_are_checked_too() {
    let lost = |sql: &str| {
        let sample = Sample::new(128);
        sample.change(sql);
        let opened = sample.open();
        check_opened(&opened, &entries(&sample.history), 3);
        opened.damage.into_iter().map(|damage| (damage.revision, damage.lost)).collect::<Vec<_>>()
    };
    let revision = |number| vec![(Some(number), Lost::Revision)];
    assert_eq!(lost("UPDATE revision SET label = 'Paint' WHERE number = 3"), revision(3));
    assert_eq!(lost("UPDATE revision SET made_at = 7 WHERE number = 1"), revision(1));
    assert_eq!(lost("UPDATE revision SET edit = '' WHERE number = 4"), revision(4));
    let of_3 = "UPDATE revision SET root = (SELECT root FROM revision WHERE number = 3)";
    assert_eq!(lost(&format!("{of_3} WHERE number = 2")), revision(2));
    assert_eq!(lost("DELETE FROM revision WHERE number = 2"), [(None, Lost::Revision)]);
    let state = |key: &str| vec![(None, Lost::State(key.to_owned()))];
    assert_eq!(lost("UPDATE state SET value = x'00' WHERE key = 'view'"), state("view"));
    assert_eq!(lost("DELETE FROM point"), [(None, Lost::Point("?".to_owned()))]);
    let point = [(None, Lost::Point("there".to_owned()))];
    assert_eq!(lost("UPDATE point SET name = 'there'"), point);
    let history = lost("UPDATE state SET value = zeroblob(32) WHERE key = 'history'");
    assert_eq!(history, state("history"));
}

#[test]
fn what_was_lost_and_comes_up_again_is_written_anew() {
    let sample = Sample::new(128);
    sample.change(&spoil("max", TILE));
    let Opened { mut project, mut history, damage, .. } = sample.open();
    assert!(!damage.is_empty());
    history.push(sample.history.present().clone(), "from a copy in memory");
    project.commit(&Changes::of_history(&history)).unwrap();
    project.close().unwrap();
    let opened = sample.open();
    assert_eq!(opened.damage, []);
    let (found, was) = (lines(opened.history.present()), lines(sample.history.present()));
    assert_eq!(difference(&found, &was), None);
}

/// What the bytes of a file give: nothing that is wrong, and no panic. True when it opened.
fn look_at(path: &Path, bytes: &[u8], sample: &BTreeMap<u64, (String, Lines)>) -> bool {
    fs::write(path, bytes).unwrap();
    match Project::open(path, Access::ReadOnly) {
        Ok(opened) => {
            let opened = all_read(opened);
            check_opened(&opened, sample, 3);
            true
        }
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

#[test]
fn flipped_bits_anywhere_show_nothing_wrong() {
    let sample = Sample::new(128);
    let (bytes, expected) = (fs::read(&sample.path).unwrap(), entries(&sample.history));
    let path = sample.path.with_extension("flipped");
    assert!(look_at(&path, &bytes, &expected));
    let mut chance = Chance::of(1);
    let mut opened = 0;
    let header = 0..100;
    // Only bytes that hold anything: most of the file is room.
    let used: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at] != 0).collect();
    let anywhere = (0..500).map(|_| used[chance.below(used.len())]);
    for at in header.chain(anywhere.collect::<Vec<_>>()) {
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << (at % 8);
        opened += u32::from(look_at(&path, &flipped, &expected));
    }
    assert!(opened > 350, "{opened} of 600 opened");
}

#[test]
fn sectors_that_are_zeroed_or_swapped_show_nothing_wrong() {
    let sample = Sample::new(128);
    let (bytes, expected) = (fs::read(&sample.path).unwrap(), entries(&sample.history));
    let path = sample.path.with_extension("torn");
    let sectors = bytes.len() / 512;
    let mut chance = Chance::of(42);
    for sector in 0..sectors {
        let mut torn = bytes.clone();
        let other = chance.below(sectors) * 512;
        if sector % 2 == 0 {
            torn[sector * 512..][..512].fill(0);
        } else {
            torn.copy_within(other..other + 512, sector * 512);
        }
        look_at(&path, &torn, &expected);
    }
}

#[test]
fn pages_that_are_swapped_show_nothing_wrong() {
    let sample = Sample::new(128);
    let (bytes, expected) = (fs::read(&sample.path).unwrap(), entries(&sample.history));
    let path = sample.path.with_extension("swapped");
    for one in 0..bytes.len() / FILE_PAGE {
        for other in 0..bytes.len() / FILE_PAGE {
            let mut swapped = bytes.clone();
            swapped.copy_within(other * FILE_PAGE..(other + 1) * FILE_PAGE, one * FILE_PAGE);
            look_at(&path, &swapped, &expected);
        }
    }
}

#[test]
fn a_file_that_is_cut_short_anywhere_shows_nothing_wrong() {
    let sample = Sample::new(128);
    let (bytes, expected) = (fs::read(&sample.path).unwrap(), entries(&sample.history));
    let path = sample.path.with_extension("cut");
    for length in (0..bytes.len()).step_by(1531) {
        look_at(&path, &bytes[..length], &expected);
    }
}

#[test]
fn damage_to_the_index_costs_nothing() {
    let sample = Sample::new(128);
    let bytes = fs::read(&sample.path).unwrap();
    let root: i64 = Connection::open(&sample.path)
        .unwrap()
        .query_row(
            "SELECT rootpage FROM sqlite_schema WHERE type = 'index' AND tbl_name = 'object'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    let mut spoiled = bytes;
    spoiled[(root as usize - 1) * FILE_PAGE..][..FILE_PAGE].fill(0xA5);
    fs::write(&sample.path, spoiled).unwrap();
    let opened = all_read(Project::open(&sample.path, Access::ReadOnly).unwrap());
    assert_eq!(opened.damage, []);
    assert_same(&opened.history, &sample.history);
    let found = opened.project.verify().unwrap();
    assert!(found.iter().any(|damage| matches!(damage.lost, Lost::Database(_))), "{found:?}");
}
