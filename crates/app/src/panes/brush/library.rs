//! Brushes to take in hand, each shown by a stroke that it makes.

use std::collections::HashMap;

use egui::{
    Align2, Button, Color32, FontId, Image, Key, Popup, PopupCloseBehavior, RectAlign, RichText,
    ScrollArea, Sense, TextEdit, TextureHandle, TextureOptions, Ui, Vec2, WidgetInfo, vec2,
};
use layers::Value;
use lucide_icons::Icon;

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
    /// The name that is typed for the brush in hand.
    name: String,
    /// The brush that was taken last.
    taken: Option<NamedBrush>,
    /// Pictures of brushes, by name.
    pictures: HashMap<String, (NamedBrush, TextureHandle)>,
    /// What the pictures depend on.
    drawn_for: Option<(f32, Color32)>,
    card: StrokeCard,
}

impl std::fmt::Debug for Library {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Library").field("taken", &self.taken).finish_non_exhaustive()
    }
}

/// What is done with brushes in a frame.
enum Wish {
    Take(NamedBrush),
    Keep(String),
    Remove(String),
}

/// The row that names the brush, and opens the others.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk, radius_units: f64) {
    let taken = desk.brush_panel.library.taken.as_ref();
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
    let wish = Popup::menu(&button)
        .align(RectAlign::LEFT_START)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .width(CELL.x * COLUMNS as f32 + 32.0)
        .show(|ui| brushes(ui, desk));
    match wish.and_then(|shown| shown.inner) {
        Some(Wish::Take(brush)) => {
            desk.brush.settings = brush.settings_at(radius_units);
            desk.brush_panel.library.taken = Some(brush);
            Popup::close_id(ui.ctx(), Popup::default_response_id(&button));
        }
        Some(Wish::Keep(name)) => {
            let brush = NamedBrush::of(name, desk.brush.settings, radius_units);
            desk.preferences.brushes.retain(|known| known.name != brush.name);
            desk.preferences.brushes.push(brush.clone());
            desk.brush_panel.library.taken = Some(brush);
        }
        Some(Wish::Remove(name)) => {
            desk.preferences.brushes.retain(|known| known.name != name);
        }
        None => {}
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

/// All brushes that have the words, those that the person kept first.
fn brushes(ui: &mut Ui, desk: &mut Desk) -> Option<Wish> {
    let own = desk.preferences.brushes.clone();
    let library = &mut desk.brush_panel.library;
    let field = TextEdit::singleline(&mut library.words)
        .hint_text("Search")
        .desired_width(f32::INFINITY)
        .margin(egui::Margin::symmetric(8, 6));
    let field = ui.add(field).accessible_name("Search brushes");
    if ui.memory(|memory| memory.focused().is_none()) {
        field.request_focus();
    }
    ui.add_space(6.0);
    let all = own.iter().map(|brush| (brush, true)).chain(ours().iter().map(|b| (b, false)));
    let words = library.words.clone();
    let found: Vec<_> = all.filter(|(brush, _)| brush.is_found(&words)).collect();
    library.draw_next(ui, found.iter().map(|(brush, _)| *brush));
    let mut wish = None;
    if found.is_empty() {
        remark(ui, "No brush leaves that. Try another word.");
    }
    ScrollArea::vertical().max_height(460.0).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 8.0);
        for row in found.chunks(COLUMNS) {
            ui.horizontal(|ui| {
                for (brush, is_own) in row {
                    wish = cell(ui, library, brush, *is_own).or(wish.take());
                }
            });
        }
    });
    ui.add_space(6.0);
    keep(ui, library).or(wish)
}

