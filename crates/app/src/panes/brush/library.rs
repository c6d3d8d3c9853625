//! Brushes to take in hand, each shown by a stroke that it makes.

use std::collections::HashMap;
use std::path::Path;

use egui::{
    Align, Align2, Button, Color32, FontId, Image, Key, Layout, Popup, PopupCloseBehavior,
    RectAlign, RichText, ScrollArea, Sense, TextEdit, TextureHandle, TextureOptions, Ui, Vec2,
    WidgetInfo, vec2,
};
use layers::Value;
use lucide_icons::Icon;

use super::stroke_card::{Shown, StrokeCard};
use crate::brushes::{NamedBrush, file_name, free_name, ours, read_file, text_of};
use crate::desk::Desk;
use crate::file_dialog::{Asked, FileDialog};
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
    /// The brush of which is asked what else can be done with it.
    more: Option<String>,
    /// The brush of one's own that is given another name, and what is typed of that.
    renaming: Option<(String, String)>,
    /// Its field has not been shown yet.
    is_rename_new: bool,
    /// The brush that was taken last.
    taken: Option<NamedBrush>,
    /// Those that were taken lately, the last first.
    recent: Vec<NamedBrush>,
    /// The brush that is to be written into a file.
    sharing: Option<NamedBrush>,
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
    Favour(String),
    Copy(NamedBrush),
    Rename(String, String),
    Share(NamedBrush),
    BringIn,
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
            desk.take_brush(brush, radius_units);
            Popup::close_id(ui.ctx(), Popup::default_response_id(&button));
        }
        Some(Wish::Keep(name)) => {
            let brush = NamedBrush::of(name, desk.brush.settings.clone(), radius_units);
            desk.preferences.brushes.retain(|known| known.name != brush.name);
            desk.preferences.brushes.push(brush.clone());
            desk.brush_panel.library.taken = Some(brush);
        }
        Some(Wish::Remove(name)) => {
            desk.preferences.brushes.retain(|known| known.name != name);
            desk.preferences.favourite_brushes.remove(&name);
        }
        Some(Wish::Favour(name)) => {
            let favourites = &mut desk.preferences.favourite_brushes;
            if !favourites.remove(&name) {
                favourites.insert(name);
            }
        }
        Some(Wish::Copy(brush)) => desk.add_own_brush(&brush),
        Some(Wish::Rename(from, to)) => desk.rename_own_brush(&from, &to),
        Some(Wish::Share(brush)) => {
            let asked = Asked::ShareBrush;
            desk.brush_panel.library.sharing = Some(brush.clone());
            let dialog = FileDialog::save(asked, file_name(&brush), ui.ctx().clone());
            desk.dialog = Some(dialog);
        }
        Some(Wish::BringIn) => {
            desk.dialog = Some(FileDialog::open(Asked::Brush, ui.ctx().clone()));
        }
        None => {}
    }
}

impl Desk {
    /// Takes a brush in hand, for a radius in model units.
    pub(crate) fn take_brush(&mut self, brush: NamedBrush, radius_units: f64) {
        self.brush.settings = brush.settings_at(radius_units);
        self.brush_panel.library.note_taken(&brush);
        self.brush_panel.library.taken = Some(brush);
    }

    /// Keeps a copy of a brush among those of the person, under a name that no other one has.
    fn add_own_brush(&mut self, brush: &NamedBrush) {
        let own = &self.preferences.brushes;
        let name = free_name(&brush.name, &own.iter().chain(ours()));
        self.preferences.brushes.push(brush.copied(name.clone()));
        self.notices.note(format!("\"{name}\" is among your brushes now"));
    }

    fn rename_own_brush(&mut self, from: &str, to: &str) {
        let others = self.preferences.brushes.iter().filter(|brush| brush.name != from);
        let name = free_name(to, &others.chain(ours()));
        if let Some(brush) = self.preferences.brushes.iter_mut().find(|brush| brush.name == from) {
            brush.name.clone_from(&name);
        }
        if self.preferences.favourite_brushes.remove(from) {
            self.preferences.favourite_brushes.insert(name);
        }
    }

    /// Writes the brush that is to be shared into a file.
    pub(crate) fn share_brush(&mut self, path: &Path) {
        let Some(brush) = self.brush_panel.library.sharing.take() else { return };
        let written = text_of(&brush).and_then(|text| {
            std::fs::write(path, text)
                .map_err(|error| format!("{}: can't be written: {error}", path.display()))
        });
        match written {
            Ok(()) => self.notices.note(format!("\"{}\" is in {}", brush.name, path.display())),
            Err(fault) => self.notices.error(fault),
        }
    }

