//! The panels, and how they are docked: each can be dragged by its title to another place, or hidden.

mod brush;
mod colour;
mod export;
mod flat;
mod held_stencil;
mod history;
mod layers;
mod materials;
mod model;
mod palette;
mod references;

pub(crate) use history::HistoryView;
pub(crate) use layers::LayerTable;
pub(crate) use materials::PartsOfMaterials;

use egui::{Color32, Frame, Margin, Stroke, Style, Ui, Visuals, WidgetText};
use egui_tiles::{
    Behavior, Container, Linear, LinearDir, ResizeState, SimplificationOptions, TabState, Tabs,
    Tile, TileId, Tiles, Tree, UiResponse,
};
use serde::{Deserialize, Serialize};

pub(crate) use brush::recent_brushes;
pub(crate) use brush::{BrushPanel, ImageOf};
pub use brush::{BrushPicture, brush_pictures};

use crate::desk::{Desk, Stage};
use crate::theme;

/// A panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Pane {
    /// The model, seen in space.
    Model,
    /// The chosen material's texture, laid flat.
    Flat,
    /// Layers as rows, channels as columns.
    Layers,
    /// Materials and their parts.
    Materials,
    /// What was done.
    History,
    /// What the stage needs: the brush, or what to export.
    Stage,
    /// Pictures to work from.
    References,
}

/// All panels where they are.
pub(crate) type Panes = Tree<Pane>;

/// The panels as they are when nothing was moved: see the sketch in the design's part on screens.
pub(crate) fn arranged() -> Panes {
    let mut tiles = Tiles::default();
    let [model, references, flat, layers, materials, history, stage] = Pane::ALL.map(|pane| {
        let tile = tiles.insert_pane(pane);
        // They show when there is one.
        tiles.set_visible(tile, pane != Pane::References);
        tiles.insert_tab_tile(vec![tile])
    });
    let mut split = |dir, shares: &[(TileId, f32)]| {
        let mut linear = Linear::new(dir, shares.iter().map(|(tile, _)| *tile).collect());
        for (tile, share) in shares {
            linear.shares.set_share(*tile, *share);
        }
        tiles.insert_container(Container::Linear(linear))
    };
    let side = split(LinearDir::Vertical, &[(materials, 1.7), (history, 1.0)]);
    let views = split(
        LinearDir::Horizontal,
        &[(side, 0.55), (model, 1.65), (references, 0.8), (flat, 1.1)],
    );
    let left = split(LinearDir::Vertical, &[(views, 2.1), (layers, 1.0)]);
    let root = split(LinearDir::Horizontal, &[(left, 3.9), (stage, 0.9)]);
    Tree::new(egui::Id::unique("panels"), root, tiles)
}

impl Pane {
    /// All of them.
    pub(crate) const ALL: [Self; 7] = [
        Self::Model,
        Self::References,
        Self::Flat,
        Self::Layers,
        Self::Materials,
        Self::History,
        Self::Stage,
    ];
}

/// Panels as they were written down; those to begin with where that can't be used.
pub(crate) fn remembered(text: &str) -> Panes {
    let is_there_once = |panes: &Panes, pane: Pane| {
        let is_it = |tile: &&Tile<Pane>| matches!(tile, Tile::Pane(found) if *found == pane);
        panes.tiles.tiles().filter(is_it).count() == 1
    };
    serde_json::from_str::<Panes>(text)
        .ok()
        .filter(|panes| panes.root().is_some())
        .filter(|panes| Pane::ALL.iter().all(|pane| is_there_once(panes, *pane)))
        .unwrap_or_else(arranged)
}

/// Panels as text, to be remembered.
pub(crate) fn written(panes: &Panes) -> Option<String> {
    serde_json::to_string(panes).ok()
}

/// Shows all panels. What is asked of them meanwhile ([`Desk::panel_wishes`]) is done at the end.
pub(crate) fn show(desk: &mut Desk, ui: &mut Ui) {
    desk.pane_places.clear();
    desk.hand.listen();
    for path in std::mem::take(&mut desk.dropped_pictures) {
        desk.add_reference(path);
    }
    let before = desk.under_pointer.take();
    desk.model_view.footprint = None;
    desk.get_ready();
    desk.make_environment();
    let mut panes = std::mem::replace(&mut desk.panes, Tree::empty(egui::Id::unique("panels")));
    panes.ui(&mut Docking { desk }, ui);
    for (pane, shown) in desk.panel_wishes.drain(..) {
        set_shown(&mut panes, pane, shown);
    }
    desk.panes = panes;
    desk.end_in_lost_view(ui.ctx().cumulative_pass_nr());
    if desk.under_pointer != before {
        // The line that tells of it was shown before.
        ui.ctx().request_repaint();
    }
}

/// What a view without anything to show says, and what to do next.
fn empty_view(ui: &Ui, rect: egui::Rect, what: &str, next: &str) {
    let colours = theme::colours(ui);
    let painter = ui.painter_at(rect);
    let centre = rect.center();
    let line = |dy: f32, text: &str, font, colour| {
        let at = centre + egui::vec2(0.0, dy);
        painter.text(at, egui::Align2::CENTER_CENTER, text, font, colour);
    };
    line(-12.0, what, theme::semibold(15.0), colours.text);
    line(12.0, next, egui::FontId::proportional(13.0), colours.text);
}

struct Docking<'a> {
    desk: &'a mut Desk,
}

