//! Strokes that move paint: the planes of a layer that they move, and the layer that this makes.

use brush::{CellPlanes, Mirror, Mixing, MovedTile, mirror_cells, put_moved};
use layers::{BlendSpace, ChannelId, ChannelKind, Content, Layer, PaintedCell};
use raster::{Observer, Plane};
use surface::{Surface, TexelMap};

use crate::apply_layer::painted_term;
use crate::deposit::DepositWork;
use crate::{Deposit, DocumentError, Selection, Target};

impl DepositWork<'_> {
    /// What values of a channel mix in.
    pub(crate) fn mixing(self, channel: ChannelId) -> Result<Mixing, DocumentError> {
        let is_colour = self.document.channel(channel)?.kind == ChannelKind::Colour;
        let linear = is_colour && self.space == BlendSpace::Linear;
        Ok(if linear { Mixing::LinearLight } else { Mixing::Stored })
    }

    /// The planes that a stroke moves. A mask is a plane of values that is fully covered. Cells that have no paint
    /// are left.
    pub(crate) fn planes_to_move(
        self,
        layer: &Layer,
        target: &Target,
    ) -> Result<Vec<CellPlanes>, DocumentError> {
        match target {
            Target::Mask(at) => Ok(vec![CellPlanes {
                values: vec![painted_term(&mut layer.clone(), *at)?.clone()],
                coverage: Plane::uniform(self.size.extent(), u16::MAX),
                paint: Vec::new(),
                mixing: Mixing::Stored,
            }]),
            Target::Cells(channels) => {
                let Content::Painted(painted) = &layer.content else { return Ok(Vec::new()) };
                let there = channels.iter().filter_map(|id| Some((*id, painted.get(id)?)));
                let planes = there.map(|(channel, cell)| {
                    Ok(CellPlanes {
                        values: cell.values.clone(),
                        coverage: cell.coverage.clone(),
                        paint: Vec::new(),
                        mixing: self.mixing(channel)?,
                    })
                });
                planes.collect()
            }
        }
    }

    /// The layer with what is fetched from across a plane: the paint of those of these cells that have any, or a mask.
    pub(crate) fn mirrored(
        self,
        layer: &Layer,
        target: &Target,
        mirror: &Mirror,
        ground: (&Surface, &TexelMap),
        observer: &dyn Observer,
    ) -> Result<Layer, DocumentError> {
        self.check(layer, &Deposit::Move(target.clone()))?;
        let mut planes = self.planes_to_move(layer, target)?;
        if let Target::Mask(_) = target {
            // What is moved away from a mask leaves nothing, as coverage does.
            planes.iter_mut().for_each(values_as_coverage);
        }
        mirror_cells(&mut planes, mirror, self.within.map(Selection::plane), ground, observer)?;
        if let Target::Mask(_) = target {
            planes.iter_mut().for_each(coverage_as_values);
        }
        with_moved(layer, target, planes)
    }

    /// The layer with tiles that were moved.
    pub(crate) fn with_moved_tiles(
        self,
        layer: &Layer,
        target: &Target,
        moved: &[MovedTile],
    ) -> Result<Layer, DocumentError> {
        let mut planes = self.planes_to_move(layer, target)?;
        put_moved(&mut planes, moved);
        with_moved(layer, target, planes)
    }
}

fn values_as_coverage(mask: &mut CellPlanes) {
    if let Some(values) = mask.values.pop() {
        mask.coverage = values;
    }
}

fn coverage_as_values(mask: &mut CellPlanes) {
    mask.values.push(mask.coverage.clone());
}

/// The layer with planes that were moved.
pub(crate) fn with_moved(
    layer: &Layer,
    target: &Target,
    planes: Vec<CellPlanes>,
) -> Result<Layer, DocumentError> {
    let mut changed = layer.clone();
    match target {
        Target::Mask(at) => {
            let moved = planes.into_iter().flat_map(|cell| cell.values).next();
            if let Some(moved) = moved {
                *painted_term(&mut changed, *at)? = moved;
            }
        }
        Target::Cells(channels) => {
            if let Content::Painted(painted) = &mut changed.content {
                let there: Vec<_> =
                    channels.iter().filter(|id| painted.contains_key(id)).copied().collect();
                for (channel, cell) in there.into_iter().zip(planes) {
                    let (values, coverage) = (cell.values, cell.coverage);
                    painted.insert(channel, PaintedCell { values, coverage });
                }
            }
        }
    }
    Ok(changed)
}
