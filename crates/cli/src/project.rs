//! Commands on project files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::wire::EditList;
use document::{Document, History};
use editor::{Editor, Settings};
use layers::{Content, Layer};
use raster::TextureSize;
use serde::Serialize;
use store::{Access, Changes, Damage, Earlier, Opened, Project, Watch};

use crate::apply::paint;
use crate::arguments::Apply;
use crate::failure::Failure;
use crate::output::{Output, write_everything};

/// More damage than this is counted, not listed.
const MOST_LISTED: usize = 40;

/// Told by its name, as a project that is damaged is one too.
pub(crate) fn is_project(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("scumble"))
}

/// Makes a project of a history, in the place of one that is there.
pub(crate) fn create(path: &Path, history: &History) -> Result<PathBuf, Failure> {
    if path.exists() {
        // Only a project that nobody has open is replaced.
        drop(Project::open_shown(path, Access::ReadWrite)?);
        std::fs::remove_file(path)
            .map_err(|error| Failure::Text { path: path.to_owned(), reason: error.to_string() })?;
    }
    Project::create(path, history)?.close()?;
    Ok(path.to_owned())
}

/// What is on show of a project, and what was undone; the entries before stay unread.
fn open(path: &Path, access: Access) -> Result<(Opened, Earlier), Failure> {
    let (opened, earlier) = Project::open_shown(path, access)?;
    note(&opened.damage);
    Ok((opened, earlier))
}

/// Names what is lost beside what could be done.
pub(crate) fn note(damage: &[Damage]) {
    for damage in damage.iter().take(MOST_LISTED) {
        eprintln!("note: {damage}");
    }
}

/// `scumble apply PROJECT EDITS`: all of the list or nothing is in the file then.
pub(crate) fn apply(
    command: &Apply,
    list: &EditList,
    size: Option<TextureSize>,
) -> Result<(), Failure> {
    let (opened, _) = Project::open_shown(&command.model, Access::ReadWrite)?;
    let Opened { mut project, history, mut damage, .. } = opened;
    let known = history.entries().0.last().map_or(0, |entry| entry.number);
    let mut editor = Editor::resume(history, Settings::default())?;
    painted(&mut editor, list, &command.edits, size)?;
    damage.extend(project.watch().damage(0));
    if let Some(first) = damage.first() {
        let (path, count) = (command.model.display(), damage.len());
        return Err(Failure::Check(format!(
            "{path}: damaged in {count} places ({first}), so that nothing was written: scumble pack {path} --out \
             NEW.scumble keeps what can be read"
        )));
    }
    let edits = texts_after(&editor, known)?;
    project.commit(&Changes { edits, ..Changes::of_history(editor.history()) })?;
    project.close()?;
    println!("{}", command.model.display());
    let Some(folder) = &command.out else { return Ok(()) };
    let name = command.model.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let output = Output { folder, name: &name, depth: command.depth };
    for path in write_everything(&mut editor, &output, |_, _| {})? {
        println!("{}", path.display());
    }
    Ok(())
}

/// The edits that made the entries with higher numbers, as the file has them.
fn texts_after(editor: &Editor, number: u64) -> Result<BTreeMap<u64, String>, Failure> {
    let edits = editor.edits_after(number).into_iter();
    let texts = edits.map(|(number, edit)| Ok((number, serde_json::to_string(&edit)?)));
    let texts: Result<_, serde_json::Error> = texts.collect();
    texts.map_err(|error| Failure::Check(error.to_string()))
}

/// The present document, with these edits on it, for a picture, and what tells of damage to it; the file
/// stays as it is.
pub(crate) fn editor_for_a_look(
    path: &Path,
    list: Option<(&EditList, &Path)>,
) -> Result<(Editor, Watch), Failure> {
    let (Opened { project, history, .. }, _) = open(path, Access::ReadOnly)?;
    let mut editor = Editor::resume(history, Settings::default())?;
    if let Some((list, edits)) = list {
        painted(&mut editor, list, edits, None)?;
    }
    Ok((editor, project.watch()))
}

fn painted(
    editor: &mut Editor,
    list: &EditList,
    edits: &Path,
    size: Option<TextureSize>,
) -> Result<(), Failure> {
    let model = editor.document().model().map_err(editor::EditorError::from)?.clone();
    paint(editor, list, &model, size).map_err(|error| Failure::in_list(error, edits))
}

