//! Brushes to take in hand, each shown by a stroke that it makes.

use egui::{
    Align2, Button, Color32, FontId, Image, Popup, PopupCloseBehavior, RectAlign, ScrollArea,
    Sense, TextEdit, TextureHandle, TextureOptions, Ui, Vec2, WidgetInfo, vec2,
};
use layers::Value;

use super::stroke_card::{Shown, StrokeCard};
use crate::brushes::{NamedBrush, ours};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{focus_ring, named_row, remark};

const COLUMNS: usize = 3;
/// A brush with its name, and its picture, in points.
const CELL: Vec2 = vec2(168.0, 84.0);
const PICTURE: Vec2 = vec2(168.0, 58.0);
/// The radius of the strokes in the pictures, in points.
const RADIUS_POINTS: f64 = 14.0;

/// What is kept of it between frames.
#[derive(Default)]
pub(crate) struct Library {
    words: String,
    /// The brush that was taken last, by its place among ours.
    taken: Option<usize>,
    pictures: Vec<TextureHandle>,
    /// What the pictures depend on.
    drawn_for: Option<(f32, Color32)>,
    card: StrokeCard,
}

impl std::fmt::Debug for Library {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Library").field("taken", &self.taken).finish_non_exhaustive()
    }
}

/// The row that names the brush, and opens the others.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk, radius_units: f64) {
    let taken = desk.brush_panel.library.taken.and_then(|place| ours().get(place));
    let is_as_taken = taken.is_some_and(|brush| is_as(desk, brush));
    let name = match taken {
        Some(brush) if is_as_taken => brush.name.clone(),
        Some(brush) => format!("{}, changed", brush.name),
        None => "Choose a brush".to_owned(),
    };
    let button = named_row(ui, "Brush", |ui| {
        let size = vec2(ui.available_width(), theme::ROW - 2.0);
        ui.add_sized(size, Button::new(&name).truncate())
    });
    let spoken = format!("Brush: {name}");
    button.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, &spoken));
    let chosen = Popup::menu(&button)
        .align(RectAlign::LEFT_START)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .width(CELL.x * COLUMNS as f32 + 32.0)
        .show(|ui| brushes(ui, &mut desk.brush_panel.library));
    if let Some(place) = chosen.and_then(|shown| shown.inner)
        && let Some(brush) = ours().get(place)
    {
        desk.brush.settings = brush.settings_at(radius_units);
        desk.brush_panel.library.taken = Some(place);
        Popup::close_id(ui.ctx(), Popup::default_response_id(&button));
    }
}

/// True where the brush in hand still has a brush's settings, but for its grain.
fn is_as(desk: &Desk, brush: &NamedBrush) -> bool {
    let in_hand = desk.brush.settings;
    let mut kept = brush.settings_at(1.0);
    if let (Some(kept), Some(in_hand)) = (&mut kept.tooth, in_hand.tooth) {
        (kept.scale, kept.seed) = (in_hand.scale, in_hand.seed);
    }
    kept == in_hand
}

/// All brushes that have the words; gives the one that was clicked.
fn brushes(ui: &mut Ui, library: &mut Library) -> Option<usize> {
    let field = TextEdit::singleline(&mut library.words)
        .hint_text("Search")
        .desired_width(f32::INFINITY)
        .margin(egui::Margin::symmetric(8, 6));
    let field = ui.add(field).accessible_name("Search brushes");
    if ui.memory(|memory| memory.focused().is_none()) {
        field.request_focus();
    }
    ui.add_space(6.0);
    library.draw_next(ui);
    let words = library.words.clone();
    let found: Vec<usize> =
        (0..ours().len()).filter(|place| ours()[*place].is_found(&words)).collect();
    if found.is_empty() {
        remark(ui, "No brush leaves that. Try another word.");
        return None;
    }
    let mut chosen = None;
    ScrollArea::vertical().max_height(520.0).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 8.0);
        for row in found.chunks(COLUMNS) {
            ui.horizontal(|ui| {
                for &place in row {
                    if cell(ui, library, place) {
                        chosen = Some(place);
                    }
                }
            });
        }
    });
    chosen
}

/// A brush; true when it is clicked.
fn cell(ui: &mut Ui, library: &Library, place: usize) -> bool {
    let (brush, colours) = (&ours()[place], theme::colours(ui));
    let (rect, response) = ui.allocate_exact_size(CELL, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &brush.name));
    let is_taken = library.taken == Some(place);
    let picture = egui::Rect::from_min_size(rect.min, PICTURE);
    match library.pictures.get(place) {
        Some(texture) => {
            Image::new((texture.id(), PICTURE)).corner_radius(theme::RADIUS).paint_at(ui, picture);
        }
        None => {
            ui.painter().rect_filled(picture, f32::from(theme::RADIUS), colours.card_dark);
        }
    }
    let colour = if is_taken || response.hovered() { colours.text } else { colours.text_soft };
    let font = if is_taken { theme::semibold(13.0) } else { FontId::proportional(13.0) };
    let at = picture.left_bottom() + vec2(2.0, 14.0);
    ui.painter().text(at, Align2::LEFT_CENTER, &brush.name, font, colour);
    focus_ring(ui, &response, rect, f32::from(theme::RADIUS));
    response.on_hover_text(&brush.about).clicked()
}

impl Library {
    /// Draws a picture that is not there yet: one a frame, so that none waits long.
    fn draw_next(&mut self, ui: &Ui) {
        let colours = theme::colours(ui);
        let wanted = (ui.ctx().pixels_per_point(), colours.card_dark);
        if self.drawn_for != Some(wanted) {
            self.pictures.clear();
            self.drawn_for = Some(wanted);
        }
        let Some(brush) = ours().get(self.pictures.len()) else { return };
        let shown = Shown {
            settings: brush.settings_at(RADIUS_POINTS),
            radius_points: RADIUS_POINTS,
            paint: Value::Colour([0xD8D8; 3]),
            erases: false,
        };
        let image = self.card.image(ui, &shown, PICTURE);
        let texture = ui.ctx().load_texture(&brush.name, image, TextureOptions::LINEAR);
        self.pictures.push(texture);
        ui.ctx().request_repaint();
    }
}
