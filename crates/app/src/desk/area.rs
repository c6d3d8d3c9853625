//! Clicks and drags that mean an area: what they select or fill.

use std::collections::BTreeSet;
use std::sync::Arc;

use brush::{FillScope, Lasso, Mirror};
use document::{
    Alike, LayerEdit, MaterialEdit, Region, RegionFill, SelectEdit, SelectMode, Shape, Step,
};
use egui::{Modifiers, Pos2};
use glam::{DVec2, DVec3};
use raster::Unobserved;
use surface::{PartId, Surface, TriangleId};

use super::{Desk, Motion, View};
use crate::hand::HandSample;
use crate::tool::{Area, Tool};

/// A point of a lasso is kept once it is this far from the last, in points of the window.
const LASSO_STEP: f32 = 2.0;

/// A lasso that is being drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LassoInHand {
    /// The line so far, in points of the window.
    pub(crate) points: Vec<Pos2>,
    /// What becomes of it.
    wish: Wish,
}

/// What becomes of an area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wish {
    Select(SelectMode),
    Fill,
}

/// What of the surface was clicked.
#[derive(Debug, Clone, Copy)]
struct Clicked {
    triangle: TriangleId,
    uv: Option<DVec2>,
}

impl Desk {
    /// A press with a tool that is not the brush.
    pub(super) fn press_tool(
        &mut self,
        view: View,
        sample: HandSample,
        held: Modifiers,
    ) -> Option<Motion> {
        let material = self.material()?.id;
        if !self.editor.is_prepared(material) {
            self.prepare_again();
            return None;
        }
        if self.tool.tool != Tool::Select
            && let Some(refusal) = self.refusal()
        {
            self.tell_refusal(refusal);
            return None;
        }
        let (area, wish) = match self.tool.tool {
            Tool::Brush => return None,
            Tool::Gradient => return self.begin_gradient(view, sample.position),
            Tool::Select => (self.tool.selects, Wish::Select(self.tool.mode_with(held))),
            Tool::Fill => {
                let Some(area) = self.tool.fills else {
                    self.fill_selected();
                    return None;
                };
                (area, Wish::Fill)
            }
        };
        if area == Area::Lasso {
            let points = vec![sample.position];
            self.lasso = Some(LassoInHand { points, wish });
            return Some(Motion::Lasso);
        }
        let clicked = self.clicked(view, sample.position)?;
        if let Some(region) = self.region_at(area, clicked) {
            self.wish(wish, region);
        }
        None
    }

    /// What was clicked, or a note why there is nothing.
    fn clicked(&mut self, view: View, at: Pos2) -> Option<Clicked> {
        if view == View::Flat {
            let uv = self.flat_view.camera.uv(self.flat_view.pixel(at));
            let found = self.owner_of(uv).map(|triangle| Clicked { triangle, uv: Some(uv) });
            if found.is_none() {
                self.notices.note("There is nothing of the model here: click on an island");
            }
            return found;
        }
        let Some(met) = self.met(at) else {
            self.notices.note("There is nothing here: click on the model");
            return None;
        };
        if let Some(refusal) = self.refusal_at(met.part, met.material) {
            self.tell_refusal(refusal);
            return None;
        }
        Some(Clicked { triangle: met.triangle, uv: met.uv })
    }

    fn region_at(&mut self, area: Area, Clicked { triangle, uv }: Clicked) -> Option<Region> {
        let surface = Arc::clone(self.readiness.surface.as_ref()?);
        let scope = match area {
            Area::Lasso => return None,
            Area::Part => FillScope::Part(surface.part_of(triangle)),
            Area::Island => FillScope::Island(triangle),
            Area::Face => FillScope::Faces(face_of(&surface, triangle)),
            Area::Crease => {
                let angle = self.tool.crease_degrees.to_radians() as f32;
                FillScope::Crease { from: triangle, angle }
            }
            Area::Alike => {
                let Some(uv) = uv else {
                    self.notices.note("This face has no place on the texture");
                    return None;
                };
                let (channel, connected) = (self.tool.channel, self.tool.connected);
                let tolerance = self.tool.tolerance as f32;
                let uv = uv.as_vec2();
                return Some(Region::Alike(Alike { channel, uv, tolerance, connected }));
            }
        };
        Some(Region::Scope(scope))
    }

    fn wish(&mut self, wish: Wish, region: Region) {
        match wish {
            Wish::Select(mode) => {
                let left_out = self.model_view.left_out();
                self.select(SelectEdit::Region { region, mode, left_out });
            }
            Wish::Fill => self.fill(region),
        }
    }

    /// Changes what is selected.
    pub(crate) fn select(&mut self, edit: SelectEdit) {
        self.edit_awaited("Selecting", MaterialEdit::Select(edit));
    }

    /// Paints all that is selected, with the brush's values and opacity.
    pub(crate) fn fill_selected(&mut self) {
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        self.fill(Region::Scope(FillScope::Material));
    }

