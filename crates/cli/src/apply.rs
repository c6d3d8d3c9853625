//! `scumble apply`: a model, a recorded list of edits, and what comes of them.

use std::path::Path;
use std::sync::Arc;

use brush::GreyImage;
use document::wire::{EditList, WireEdit};
use document::{Edit, MaterialEdit};
use editor::{Editor, Settings};
use raster::{TextureSize, Unobserved};

use crate::arguments::Apply;
use crate::failure::Failure;
use crate::output::{Output, write_everything};
use crate::progress::Bar;
use crate::project;

/// The texture size of a list that has no import of its own.
pub(crate) const DEFAULT_SIZE: u32 = 2048;

pub(crate) fn run(command: &Apply) -> Result<(), Failure> {
    let size = command.size.map(texture_size).transpose()?;
    let list = read_list(&command.edits)?;
    if project::is_project(&command.model) {
        return project::apply(command, &list, size);
    }
    let Some(out) = &command.out else {
        return Err(Failure::Usage("--out DIR: say where the maps are to go".to_owned()));
    };
    let imported = exchange::read_model(&command.model, &Bar::new("reading the model"))?;
    for note in &imported.notes {
        eprintln!("note: {note}");
    }
    let model = Arc::new(imported.model);
    let mut editor = Editor::new(Settings::default())?;
    paint(&mut editor, &list, &model, size)
        .map_err(|error| Failure::in_list(error, &command.edits))?;
    for name in not_laid_out(&editor)? {
        eprintln!(
            "note: no triangle of {name} has an area on the texture, so strokes leave nothing there: \
             lay it out first ('scumble info' says more)"
        );
    }
    let stem = command.model.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let output = Output { folder: out, name: &stem, depth: command.depth };
    for path in write_everything(&mut editor, &output, |_, _| {})? {
        println!("{}", path.display());
    }
    Ok(())
}

/// Applies the list; where a size is asked for, it is used from the start, or set at the end where the
/// list changes sizes itself.
pub(crate) fn paint(
    editor: &mut Editor,
    list: &EditList,
    model: &Arc<document::Model>,
    size: Option<TextureSize>,
) -> Result<(), editor::EditorError> {
    let mut list = list.clone();
    if let (Some(size), Some(first)) = (size, list.edits.first_mut())
        && let WireEdit::Import { texture_size, .. } = &mut first.edit
    {
        *texture_size = size.edge();
    }
    let start = size.map_or_else(|| TextureSize::new(DEFAULT_SIZE), Ok)?;
    let bar = Bar::new("painting");
    editor.apply_list(&list, model, start, &bar)?;
    for id in editor.document().materials.iter().map(|material| material.id).collect::<Vec<_>>() {
        if let Some(size) = size.filter(|size| {
            editor.document().material(id).is_ok_and(|material| material.size != *size)
        }) {
            editor.apply(&Edit::Material(id, MaterialEdit::TextureSize(size)), &bar)?;
        }
    }
    Ok(())
}

/// The materials that no texel shows a point of.
fn not_laid_out(editor: &Editor) -> Result<Vec<String>, editor::EditorError> {
    let mut names = Vec::new();
    for material in &editor.document().materials {
        if editor.texel_map(material.id, &Unobserved)?.tiles().next().is_none() {
            names.push(material.name.clone());
        }
    }
    Ok(names)
}

pub(crate) fn texture_size(edge: u32) -> Result<TextureSize, Failure> {
    TextureSize::new(edge).map_err(|error| Failure::Usage(error.to_string()))
}

pub(crate) fn read_list(path: &Path) -> Result<EditList, Failure> {
    let text = |reason: String| Failure::Text { path: path.to_owned(), reason };
    let bytes = std::fs::read(path).map_err(|error| text(format!("can't be read: {error}")))?;
    let json = String::from_utf8(bytes)
        .map_err(|_error| text("is not UTF-8 text: save the edit list as UTF-8".to_owned()))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    EditList::parse(&json)
        .and_then(|list| list.read_files(|file| brush_image(&folder.join(file))))
        .map_err(|fault| Failure::Edits { path: path.to_owned(), fault })
}

fn brush_image(path: &Path) -> Result<GreyImage, String> {
    exchange::read_brush_image(path).map_err(|error| error.to_string())
}
