//! Many files that are spoiled at random: what is wrong is named, and nothing that is wrong is shown as right.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use layers::ChannelId;
use raster::TileAt;
use store::{Access, Damage, Lost, PlaneOf, Project};

use crate::chance::Chance;
use crate::content::{Lines, entries};
use crate::damage::{Sample, all_read, check_opened};
use crate::disk::quick_folder;

/// A file with other bytes, or fewer.
fn spoiled(bytes: &[u8], used: &[usize], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    match chance.below(8) {
        0 => bytes.truncate(chance.below(bytes.len())),
        1 => {
            let (from, length) = (chance.below(bytes.len()), 1 << chance.below(16));
            let to = (from + length).min(bytes.len());
            bytes[from..to].fill(0);
        }
        // Most of the file is room; what is in use is hit more often.
        kind => {
            for _ in 0..=chance.below(64) {
                let at = if kind < 4 {
                    chance.below(bytes.len())
                } else {
                    used[chance.below(used.len())]
                };
                bytes[at] ^= 1 + chance.below(255) as u8;
            }
        }
    }
    bytes
}

/// The plane and the tile that a line of a document is about, if it is about one.
fn tile_of(place: &str) -> Option<(&str, TileAt)> {
    let (plane, tile) = place.rsplit_once("/tile ")?;
    let (x, y) = tile.split_once(' ')?;
    Some((plane, TileAt { x: x.parse().ok()?, y: y.parse().ok()? }))
}

fn channel_in(plane: &str) -> Option<ChannelId> {
    plane.split('/').find_map(|part| part.parse().ok().map(ChannelId))
}

/// Whether what is lost is this tile, in the words in which a document's lines name planes.
fn is_tile(lost: &Lost, plane: &str, at: TileAt) -> bool {
    let of = match lost {
        Lost::Tiles { plane: of, first, last } => {
            let inside = (first.x..=last.x).contains(&at.x) && (first.y..=last.y).contains(&at.y);
            if !inside {
                return false;
            }
            of
        }
        Lost::Plane(of) => of,
        Lost::Material | Lost::Layer(_) => return true,
        Lost::RecipeBase => return plane.contains("/base"),
        _ => return false,
    };
    match of {
        PlaneOf::Values(channel, component) => {
            channel_in(plane) == Some(*channel) && plane.ends_with(&format!("/values {component}"))
        }
        PlaneOf::Coverage(channel) => {
            channel_in(plane) == Some(*channel) && plane.ends_with("/coverage")
        }
        PlaneOf::LayerMask(term) => {
            !plane.contains("/cell ") && plane.ends_with(&format!("/mask/term {}", term.0))
        }
        PlaneOf::CellMask(channel, term) => {
            plane.ends_with(&format!("/cell {channel}/mask/term {}", term.0))
        }
        PlaneOf::Selection => plane.ends_with("/selection"),
        PlaneOf::Field(field) => plane.ends_with(&format!("/field {}", field.key())),
    }
}

/// Whether this tile is named. Tiles that several planes share are one object, and named once: for any of them.
fn is_named(place: &str, was: &Lines, damage: &[Damage]) -> bool {
    let Some(before) = was.get(place) else { return false };
    let same = was.iter().filter(|(_, text)| *text == before);
    same.filter_map(|(place, _)| tile_of(place))
        .any(|(plane, at)| damage.iter().any(|damage| is_tile(&damage.lost, plane, at)))
}

/// Looks whether each tile and each layer that is not what it was is named.
fn check_named(found: &Lines, was: &Lines, damage: &[Damage]) {
    let changed = found.iter().filter(|(place, text)| was.get(*place) != Some(text));
    // Steps move in their list where one is lost.
    let changed = changed.filter(|(place, _)| !place.contains("/step "));
    for (place, _) in changed.filter(|(place, _)| tile_of(place).is_some()) {
        // Where the values of a plane or a page are lost its coverage is taken too.
        let values =
            (0..3).map(|component| place.replace("/coverage/", &format!("/values {component}/")));
        let named =
            std::iter::once(place.clone()).chain(values).any(|place| is_named(&place, was, damage));
        assert!(named, "{place} is not what it was, and not named: {damage:?}");
    }
    let layers = |lines: &Lines| -> BTreeSet<String> {
        let names = lines.keys().filter_map(|place| place.strip_suffix("/visible"));
        names.map(str::to_owned).collect()
    };
    let gone = layers(was).difference(&layers(found)).count();
    let named = damage.iter().any(|damage| matches!(damage.lost, Lost::Layer(_) | Lost::Material));
    assert!(gone == 0 || named, "{gone} layers are gone, and not named: {damage:?}");
}

#[test]
fn two_thousand_spoiled_files_open_with_what_is_wrong_named_or_say_in_a_line_why_not() {
    let sample = Sample::new(128);
    let expected = entries(&sample.history);
    let bytes = fs::read(&sample.path).unwrap();
    let used: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at] != 0).collect();
    let folder = quick_folder();
    let path = folder.path().join("a.scumble");
    let (mut opened, mut with_damage, mut longest) = (0, 0, Duration::ZERO);
    for seed in 0..2000 {
        println!("seed {seed}");
        fs::write(&path, spoiled(&bytes, &used, &mut Chance::of(seed))).unwrap();
        let started = Instant::now();
        match Project::open(&path, Access::ReadOnly) {
            Ok(found) => {
                let found = all_read(found);
                opened += 1;
                with_damage += u32::from(!found.damage.is_empty());
                check_opened(&found, &expected, 3);
                for (number, (_, lines)) in &entries(&found.history) {
                    check_named(lines, &expected[number].1, &found.damage);
                }
                // Where the database's own pages are damaged a second look may find other things, but never nothing.
                let verified = found.project.verify().unwrap();
                assert!(found.damage.is_empty() || !verified.is_empty());
            }
            Err(error) => {
                let line = error.to_string();
                assert!(!line.is_empty() && !line.contains('\n'), "{line}");
            }
        }
        longest = longest.max(started.elapsed());
        assert!(longest < Duration::from_secs(10), "{longest:?}");
    }
    println!("{opened} of 2000 opened, {with_damage} with damage; the longest took {longest:?}");
    assert!(opened > 1000 && with_damage > 500, "{opened} {with_damage}");
}

/// Files that a fuzzer found to break something once, or to take too long.
#[test]
fn what_was_found_once_opens_or_says_why_not_in_good_time() {
    let found = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/found");
    let folder = quick_folder();
    let path = folder.path().join("a.scumble");
    for file in fs::read_dir(found).unwrap() {
        let file = file.unwrap().path();
        fs::copy(&file, &path).unwrap();
        let started = Instant::now();
        for access in [Access::ReadOnly, Access::ReadWrite] {
            match Project::open(&path, access) {
                Ok(opened) => _ = opened.project.verify().unwrap(),
                Err(error) => assert!(!error.to_string().contains('\n'), "{error}"),
            }
        }
        let took = started.elapsed();
        println!("{}: {took:?}", file.display());
        assert!(took < Duration::from_secs(10), "{}: {took:?}", file.display());
    }
}
