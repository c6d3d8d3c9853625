//! How the window looks: colours without a hue, one accent, type, and a grid of four points.
//!
//! The surround is neutral because a coloured one tints the eye (ISO 3664 asks for it). Text keeps a contrast of at
//! least 4.5:1 against what it stands on (WCAG 2.2, 1.4.3); a test below holds it.

use std::sync::Arc;

use egui::epaint::Shadow;
use egui::{
    Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, Stroke,
    Style, TextStyle, Theme, Ui, Vec2, Visuals, vec2,
};

/// Height of a row with a control in it, in points.
pub(crate) const ROW: f32 = 28.0;
/// Height of a layer's row.
pub(crate) const LAYER_ROW: f32 = 40.0;
/// Between things that belong together.
pub(crate) const GAP: f32 = 8.0;
/// Between a panel's edge and what it holds.
pub(crate) const MARGIN: i8 = 12;
/// Corners of controls.
pub(crate) const RADIUS: u8 = 6;
/// Width of the names before values.
pub(crate) const NAME_WIDTH: f32 = 78.0;

/// The family of headings and what is chosen.
pub(crate) const SEMIBOLD: &str = "semibold";
/// The family of icons.
pub(crate) const ICONS: &str = "icons";

/// The colours of a theme.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Colours {
    /// Behind everything, between panels.
    pub(crate) deep: Color32,
    /// Panels.
    pub(crate) panel: Color32,
    /// What is hollow: fields, tracks.
    pub(crate) well: Color32,
    /// Under the pointer, or what is held up.
    pub(crate) raised: Color32,
    /// What is chosen among its like.
    pub(crate) chosen: Color32,
    /// Lines between things.
    pub(crate) line: Color32,
    /// Around the model and the texture.
    pub(crate) surround: Color32,
    /// Text that matters.
    pub(crate) text: Color32,
    /// Text beside it.
    pub(crate) text_soft: Color32,
    /// Text that may be passed over.
    pub(crate) text_weak: Color32,
    /// The green of old copper.
    pub(crate) accent: Color32,
    /// The same as a ground for text.
    pub(crate) accent_deep: Color32,
    /// Text on it.
    pub(crate) on_accent: Color32,
    /// Handles of sliders and the like.
    pub(crate) handle: Color32,
    /// The ends of the ground that a stroke is tried on.
    pub(crate) card_dark: Color32,
    /// The lighter one.
    pub(crate) card_light: Color32,
    /// Something is wrong.
    pub(crate) error: Color32,
    /// Something is to be known.
    pub(crate) warning: Color32,
}

const fn grey(level: u8) -> Color32 {
    Color32::from_gray(level)
}

const DARK: Colours = Colours {
    deep: grey(0x1f),
    panel: grey(0x2b),
    well: grey(0x20),
    raised: grey(0x38),
    chosen: grey(0x45),
    line: grey(0x3a),
    surround: grey(0x46),
    text: grey(0xe8),
    text_soft: grey(0xb4),
    text_weak: grey(0x98),
    accent: Color32::from_rgb(0x6f, 0xb3, 0xa0),
    accent_deep: Color32::from_rgb(0x3a, 0x5f, 0x55),
    on_accent: grey(0xf2),
    handle: grey(0xe8),
    card_dark: grey(0x1e),
    card_light: grey(0x58),
    error: Color32::from_rgb(0xee, 0x8a, 0x7c),
    warning: Color32::from_rgb(0xdd, 0xb3, 0x62),
};

const LIGHT: Colours = Colours {
    deep: grey(0xa8),
    panel: grey(0xd8),
    well: grey(0xc4),
    raised: grey(0xe6),
    chosen: grey(0xf4),
    line: grey(0xbc),
    surround: grey(0x90),
    text: grey(0x1a),
    text_soft: grey(0x3c),
    text_weak: grey(0x50),
    accent: Color32::from_rgb(0x1a, 0x52, 0x43),
    accent_deep: Color32::from_rgb(0x9c, 0xc9, 0xbb),
    on_accent: grey(0x14),
    handle: grey(0x2c),
    card_dark: grey(0x84),
    card_light: grey(0xd0),
    error: Color32::from_rgb(0x94, 0x22, 0x14),
    warning: Color32::from_rgb(0x6a, 0x4a, 0x00),
};

/// The colours of a theme.
pub(crate) const fn of(theme: Theme) -> &'static Colours {
    match theme {
        Theme::Dark => &DARK,
        Theme::Light => &LIGHT,
    }
}

/// The colours that a panel is shown in.
pub(crate) fn colours(ui: &Ui) -> &'static Colours {
    of(ui.ctx().theme())
}

/// A font of the semibold family.
pub(crate) fn semibold(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(SEMIBOLD.into()))
}

/// A font of the icons.
pub(crate) fn icons(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name(ICONS.into()))
}

/// Gives a context its fonts and both themes.
pub(crate) fn install(ctx: &Context) {
    ctx.set_fonts(fonts());
    for theme in [Theme::Dark, Theme::Light] {
        ctx.set_style_of(theme, style(theme));
    }
}

/// Inter, its figures all of one width; behind it egui's own fonts for what Inter lacks.
fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let ours: [(&str, &[u8]); 3] = [
        ("inter", include_bytes!("../assets/Inter-Regular.ttf")),
        (SEMIBOLD, include_bytes!("../assets/Inter-SemiBold.ttf")),
        (ICONS, lucide_icons::LUCIDE_FONT_BYTES),
    ];
    for (name, bytes) in ours {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let behind = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let with = |first: &str| -> Vec<String> {
        std::iter::once(first.to_owned()).chain(behind.iter().cloned()).collect()
    };
    fonts.families.insert(FontFamily::Proportional, with("inter"));
    fonts.families.insert(FontFamily::Name(SEMIBOLD.into()), with(SEMIBOLD));
    fonts.families.insert(FontFamily::Name(ICONS.into()), with(ICONS));
    fonts
}

