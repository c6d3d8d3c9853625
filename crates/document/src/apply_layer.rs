//! Edits to one layer, and what a step of its recipe does to it.

use std::sync::Arc;

use brush::{
    BrushError, Coverage, FillScope, decal_coverage, fill_coverage, gradient_coverage,
    stroke_coverage, transport_cells,
};
use layers::{
    BlendSpace, CellSettings, ChannelId, Content, Layer, LayerId, Mask, MaskSource, MaskTerm,
    Opacity, Value,
};
use raster::{Plane, TextureSize};

use crate::apply::{Context, check_name, check_value};
use crate::deposit::DepositWork;
use crate::moving::with_moved;
use crate::select::check_parts;
use crate::{
    CellEdit, Deposit, DocumentError, LayerEdit, MaskAt, MaskOwner, MaskTermEdit, Material,
    NewTerm, NewTermSource, RegionFill, Selection, Shape, Step, Target,
};

/// A step that a recipe gains, and what it was painted within.
type NewStep = (Arc<Step>, Option<Arc<Selection>>);

/// The layer that an edit makes of another one, and the step that its recipe gains.
pub(crate) fn changed_layer(
    context: &Context<'_>,
    material: &Material,
    layer: &Layer,
    change: &LayerEdit,
) -> Result<(Layer, Option<NewStep>), DocumentError> {
    let mut changed = layer.clone();
    let mut step = None;
    match change {
        LayerEdit::Rename(name) => {
            check_name(name)?;
            changed.name.clone_from(name);
        }
        LayerEdit::Visible(visible) => changed.visible = *visible,
        LayerEdit::Opacity(opacity) => changed.opacity = *opacity,
        LayerEdit::Isolation(wanted) => match &mut changed.content {
            Content::Group { isolation, .. } => *isolation = *wanted,
            _ => return Err(DocumentError::WrongLayer { layer: layer.id, needs: "group" }),
        },
        LayerEdit::Cells(channels, change) => {
            change_cells(context, &mut changed, channels, change)?;
        }
        LayerEdit::Solid(channel, value) => {
            change_solid(context, &mut changed, *channel, *value)?;
        }
        LayerEdit::AddMaskTerm(owner, term) => {
            step =
                add_term(context, material, &mut changed, *owner, term)?.map(|step| (step, None));
        }
        LayerEdit::RemoveMaskTerm(at) => {
            let index = term_index(&changed, *at)?;
            mask_mut(&mut changed, at.owner).terms.remove(index);
        }
        LayerEdit::MaskTerm(at, change) => change_term(material, &mut changed, *at, change)?,
        LayerEdit::MoveMaskTerm(at, to) => {
            let index = term_index(&changed, *at)?;
            let terms = &mut mask_mut(&mut changed, at.owner).terms;
            let term = terms.remove(index);
            terms.insert((*to).min(terms.len()), term);
        }
        // Its material is made anew as a whole.
        LayerEdit::Repaint { .. } => {}
        LayerEdit::Paint(wanted) => {
            let within = match &**wanted {
                Step::Deposit { .. } | Step::Mirror { .. } => material.selection.clone(),
                Step::Clear(_) | Step::MaskStart { .. } => None,
            };
            changed = StepWork::of(context, material, within.clone()).after(&changed, wanted)?;
            step = Some((Arc::clone(wanted), within));
        }
        LayerEdit::FillRegion(fill) => {
            let within = Some(context.fill_within(material, fill)?);
            let filled = Arc::new(filled_region(fill));
            changed = StepWork::of(context, material, within.clone()).after(&changed, &filled)?;
            step = Some((filled, within));
        }
    }
    Ok((changed, step))
}

fn change_cells(
    context: &Context<'_>,
    layer: &mut Layer,
    channels: &[ChannelId],
    change: &CellEdit,
) -> Result<(), DocumentError> {
    if channels.is_empty() {
        return Err(DocumentError::NoChannels);
    }
    for &channel in channels {
        context.document.channel(channel)?;
        let cell = layer.cells.entry(channel).or_insert(CellSettings::DEFAULT);
        match change {
            CellEdit::On(on) => cell.on = *on,
            CellEdit::Blend(blend) => cell.blend = *blend,
            CellEdit::Opacity(opacity) => cell.opacity = *opacity,
        }
    }
    Ok(())
}

