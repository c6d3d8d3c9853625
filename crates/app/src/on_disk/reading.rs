//! A project is read: to go on with it where that is possible, else to look at it.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use editor::{Editor, EditorError, Settings};
use raster::{Observer, Share};
use store::{Access, Earlier, Opened as Read, Project, StoreError, place_of};

use super::earlier::{Rest, told};
use super::{OnDisk, ViewState};
use crate::opening::{Opened, drawable, shown_name};

/// What came of opening a file.
#[derive(Debug)]
pub(crate) enum Found {
    /// It is ready to be shown.
    Opened(Box<Opened>),
    /// Another process has it open.
    InUse(PathBuf),
}

/// A window that closes a project lets go of it a moment later.
const PATIENCE: Duration = Duration::from_millis(800);

/// Reads a project. One that can't be written, or is damaged, is shown and not written.
pub(crate) fn read(
    path: &Path,
    access: Access,
    settings: Settings,
    observer: &dyn Observer,
) -> Result<Found, EditorError> {
    let mut notes = Vec::new();
    let read = match open(path, access, &mut notes) {
        Err(StoreError::InUse(path)) => return Ok(Found::InUse(path)),
        other => other.map_err(EditorError::outside)?,
    };
    observer.check()?;
    let ((Read { project, history, damage, .. }, earlier), may_write) = read;
    let faults = told(path, &damage).into_iter().collect();
    let rest = Some(Rest::new(earlier, project.watch()));
    let view = view_of(&project, path, &mut notes);
    let title = title(path, view.as_ref());
    let points = project.points().map_err(EditorError::outside)?;
    let goes_on = may_write && damage.is_empty();
    if let Some(warning) = place_of(path).warning().filter(|_| goes_on) {
        notes.push(format!("{}: {warning}", shown_name(path)));
    }
    let on_disk = goes_on.then(|| OnDisk::new(project, &history, points)).transpose();
    let editor = Editor::resume(history, settings)?;
    // It may have been left before its import.
    let mesh = match &editor.document().model {
        Some(_) => {
            let surface = editor.surface(&Share::new(observer, 1, 3, 4))?;
            Some(drawable(&surface, &Share::new(observer, 3, 4, 4))?)
        }
        None => None,
    };
    let on_disk = on_disk.map_err(EditorError::outside)?;
    let looked_at = (!goes_on).then(|| path.to_owned());
    let opened = Opened { editor, mesh, title, notes, faults, on_disk, looked_at, view, rest };
    Ok(Found::Opened(Box::new(opened)))
}

/// Opens it as it is wanted, or as the system allows; then a line says so.
fn open(
    path: &Path,
    access: Access,
    notes: &mut Vec<String>,
) -> Result<((Read, Earlier), bool), StoreError> {
    let begun = Instant::now();
    let is_marked = std::fs::metadata(path).is_ok_and(|file| file.permissions().readonly());
    let opened = loop {
        if access == Access::ReadOnly || is_marked {
            break None;
        }
        match Project::open_shown(path, access) {
            Err(StoreError::InUse(_)) if begun.elapsed() < PATIENCE => {
                std::thread::sleep(PATIENCE / 16);
            }
            Err(error) if is_refused(&error) => break None,
            other => break Some(other),
        }
    };
    if let Some(opened) = opened {
        return opened.map(|opened| (opened, true));
    }
    if access == Access::ReadWrite {
        notes.push(format!(
            "{} can't be written where it is, so it is only looked at. What you change is kept apart from it, until \
             you keep it under a name (Ctrl+S)",
            shown_name(path)
        ));
    }
    Ok((Project::open_shown(path, Access::ReadOnly)?, false))
}

/// Whether the system keeps the person from writing there, as against something that is broken.
fn is_refused(error: &StoreError) -> bool {
    use std::io::ErrorKind::{PermissionDenied, ReadOnlyFilesystem};
    match error {
        StoreError::Io { source, .. } => {
            matches!(source.kind(), PermissionDenied | ReadOnlyFilesystem)
        }
        error => error.is_write_refused(),
    }
}

fn view_of(project: &Project, path: &Path, notes: &mut Vec<String>) -> Option<ViewState> {
    // What is lost is a damage, which is told anyway.
    let text = project.view_state().ok().flatten()?;
    let view = ViewState::parse(&text);
    if view.is_none() {
        let name = shown_name(path);
        notes.push(format!("{name}: how it was looked at can't be read, so it is framed anew"));
    }
    view
}

/// What was kept with it for work without a name, else the file's name.
fn title(path: &Path, view: Option<&ViewState>) -> String {
    let kept = view.and_then(|view| view.title.clone());
    kept.unwrap_or_else(|| path.file_stem().unwrap_or_default().to_string_lossy().into_owned())
}
