//! The brush's tooth: what it shows, and how it takes paint.

use brush::{GreyImage, Hold, Pattern, Relief, Tiling, Tooth};
use egui::Ui;
use lucide_icons::Icon;

use super::image_row::{self, ImageOf};
use super::{model_size, share_row};
use crate::desk::Desk;
use crate::widgets::{Scale, ValueRow, icon_button, named_row, wide_segments};

/// A pattern by the name that it has on screen, and what it looks like.
fn name_of(pattern: Pattern) -> (&'static str, &'static str) {
    match pattern {
        Pattern::Value => ("Blotches", "Soft spots of a few sizes"),
        Pattern::Gradient => ("Clouds", "Cloudy, coarse and fine at once"),
        Pattern::Cellular => ("Cells", "Islands between narrow cracks"),
        Pattern::Fibres => ("Fibres", "Long strands"),
        Pattern::Speckle => ("Speckle", "Round specks, few large, many small"),
        Pattern::Scratches => ("Scratches", "Thin lines that come and go"),
        Pattern::Pores => ("Pores", "All but small round holes"),
    }
}

/// What a tooth shows, by the name that it has on screen.
fn shown_name(tooth: Option<&Tooth>) -> &'static str {
    match tooth.map(|tooth| &tooth.relief) {
        None => "None",
        Some(Relief::Pattern(pattern)) => name_of(*pattern).0,
        Some(Relief::Image(..)) => "Image",
    }
}

/// The tooth's rows.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let whole = model_size(desk);
    pattern(ui, &mut desk.brush.settings.tooth, whole);
    image_row::show(ui, desk, ImageOf::Tooth);
    let Some(tooth) = &mut desk.brush.settings.tooth else { return };
    hold(ui, tooth, whole);
    tiling(ui, tooth);
    size(ui, tooth, whole);
    let usual = Tooth::default();
    let about = "How much less its valleys take: at 0 % the tooth does nothing";
    share_row(ui, ("Depth", about), &mut tooth.depth, usual.depth);
    let about = "How hard its edges are";
    share_row(ui, ("Contrast", about), &mut tooth.contrast, usual.contrast);
    let about = "How much of the surface takes paint";
    share_row(ui, ("Share", about), &mut tooth.level, usual.level);
    if tooth.relief.has_direction() && !tooth.is_stamped() {
        named_row(ui, "Runs", |ui| {
            let other = if tooth.relief.image().is_some() {
                (false, "Upright", "Upright in the model, whatever the part's axis is")
            } else {
                (false, "All ways", "In all directions")
            };
            let choices = [(true, "Along", "Along the axis of the part under it"), other];
            let chosen = wide_segments(ui, &choices, |choice| choice == tooth.along_axis);
            tooth.along_axis = chosen.unwrap_or(tooth.along_axis);
        });
    }
}

fn pattern(ui: &mut Ui, chosen: &mut Option<Tooth>, whole: f64) {
    named_row(ui, "Pattern", |ui| {
        let shown = shown_name(chosen.as_ref());
        if let Some(tooth) = chosen {
            let about = "Another one of the same kind";
            if icon_button(ui, Icon::Dices, "Another tooth of this kind", about).clicked() {
                tooth.seed = tooth.seed.wrapping_add(1);
            }
        }
        let width = ui.available_width();
        let combo = egui::ComboBox::from_id_salt("tooth")
            .selected_text(shown)
            .width(width)
            .height(ALL_SHOWN);
        let shown = combo.show_ui(ui, |ui| {
            if ui.selectable_label(chosen.is_none(), "None").clicked() {
                *chosen = None;
            }
            for pattern in Pattern::ALL {
                let relief = Relief::Pattern(pattern);
                let is_chosen = chosen.as_ref().is_some_and(|tooth| tooth.relief == relief);
                let (name, about) = name_of(pattern);
                if ui.selectable_label(is_chosen, name).on_hover_text(about).clicked() {
                    let kept = chosen.take().unwrap_or_else(|| usual(whole));
                    *chosen = Some(Tooth { relief, ..kept });
                }
            }
        });
        shown.response.on_hover_text("A texture within the brush, as a canvas has tooth");
    });
}

