//! The system's dialog for files. It is waited for on a thread of its own, as it may stay open for long.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::time::{Duration, Instant};

use egui::Context;
use rfd::AsyncFileDialog;

use crate::panes::ImageOf;
use crate::references::PICTURES;

/// A dialog that is gone sooner than a person can act was never there: nothing on this machine shows one.
const SOONEST: Duration = Duration::from_millis(400);

/// What a dialog asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Asked {
    /// A model's file.
    Model,
    /// A picture to work from.
    Picture,
    /// An image for the brush.
    BrushImage(ImageOf),
    /// A brush that somebody shared.
    Brush,
    /// Where a brush goes that is shared.
    ShareBrush,
    /// A folder to export into.
    Folder,
}

/// What came of a dialog.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Answer {
    /// A file or folder.
    Path(PathBuf),
    /// The person changed their mind.
    Nothing,
    /// No dialog can be shown here.
    NoDialog,
}

/// A dialog that is open.
#[derive(Debug)]
pub(crate) struct FileDialog {
    asked: Asked,
    opened: Instant,
    answer: Receiver<Option<PathBuf>>,
}

impl FileDialog {
    /// Opens one. `context` is told when it is closed.
    pub(crate) fn open(asked: Asked, context: Context) -> Self {
        Self::save(asked, String::new(), context)
    }

    /// The same, where a file is to be written: with a name for it.
    pub(crate) fn save(asked: Asked, name: String, context: Context) -> Self {
        let dialog = AsyncFileDialog::new();
        // The futures begin here, on the window's thread, as some systems want it.
        let chosen: Box<dyn FnOnce() -> Option<PathBuf> + Send> = match asked {
            Asked::Model => {
                let models =
                    dialog.set_title("Open a model").add_filter("Models", &["obj", "glb", "gltf"]);
                let file = models.pick_file();
                Box::new(|| pollster::block_on(file).map(|file| file.path().to_owned()))
            }
            Asked::Picture => {
                let pictures = dialog.set_title("Open a picture to work from");
                let file = pictures.add_filter("Pictures", PICTURES).pick_file();
                Box::new(|| pollster::block_on(file).map(|file| file.path().to_owned()))
            }
            Asked::BrushImage(_) => {
                let pictures = dialog.set_title("Open an image for the brush");
                let file = pictures.add_filter("Pictures", PICTURES).pick_file();
                Box::new(|| pollster::block_on(file).map(|file| file.path().to_owned()))
            }
            Asked::Brush => {
                let brushes = dialog.set_title("Bring in a brush").add_filter("Brushes", &["toml"]);
                let file = brushes.pick_file();
                Box::new(|| pollster::block_on(file).map(|file| file.path().to_owned()))
            }
            Asked::ShareBrush => {
                let file = dialog.set_title("Share a brush").set_file_name(name).save_file();
                Box::new(|| pollster::block_on(file).map(|file| file.path().to_owned()))
            }
            Asked::Folder => {
                let folder = dialog.set_title("Export into a folder").pick_folder();
                Box::new(|| pollster::block_on(folder).map(|folder| folder.path().to_owned()))
            }
        };
        let (told, answer) = sync_channel(1);
        let ask = move || {
            // Nobody may wait for it any more.
            drop(told.send(chosen()));
            context.request_repaint();
        };
        // Without a thread there is no dialog: the path can still be typed.
        drop(std::thread::Builder::new().name("file dialog".to_owned()).spawn(ask));
        Self { asked, opened: Instant::now(), answer }
    }

    /// What it asks for.
    pub(crate) fn asked(&self) -> Asked {
        self.asked
    }

    /// What came of it; none while it is open.
    pub(crate) fn answer(&self) -> Option<Answer> {
        match self.answer.try_recv() {
            Ok(Some(path)) => Some(Answer::Path(path)),
            Ok(None) if self.opened.elapsed() < SOONEST => Some(Answer::NoDialog),
            Ok(None) => Some(Answer::Nothing),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Answer::NoDialog),
        }
    }
}
