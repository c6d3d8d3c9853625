//! From written fills, gradients and selections to what they stand for.

use std::sync::Arc;

use brush::{FillScope, Gradient, Lasso};
use glam::Vec2;
use surface::TriangleId;

use super::edit::{WireEdit, WireFill};
use super::read::{Reader, opacity};
use super::region::{WireGradient, WireRegion, faces, outline};
use super::stroke::WireStroke;
use crate::{
    Alike, Deposit, Edit, LayerEdit, MaterialEdit, Region, RegionFill, SelectEdit, Shape, Step,
};

/// One of them.
type WireShape<'a> = (&'a Option<WireStroke>, &'a Option<WireFill>, &'a Option<WireGradient>);

impl Reader<'_> {
    pub(super) fn select_edit(&self, wire: &WireEdit) -> Result<Edit, String> {
        let (material, edit) = match wire {
            WireEdit::SelectEverything { material } => (material, SelectEdit::Everything),
            WireEdit::Select { material, region, mode, left_out } => {
                let (region, left_out) = (self.region(region)?, self.left_out(left_out.as_ref())?);
                (material, SelectEdit::Region { region, mode: mode.mode(), left_out })
            }
            WireEdit::InvertSelection { material } => (material, SelectEdit::Invert),
            WireEdit::GrowSelection { material, texels } => (material, SelectEdit::Grow(*texels)),
            WireEdit::SoftenSelection { material, texels } => {
                (material, SelectEdit::Soften(*texels))
            }
            _ => return Err("this edit can't be read".to_owned()),
        };
        Ok(Edit::Material(self.material(material)?, MaterialEdit::Select(edit)))
    }

    pub(super) fn paint(
        &self,
        deposit: Deposit,
        (stroke, fill, gradient): WireShape<'_>,
    ) -> Result<LayerEdit, String> {
        let shape = match (stroke, fill, gradient) {
            (Some(stroke), None, None) => Shape::Stroke(self.stroke(stroke)?),
            (None, Some(fill), None) => return self.fill(deposit, fill),
            (None, None, Some(gradient)) => Shape::Gradient(self.gradient(gradient)?),
            _ => return Err("give one of \"stroke\", \"fill\" and \"gradient\"".to_owned()),
        };
        Ok(LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape })))
    }

    fn fill(&self, deposit: Deposit, fill: &WireFill) -> Result<LayerEdit, String> {
        let opacity = opacity(fill.opacity)?.get();
        let left_out = self.left_out(fill.left_out.as_ref())?;
        Ok(match self.region(&fill.scope)? {
            Region::Scope(scope) => {
                let shape = Shape::Fill { scope, opacity, left_out };
                LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }))
            }
            region => {
                LayerEdit::FillRegion(Arc::new(RegionFill { deposit, region, opacity, left_out }))
            }
        })
    }

    fn gradient(&self, wire: &WireGradient) -> Result<Gradient, String> {
        let Region::Scope(scope) = self.region(&wire.scope)? else {
            let fine = "\"material\", a part, an island, faces or a crease";
            return Err(format!("the scope of a gradient is {fine}: select the region first"));
        };
        Ok(Gradient {
            fade: wire.fade()?,
            easing: wire.easing(),
            opacity: opacity(wire.opacity)?.get(),
            scope,
            left_out: self.left_out(wire.left_out.as_ref())?,
        })
    }

    fn region(&self, wire: &WireRegion) -> Result<Region, String> {
        let scope = match wire {
            WireRegion::Material => FillScope::Material,
            WireRegion::Island(triangle) => FillScope::Island(TriangleId(*triangle)),
            WireRegion::Part(part) => FillScope::Part(self.part(part)?),
            WireRegion::Faces(numbers) => FillScope::Faces(faces(numbers)),
            WireRegion::Crease(crease) => {
                FillScope::Crease { from: TriangleId(crease.from), angle: crease.angle }
            }
            WireRegion::Lasso(lasso) => return Ok(Region::Lasso(lasso.lasso()?)),
            WireRegion::FlatLasso(points) => {
                return Ok(Region::Lasso(Lasso::Flat { outline: outline(points) }));
            }
            WireRegion::Alike(alike) => {
                return Ok(Region::Alike(Alike {
                    channel: self.channel(&alike.channel)?,
                    uv: Vec2::from_array(alike.uv),
                    tolerance: alike.tolerance,
                    connected: alike.connected,
                }));
            }
        };
        Ok(Region::Scope(scope))
    }
}
