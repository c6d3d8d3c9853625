//! Long work in the background, from a snapshot or before there is anything: painting goes on meanwhile,
//! and what comes of it is the same as if everyone had waited.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::sync_channel;
use std::sync::{Arc, Mutex};

use brush::BrushSettings;
use document::{DocumentError, Edit, MaterialId};
use editor::{ChannelMap, Editor, EditorError, Prepared, Settings, Snapshot};
use exchange::{
    BitDepth, ExchangeError, ExportFiles, ExportMaterial, ExportModel, MaterialMaps, export,
};
use layers::ChannelId;
use raster::{Observer, Unobserved};
use surface::Surface;

use crate::compared::difference;
use crate::pen::{draw, samples, start, target};
use crate::random_edits::{Desk, size};

fn stroke(editor: &mut Editor, turns: f64) {
    editor
        .begin_stroke(&target(7, 0), &start(0.09, BrushSettings::default()), &Unobserved)
        .unwrap();
    draw(editor, &samples(turns, 20), &[3]);
    editor.end_stroke().unwrap();
}

/// Writes every file that can be written of a snapshot.
fn write_files(
    snapshot: &Snapshot,
    folder: &Path,
    observer: &dyn Observer,
) -> Result<(), EditorError> {
    let surface: Arc<Surface> = snapshot.surface(observer)?;
    let materials = &snapshot.document().materials;
    let named: Vec<ExportMaterial<'_>> = materials
        .iter()
        .map(|material| ExportMaterial { name: &material.name, pass_maps: &material.pass_maps })
        .collect();
    let model = ExportModel { name: "desk", surface: &surface, materials: &named };
    let files = ExportFiles { maps: Some(BitDepth::Sixteen), obj: true, glb: true };
    let mut maps = |slot: surface::MaterialSlot| {
        let made = snapshot.maps(MaterialId(slot.0), observer);
        let made = made.map_err(|error| ExchangeError::File {
            file: "desk".to_owned(),
            problem: error.to_string(),
        })?;
        let mut images: BTreeMap<ChannelId, _> =
            made.into_iter().map(|map: ChannelMap| (map.channel.id, map.image)).collect();
        let mut image = |channel| images.remove(&channel).unwrap();
        Ok(MaterialMaps {
            base_colour: image(ChannelId::BASE_COLOUR),
            roughness: image(ChannelId::ROUGHNESS),
            metalness: image(ChannelId::METALNESS),
        })
    };
    export(&model, &mut maps, files, folder, observer).map_err(EditorError::outside)?;
    Ok(())
}

fn files_in(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    let read = |entry: std::fs::DirEntry| {
        let name = entry.file_name().into_string().unwrap();
        (name, std::fs::read(entry.path()).unwrap())
    };
    entries.map(read).collect()
}

#[test]
fn an_export_shows_the_moment_that_it_was_asked_for_however_painting_goes_on() {
    let mut editor = Desk::new().editor(Settings::default());
    stroke(&mut editor, 2.0);
    let [before, during, after] = [(); 3].map(|()| tempfile::tempdir().unwrap());
    write_files(&editor.snapshot(), before.path(), &Unobserved).unwrap();
    let (snapshot, folder) = (editor.snapshot(), during.path().to_owned());
    let (go, gate) = sync_channel::<()>(1);
    let job = editor.start(move |observer| {
        gate.recv().unwrap();
        write_files(&snapshot, &folder, observer)
    });
    stroke(&mut editor, 5.0);
    editor.begin_stroke(&target(7, 2), &start(0.2, BrushSettings::default()), &Unobserved).unwrap();
    go.send(()).unwrap();
    draw(&mut editor, &samples(4.0, 20), &[3]);
    editor.settle().unwrap();
    editor.end_stroke().unwrap();
    editor.maps(MaterialId(0), &Unobserved).unwrap();
    job.wait().unwrap();
    write_files(&editor.snapshot(), after.path(), &Unobserved).unwrap();
    let [before, during, after] = [before, during, after].map(|folder| files_in(folder.path()));
    assert!(before.len() >= 9, "{:?}", before.keys());
    assert!(before == during, "other bytes");
    assert!(before != after, "the strokes show nowhere");
}

#[test]
fn a_snapshot_gives_the_maps_and_the_bare_texels_that_the_editor_gives() {
    let mut editor = Desk::new().editor(Settings::default());
    let material = MaterialId(0);
    for turns in [2.0, 6.0] {
        stroke(&mut editor, turns);
        let snapshot = editor.snapshot();
        let values = |maps: Vec<ChannelMap>| -> Vec<Vec<u16>> {
            maps.into_iter().map(|map| map.image.values().to_vec()).collect()
        };
        let alone = snapshot.maps(material, &Unobserved).unwrap();
        assert_eq!(values(alone), values(editor.maps(material, &Unobserved).unwrap()));
        let bare = snapshot.unpainted(material, &Unobserved).unwrap();
        assert_eq!(bare, editor.unpainted(material, &Unobserved).unwrap());
    }
}

