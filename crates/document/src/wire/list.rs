//! A list of edits as a text, read so that every fault has a line.

use std::collections::BTreeMap;

use brush::GreyImage;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use thiserror::Error;

use super::edit::WireEdit;
use super::image::{WireImageSource, image_of_text};
use super::in_range::InRange;

/// The version of the format that is written; others are refused.
pub const EDIT_LIST_VERSION: u32 = 1;

/// What is wrong with a list, and where.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line}: {reason}")]
pub struct WireError {
    /// Counts from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub reason: String,
}

/// One edit and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedEdit {
    /// The line at which it begins; counts from 1.
    pub line: usize,
    /// The edit.
    pub edit: WireEdit,
}

/// Recorded work.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct EditList {
    /// The hash of the model that it was recorded on, when it is tied to one.
    pub model: Option<String>,
    /// The edits in order.
    pub edits: Vec<ListedEdit>,
    /// Images that are in files, and were not read yet.
    pub files: Vec<ListedFile>,
}

/// An image of a list that is in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListedFile {
    /// The line at which it stands; counts from 1.
    pub line: usize,
    /// Its name in the list.
    pub name: String,
    /// The file, relative to the list.
    pub path: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, expecting = "an edit list: an object with scumble_edits and edits")]
struct ReadList<'a> {
    scumble_edits: u32,
    #[serde(default)]
    model: Option<String>,
    #[serde(borrow, default)]
    images: BTreeMap<String, &'a RawValue>,
    #[serde(borrow)]
    edits: Vec<&'a RawValue>,
}

#[derive(Serialize)]
struct WrittenHead<'a> {
    scumble_edits: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    model: Option<&'a str>,
}

impl EditList {
    /// Reads a list.
    ///
    /// # Errors
    /// [`WireError`] with the line of what can't be read.
    pub fn parse(text: &str) -> Result<Self, WireError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        if text.trim().is_empty() {
            let reason = "the edit list is empty: it needs an object with \"scumble_edits\": 1";
            return Err(WireError { line: 1, reason: reason.to_owned() });
        }
        let list: ReadList<'_> = serde_json::from_str(text).map_err(|error| fault(&error, 0))?;
        if list.scumble_edits != EDIT_LIST_VERSION {
            let line = line_of(text, text.find("scumble_edits").unwrap_or(0));
            let reason = format!(
                "the edit list has version {}, this program reads version {EDIT_LIST_VERSION}: \
                 record it again, or take a program that knows it",
                list.scumble_edits
            );
            return Err(WireError { line, reason });
        }
        let (images, files) = images(text, &list.images)?;
        let mut edits = Vec::with_capacity(list.edits.len());
        let mut counted = (0, 1);
        for raw in list.edits {
            let at = raw.get().as_ptr().addr() - text.as_ptr().addr();
            let line = counted.1 + line_of(&text[counted.0..], at - counted.0) - 1;
            counted = (at, line);
            let at_line = |error: serde_json::Error| fault(&error, line - 1);
            let InRange = serde_json::from_str(raw.get()).map_err(at_line)?;
            let edit = serde_json::from_str(raw.get()).map_err(at_line)?;
            edits.push(ListedEdit { line, edit });
        }
        let mut read = Self { model: list.model, edits, files };
        read.hold(&images);
        read.check_images()?;
        Ok(read)
    }

    /// Reads the images that are in files.
    ///
    /// # Errors
    /// [`WireError`] with the line at which the image stands, and what `read` says is wrong with it.
    pub fn read_files(
        mut self,
        mut read: impl FnMut(&str) -> Result<GreyImage, String>,
    ) -> Result<Self, WireError> {
        let mut images = BTreeMap::new();
        for ListedFile { line, name, path } in self.files.drain(..) {
            let image = read(&path).map_err(|reason| WireError { line, reason })?;
            images.insert(name, image);
        }
        self.hold(&images);
        Ok(self)
    }

    /// Gives the edits the images that they name.
    fn hold(&mut self, images: &BTreeMap<String, GreyImage>) {
        for listed in &mut self.edits {
            for image in listed.edit.images_mut() {
                if let Some(found) = images.get(image.name()) {
                    image.hold(image.name().to_owned(), found.clone());
                }
            }
        }
    }

    fn check_images(&mut self) -> Result<(), WireError> {
        let files = &self.files;
        for ListedEdit { line, edit } in &mut self.edits {
            let missing = |name: &str| files.iter().all(|file| file.name != name);
            let lost =
                edit.images_mut().find(|image| image.held().is_none() && missing(image.name()));
            if let Some(image) = lost {
                let name = image.name();
                let reason = format!(
                    "there is no image \"{name}\" in the list: put it under \"images\", as \
                     \"{name}\": {{\"file\": \"NAME.png\"}}"
                );
                return Err(WireError { line: *line, reason });
            }
        }
        Ok(())
    }

    /// The images that the edits hold, each once, and those in files; `None` where there are none.
    fn written_images(&self) -> Option<BTreeMap<String, WireImageSource>> {
        let mut images = BTreeMap::new();
        for ListedEdit { edit, .. } in &self.edits {
            for image in edit.images() {
                if let Some(held) = image.held().filter(|_| !images.contains_key(image.name())) {
                    images.insert(image.name().to_owned(), WireImageSource::of(held));
                }
            }
        }
        let file =
            |file: &ListedFile| (file.name.clone(), WireImageSource::File(file.path.clone()));
        images.extend(self.files.iter().map(file));
        (!images.is_empty()).then_some(images)
    }

    /// The list as JSON, an edit a line.
    ///
    /// # Errors
    /// [`WireError`] where a number can't be written (it is not finite).
    pub fn to_json(&self) -> Result<String, WireError> {
        let refuse = |line: usize| {
            move |error: serde_json::Error| WireError { line, reason: error.to_string() }
        };
        let head = WrittenHead { scumble_edits: EDIT_LIST_VERSION, model: self.model.as_deref() };
        let head = serde_json::to_string(&head).map_err(refuse(1))?;
        let mut text = head.trim_end_matches('}').to_owned();
        if let Some(images) = self.written_images() {
            let images = serde_json::to_string(&images).map_err(refuse(2))?;
            text.push_str(",\n\"images\":");
            text.push_str(&images);
        }
        text.push_str(",\n\"edits\":[");
        for (index, listed) in self.edits.iter().enumerate() {
            text.push_str(if index == 0 { "\n" } else { ",\n" });
            text.push_str(&serde_json::to_string(&listed.edit).map_err(refuse(index + 3))?);
        }
        text.push_str("\n]}\n");
        Ok(text)
    }
}