    /// Brings a brush in from a file, among those of the person.
    pub(crate) fn bring_in_brush(&mut self, path: &Path) {
        match read_file(path) {
            Ok(brush) => self.add_own_brush(&brush),
            Err(fault) => self.notices.error(fault),
        }
    }
}

/// True where the brush in hand still has a brush's settings, but for its grain.
fn is_as(desk: &Desk, brush: &NamedBrush) -> bool {
    let in_hand = &desk.brush.settings;
    let mut kept = brush.settings_at(1.0);
    if let (Some(kept), Some(in_hand)) = (&mut kept.tooth, &in_hand.tooth) {
        (kept.scale, kept.seed) = (in_hand.scale, in_hand.seed);
    }
    kept == *in_hand
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
    let favourites = &desk.preferences.favourite_brushes;
    let all = own.iter().map(|brush| (brush, true)).chain(ours().iter().map(|b| (b, false)));
    let words = library.words.clone();
    let mut found: Vec<Known<'_>> = all
        .filter(|(brush, _)| brush.is_found(&words))
        .map(|(brush, is_own)| Known {
            brush,
            is_own,
            is_favourite: favourites.contains(&brush.name),
        })
        .collect();
    found.sort_by_key(|known| !known.is_favourite);
    library.draw_next(ui, found.iter().map(|known| known.brush));
    let mut wish = None;
    if found.is_empty() {
        remark(ui, "No brush leaves that. Try another word.");
    }
    ScrollArea::vertical().max_height(460.0).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 8.0);
        for row in found.chunks(COLUMNS) {
            ui.horizontal(|ui| {
                for known in row {
                    wish = cell(ui, library, known).or(wish.take());
                }
            });
        }
    });
    ui.add_space(6.0);
    let asked = found.iter().find(|known| library.more.as_ref() == Some(&known.brush.name));
    if let Some(known) = asked {
        wish = ui.horizontal(|ui| more(ui, library, known)).inner.or(wish);
    }
    let own = ui.horizontal(|ui| {
        let kept = match library.renaming {
            Some(_) => rename(ui, library),
            None => keep(ui, library),
        };
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let bring_in = ui.button("Bring in\u{2026}");
            let about = "Read a brush that somebody shared: a file that ends in .scumble-brush.toml. It can be \
                         dropped on the window too";
            bring_in.on_hover_text(about).clicked().then_some(Wish::BringIn).or(kept)
        })
        .inner
    });
    own.inner.or(wish)
}

/// The brushes that were taken lately, or some to begin with, in a row; true where one is taken.
pub(super) fn recent(ui: &mut Ui, desk: &mut Desk, radius_units: f64) -> bool {
    let library = &mut desk.brush_panel.library;
    let lately = library.recent.clone();
    let more = ours().iter().filter(|brush| lately.iter().all(|known| known.name != brush.name));
    let shown: Vec<NamedBrush> = lately.iter().chain(more).take(RECENT).cloned().collect();
    library.draw_next(ui, shown.iter());
    let mut taken = None;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 6.0;
        for brush in shown {
            if small_cell(ui, library, &brush) {
                taken = Some(brush);
            }
        }
    });
    let is_taken = taken.is_some();
    if let Some(brush) = taken {
        desk.take_brush(brush, radius_units);
    }
    is_taken
}

/// A brush in little room; true where it is clicked.
fn small_cell(ui: &mut Ui, library: &Library, brush: &NamedBrush) -> bool {
    let colours = theme::colours(ui);
    let size = PICTURE * 0.6;
    let (rect, response) = ui.allocate_exact_size(size + vec2(0.0, 18.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &brush.name));
    let picture = egui::Rect::from_min_size(rect.min, size);
    match library.pictures.get(&brush.name) {
        Some((_, texture)) => {
            Image::new((texture.id(), size)).corner_radius(theme::RADIUS).paint_at(ui, picture);
        }
        None => _ = ui.painter().rect_filled(picture, f32::from(theme::RADIUS), colours.card_dark),
    }
    let colour = if response.hovered() { colours.text } else { colours.text_soft };
    let at = picture.left_bottom() + vec2(2.0, 10.0);
    ui.painter().text(at, Align2::LEFT_CENTER, &brush.name, FontId::proportional(12.0), colour);
    focus_ring(ui, &response, rect, f32::from(theme::RADIUS));
    // No tooltip: it would lie over the colours.
    response.clicked()
}

/// A brush of the list.
struct Known<'a> {
    brush: &'a NamedBrush,
    is_own: bool,
    is_favourite: bool,
}