fn style(theme: Theme) -> Style {
    let mut style = Style { visuals: visuals(theme), ..Style::default() };
    let sizes = [
        (TextStyle::Small, FontId::proportional(12.0)),
        (TextStyle::Body, FontId::proportional(13.0)),
        (TextStyle::Button, FontId::proportional(13.0)),
        (TextStyle::Monospace, FontId::proportional(13.0)),
        (TextStyle::Heading, semibold(13.0)),
    ];
    style.text_styles = sizes.into();
    style.drag_value_text_style = TextStyle::Body;
    let spacing = &mut style.spacing;
    spacing.item_spacing = vec2(GAP, 4.0);
    spacing.button_padding = vec2(12.0, 4.0);
    spacing.interact_size = vec2(ROW, ROW);
    spacing.window_margin = Margin::same(16);
    spacing.menu_margin = Margin::same(6);
    spacing.menu_width = 200.0;
    spacing.combo_width = 80.0;
    spacing.tooltip_width = 320.0;
    spacing.icon_width = 16.0;
    spacing.scroll = egui::style::ScrollStyle::thin();
    style.interaction.selectable_labels = false;
    style.interaction.tooltip_delay = 0.4;
    style
}

fn visuals(theme: Theme) -> Visuals {
    let colours = of(theme);
    let mut visuals = match theme {
        Theme::Dark => Visuals::dark(),
        Theme::Light => Visuals::light(),
    };
    visuals.panel_fill = colours.panel;
    visuals.window_fill = colours.panel;
    visuals.window_stroke = Stroke::new(1.0, colours.line);
    visuals.window_corner_radius = CornerRadius::same(RADIUS + 2);
    visuals.menu_corner_radius = CornerRadius::same(RADIUS);
    visuals.extreme_bg_color = colours.well;
    visuals.text_edit_bg_color = Some(colours.well);
    visuals.faint_bg_color = colours.raised;
    visuals.code_bg_color = colours.well;
    visuals.hyperlink_color = colours.accent;
    visuals.weak_text_color = Some(colours.text_weak);
    visuals.error_fg_color = colours.error;
    visuals.warn_fg_color = colours.warning;
    visuals.selection.bg_fill = colours.accent_deep;
    visuals.selection.stroke = Stroke::new(1.0, colours.on_accent);
    visuals.popup_shadow =
        Shadow { offset: [0, 4], blur: 12, spread: 0, color: Color32::from_black_alpha(80) };
    visuals.window_shadow = visuals.popup_shadow;
    let widgets = &mut visuals.widgets;
    let states = [
        (&mut widgets.noninteractive, colours.panel, colours.text_soft),
        (&mut widgets.inactive, colours.raised, colours.text),
        (&mut widgets.hovered, colours.chosen, colours.text),
        (&mut widgets.active, colours.chosen, colours.text),
        (&mut widgets.open, colours.raised, colours.text),
    ];
    for (state, fill, text) in states {
        state.bg_fill = fill;
        state.weak_bg_fill = fill;
        state.bg_stroke = Stroke::NONE;
        state.fg_stroke = Stroke::new(1.0, text);
        state.corner_radius = CornerRadius::same(RADIUS);
        state.expansion = 0.0;
    }
    widgets.noninteractive.bg_stroke = Stroke::new(1.0, colours.line);
    // Of boxes to tick and the thumbs of scroll bars.
    for state in [&mut widgets.inactive, &mut widgets.hovered] {
        state.bg_fill = colours.chosen;
    }
    // What has the keyboard is drawn as active.
    widgets.active.bg_stroke = Stroke::new(2.0, colours.accent);
    visuals
}

/// The size of a square control.
pub(crate) const fn square(edge: f32) -> Vec2 {
    Vec2::splat(edge)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as WCAG 2.2 defines them.
    fn luminance(colour: Color32) -> f64 {
        let linear = |byte: u8| {
            let c = f64::from(byte) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        a.max(b) / a.min(b)
    }

    #[test]
    fn text_stands_out_from_what_it_stands_on() {
        assert!((contrast(Color32::WHITE, Color32::BLACK) - 21.0).abs() < 1e-9);
        for colours in [&DARK, &LIGHT] {
            for text in
                [colours.text, colours.text_soft, colours.accent, colours.error, colours.warning]
            {
                for ground in [colours.panel, colours.well, colours.raised] {
                    let found = contrast(text, ground);
                    assert!(found >= 4.5, "{text:?} on {ground:?}: {found:.2}");
                }
            }
            assert!(contrast(colours.text_weak, colours.panel) >= 4.5);
            assert!(contrast(colours.on_accent, colours.accent_deep) >= 4.5);
        }
    }

    #[test]
    fn greys_have_no_hue() {
        for colours in [&DARK, &LIGHT] {
            for grey in [
                colours.deep,
                colours.panel,
                colours.well,
                colours.raised,
                colours.chosen,
                colours.line,
                colours.surround,
                colours.card_dark,
                colours.card_light,
            ] {
                assert!(grey.r() == grey.g() && grey.g() == grey.b());
            }
        }
    }
}