    fn fill(&mut self, region: Region) {
        let Some(target) = self.stroke_target(self.brush.does) else { return };
        let (deposit, opacity) = (target.deposit, self.brush.settings.opacity);
        let left_out = self.model_view.left_out();
        let tooth = self.brush.settings.tooth.clone().filter(|tooth| !tooth.is_stamped());
        let tooth = tooth.filter(|_| self.tool.fills_tooth);
        let edit = match region {
            Region::Scope(scope) => {
                let shape = Shape::Fill { scope, opacity, left_out, tooth };
                LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }))
            }
            region => {
                let fill = RegionFill { deposit, region, opacity, left_out, tooth };
                LayerEdit::FillRegion(Arc::new(fill))
            }
        };
        self.edit_awaited("Filling", MaterialEdit::Layer(target.layer, edit));
    }

    /// Fills what is selected of what is aimed at with what lies across the plane.
    pub(crate) fn fetch_across(&mut self, moves: bool) {
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        let Some(layer) = self.chosen.layer else { return };
        let Some((low, high)) = self.bounds_of_mirrored() else { return };
        let axis = self.tool.across;
        let at = ((low + high) * 0.5).dot(axis.direction()) as f32;
        let mirror = Mirror { axis, at, moves, left_out: self.model_view.left_out() };
        let step = Step::Mirror { target: self.chosen.aim.target(), mirror };
        let edit = LayerEdit::Paint(Arc::new(step));
        self.edit_beside("Mirroring", MaterialEdit::Layer(layer, edit));
    }

    /// The bounds of what is mirrored about its middle: the model, or the one part that is selected.
    fn bounds_of_mirrored(&mut self) -> Option<(DVec3, DVec3)> {
        if !self.tool.across_part {
            return self.bounds_of(|_| true);
        }
        let parts = self.selected_parts();
        if parts.len() != 1 {
            self.notices.note("Select something of one part, or take the model's middle");
            return None;
        }
        self.bounds_of(|part| parts.contains(&part))
    }

    /// The parts that have any of what is selected.
    fn selected_parts(&self) -> BTreeSet<PartId> {
        let (Some(material), Some(surface)) = (self.material(), &self.readiness.surface) else {
            return BTreeSet::new();
        };
        let Ok(map) = self.editor.texel_map(material.id, &Unobserved) else {
            return BTreeSet::new();
        };
        let plane = material.selection.as_ref().map(|selection| selection.plane());
        let edge = material.size.edge();
        // Every fourth texel each way tells enough.
        let texels = (0..edge).step_by(4).flat_map(|y| (0..edge).step_by(4).map(move |x| (x, y)));
        let owners = texels.filter_map(|(x, y)| {
            let selected = plane.is_none_or(|plane| plane.texel(x, y).is_ok_and(|value| value > 0));
            map.owner(x, y).filter(|_| selected)
        });
        owners.map(|owner| surface.part_of(owner)).collect()
    }

    /// Another point of the lasso.
    pub(super) fn draw_lasso(&mut self, at: Pos2) {
        if let Some(lasso) = &mut self.lasso
            && lasso.points.last().is_none_or(|last| last.distance(at) >= LASSO_STEP)
        {
            lasso.points.push(at);
        }
    }

    /// The lasso is closed.
    pub(super) fn close_lasso(&mut self, view: View) {
        let Some(LassoInHand { points, wish }) = self.lasso.take() else { return };
        if points.len() < 3 {
            return self.notices.note("Draw a line round what is meant, then let go");
        }
        let lasso = match view {
            View::Model => Lasso::Model {
                camera: self.model_view.camera,
                outline: points.iter().map(|at| self.model_view.pixel(*at)).collect(),
            },
            View::Flat => {
                let uv = |at: &Pos2| self.flat_view.camera.uv(self.flat_view.pixel(*at));
                Lasso::Flat { outline: points.iter().map(uv).collect() }
            }
        };
        self.wish(wish, Region::Lasso(lasso));
    }

    /// Makes an edit of the chosen material; one of a large texture beside the window.
    fn edit_awaited(&mut self, doing: &str, edit: MaterialEdit) {
        const AT_ONCE: u32 = 1024;
        if self.material().is_some_and(|material| material.size.edge() <= AT_ONCE) {
            self.edit_material(edit);
        } else {
            self.edit_beside(doing, edit);
        }
    }
}

/// The triangles of the polygon that a triangle was cut from: they stand in a row.
fn face_of(surface: &Surface, triangle: TriangleId) -> Arc<[TriangleId]> {
    let face = surface.triangle(triangle).face;
    let is_of_it = |id: &u32| surface.triangle(TriangleId(*id)).face == face;
    let before = (0..triangle.0).rev().take_while(is_of_it).count() as u32;
    let all = (triangle.0 - before..surface.triangle_count() as u32).take_while(is_of_it);
    all.map(TriangleId).collect()
}