/// A brush: taken by a click; one of the person's own has a button that removes it.
fn cell(ui: &mut Ui, library: &Library, brush: &NamedBrush, is_own: bool) -> Option<Wish> {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(CELL, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &brush.name));
    let is_taken = library.taken.as_ref() == Some(brush);
    let picture = egui::Rect::from_min_size(rect.min, PICTURE);
    if let Some((_, texture)) = library.pictures.get(&brush.name) {
        Image::new((texture.id(), PICTURE)).corner_radius(theme::RADIUS).paint_at(ui, picture);
    } else {
        ui.painter().rect_filled(picture, f32::from(theme::RADIUS), colours.card_dark);
    }
    let colour = if is_taken || response.hovered() { colours.text } else { colours.text_soft };
    let font = if is_taken { theme::semibold(13.0) } else { FontId::proportional(13.0) };
    let at = picture.left_bottom() + vec2(2.0, 14.0);
    ui.painter().text(at, Align2::LEFT_CENTER, &brush.name, font, colour);
    focus_ring(ui, &response, rect, f32::from(theme::RADIUS));
    let mut wish = response.clicked().then(|| Wish::Take(brush.clone()));
    if is_own {
        response.on_hover_text("Kept by you");
        let at =
            egui::Rect::from_min_size(rect.right_bottom() - vec2(24.0, 24.0), Vec2::splat(24.0));
        let icon = RichText::new(char::from(Icon::Trash2)).font(theme::icons(14.0));
        let spoken = format!("Remove {}", brush.name);
        let remove = ui.put(at, Button::new(icon).frame(false)).accessible_name(spoken);
        if remove.on_hover_text("Remove this brush of yours").clicked() {
            wish = Some(Wish::Remove(brush.name.clone()));
        }
    } else {
        response.on_hover_text(&brush.about);
    }
    wish
}

/// Where the brush in hand is given a name.
fn keep(ui: &mut Ui, library: &mut Library) -> Option<Wish> {
    let row = ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut library.name)
            .hint_text("A name for the brush in hand")
            .desired_width(CELL.x * 2.0)
            .margin(egui::Margin::symmetric(8, 6));
        let field = ui.add(field).accessible_name("Name for the brush in hand");
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let is_named = !library.name.trim().is_empty();
        let button = ui.add_enabled(is_named, Button::new("Keep it"));
        is_named && (button.clicked() || entered)
    });
    row.inner.then(|| {
        library.words.clear();
        Wish::Keep(std::mem::take(&mut library.name).trim().to_owned())
    })
}

/// A brush that comes with the program, and a stroke that it makes.
#[derive(Debug, Clone)]
pub struct BrushPicture {
    /// Its name.
    pub name: String,
    /// What it leaves behind.
    pub about: String,
    /// The stroke, row by row, sRGB.
    pub pixels: Vec<[u8; 3]>,
}

/// Every brush that comes with the program: each makes the same stroke on the same ground, so many pixels wide and
/// high.
pub fn brush_pictures(size_px: [u32; 2]) -> Vec<BrushPicture> {
    let mut card = StrokeCard::default();
    let radius = f64::from(size_px[1]) * 0.24;
    let picture = |brush: &NamedBrush| {
        let shown = shown_stroke(brush, radius);
        let pixels = card.pixels(&shown, size_px);
        BrushPicture { name: brush.name.clone(), about: brush.about.clone(), pixels }
    };
    ours().iter().map(picture).collect()
}

fn shown_stroke(brush: &NamedBrush, radius_points: f64) -> Shown {
    let (settings, paint) = (brush.settings_at(radius_points), Value::Colour([0xD8D8; 3]));
    Shown { settings, radius_points, paint, erases: false }
}

impl Library {
    /// Draws a picture that is not there yet: one a frame, so that none waits long.
    fn draw_next<'a>(&mut self, ui: &Ui, brushes: impl Iterator<Item = &'a NamedBrush>) {
        let colours = theme::colours(ui);
        let wanted = (ui.ctx().pixels_per_point(), colours.card_dark);
        if self.drawn_for != Some(wanted) {
            self.pictures.clear();
            self.drawn_for = Some(wanted);
        }
        let is_drawn = |brush: &&NamedBrush| {
            self.pictures.get(&brush.name).is_some_and(|(drawn, _)| drawn == *brush)
        };
        let mut missing = brushes;
        let Some(brush) = missing.find(|brush| !is_drawn(brush)) else { return };
        let shown = shown_stroke(brush, RADIUS_POINTS);
        let image = self.card.image(ui, &shown, PICTURE);
        let texture = ui.ctx().load_texture(&brush.name, image, TextureOptions::LINEAR);
        self.pictures.insert(brush.name.clone(), (brush.clone(), texture));
        ui.ctx().request_repaint();
    }
}