/// Those of the list's images that it holds, by name, and those that are in files.
type Images = (BTreeMap<String, GreyImage>, Vec<ListedFile>);

fn images(text: &str, listed: &BTreeMap<String, &RawValue>) -> Result<Images, WireError> {
    let (mut images, mut files) = (BTreeMap::new(), Vec::new());
    for (name, raw) in listed {
        let line = line_of(text, raw.get().as_ptr().addr() - text.as_ptr().addr());
        let at_line = |error: serde_json::Error| fault(&error, line - 1);
        match serde_json::from_str(raw.get()).map_err(at_line)? {
            WireImageSource::Png(base64) => {
                let told =
                    |reason| WireError { line, reason: format!("image \"{name}\": {reason}") };
                images.insert(name.clone(), image_of_text(&base64).map_err(told)?);
            }
            WireImageSource::File(path) => {
                files.push(ListedFile { line, name: name.clone(), path });
            }
        }
    }
    Ok((images, files))
}

fn line_of(text: &str, at: usize) -> usize {
    text[..at].matches('\n').count() + 1
}

/// serde's message without its own line, which counts within the edit only.
fn fault(error: &serde_json::Error, lines_before: usize) -> WireError {
    let text = error.to_string();
    let reason = text.split(" at line ").next().unwrap_or(&text);
    WireError { line: lines_before + error.line().max(1), reason: reason.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> WireError {
        EditList::parse(text).unwrap_err()
    }

    #[test]
    fn faults_are_told_with_their_line() {
        let list = "{\n\"scumble_edits\": 1,\n\"edits\": [\n{\"edit\":\"remove_layer\",\"material\":0,\"layer\":1},\n{\"edit\":\"remove_layer\",\"material\":0,\"leyer\":1}\n]}";
        let error = refused(list);
        assert_eq!(error.line, 5);
        assert!(error.reason.contains("leyer"), "{error}");
        assert_eq!(refused("{\n\"scumble_edits\": 7,\n\"edits\": []}").line, 2);
        assert_eq!(refused("{\n\n\"scumble_edits\": 1,,").line, 3);
        assert_eq!(refused("").line, 1);
        assert!(refused("{\"edits\":[]}").reason.contains("scumble_edits"));
    }

    /// Found by fuzzing: it became infinite, and could be written but not read again.
    #[test]
    fn a_number_that_is_too_large_is_told_with_its_line() {
        let list = "{\"scumble_edits\": 1, \"edits\": [\n{\"edit\":\"ground\",\"material\":0,\n\"channel\":\"roughness\",\"value\":3e70}]}";
        let error = refused(list);
        assert!(error.line == 3 && error.reason.contains("e70 is too large"), "{error}");
        assert!(EditList::parse(&list.replace("3e70", "0.4")).is_ok());
    }

    #[test]
    fn a_list_reads_back_as_it_was_written() {
        let list = EditList {
            model: Some("00ff".to_owned()),
            edits: vec![ListedEdit {
                line: 3,
                edit: WireEdit::RemoveLayer {
                    material: super::super::WireMaterial::Number(0),
                    layer: 4,
                },
            }],
            files: Vec::new(),
        };
        assert_eq!(EditList::parse(&list.to_json().unwrap()).unwrap(), list);
    }

    const STROKE: &str = "{\"edit\":\"erase\",\"material\":0,\"layer\":1,\"stroke\":{\"radius\":1,\
         \"texture_runs\":[[{\"uv\":[0,0]}]],\"brush\":{\"tip\":{\"image\":\"leaf\"}}}}";

    fn with_image(image: &str) -> String {
        format!("{{\"scumble_edits\": 1,\n\"images\": {{\n{image}}},\n\"edits\": [\n{STROKE}]}}")
    }

    #[test]
    fn an_image_stands_once_in_a_list_and_reads_back() {
        let image =
            GreyImage::new(raster::Extent { width: 2, height: 1 }, vec![7, 65_535]).unwrap();
        let source = serde_json::to_string(&WireImageSource::of(&image)).unwrap();
        let list = EditList::parse(&with_image(&format!("\"leaf\": {source}"))).unwrap();
        assert_eq!(list.edits[0].edit.images().next().unwrap().held(), Some(&image));
        let twice = EditList { edits: vec![list.edits[0].clone(), list.edits[0].clone()], ..list };
        let text = twice.to_json().unwrap();
        assert_eq!(text.matches("png").count(), 1);
        let back = EditList::parse(&text).unwrap();
        assert!(back.edits.iter().zip(&twice.edits).all(|(a, b)| a.edit == b.edit));
    }

    #[test]
    fn an_image_that_is_missing_or_broken_is_told_with_its_line() {
        let missing = refused(&with_image("\"oak\": {\"file\": \"a.png\"}"));
        assert!(missing.line == 5 && missing.reason.contains("no image \"leaf\""), "{missing}");
        let broken = refused(&with_image("\"leaf\": {\"png\": \"AAAA\"}"));
        assert!(broken.line == 3 && broken.reason.contains("the PNG can't be read"), "{broken}");
        let unknown = refused(&with_image("\n\"leaf\": {\"gif\": \"AAAA\"}"));
        assert!(unknown.line == 4 && unknown.reason.contains("gif"), "{unknown}");
        let list = EditList::parse(&with_image("\"leaf\": {\"file\": \"a.png\"}")).unwrap();
        let lost = list.clone().read_files(|path| Err(format!("{path} is not there"))).unwrap_err();
        assert_eq!((lost.line, lost.reason.as_str()), (3, "a.png is not there"));
        let image = GreyImage::new(raster::Extent { width: 1, height: 1 }, vec![7]).unwrap();
        let read = list.read_files(|_| Ok(image.clone())).unwrap();
        assert_eq!(read.edits[0].edit.images().next().unwrap().held(), Some(&image));
    }
}
