//! `scumble demo`: the harbour bell, painted by its recorded edits.

use std::path::Path;
use std::sync::Arc;

use document::Model;
use document::wire::EditList;
use editor::{Editor, Settings};
use exchange::{Embedded, read_model_bytes, write_picture, write_text};
use raster::Unobserved;

use crate::apply::{paint, texture_size};
use crate::arguments::Demo;
use crate::contact_sheet::{SheetRow, contact_sheet};
use crate::failure::Failure;
use crate::output::{Output, write_everything};
use crate::progress::Bar;
use crate::project;

const MODEL: &[u8] = include_bytes!("../../../assets-demo/harbour-bell.obj");
const MATERIALS: &[u8] = include_bytes!("../../../assets-demo/harbour-bell.mtl");
const EDITS: &str = include_str!("../../../assets-demo/harbour-bell.edits.json");
const EDITS_NAME: &str = "harbour-bell.edits.json";
const NAME: &str = "harbour-bell";
const MODEL_NAME: &str = "harbour-bell.obj";
const PROJECT_NAME: &str = "harbour-bell.scumble";
const BESIDE: &[(&str, &[u8])] = &[("harbour-bell.mtl", MATERIALS)];

/// The demo as the window opens it.
pub(crate) const HARBOUR_BELL: app::Demo =
    app::Demo { name: MODEL_NAME, model: MODEL, beside: BESIDE, edits: EDITS };

pub(crate) fn run(command: &Demo) -> Result<(), Failure> {
    let size = texture_size(command.size)?;
    let edits: &Path = EDITS_NAME.as_ref();
    let list =
        EditList::parse(EDITS).map_err(|fault| Failure::Edits { path: edits.to_owned(), fault })?;
    let model = Arc::new(embedded_model()?);
    let mut editor = Editor::new(Settings::default())?;
    paint(&mut editor, &list, &model, Some(size))
        .map_err(|error| Failure::in_list(error, edits))?;
    let mut rows = Vec::new();
    let output = Output { folder: &command.out, name: NAME, depth: command.depth };
    let mut written = write_everything(&mut editor, &output, |material, maps| {
        let remark = format!("{} layers", material.stack.walk().count());
        rows.push(SheetRow::new(&material.name, remark, maps));
    })?;
    let recorded = editor.recorded().to_json();
    let recorded = recorded.map_err(|fault| Failure::Edits { path: edits.to_owned(), fault })?;
    written.push(write_text(&command.out, EDITS_NAME, &recorded)?);
    let title = format!("harbour bell: {} edits at {} texels", list.edits.len(), command.size);
    let sheet = contact_sheet(&title, &rows).map_err(|error| Failure::Check(error.to_string()))?;
    written.push(write_picture(&command.out, "contact-sheet.png", &sheet)?);
    written.push(project::create(&command.out.join(PROJECT_NAME), editor.history())?);
    for path in &written {
        println!("{}", path.display());
    }
    check_painted(&mut editor)
}

fn embedded_model() -> Result<Model, Failure> {
    let imported = read_model_bytes(MODEL_NAME, MODEL, &Embedded(BESIDE), &Bar::new("reading"))?;
    Ok(imported.model)
}

/// Fails where a texel of the surface shows bare ground.
fn check_painted(editor: &mut Editor) -> Result<(), Failure> {
    let mut bare = Vec::new();
    for material in editor.document().materials.clone() {
        for found in editor.unpainted(material.id, &Unobserved)? {
            if found.texels > 0 {
                let (name, channel) = (&material.name, &found.channel);
                let (texels, of) = (found.texels, found.of);
                bare.push(format!("{name}, {channel}: {texels} of {of} texels are not painted"));
            }
        }
    }
    if bare.is_empty() { Ok(()) } else { Err(Failure::Check(bare.join("; "))) }
}
