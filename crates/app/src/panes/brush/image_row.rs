//! An image of the brush: read from a file, shown by its size, taken away.

use std::path::PathBuf;

use brush::GreyImage;
use egui::{Button, Key, TextEdit, Ui, vec2};
use exchange::read_brush_image;
use lucide_icons::Icon;

use super::{model_size, tooth};
use crate::desk::Desk;
use crate::file_dialog::{Asked, FileDialog};
use crate::opening::shown_name;
use crate::widgets::{icon_button, named_row};

/// What of the brush is an image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ImageOf {
    /// The outline.
    Tip,
    /// The tooth.
    Tooth,
    /// None: a decal.
    Decal,
    /// The stencil before the views.
    Stencil,
}

impl ImageOf {
    /// How many there are.
    pub(super) const COUNT: usize = 4;

    fn held(self, desk: &Desk) -> Option<&GreyImage> {
        let settings = &desk.brush.settings;
        match self {
            Self::Tip => settings.tip.image.as_ref(),
            Self::Tooth => settings.tooth.as_ref()?.relief.image(),
            Self::Decal | Self::Stencil => None,
        }
    }
}

/// A row with the path of an image to read, or with the one that is there.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk, of: ImageOf) {
    let (spoken, about) = match of {
        ImageOf::Tip => ("the tip", "White is where the tip paints: a picture for its outline"),
        ImageOf::Tooth => ("the tooth", "White is where the tooth takes paint: a picture for it"),
        ImageOf::Decal => ("the decal", "White is where the decal paints: a picture for it"),
        ImageOf::Stencil => {
            ("the stencil", "White is where the stencil lets paint through: a picture for it")
        }
    };
    named_row(ui, "Image", |ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let choose = format!("Choose an image for {spoken}");
        if icon_button(ui, Icon::FolderOpen, &choose, about).clicked() {
            desk.dialog = Some(FileDialog::open(Asked::BrushImage(of), ui.ctx().clone()));
        }
        if let Some(image) = of.held(desk) {
            let size = format!("{} x {}", image.extent().width, image.extent().height);
            let remove = format!("Take the image off {spoken}");
            if icon_button(ui, Icon::Trash2, &remove, "Do without this image").clicked() {
                take_off(desk, of);
            }
            ui.label(size);
            return;
        }
        let path = &mut desk.brush_panel.image_paths[of as usize];
        let field = TextEdit::singleline(path)
            .align(egui::Align2::LEFT_CENTER)
            .hint_text("Path")
            .desired_width((ui.available_width() - 60.0).max(40.0))
            .margin(vec2(8.0, 4.0));
        let response = ui.add(field).accessible_name(format!("Path of an image for {spoken}"));
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let named = !path.trim().is_empty();
        let read = ui.add_enabled(named, Button::new("Read"));
        let read = read.on_hover_text(about).on_disabled_hover_text("Give a path first");
        if named && (entered || read.clicked()) {
            let path = std::mem::take(path);
            desk.take_brush_image(of, path.trim().trim_matches('"').into());
        }
    });
}

fn take_off(desk: &mut Desk, of: ImageOf) {
    let settings = &mut desk.brush.settings;
    match of {
        ImageOf::Tip => settings.tip.image = None,
        ImageOf::Tooth => settings.tooth = None,
        ImageOf::Decal | ImageOf::Stencil => {}
    }
}

impl Desk {
    /// Reads an image for the brush in hand. What can't be read is told in one line.
    pub(crate) fn take_brush_image(&mut self, of: ImageOf, path: PathBuf) {
        let label = format!("Reading {}", shown_name(&path));
        let job = self.editor.start_awaited(move |_| Ok(read_brush_image(&path)));
        self.tasks.add(label, job, move |desk, read| match read {
            Ok(image) => desk.hold_image(of, image),
            Err(error) => desk.notices.error(error),
        });
    }

    fn hold_image(&mut self, of: ImageOf, image: GreyImage) {
        let whole = model_size(self);
        let settings = &mut self.brush.settings;
        match of {
            ImageOf::Decal => self.take_decal(image),
            ImageOf::Stencil => self.stencil.take(image),
            ImageOf::Tip => settings.tip.image = Some(image),
            ImageOf::Tooth => {
                settings.tooth = Some(tooth::with_image(settings.tooth.as_ref(), image, whole));
            }
        }
    }
}
