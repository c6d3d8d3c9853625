//! A path that is typed: what it may go on as, and what is wrong with it. It needs no dialog of the system.

use std::path::{MAIN_SEPARATOR, Path, PathBuf};
use std::sync::mpsc::{Receiver, sync_channel};

/// Names that are looked at in a folder, and that are offered.
const MOST_READ: usize = 20_000;
const MOST_OFFERED: usize = 200;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct PathField {
    /// As it is typed; `~` is the person's own folder.
    pub(crate) text: String,
    /// Which of those offered is picked out.
    pub(crate) picked: Option<usize>,
    /// What is wrong, once it was asked for.
    pub(crate) fault: Option<String>,
    /// What may go wrong with a place, and for which text that was looked up.
    pub(crate) warned: Option<(String, Option<&'static str>)>,
    listing: Option<Listing>,
}

/// What a folder holds, read on a thread of its own: it may lie on a slow disk.
#[derive(Debug)]
struct Listing {
    folder: PathBuf,
    coming: Option<Receiver<Vec<Name>>>,
    names: Vec<Name>,
}

/// A name in a folder.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Name {
    /// Folders come first.
    is_file: bool,
    /// The name; a folder's with the separator after it.
    pub(crate) text: String,
}

impl PathField {
    /// The path that is meant.
    pub(crate) fn path(&self) -> PathBuf {
        let text = self.text.trim();
        match (text.strip_prefix('~'), dirs::home_dir()) {
            (Some(""), Some(home)) => home,
            (Some(rest), Some(home)) if rest.starts_with(['/', MAIN_SEPARATOR]) => {
                home.join(&rest[1..])
            }
            _ => PathBuf::from(text),
        }
    }

    /// The text was changed.
    pub(crate) fn changed(&mut self) {
        (self.picked, self.fault) = (None, None);
    }

    /// The folder in which names are looked for, and how they begin.
    fn split(&self) -> (PathBuf, String) {
        let text = self.text.trim();
        let ends = text.is_empty() || text.ends_with(['/', MAIN_SEPARATOR]);
        let path = self.path();
        if ends || text == "~" {
            return (path, String::new());
        }
        let begin = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        (path.parent().unwrap_or(Path::new("")).to_owned(), begin)
    }

    /// Names that the path may go on with: folders, and files with one of these endings. Some may still be on the
    /// way: `told` is called when they are there.
    pub(crate) fn offered(
        &mut self,
        endings: &'static [&'static str],
        told: impl FnOnce() + Send + 'static,
    ) -> Vec<String> {
        let (folder, begin) = self.split();
        if self.listing.as_ref().is_none_or(|listing| listing.folder != folder) {
            self.listing = Some(Listing::begin(folder, endings, told));
        }
        let Some(listing) = &mut self.listing else { return Vec::new() };
        listing.receive();
        let begin = begin.to_lowercase();
        let fitting = listing.names.iter().filter(|name| {
            name.text.to_lowercase().starts_with(&begin)
                && (!name.text.starts_with('.') || begin.starts_with('.'))
        });
        fitting.take(MOST_OFFERED).map(|name| name.text.clone()).collect()
    }

    /// Goes on with one of the names offered.
    pub(crate) fn take(&mut self, name: &str) {
        let text = self.text.trim();
        let kept = text.rfind(['/', MAIN_SEPARATOR]).map_or(0, |at| at + 1);
        let kept = if text == "~" { "~/".to_owned() } else { text[..kept].to_owned() };
        self.text = kept + name;
        self.changed();
    }

    /// What all names offered have in common, where that is more than is typed.
    pub(crate) fn completion(&self, offered: &[String]) -> Option<String> {
        let (first, others) = offered.split_first()?;
        let mut common = first.as_str();
        for other in others {
            let alike = common
                .char_indices()
                .zip(other.chars())
                .find(|((_, a), b)| a.to_lowercase().ne(b.to_lowercase()))
                .map_or(common.len().min(other.len()), |((at, _), _)| at);
            common = common.get(..alike).unwrap_or_default();
        }
        let begin = self.split().1;
        (common.len() > begin.len() || (others.is_empty() && common != begin))
            .then(|| common.to_owned())
    }
}