impl Behavior<Pane> for Docking<'_> {
    fn pane_ui(&mut self, ui: &mut Ui, _tile: TileId, pane: &mut Pane) -> UiResponse {
        let desk = &mut *self.desk;
        let fill = match pane {
            Pane::Model | Pane::Flat | Pane::References => theme::colours(ui).surround,
            _ => theme::colours(ui).panel,
        };
        ui.painter().rect_filled(ui.max_rect(), 0.0, fill);
        desk.pane_places.push((*pane, ui.max_rect()));
        match pane {
            Pane::Model => model::show(ui, desk),
            Pane::Flat => flat::show(ui, desk),
            Pane::Layers => layers::show(ui, desk),
            Pane::Materials => materials::show(ui, desk),
            Pane::History => history::show(ui, desk),
            Pane::References => references::show(ui, desk),
            Pane::Stage => match desk.stage {
                Stage::Paint => brush::show(ui, desk),
                Stage::Export => export::show(ui, desk),
            },
        }
        UiResponse::None
    }

    fn tab_title_for_pane(&mut self, pane: &Pane) -> WidgetText {
        let title = match pane {
            Pane::Model => "Model",
            Pane::Flat => "Flat",
            Pane::Layers => "Layers",
            Pane::Materials => "Materials and parts",
            Pane::History => "History",
            Pane::References => "References",
            Pane::Stage => match self.desk.stage {
                Stage::Paint => "Brush",
                Stage::Export => "Export",
            },
        };
        title.into()
    }

    fn simplification_options(&self) -> SimplificationOptions {
        SimplificationOptions { all_panes_must_have_tabs: true, ..SimplificationOptions::default() }
    }

    fn top_bar_right_ui(
        &mut self,
        tiles: &Tiles<Pane>,
        ui: &mut Ui,
        _tile: TileId,
        tabs: &Tabs,
        _scroll_offset: &mut f32,
    ) {
        let active = tabs.active.and_then(|active| tiles.get_pane(&active));
        if active == Some(&Pane::Layers) {
            layers::tool_bar(ui, self.desk);
        }
    }

    fn drag_preview_stroke(&self, visuals: &Visuals) -> Stroke {
        Stroke::new(2.0, theme::of(theme_of(visuals)).accent)
    }

    fn drag_preview_color(&self, visuals: &Visuals) -> Color32 {
        theme::of(theme_of(visuals)).accent.gamma_multiply(0.12)
    }

    fn tab_bar_height(&self, _style: &Style) -> f32 {
        theme::ROW
    }

    fn gap_width(&self, _style: &Style) -> f32 {
        1.0
    }

    fn min_size(&self) -> f32 {
        140.0
    }

    fn tab_title_spacing(&self, _visuals: &Visuals) -> f32 {
        f32::from(theme::MARGIN)
    }

    fn tab_bar_color(&self, visuals: &Visuals) -> Color32 {
        visuals.panel_fill
    }

    fn tab_outline_stroke(
        &self,
        _visuals: &Visuals,
        _tiles: &Tiles<Pane>,
        _tile: TileId,
        _state: &TabState,
    ) -> Stroke {
        Stroke::NONE
    }

    fn tab_bar_hline_stroke(&self, _visuals: &Visuals) -> Stroke {
        Stroke::NONE
    }

    fn resize_stroke(&self, style: &Style, state: ResizeState) -> Stroke {
        let colours = theme::of(theme_of(&style.visuals));
        match state {
            ResizeState::Idle => Stroke::new(1.0, colours.deep),
            ResizeState::Hovering | ResizeState::Dragging => Stroke::new(2.0, colours.accent),
        }
    }
}

fn theme_of(visuals: &Visuals) -> egui::Theme {
    if visuals.dark_mode { egui::Theme::Dark } else { egui::Theme::Light }
}

/// Whether a panel is shown somewhere.
pub(crate) fn is_shown(panes: &Panes, pane: Pane) -> bool {
    panes.tiles.find_pane(&pane).is_some_and(|tile| panes.is_visible(tile))
}

fn set_shown(panes: &mut Panes, pane: Pane, shown: bool) {
    if let Some(tile) = panes.tiles.find_pane(&pane) {
        panes.set_visible(tile, shown);
    }
}

/// What a panel's contents scroll in.
fn scrolled(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui)) {
    egui::ScrollArea::vertical().id_salt(name).auto_shrink(false).show(ui, |ui| {
        let margin = Margin { left: theme::MARGIN, right: theme::MARGIN, top: 4, bottom: 12 };
        Frame::new().inner_margin(margin).show(ui, contents);
    });
}

/// What stands in a panel that does not scroll.
fn panel_margin<R>(ui: &mut Ui, contents: impl FnOnce(&mut Ui) -> R) {
    Frame::new().inner_margin(Margin::symmetric(theme::MARGIN, 8)).show(ui, contents);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_panel_is_there_once_and_where_they_are_can_be_written_down() {
        let panes = arranged();
        let shown = panes.tiles.tiles().filter(|tile| matches!(tile, Tile::Pane(_))).count();
        assert_eq!(shown, 7);
        let text = serde_json::to_string(&panes).unwrap();
        assert_eq!(serde_json::from_str::<Panes>(&text).unwrap(), panes);
    }

    #[test]
    fn panels_are_remembered_and_what_makes_no_sense_is_not() {
        let mut panes = arranged();
        set_shown(&mut panes, Pane::Flat, false);
        let text = written(&panes).unwrap();
        assert!(!is_shown(&remembered(&text), Pane::Flat));
        assert!(is_shown(&remembered(&text), Pane::Model));
        for broken in ["", "{}", &text.replace("\"flat\"", "\"model\"")] {
            assert_eq!(remembered(broken), arranged());
        }
    }
}
