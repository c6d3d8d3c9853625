//! Blend modes and opacities, of a cell or of a whole row.

use document::{CellEdit, Document, LayerEdit, MaterialEdit};
use egui::{Button, Ui, vec2};
use layers::{BlendMode, ChannelDescriptor, ChannelId, Content, Isolation, Layer, Opacity};

use crate::desk::Desk;
use crate::theme;
use crate::widgets::ValueRow;

/// A mode's name on screen.
pub(super) const fn name_of(mode: BlendMode) -> &'static str {
    match mode {
        BlendMode::Normal => "Normal",
        BlendMode::Multiply => "Multiply",
        BlendMode::Screen => "Screen",
        BlendMode::Overlay => "Overlay",
        BlendMode::Darken => "Darken",
        BlendMode::Lighten => "Lighten",
        BlendMode::ColorDodge => "Colour dodge",
        BlendMode::ColorBurn => "Colour burn",
        BlendMode::HardLight => "Hard light",
        BlendMode::SoftLight => "Soft light",
        BlendMode::Difference => "Difference",
        BlendMode::Exclusion => "Exclusion",
        BlendMode::Hue => "Hue",
        BlendMode::Saturation => "Saturation",
        BlendMode::Color => "Colour",
        BlendMode::Luminosity => "Luminosity",
        BlendMode::Add => "Add",
        BlendMode::Subtract => "Subtract",
    }
}

/// How a row blends, as it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RowBlend {
    /// A group whose layers blend with what is below it.
    Through,
    /// All cells that hold something blend so.
    Common(BlendMode),
    /// They differ.
    Mixed,
}

impl RowBlend {
    /// How a layer's cells blend.
    pub(super) fn of(layer: &Layer, channels: &[ChannelDescriptor]) -> Self {
        if let Content::Group { isolation: Isolation::PassThrough, .. } = layer.content {
            return Self::Through;
        }
        let holds = |channel: &&ChannelDescriptor| match &layer.content {
            Content::Painted(cells) => cells.contains_key(&channel.id),
            Content::Solid(values) => values.contains_key(&channel.id),
            Content::Group { .. } => true,
        };
        let any = channels.iter().any(|channel| holds(&channel));
        let mut counted = channels.iter().filter(|channel| !any || holds(channel));
        let first = counted.next().map_or(BlendMode::Normal, |first| layer.cell(first.id).blend);
        if counted.all(|channel| layer.cell(channel.id).blend == first) {
            Self::Common(first)
        } else {
            Self::Mixed
        }
    }

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Through => "Pass through",
            Self::Common(mode) => name_of(mode),
            Self::Mixed => "mixed",
        }
    }
}

/// The modes to choose from for a whole row; each choice is one edit.
pub(super) fn row_modes(ui: &mut Ui, desk: &mut Desk, layer: &Layer) {
    let channels = desk.document().channels.clone();
    let blend = RowBlend::of(layer, &channels);
    if let Content::Group { isolation, .. } = layer.content {
        for (wanted, name) in
            [(Isolation::PassThrough, "Pass through"), (Isolation::Isolated, "Isolated")]
        {
            if choice(ui, name, isolation == wanted) && isolation != wanted {
                desk.edit_layer(layer.id, LayerEdit::Isolation(wanted));
            }
        }
        if isolation == Isolation::PassThrough {
            return;
        }
        ui.separator();
    }
    for mode in BlendMode::ALL {
        if choice(ui, name_of(mode), blend == RowBlend::Common(mode)) {
            let fit = channels.iter().filter(|channel| mode.allowed_for(channel.kind));
            let fit: Vec<ChannelId> = fit.map(|channel| channel.id).collect();
            desk.edit_layer(layer.id, LayerEdit::Cells(fit, CellEdit::Blend(mode)));
        }
    }
}

/// The modes to choose from for one cell.
pub(super) fn cell_modes(ui: &mut Ui, desk: &mut Desk, layer: &Layer, channel: &ChannelDescriptor) {
    let now = layer.cell(channel.id).blend;
    for mode in BlendMode::ALL.into_iter().filter(|mode| mode.allowed_for(channel.kind)) {
        if choice(ui, name_of(mode), mode == now) && mode != now {
            let edit = LayerEdit::Cells(vec![channel.id], CellEdit::Blend(mode));
            desk.edit_layer(layer.id, edit);
        }
    }
}

fn choice(ui: &mut Ui, name: &str, is_chosen: bool) -> bool {
    let button = Button::selectable(is_chosen, name).min_size(vec2(148.0, 24.0));
    ui.add(button).clicked()
}

/// A slider for a row's opacity; a drag is one edit.
pub(super) fn row_opacity(ui: &mut Ui, desk: &mut Desk, layer: &Layer) {
    opacity_row(
        ui,
        desk,
        layer,
        "How much of the whole layer counts",
        layer.opacity,
        LayerEdit::Opacity,
    );
}

/// A slider for a cell's opacity; a drag is one edit.
pub(super) fn cell_opacity(ui: &mut Ui, desk: &mut Desk, layer: &Layer, channel: ChannelId) {
    let now = layer.cell(channel).opacity;
    let edit = |opacity| LayerEdit::Cells(vec![channel], CellEdit::Opacity(opacity));
    opacity_row(ui, desk, layer, "How much of this cell counts", now, edit);
}

fn opacity_row(
    ui: &mut Ui,
    desk: &mut Desk,
    layer: &Layer,
    tooltip: &str,
    now: Opacity,
    edit: impl FnOnce(Opacity) -> LayerEdit,
) {
    let mut value = f64::from(now.get());
    ValueRow::new("Opacity", tooltip, 0.0..=1.0).percent().show(ui, &mut value);
    if let Some(opacity) = changed(now, value) {
        desk.follow_hand(ui, MaterialEdit::Layer(layer.id, edit(opacity)));
    }
}

/// The opacity that a control was set to, where that is another.
pub(super) fn changed(now: Opacity, value: f64) -> Option<Opacity> {
    Opacity::new(value as f32).ok().filter(|opacity| *opacity != now)
}

/// What differs from the ordinary in a cell, in a few words: "Multiply, 60 %".
pub(super) fn remark_on_cell(layer: &Layer, channel: ChannelId) -> Option<String> {
    let cell = layer.cell(channel);
    let mut words = Vec::new();
    if cell.blend != BlendMode::Normal {
        words.push(name_of(cell.blend).to_owned());
    }
    if cell.opacity != Opacity::FULL {
        words.push(percent(cell.opacity));
    }
    (!words.is_empty()).then(|| words.join(", "))
}

/// A row's mode, with its opacity where that is not full.
pub(super) fn summary(blend: RowBlend, opacity: Opacity) -> String {
    if opacity == Opacity::FULL {
        blend.name().to_owned()
    } else {
        format!("{}, {}", blend.name(), percent(opacity))
    }
}

fn percent(opacity: Opacity) -> String {
    format!("{:.0} %", opacity.get() * 100.0)
}

/// A heading in a menu: what it is about.
pub(super) fn title(ui: &mut Ui, document: &Document, layer: &Layer, channel: Option<ChannelId>) {
    let colours = theme::colours(ui);
    let of = channel.map_or_else(
        || "mask".to_owned(),
        |channel| super::head::label_of(document, channel).to_lowercase(),
    );
    let font = theme::semibold(13.0);
    let text = format!("{}, {of}", layer.name);
    let galley = crate::widgets::elided(ui, &text, font, colours.text_soft, ui.available_width());
    ui.add_space(2.0);
    ui.label(galley);
}