/// The tooth with this image in the place of what it shows.
pub(super) fn with_image(chosen: Option<&Tooth>, image: GreyImage, whole: f64) -> Tooth {
    if let Some(tooth) = chosen
        && let Relief::Image(_, tiling) = tooth.relief
    {
        return Tooth { relief: Relief::Image(image, tiling), ..tooth.clone() };
    }
    // As it is, and about as large as the brush.
    let (contrast, scale) = (0.0, (whole * USUAL_IMAGE) as f32);
    let relief = Relief::Image(image, Tiling::Unstructured);
    Tooth { relief, contrast, scale, ..usual(whole) }
}

/// A tooth to begin with.
fn usual(whole: f64) -> Tooth {
    Tooth { scale: (whole * USUAL_SIZE) as f32, ..Tooth::default() }
}

/// As high as all patterns are, in points.
const ALL_SHOWN: f32 = 300.0;
/// The size that a tooth starts with, in model diagonals.
const USUAL_SIZE: f64 = 0.01;
/// The same of one with an image.
const USUAL_IMAGE: f64 = 0.08;
/// The size that a stamped tooth starts with, in radii.
const USUAL_STAMPED: f32 = 0.5;

/// Whether it stays on the surface; the size of its grain is meant otherwise then.
fn hold(ui: &mut Ui, tooth: &mut Tooth, whole: f64) {
    named_row(ui, "Belongs to", |ui| {
        let choices = [
            (Hold::Anchored, "Surface", "It stays where it is, however often the brush goes there"),
            (Hold::Stamped, "Dab", "Each dab brings it along, and it lies as the tip does"),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == tooth.hold);
        if let Some(hold) = chosen.filter(|chosen| *chosen != tooth.hold) {
            let usual = if tooth.relief.image().is_some() { USUAL_IMAGE } else { USUAL_SIZE };
            tooth.hold = hold;
            tooth.scale = match hold {
                Hold::Anchored => (whole * usual) as f32,
                Hold::Stamped => USUAL_STAMPED,
            };
        }
    });
}

fn tiling(ui: &mut Ui, tooth: &mut Tooth) {
    let Relief::Image(_, tiling) = &mut tooth.relief else { return };
    named_row(ui, "Laid on", |ui| {
        let choices = [
            (
                Tiling::Unstructured,
                "Scattered",
                "In pieces that blend, so that nothing repeats: rust, dirt, plaster",
            ),
            (
                Tiling::Structured,
                "Side by side",
                "So that what is built stays whole: weave, planks, bricks. It repeats",
            ),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == *tiling);
        *tiling = chosen.unwrap_or(*tiling);
    });
}

fn size(ui: &mut Ui, tooth: &mut Tooth, whole: f64) {
    let mut scale = f64::from(tooth.scale);
    let of_image = tooth.relief.image().is_some();
    let about = match (tooth.is_stamped(), of_image) {
        (true, false) => "Size of its features, in shares of the brush's radius",
        (true, true) => "Length of the image, in shares of the brush's radius",
        (false, false) => "Size of its features on the model, in its units",
        (false, true) => "Length of the image on the model, in its units",
    };
    let row = if tooth.is_stamped() {
        ValueRow::new("Grain", about, 0.02..=4.0).percent().usual(f64::from(USUAL_STAMPED))
    } else {
        let decimals = (4.0 - whole.log10()).round().clamp(0.0, 7.0) as usize;
        let usual = if of_image { USUAL_IMAGE } else { USUAL_SIZE };
        ValueRow::new("Grain", about, whole * 1e-4..=whole * 0.5)
            .unit("", decimals)
            .usual(whole * usual)
    };
    if row.scale(Scale::Ratio).show(ui, &mut scale).changed() {
        tooth.scale = scale as f32;
    }
}