/// `scumble history`: a line an entry, a mark at the one that is shown; below it the edit that made it, where that
/// is asked for and known.
pub(crate) fn history(path: &Path, with_edits: bool) -> Result<(), Failure> {
    let (Opened { project, history, edits, .. }, earlier) = open(path, Access::ReadOnly)?;
    let points = project.points()?;
    let (entries, present) = history.entries();
    let shown = entries.enumerate().map(|(place, entry)| {
        let mark = if place == present { '>' } else { ' ' };
        (mark, entry.number, entry.label.as_str())
    });
    let before = earlier.list().map(|(number, label)| (' ', number, label));
    for (mark, number, label) in before.chain(shown) {
        let named = points.iter().filter(|point| point.revision == number);
        let names: Vec<&str> = named.map(|point| point.name.as_str()).collect();
        let names =
            if names.is_empty() { String::new() } else { format!("  [{}]", names.join("] [")) };
        println!("{mark} {number:>6}  {label}{names}");
        if let Some(edit) = edits.get(&number).filter(|_| with_edits) {
            println!("          {edit}");
        }
    }
    Ok(())
}

/// `scumble verify`.
pub(crate) fn verify(path: &Path) -> Result<(), Failure> {
    let found = Project::open_shown(path, Access::ReadOnly)?.0.project.verify()?;
    if found.is_empty() {
        println!("{}: all of it can be read and is what was written", path.display());
        return Ok(());
    }
    for damage in found.iter().take(MOST_LISTED) {
        println!("{damage}");
    }
    let more = found.len().saturating_sub(MOST_LISTED);
    if more > 0 {
        println!("and {more} more");
    }
    let are = if found.len() == 1 { "thing is" } else { "things are" };
    Err(Failure::Check(format!("{}: {} {are} damaged", path.display(), found.len())))
}

/// `scumble pack`.
pub(crate) fn pack(path: &Path, out: &Path) -> Result<(), Failure> {
    let (Opened { project, .. }, _) = open(path, Access::ReadOnly)?;
    let left_out = project.pack(out)?;
    if left_out > 0 {
        eprintln!("note: {left_out} damaged things are left out: scumble verify names them");
    }
    println!("{}", out.display());
    Ok(())
}

#[derive(Debug, Serialize)]
struct Report {
    file: String,
    bytes: u64,
    version: u32,
    model: Option<String>,
    parts: usize,
    entries: usize,
    present: usize,
    points: Vec<String>,
    materials: Vec<MaterialReport>,
    damage: Vec<String>,
}

#[derive(Debug, Serialize)]
struct MaterialReport {
    name: String,
    texture_size: u32,
    layers: usize,
    groups: usize,
    strokes: usize,
}

/// `scumble info PROJECT`.
pub(crate) fn info(path: &Path, json: bool) -> Result<(), Failure> {
    let (opened, earlier) = Project::open_shown(path, Access::ReadOnly)?;
    let Opened { project, history, damage, .. } = opened;
    let document = history.present();
    let (entries, present) = history.entries();
    let report = Report {
        file: path.display().to_string(),
        bytes: std::fs::metadata(path).map_or(0, |found| found.len()),
        version: store::VERSION,
        model: document.model.as_ref().map(|model| model.hash().to_string()),
        parts: document.model.as_ref().map_or(0, |model| model.mesh().parts().len()),
        entries: earlier.list().len() + entries.len(),
        present: earlier.list().len() + present,
        points: project.points()?.into_iter().map(|point| point.name).collect(),
        materials: materials(document),
        damage: damage.iter().map(ToString::to_string).collect(),
    };
    if json {
        let text = serde_json::to_string_pretty(&report);
        println!("{}", text.map_err(|error| Failure::Check(error.to_string()))?);
    } else {
        print(&report);
    }
    Ok(())
}

fn materials(document: &Document) -> Vec<MaterialReport> {
    let reports = document.materials.iter().map(|material| {
        let layers: Vec<_> = material.stack.walk().collect();
        let is_group = |layer: &Arc<Layer>| matches!(layer.content, Content::Group { .. });
        let groups = layers.iter().filter(|layer| is_group(layer)).count();
        MaterialReport {
            name: material.name.clone(),
            texture_size: material.size.edge(),
            layers: layers.len() - groups,
            groups,
            strokes: material.recipes.values().map(|recipe| recipe.steps.len()).sum(),
        }
    });
    reports.collect()
}

fn print(report: &Report) {
    let mebibytes = report.bytes as f64 / f64::from(1 << 20);
    println!("{}: a project of version {}, {mebibytes:.1} MiB", report.file, report.version);
    match &report.model {
        Some(model) => println!("model {model}, {} parts", report.parts),
        None => println!("no model yet"),
    }
    println!("{} entries in its history; entry {} is shown", report.entries, report.present);
    for point in &report.points {
        println!("point  {point}");
    }
    for material in &report.materials {
        let MaterialReport { name, texture_size, layers, groups, strokes } = material;
        println!(
            "material  {name}: {texture_size} x {texture_size}, {layers} layers in {groups} groups, {strokes} strokes"
        );
    }
    for damage in report.damage.iter().take(MOST_LISTED) {
        println!("damage  {damage}");
    }
}
