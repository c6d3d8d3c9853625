//! The file that preferences are kept in. It is written as a whole or not at all.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use exchange::{ExchangeError, write_text};

use super::Preferences;

const NAME: &str = "preferences.toml";

/// The folder for preferences on this platform; none where the platform has none.
pub(crate) fn folder() -> Option<PathBuf> {
    Some(dirs::config_dir()?.join("scumble"))
}

/// Reads the preferences of a folder. Where there are none yet they are those to begin with; where they can't be
/// read too, and a line says what is wrong and where the file went.
pub(crate) fn read(folder: &Path) -> (Preferences, Option<String>) {
    let path = folder.join(NAME);
    let shown = path.display();
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Default::default(),
        Err(error) if error.kind() == ErrorKind::InvalidData => {
            return refused(&path, 1, "it is no UTF-8 text");
        }
        Err(error) => {
            let fault = format!("{shown}: the preferences can't be read: {error}");
            return (Preferences::default(), Some(fault));
        }
    };
    match toml::from_str::<Preferences>(&text) {
        Ok(preferences) => match preferences.fault() {
            None => (preferences, None),
            Some((key, problem)) => refused(&path, line_of(&text, key), &problem),
        },
        Err(error) => {
            let before = &text[..error.span().map_or(0, |span| span.start.min(text.len()))];
            refused(&path, before.matches('\n').count() + 1, error.message())
        }
    }
}

/// Writes the preferences into a folder, which is made where it is missing.
///
/// # Errors
/// [`ExchangeError`]; the file is then as it was.
pub(crate) fn write(folder: &Path, preferences: &Preferences) -> Result<(), ExchangeError> {
    let failed =
        |doing, source| ExchangeError::Io { file: folder.display().to_string(), doing, source };
    fs::create_dir_all(folder).map_err(|error| failed("making the folder", error))?;
    let text = toml::to_string_pretty(preferences)
        .map_err(|error| failed("writing preferences", std::io::Error::other(error)))?;
    write_text(folder, NAME, &text)?;
    Ok(())
}

/// Puts a file aside that can't be used, so that it is not written over.
fn refused(path: &Path, line: usize, problem: &str) -> (Preferences, Option<String>) {
    let mut aside = path.with_extension("bad.toml");
    for number in 2.. {
        if !aside.exists() {
            break;
        }
        aside = path.with_extension(format!("bad-{number}.toml"));
    }
    let (shown, problem) = (path.display(), problem.replace('\n', " "));
    let kept = match fs::rename(path, &aside) {
        Ok(()) => format!("it is kept as {}", aside.display()),
        Err(error) => format!("it can't be put aside: {error}"),
    };
    let fault = format!("{shown}:{line}: {problem}; preferences start afresh, {kept}");
    (Preferences::default(), Some(fault))
}

/// The line of a key, from 1.
fn line_of(text: &str, key: &str) -> usize {
    let is_it = |line: &str| line.split('=').next().is_some_and(|name| name.trim() == key);
    text.lines().position(is_it).map_or(1, |index| index + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::preferences::ThemeChoice;

    #[test]
    fn what_is_written_is_read_again() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("a/b");
        let mut preferences = Preferences { theme: ThemeChoice::Light, ..Preferences::default() };
        preferences.keys.insert("undo".to_owned(), "Ctrl+U".to_owned());
        preferences.recent.push("harbour bell.obj".into());
        preferences.panels = Some("{\"a\": [\"b\"]}".to_owned());
        write(&inner, &preferences).unwrap();
        assert_eq!(read(&inner), (preferences, None));
    }

    #[test]
    fn without_a_file_preferences_are_those_to_begin_with() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path()), (Preferences::default(), None));
    }

    #[test]
    fn a_bad_file_is_kept_aside_and_its_line_is_told() {
        let folder = tempfile::tempdir().unwrap();
        for (text, line) in [
            ("theme = \"dark\"\nui_scale = \"big\"\n", 2),
            ("theme = \"dark\"\n\nsing = 3\n", 3),
            ("theme = \"dark\"\nmemory_mib = 4096\nui_scale = 900.0\n", 3),
            ("pen_gamma = nan\n", 1),
            ("texture_edge = 1000\n", 1),
            ("theme = ", 1),
        ] {
            fs::write(folder.path().join(NAME), text).unwrap();
            let (preferences, fault) = read(folder.path());
            assert_eq!(preferences, Preferences::default());
            let fault = fault.unwrap();
            assert!(fault.contains(&format!("{NAME}:{line}: ")), "{fault}");
            assert_eq!(fault.lines().count(), 1, "{fault}");
            assert!(!folder.path().join(NAME).exists());
        }
        let aside = fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(aside, 6);
    }
}
