//! Writing a painted model as files, from the document as it is when that begins, while painting goes on.

use std::path::{Path, PathBuf};

use document::Document;
use editor::{ChannelMap, EditorError, Snapshot};
use exchange::{
    BitDepth, ExchangeError, ExportFiles, ExportMaterial, ExportModel, MaterialMaps, export,
    export_names,
};
use layers::ChannelId;
use raster::{Bitmap, Extent, Observer};

use crate::desk::Desk;
use crate::opening::outside;

/// What the task's line begins with.
const EXPORTING: &str = "Exporting";

/// What is written, and where to.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own on screen")]
pub(crate) struct ExportChoices {
    /// The folder, as typed.
    pub(crate) folder: String,
    /// What the files' names begin with.
    pub(crate) name: String,
    /// Maps as PNG.
    pub(crate) maps: bool,
    /// Bits a channel in them.
    pub(crate) depth: BitDepth,
    /// The model as GLB with its maps inside.
    pub(crate) glb: bool,
    /// The model as OBJ and MTL.
    pub(crate) obj: bool,
}

impl Default for ExportChoices {
    fn default() -> Self {
        Self {
            folder: String::new(),
            name: String::new(),
            maps: true,
            depth: BitDepth::Sixteen,
            glb: true,
            obj: false,
        }
    }
}

impl ExportChoices {
    fn files(&self) -> ExportFiles {
        ExportFiles { maps: self.maps.then_some(self.depth), obj: self.obj, glb: self.glb }
    }

    /// The names of the files that will be written.
    pub(crate) fn names(&self, document: &Document) -> Vec<String> {
        export_names(&self.name, &materials(document), self.files())
    }

    /// What keeps it from being written, in one line.
    pub(crate) fn fault(&self, document: &Document) -> Option<String> {
        let folder = Path::new(self.folder.trim());
        let fault = if document.model.is_none() {
            "Open a model first"
        } else if self.folder.trim().is_empty() {
            "Name a folder to write into"
        } else if folder.is_file() {
            "This is a file: name a folder"
        } else if self.name.trim().is_empty() {
            "Name what the files begin with"
        } else if !(self.maps || self.glb || self.obj) {
            "Choose what to write"
        } else {
            return None;
        };
        Some(fault.to_owned())
    }
}

impl Desk {
    /// Where exports go and what they are called when nothing else was said: beside the model, under its name.
    pub(crate) fn suggest_export(&mut self, beside: Option<&Path>) {
        let folder =
            beside.and_then(|file| std::path::absolute(file).ok()?.parent().map(Path::to_owned));
        let folder = folder.or_else(dirs::document_dir).or_else(dirs::home_dir).unwrap_or_default();
        self.export.folder = folder.join("export").display().to_string();
        self.export.name.clone_from(&self.title);
    }

    /// True while files are being written.
    pub(crate) fn is_exporting(&self) -> bool {
        self.tasks.goes_on(EXPORTING)
    }

    /// Starts writing; says in the notices what keeps it from that.
    pub(crate) fn start_export(&mut self) {
        let label = format!("{EXPORTING} {}", self.export.name);
        if let Some(fault) = self.export.fault(self.document()) {
            self.notices.error_about(&label, format!("export: {fault}"));
            return;
        }
        if self.is_exporting() {
            self.notices.note("An export is going on: wait for it or stop it first.");
            return;
        }
        let (snapshot, choices) = (self.editor.snapshot(), self.export.clone());
        let written = self.document().clone();
        let folder = PathBuf::from(choices.folder.trim());
        let shown = folder.display().to_string();
        let job = self
            .editor
            .start_awaited(move |observer| write(&snapshot, &choices, &folder, observer));
        self.notices.settled(&label);
        self.tasks.add(label, job, move |desk, paths: Vec<PathBuf>| {
            let files = if paths.len() == 1 { "file" } else { "files" };
            desk.notices.note(format!("Exported {} {files} into {shown}", paths.len()));
            desk.kept = written;
        });
    }
}

fn materials(document: &Document) -> Vec<ExportMaterial<'_>> {
    let exported = document.materials.iter();
    exported
        .map(|material| ExportMaterial { name: &material.name, pass_maps: &material.pass_maps })
        .collect()
}

fn write(
    snapshot: &Snapshot,
    choices: &ExportChoices,
    folder: &Path,
    observer: &dyn Observer,
) -> Result<Vec<PathBuf>, EditorError> {
    let failed = |source| {
        let file = folder.display().to_string();
        EditorError::outside(ExchangeError::Io {
            file,
            doing: "the folder could not be made",
            source,
        })
    };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let surface = snapshot.surface(observer)?;
    let materials = materials(snapshot.document());
    let model = ExportModel { name: &choices.name, surface: &surface, materials: &materials };
    let mut refused = None;
    let mut source = |slot: surface::MaterialSlot| {
        // Progress is told for each material, not for the steps within it.
        let made = snapshot.maps(document::MaterialId(slot.0), &Stoppable(observer));
        made.map(material_maps).map_err(|error| {
            let told =
                ExchangeError::File { file: choices.name.clone(), problem: error.to_string() };
            refused = Some(error);
            told
        })
    };
    let written = export(&model, &mut source, choices.files(), folder, observer);
    match refused {
        Some(error) => Err(error),
        None => written.map_err(outside),
    }
}

/// Hands on the wish to stop only.
struct Stoppable<'a>(&'a dyn Observer);

impl Observer for Stoppable<'_> {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}

fn material_maps(made: Vec<ChannelMap>) -> MaterialMaps {
    let none = |components| Bitmap::filled(Extent { width: 1, height: 1 }, components, 0);
    let mut maps = MaterialMaps { base_colour: none(3), roughness: none(1), metalness: none(1) };
    for map in made {
        match map.channel.id {
            ChannelId::BASE_COLOUR => maps.base_colour = map.image,
            ChannelId::ROUGHNESS => maps.roughness = map.image,
            ChannelId::METALNESS => maps.metalness = map.image,
            _ => {}
        }
    }
    maps
}