/// Writes down progress, and stops after so many looks.
struct Watch {
    seen: Mutex<Vec<(u64, u64)>>,
    looks_left: AtomicU64,
}

impl Watch {
    fn patient() -> Self {
        Self::for_looks(u64::MAX)
    }

    fn for_looks(looks: u64) -> Self {
        Self { seen: Mutex::default(), looks_left: looks.into() }
    }
}

impl Observer for Watch {
    fn progress(&self, done: u64, total: u64) {
        self.seen.lock().unwrap().push((done, total));
    }

    fn stopped(&self) -> bool {
        let left = self.looks_left.load(Ordering::Relaxed);
        self.looks_left.store(left.saturating_sub(1), Ordering::Relaxed);
        left == 0
    }
}

#[test]
fn a_prepared_import_is_the_import_and_leaves_nothing_to_be_made() {
    let desk = Desk::new();
    let mut waited = Editor::new(Settings::default()).unwrap();
    let import = Edit::Import { model: Arc::clone(&desk.model), size: size(128) };
    waited.apply(&import, &Unobserved).unwrap();
    let mut editor = Editor::new(Settings::default()).unwrap();
    let model = Arc::clone(&desk.model);
    let job = editor.start(move |observer| Prepared::of(model, size(128), observer));
    let prepared = job.wait().unwrap();
    let surface = Arc::clone(prepared.surface());
    editor.import(prepared).unwrap();
    assert_eq!(difference(editor.document(), waited.document()), None);
    assert_eq!(editor.recorded().to_json().unwrap(), waited.recorded().to_json().unwrap());
    // Anything that had to be made would be refused by an observer who wants no more.
    let stop = Watch::for_looks(0);
    assert!(Arc::ptr_eq(&surface, &editor.surface(&stop).unwrap()));
    for material in [0, 1].map(MaterialId) {
        editor.texel_map(material, &stop).unwrap();
    }
    let again = Prepared::of(Arc::clone(&desk.model), size(64), &Unobserved).unwrap();
    let refused = editor.import(again).unwrap_err();
    assert!(matches!(refused, EditorError::Document(DocumentError::HasModel)), "{refused}");
    assert!(editor.undo() && editor.document().model.is_none());
    assert!(editor.redo() && !editor.redo());
}

#[test]
fn preparing_tells_how_far_it_is_and_stops_wherever_it_is_asked_to() {
    let desk = Desk::new();
    let prepare = |watch: &Watch| Prepared::of(Arc::clone(&desk.model), size(64), watch);
    let patient = Watch::patient();
    prepare(&patient).unwrap();
    let seen = patient.seen.into_inner().unwrap();
    let shares: Vec<f64> = seen.iter().map(|(done, total)| *done as f64 / *total as f64).collect();
    assert!(shares.is_sorted(), "{shares:?}");
    assert_eq!(shares.last(), Some(&1.0));
    let looks = u64::MAX - patient.looks_left.into_inner();
    assert!(looks > 8, "{looks}");
    for look in 0..looks {
        let stopped = prepare(&Watch::for_looks(look)).unwrap_err();
        assert!(stopped.is_cancelled(), "look {look}: {stopped}");
    }
}

#[test]
fn what_others_hold_counts_and_makes_the_editor_let_go_of_what_it_can() {
    let mut editor = Desk::new().editor(Settings { memory_bytes: 64 << 20, ..Settings::default() });
    stroke(&mut editor, 3.0);
    editor.maps(MaterialId(0), &Unobserved).unwrap();
    editor.settle_and_wait().unwrap();
    let held = |editor: &Editor, what: &str| {
        let ledger = editor.ledger();
        ledger.holdings.iter().find(|holding| holding.what == what).map(|holding| holding.bytes)
    };
    assert!(held(&editor, "exact composites") > Some(0));
    let before = editor.ledger().bytes();
    editor.set_outside_bytes("textures on the graphics card", 60 << 20);
    assert_eq!(editor.ledger().bytes(), before + (60 << 20));
    editor.settle_and_wait().unwrap();
    assert_eq!(held(&editor, "exact composites"), Some(0));
    assert_eq!(held(&editor, "textures on the graphics card"), Some(60 << 20));
    editor.set_outside_bytes("textures on the graphics card", 0);
    assert_eq!(held(&editor, "textures on the graphics card"), None);
}