impl Listing {
    fn begin(
        folder: PathBuf,
        endings: &'static [&'static str],
        told: impl FnOnce() + Send + 'static,
    ) -> Self {
        let (tell, coming) = sync_channel(1);
        let read = if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder.clone() };
        let look = move || {
            // Nobody may wait for it any more.
            drop(tell.send(names_in(&read, endings)));
            told();
        };
        // Without a thread nothing is offered: the path can still be typed in full.
        drop(std::thread::Builder::new().name("folder".to_owned()).spawn(look));
        Self { folder, coming: Some(coming), names: Vec::new() }
    }

    fn receive(&mut self) {
        if let Some(names) = self.coming.as_ref().and_then(|coming| coming.try_recv().ok()) {
            (self.names, self.coming) = (names, None);
        }
    }
}

fn names_in(folder: &Path, endings: &[&str]) -> Vec<Name> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut names: Vec<Name> = entries
        .take(MOST_READ)
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let name = path.file_name()?.to_str()?.to_owned();
            if path.is_dir() {
                return Some(Name { is_file: false, text: name + "/" });
            }
            let ending = path.extension()?.to_str()?.to_lowercase();
            endings.contains(&ending.as_str()).then_some(Name { is_file: true, text: name })
        })
        .collect();
    names.sort();
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    const MODELS: &[&str] = &["obj", "glb"];

    fn offered(field: &mut PathField) -> Vec<String> {
        let (tell, told) = sync_channel(1);
        let first = field.offered(MODELS, move || tell.send(()).unwrap());
        // Told only where a folder is read anew.
        if told.recv().is_ok() { field.offered(MODELS, || {}) } else { first }
    }

    fn folder() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in ["bell.obj", "Bell-old.GLB", "board.obj", "bell.txt", ".hidden.obj"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        std::fs::create_dir(folder.path().join("belfry")).unwrap();
        folder
    }

    #[test]
    fn names_that_fit_are_offered_folders_first_and_no_other_files() {
        let folder = folder();
        let text = format!("{}/", folder.path().display());
        let mut field = PathField { text, ..PathField::default() };
        assert_eq!(offered(&mut field), ["belfry/", "Bell-old.GLB", "bell.obj", "board.obj"]);
        field.text += "BE";
        assert_eq!(offered(&mut field), ["belfry/", "Bell-old.GLB", "bell.obj"]);
        field.text += "ll.";
        assert_eq!(offered(&mut field), ["bell.obj"]);
    }

    #[test]
    fn a_path_is_completed_as_far_as_there_is_no_choice() {
        let folder = folder();
        let text = format!("{}/bo", folder.path().display());
        let mut field = PathField { text, ..PathField::default() };
        let names = offered(&mut field);
        field.take(&field.completion(&names).unwrap());
        assert!(field.text.ends_with("/board.obj"), "{}", field.text);
        let names = offered(&mut field);
        assert_eq!(field.completion(&names), None);
        field.text = format!("{}/b", folder.path().display());
        let names: Vec<String> = ["bell.obj", "belfry/"].map(str::to_owned).into();
        assert_eq!(field.completion(&names).as_deref(), Some("bel"));
        field.take("bel");
        assert!(field.text.ends_with("/bel"), "{}", field.text);
        assert_eq!(field.completion(&names), None);
        assert_eq!(field.completion(&[]), None);
    }

    #[test]
    fn a_tilde_is_ones_own_folder() {
        let Some(home) = dirs::home_dir() else { return };
        let path = |text: &str| PathField { text: text.to_owned(), ..Default::default() }.path();
        assert_eq!(path("~"), home);
        assert_eq!(path(" ~/a b.obj "), home.join("a b.obj"));
        assert_eq!(path("~other/a"), PathBuf::from("~other/a"));
    }
}
