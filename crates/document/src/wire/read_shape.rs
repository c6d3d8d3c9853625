//! From written edits that paint or select to what they stand for.

use std::sync::Arc;

use brush::{FillScope, Gradient, Lasso, Mirror};
use glam::Vec2;
use layers::LayerId;
use surface::TriangleId;

use super::brush::WireTooth;
use super::decal::WireDecal;
use super::edit::{WireEdit, WireFill};
use super::read::{Reader, adjustment, opacity};
use super::region::{WireGradient, WireRegion, faces, outline};
use super::stroke::WireStroke;
use super::value::stored;
use crate::{
    Alike, Deposit, Edit, LayerEdit, MaterialEdit, MaterialId, Region, RegionFill, SelectEdit,
    Shape, Step,
};

/// One of them.
type WireShape<'a> =
    (&'a Option<WireStroke>, &'a Option<WireFill>, &'a Option<WireGradient>, &'a Option<WireDecal>);

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

    pub(super) fn paint_edit(&self, wire: &WireEdit) -> Result<Edit, String> {
        let (material, layer, change) = match wire {
            WireEdit::Paint { material, layer, values, stroke, fill, gradient, decal } => {
                let deposit = Deposit::Paint(self.values(values)?);
                (material, layer, self.paint(deposit, (stroke, fill, gradient, decal))?)
            }
            WireEdit::Erase { material, layer, channels, stroke, fill, gradient, decal } => {
                let deposit = Deposit::Erase(self.channels(channels)?);
                (material, layer, self.paint(deposit, (stroke, fill, gradient, decal))?)
            }
            WireEdit::MirrorPaint {
                material,
                layer,
                channels,
                channel,
                term,
                along,
                at,
                moves,
                left_out,
            } => {
                let left_out = self.left_out(left_out.as_ref())?;
                let mirror = Mirror { axis: along.axis(), at: *at, moves: *moves, left_out };
                let target = self.target(channels, channel.as_deref(), *term)?;
                (material, layer, LayerEdit::Paint(Arc::new(Step::Mirror { target, mirror })))
            }
            WireEdit::ClearCells { material, layer, channels } => {
                let step = Step::Clear(self.channels(channels)?);
                (material, layer, LayerEdit::Paint(Arc::new(step)))
            }
            WireEdit::PaintMask {
                material,
                layer,
                channel,
                term,
                value,
                stroke,
                fill,
                gradient,
                decal,
            } => {
                let at = self.mask_at(channel.as_deref(), *term)?;
                let deposit = Deposit::Mask { at, value: stored(*value)? };
                (material, layer, self.paint(deposit, (stroke, fill, gradient, decal))?)
            }
            WireEdit::Repaint { material, layer, step, with } => {
                let place = (self.material(material)?, LayerId(*layer));
                let with = with.as_deref().map(|with| self.step(with, place)).transpose()?;
                (material, layer, LayerEdit::Repaint { step: *step, with })
            }
            WireEdit::Adjust {
                material,
                layer,
                channels,
                channel,
                term,
                stroke,
                fill,
                gradient,
                decal,
                ..
            } => {
                let target = self.target(channels, channel.as_deref(), *term)?;
                let deposit = Deposit::Adjust(target, adjustment(wire)?);
                (material, layer, self.paint(deposit, (stroke, fill, gradient, decal))?)
            }
            WireEdit::MovePaint { material, layer, channels, channel, term, stroke } => {
                let target = self.target(channels, channel.as_deref(), *term)?;
                let shape = Shape::Stroke(self.stroke(stroke)?);
                let step = Step::Deposit { deposit: Deposit::Move(target), shape };
                (material, layer, LayerEdit::Paint(Arc::new(step)))
            }
            _ => return Err("this edit can't be read".to_owned()),
        };
        self.material_edit(material, MaterialEdit::Layer(LayerId(*layer), change))
    }

    /// What an edit paints.
    fn step(&self, wire: &WireEdit, place: (MaterialId, LayerId)) -> Result<Arc<Step>, String> {
        match self.paint_edit(wire)? {
            Edit::Material(material, MaterialEdit::Layer(layer, LayerEdit::Paint(step))) => {
                let is_there = (material, layer) == place;
                let told = "\"with\" must name the material and the layer that are painted again";
                is_there.then_some(step).ok_or_else(|| told.to_owned())
            }
            _ => Err("\"with\" must be a stroke, a fill of a region without a selection, a gradient, a decal, a mirror image or a clearing".to_owned()),
        }
    }

    fn paint(
        &self,
        deposit: Deposit,
        (stroke, fill, gradient, decal): WireShape<'_>,
    ) -> Result<LayerEdit, String> {
        let shape = match (stroke, fill, gradient, decal) {
            (Some(stroke), None, None, None) => Shape::Stroke(self.stroke(stroke)?),
            (None, Some(fill), None, None) => return self.fill(deposit, fill),
            (None, None, Some(gradient), None) => Shape::Gradient(self.gradient(gradient)?),
            (None, None, None, Some(decal)) => {
                let left_out = self.left_out(decal.left_out.as_ref())?;
                Shape::Decal(decal.decal(left_out, self.surface)?)
            }
            _ => {
                let one = "give one of \"stroke\", \"fill\", \"gradient\" and \"decal\"";
                return Err(one.to_owned());
            }
        };
        Ok(LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape })))
    }

    fn fill(&self, deposit: Deposit, fill: &WireFill) -> Result<LayerEdit, String> {
        let opacity = opacity(fill.opacity)?.get();
        let left_out = self.left_out(fill.left_out.as_ref())?;
        let tooth = fill.tooth.as_ref().map(WireTooth::tooth).transpose()?;
        Ok(match self.region(&fill.scope)? {
            Region::Scope(scope) => {
                let shape = Shape::Fill { scope, opacity, left_out, tooth };
                LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }))
            }
            region => {
                let fill = RegionFill { deposit, region, opacity, left_out, tooth };
                LayerEdit::FillRegion(Arc::new(fill))
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