/// What can be done with a brush besides.
fn more(
    ui: &mut Ui,
    library: &mut Library,
    Known { brush, is_own, .. }: &Known<'_>,
) -> Option<Wish> {
    let item =
        |ui: &mut Ui, name: &str, about: &str| ui.button(name).on_hover_text(about).clicked();
    let mut wish = None;
    ui.label(RichText::new(&brush.name).font(theme::semibold(13.0)));
    if item(ui, "Duplicate", "A copy among your own brushes") {
        wish = Some(Wish::Copy((*brush).clone()));
    }
    if item(ui, "Share\u{2026}", "One file with all of the brush, its images included") {
        wish = Some(Wish::Share((*brush).clone()));
    }
    if *is_own {
        if item(ui, "Rename", "Give it another name, below") {
            library.renaming = Some((brush.name.clone(), brush.name.clone()));
            library.is_rename_new = true;
            library.more = None;
        }
        if item(ui, "Remove", "Take this brush of yours away") {
            wish = Some(Wish::Remove(brush.name.clone()));
        }
    }
    if wish.is_some() {
        library.more = None;
    }
    wish
}

/// Where a brush of one's own gets another name.
fn rename(ui: &mut Ui, library: &mut Library) -> Option<Wish> {
    let (from, to) = library.renaming.as_mut()?;
    let field = TextEdit::singleline(to).desired_width(CELL.x * 1.6);
    let field = ui.add(field.margin(egui::Margin::symmetric(8, 6)));
    let field = field.accessible_name(format!("New name for {from}"));
    if std::mem::take(&mut library.is_rename_new) {
        field.request_focus();
    }
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    let is_named = !to.trim().is_empty();
    let done = ui.add_enabled(is_named, Button::new("Rename"));
    let wish = (is_named && (done.clicked() || entered))
        .then(|| Wish::Rename(from.clone(), to.trim().to_owned()));
    let given_up = ui.button("Leave it").clicked();
    if wish.is_some() || given_up {
        library.renaming = None;
    }
    wish
}

/// A brush: taken by a click. Its star puts it first; what else can be done with it is behind its dots.
fn cell(ui: &mut Ui, library: &mut Library, known: &Known<'_>) -> Option<Wish> {
    let Known { brush, is_own, is_favourite } = *known;
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
    let about = if is_own && brush.about.is_empty() { "Kept by you" } else { brush.about.as_str() };
    response.on_hover_text(about);
    let small = |from_right: f32| {
        let corner = rect.right_bottom() - vec2(from_right, 24.0);
        egui::Rect::from_min_size(corner, vec2(24.0, 24.0))
    };
    let spoken = if is_favourite { "no longer first" } else { "first" };
    let spoken = format!("{} {spoken}", brush.name);
    let star = if is_favourite { colours.accent } else { colours.text_soft };
    let starred = small_button(ui, small(48.0), (Icon::Star, star), &spoken);
    if starred.on_hover_text("Favourites come first").clicked() {
        wish = Some(Wish::Favour(brush.name.clone()));
    }
    let spoken = format!("More for {}", brush.name);
    let dots = small_button(ui, small(24.0), (Icon::Ellipsis, colours.text_soft), &spoken);
    if dots.on_hover_text("Duplicate, share, rename, remove").clicked() {
        let is_asked = library.more.as_ref() == Some(&brush.name);
        library.more = (!is_asked).then(|| brush.name.clone());
    }
    wish
}

/// An icon that lies over what is laid out, and moves nothing of it.
fn small_button(
    ui: &mut Ui,
    rect: egui::Rect,
    (icon, colour): (Icon, Color32),
    spoken: &str,
) -> egui::Response {
    let response = ui.interact(rect, ui.scope_id().with(spoken), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, spoken));
    let colour = if response.hovered() { theme::colours(ui).text } else { colour };
    let icon = char::from(icon);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, icon, theme::icons(14.0), colour);
    focus_ring(ui, &response, rect, f32::from(theme::RADIUS));
    response
}

/// Where the brush in hand is given a name.
fn keep(ui: &mut Ui, library: &mut Library) -> Option<Wish> {
    let field = TextEdit::singleline(&mut library.name)
        .hint_text("A name for the brush in hand")
        .desired_width(CELL.x * 1.6)
        .margin(egui::Margin::symmetric(8, 6));
    let field = ui.add(field).accessible_name("Name for the brush in hand");
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    let is_named = !library.name.trim().is_empty();
    let button = ui.add_enabled(is_named, Button::new("Keep it"));
    (is_named && (button.clicked() || entered)).then(|| {
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

/// Brushes taken lately are kept, this many.
const RECENT: usize = 6;

impl Library {
    fn note_taken(&mut self, brush: &NamedBrush) {
        self.recent.retain(|known| known.name != brush.name);
        self.recent.insert(0, brush.clone());
        self.recent.truncate(RECENT);
    }

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