fn change_solid(
    context: &Context<'_>,
    layer: &mut Layer,
    channel: ChannelId,
    value: Option<Value>,
) -> Result<(), DocumentError> {
    let Content::Solid(values) = &mut layer.content else {
        return Err(DocumentError::WrongLayer { layer: layer.id, needs: "solid" });
    };
    match value {
        Some(value) => {
            check_value(context.document, channel, value)?;
            values.insert(channel, value);
        }
        None => {
            values.remove(&channel);
        }
    }
    Ok(())
}

fn mask(layer: &Layer, owner: MaskOwner) -> &Mask {
    match owner {
        MaskOwner::Layer => &layer.mask,
        MaskOwner::Cell(channel) => &layer.cell(channel).mask,
    }
}

fn mask_mut(layer: &mut Layer, owner: MaskOwner) -> &mut Mask {
    match owner {
        MaskOwner::Layer => &mut layer.mask,
        MaskOwner::Cell(channel) => {
            &mut layer.cells.entry(channel).or_insert(CellSettings::DEFAULT).mask
        }
    }
}

fn term_index(layer: &Layer, at: MaskAt) -> Result<usize, DocumentError> {
    let found = mask(layer, at.owner).terms.iter().position(|term| term.id == at.term);
    found.ok_or(DocumentError::NoTerm { layer: layer.id, term: at.term })
}

fn add_term(
    context: &Context<'_>,
    material: &Material,
    layer: &mut Layer,
    owner: MaskOwner,
    new: &NewTerm,
) -> Result<Option<Arc<Step>>, DocumentError> {
    if let MaskOwner::Cell(channel) = owner {
        context.document.channel(channel)?;
    }
    let at = MaskAt { owner, term: new.id };
    if term_index(layer, at).is_ok() {
        return Err(DocumentError::TermExists { layer: layer.id, term: new.id });
    }
    let (source, step) = match &new.source {
        NewTermSource::Painted(value) => {
            let plane = Plane::uniform(material.size.extent(), *value);
            let step = Arc::new(Step::MaskStart { at, value: *value });
            (MaskSource::Painted(plane), Some(step))
        }
        NewTermSource::Field(expr) => {
            check_baked(material, expr.field)?;
            (MaskSource::Field(*expr), None)
        }
    };
    mask_mut(layer, owner).terms.push(MaskTerm {
        id: new.id,
        on: true,
        invert: false,
        strength: Opacity::FULL,
        combine: new.combine,
        source,
    });
    Ok(step)
}

fn check_baked(material: &Material, field: layers::FieldId) -> Result<(), DocumentError> {
    if material.fields.contains_key(&field) {
        Ok(())
    } else {
        Err(DocumentError::FieldNotBaked(field.key().to_owned()))
    }
}

fn change_term(
    material: &Material,
    layer: &mut Layer,
    at: MaskAt,
    change: &MaskTermEdit,
) -> Result<(), DocumentError> {
    let index = term_index(layer, at)?;
    let id = layer.id;
    let term = &mut mask_mut(layer, at.owner).terms[index];
    match change {
        MaskTermEdit::On(on) => term.on = *on,
        MaskTermEdit::Invert(invert) => term.invert = *invert,
        MaskTermEdit::Strength(strength) => term.strength = *strength,
        MaskTermEdit::Combine(combine) => term.combine = *combine,
        MaskTermEdit::Field(expr) => match &mut term.source {
            MaskSource::Field(old) => {
                check_baked(material, expr.field)?;
                *old = *expr;
            }
            MaskSource::Painted(_) => {
                return Err(DocumentError::NoTerm { layer: id, term: at.term });
            }
        },
    }
    Ok(())
}

/// The step that a recipe keeps of a fill whose region was found: what it is painted within tells the rest.
fn filled_region(fill: &RegionFill) -> Step {
    let RegionFill { deposit, opacity, left_out, tooth, .. } = fill.clone();
    let scope = FillScope::Material;
    Step::Deposit { deposit, shape: Shape::Fill { scope, opacity, left_out, tooth } }
}

/// Does steps to layers of one material at one size.
pub(crate) struct StepWork<'a> {
    pub(crate) context: &'a Context<'a>,
    pub(crate) size: TextureSize,
    pub(crate) space: BlendSpace,
    /// What they are painted within, at that size.
    pub(crate) within: Option<Arc<Selection>>,
    /// Refuses what the selection lets nothing through of.
    pub(crate) must_show: bool,
}

impl<'a> StepWork<'a> {
    fn of(context: &'a Context<'a>, material: &Material, within: Option<Arc<Selection>>) -> Self {
        let (size, space) = (material.size, material.blend_space);
        Self { context, size, space, within, must_show: true }
    }
}

