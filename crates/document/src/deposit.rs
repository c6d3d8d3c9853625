//! What coverage does to a layer: the one way in which paint gets into cells and masks, whether the
//! stroke is done or still goes on.

use std::collections::BTreeMap;

use brush::{
    CellPlanes, Coverage, adjust_cells, adjust_mask, cover_cells, cover_mask, erase_cells,
};
use layers::{BlendSpace, ChannelId, Content, Layer, PaintedCell, Value};
use raster::{PageError, Plane, TextureSize};

use crate::apply::check_value;
use crate::apply_layer::painted_term;
use crate::{Deposit, Document, DocumentError, Selection, Target};

/// Deposits into layers of one material at one size.
#[derive(Clone, Copy)]
pub(crate) struct DepositWork<'a> {
    pub(crate) document: &'a Document,
    pub(crate) size: TextureSize,
    pub(crate) space: BlendSpace,
    /// Nothing is deposited beyond it.
    pub(crate) within: Option<&'a Selection>,
}

impl DepositWork<'_> {
    /// Refuses what can't be deposited before any work is done.
    pub(crate) fn check(self, layer: &Layer, deposit: &Deposit) -> Result<(), DocumentError> {
        let painted = || match &layer.content {
            Content::Painted(_) => Ok(()),
            _ => Err(DocumentError::WrongLayer { layer: layer.id, needs: "painted" }),
        };
        match deposit {
            Deposit::Paint(values) if values.is_empty() => Err(DocumentError::NoChannels),
            Deposit::Erase(channels) if channels.is_empty() => Err(DocumentError::NoChannels),
            Deposit::Paint(values) => {
                painted()?;
                values.iter().try_for_each(|(id, value)| check_value(self.document, *id, *value))
            }
            Deposit::Erase(channels) => {
                painted()?;
                channels.iter().try_for_each(|id| self.document.channel(*id).map(|_| ()))
            }
            Deposit::Mask { at, .. } => painted_term(&mut layer.clone(), *at).map(|_| ()),
            Deposit::Adjust(target, by) => {
                by.check()?;
                self.check_target(layer, target)
            }
            Deposit::Move(target) => self.check_target(layer, target),
        }
    }

    fn check_target(self, layer: &Layer, target: &Target) -> Result<(), DocumentError> {
        match target {
            Target::Mask(at) => painted_term(&mut layer.clone(), *at).map(|_| ()),
            Target::Cells(channels) => self.check(layer, &Deposit::Erase(channels.clone())),
        }
    }

    /// `before` with a deposit in the covered tiles, and as `shown` is in all others. While a stroke goes
    /// on, `before` is the layer at pen down and `shown` what the frame before gave.
    pub(crate) fn deposited(
        self,
        before: &Layer,
        shown: &Layer,
        deposit: &Deposit,
        coverage: &Coverage,
    ) -> Result<Layer, DocumentError> {
        let mut changed = shown.clone();
        let held = self.within.map(|within| coverage.within(within.plane())).transpose()?;
        let coverage = held.as_ref().unwrap_or(coverage);
        match deposit {
            Deposit::Paint(values) => {
                let values: Vec<_> = values.iter().map(|(id, value)| (*id, *value)).collect();
                self.change_cells(before, &mut changed, &values, coverage, cover_cells)?;
            }
            Deposit::Erase(channels) => {
                let there = those_there(before, channels);
                self.change_cells(before, &mut changed, &there, coverage, erase_cells)?;
            }
            Deposit::Adjust(Target::Cells(channels), by) => {
                let there = those_there(before, channels);
                let adjust = |cells: &mut [CellPlanes], coverage: &Coverage| {
                    adjust_cells(cells, coverage, by)
                };
                self.change_cells(before, &mut changed, &there, coverage, adjust)?;
            }
            Deposit::Adjust(Target::Mask(at), by) => {
                let frozen = painted_term(&mut before.clone(), *at)?.clone();
                let plane = painted_term(&mut changed, *at)?;
                take_back(plane, &frozen, coverage);
                adjust_mask(plane, coverage, by)?;
            }
            Deposit::Mask { at, value } => {
                let frozen = painted_term(&mut before.clone(), *at)?.clone();
                let plane = painted_term(&mut changed, *at)?;
                take_back(plane, &frozen, coverage);
                cover_mask(plane, coverage, *value)?;
            }
            // What is moved is not a matter of coverage.
            Deposit::Move(_) => return Err(brush::BrushError::Transport.into()),
        }
        Ok(changed)
    }

    fn change_cells(
        self,
        before: &Layer,
        shown: &mut Layer,
        values: &[(ChannelId, Value)],
        coverage: &Coverage,
        change: impl Fn(&mut [CellPlanes], &Coverage) -> Result<(), PageError>,
    ) -> Result<(), DocumentError> {
        let Content::Painted(frozen) = &before.content else { return Ok(()) };
        let Content::Painted(painted) = &mut shown.content else { return Ok(()) };
        let mut cells = self.planes(frozen, painted, values, coverage)?;
        change(&mut cells, coverage)?;
        for ((channel, _), cell) in values.iter().zip(cells) {
            painted.insert(*channel, PaintedCell { values: cell.values, coverage: cell.coverage });
        }
        Ok(())
    }

    /// The planes of the cells that are changed, covered tiles as they were before. Cells that shared
    /// their coverage then share it here; those that are new share an empty one.
    fn planes(
        self,
        frozen: &BTreeMap<ChannelId, PaintedCell>,
        shown: &BTreeMap<ChannelId, PaintedCell>,
        values: &[(ChannelId, Value)],
        coverage: &Coverage,
    ) -> Result<Vec<CellPlanes>, DocumentError> {
        let nothing = Plane::uniform(self.size.extent(), 0);
        let mut planes: Vec<CellPlanes> = Vec::with_capacity(values.len());
        let mut coverages: Vec<Plane> = Vec::with_capacity(values.len());
        for (id, value) in values {
            let kind = self.document.channel(*id)?.kind;
            let old = frozen.get(id).cloned().unwrap_or_else(|| PaintedCell {
                values: vec![nothing.clone(); kind.components()],
                coverage: nothing.clone(),
            });
            let mut cell = shown.get(id).unwrap_or(&old).clone();
            for (plane, old) in cell.values.iter_mut().zip(&old.values) {
                take_back(plane, old, coverage);
            }
            match coverages.iter().position(|known| known.same(&old.coverage)) {
                Some(shared) => cell.coverage = planes[shared].coverage.clone(),
                None => take_back(&mut cell.coverage, &old.coverage, coverage),
            }
            coverages.push(old.coverage);
            planes.push(CellPlanes {
                values: cell.values,
                coverage: cell.coverage,
                paint: value.components().to_vec(),
                mixing: self.mixing(*id)?,
            });
        }
        Ok(planes)
    }
}

/// Those of the channels that a layer has paint in; their values don't matter.
fn those_there(layer: &Layer, channels: &[ChannelId]) -> Vec<(ChannelId, Value)> {
    let Content::Painted(painted) = &layer.content else { return Vec::new() };
    let there = channels.iter().filter(|id| painted.contains_key(id));
    there.map(|id| (*id, Value::Scalar(0))).collect()
}

/// Puts the covered tiles of `plane` back to what they were.
fn take_back(plane: &mut Plane, before: &Plane, coverage: &Coverage) {
    for (at, _) in &coverage.tiles {
        plane.set_tile(*at, before.tile(*at).clone());
    }
}