impl StepWork<'_> {
    /// The layer after one step.
    pub(crate) fn after(&self, layer: &Layer, step: &Step) -> Result<Layer, DocumentError> {
        match step {
            Step::Clear(channels) => self.cleared(layer, channels),
            Step::Mirror { target, mirror } => {
                let (document, within) = (self.context.document, self.within.as_deref());
                let work = DepositWork { document, size: self.size, space: self.space, within };
                let surface = self.context.surface()?;
                check_parts(&surface, None, &mirror.left_out)?;
                let map = self.context.texel_map(self.size)?;
                let observer = self.context.observer;
                work.mirrored(layer, target, mirror, (&surface, &map), observer)
            }
            Step::MaskStart { at, value } => {
                let mut changed = layer.clone();
                *painted_term(&mut changed, *at)? = Plane::uniform(self.size.extent(), *value);
                Ok(changed)
            }
            Step::Deposit { deposit, shape } => {
                let document = self.context.document;
                let within = self.within.as_deref();
                let work = DepositWork { document, size: self.size, space: self.space, within };
                work.check(layer, deposit)?;
                if let Deposit::Move(target) = deposit {
                    return self.moved(work, layer, target, shape);
                }
                let coverage = self.coverage(shape)?;
                if let Some(within) = within.filter(|_| self.must_show)
                    && !coverage.tiles.is_empty()
                    && !within.meets(&coverage)?
                {
                    return Err(DocumentError::OutsideSelection);
                }
                work.deposited(layer, layer, deposit, &coverage)
            }
        }
    }

    fn moved(
        &self,
        work: DepositWork<'_>,
        layer: &Layer,
        target: &Target,
        shape: &Shape,
    ) -> Result<Layer, DocumentError> {
        let Shape::Stroke(stroke) = shape else { return Err(BrushError::Transport.into()) };
        self.check_parts(shape)?;
        let (surface, map) = (self.context.surface()?, self.context.texel_map(self.size)?);
        let mut planes = work.planes_to_move(layer, target)?;
        let observer = self.context.observer;
        let within = self.within.as_deref().map(Selection::plane);
        transport_cells(stroke, &mut planes, (&surface, &map), within, observer)?;
        with_moved(layer, target, planes)
    }

    fn cleared(&self, layer: &Layer, channels: &[ChannelId]) -> Result<Layer, DocumentError> {
        let mut changed = layer.clone();
        let Content::Painted(cells) = &mut changed.content else {
            return Err(DocumentError::WrongLayer { layer: layer.id, needs: "painted" });
        };
        if channels.is_empty() {
            return Err(DocumentError::NoChannels);
        }
        for channel in channels {
            self.context.document.channel(*channel)?;
            cells.remove(channel);
        }
        Ok(changed)
    }

    fn coverage(&self, shape: &Shape) -> Result<Coverage, DocumentError> {
        self.check_parts(shape)?;
        let surface = self.context.surface()?;
        let map = self.context.texel_map(self.size)?;
        let observer = self.context.observer;
        self.check_parts(shape)?;
        Ok(match shape {
            Shape::Stroke(stroke) => stroke_coverage(stroke, &surface, &map, observer)?,
            Shape::Fill { scope, opacity, left_out, tooth } => fill_coverage(
                scope,
                (*opacity, tooth.as_ref()),
                left_out,
                &surface,
                &map,
                observer,
            )?,
            Shape::Gradient(gradient) => gradient_coverage(gradient, &surface, &map, observer)?,
            Shape::Decal(decal) => decal_coverage(decal, &surface, &map, observer)?,
        })
    }

    /// Refuses parts that the model doesn't have.
    fn check_parts(&self, shape: &Shape) -> Result<(), DocumentError> {
        let named = match shape.scope() {
            Some(FillScope::Part(part)) => Some(*part),
            _ => None,
        };
        check_parts(&*self.context.surface()?, named, shape.left_out())
    }
}

/// The texels of a painted mask term.
pub(crate) fn painted_term(layer: &mut Layer, at: MaskAt) -> Result<&mut Plane, DocumentError> {
    let index = term_index(layer, at)?;
    let layer_id: LayerId = layer.id;
    match &mut mask_mut(layer, at.owner).terms[index].source {
        MaskSource::Painted(plane) => Ok(plane),
        MaskSource::Field(_) => {
            Err(DocumentError::TermNotPainted { layer: layer_id, term: at.term })
        }
    }
}
