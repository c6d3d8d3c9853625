//! What a layer's cells read in a tile: values, coverage, masks.

use std::array::from_fn;
use std::sync::Arc;

use raster::{Tile, TileAt, TileRead, to_unit};

use super::inputs::{Cover, PlaneNumber};
use super::join::{Join, Weighing};
use super::kernel::Op;
use super::plan::{Memory, Plan, PlanChannel};
use super::precise::Precise;
use super::walk::Walker;
use crate::node::{Node, Reading};
use crate::{Content, Layer, LayersError, Value};

impl Walker {
    /// Adds a layer's cell of one channel to the joins, if it gives anything.
    pub(super) fn gather(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
        layer_mask: &mut Option<Cover>,
    ) -> Result<(), LayersError> {
        let id = channel.descriptor.id;
        let mut weighing = Weighing::of(layer.factor(id));
        let Some(op) = Op::of(layer.cell(id).blend) else { return Ok(()) };
        if weighing.factor == 0.0 || !gives(layer, channel, at) {
            return Ok(());
        }
        self.weigh(plan, layer, channel, at, layer_mask, &mut weighing)?;
        if weighing.factor == 0.0 {
            return Ok(());
        }
        let content = self.content(plan, layer, channel, at)?;
        let Some((values, coverage)) = content else { return Ok(()) };
        // Coverage goes first: what is shared by cells of one stroke is then compared first.
        let masks = std::mem::take(&mut weighing.planes);
        weighing.take(coverage);
        for mask in masks.into_iter().flatten() {
            weighing.take(Cover::Plane(mask));
        }
        if let Some(weight) = weighing.done() {
            let (first, components) = (channel.first, channel.ground.len());
            self.joins.push(Join { op, first, components, values, weight });
        }
        Ok(())
    }

    /// Multiplies a weight by the layer's mask, worked out once for all channels, and the cell's.
    pub(super) fn weigh(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
        layer_mask: &mut Option<Cover>,
        weighing: &mut Weighing,
    ) -> Result<(), LayersError> {
        let fields = plan.composition.fields;
        let [of_layer, of_cell] = layer.masks(channel.descriptor.id);
        let cover = match *layer_mask {
            Some(cover) => cover,
            None => *layer_mask.insert(self.inputs.mask(of_layer, at, fields)?),
        };
        weighing.take(cover);
        weighing.take(self.inputs.mask(of_cell, at, fields)?);
        Ok(())
    }

    /// The first of a cell's value planes, and its coverage; none where nothing is covered.
    fn content(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
    ) -> Result<Option<(PlaneNumber, Cover)>, LayersError> {
        let id = channel.descriptor.id;
        let mut first = None;
        let cover = match &layer.content {
            Content::Painted(cells) => {
                let Some(cell) = cells.get(&id) else { return Ok(None) };
                for plane in &cell.values {
                    let number = self.inputs.push(plane.tile(at).read()?);
                    first.get_or_insert(number);
                }
                match cell.coverage.tile(at).read()? {
                    TileRead::Uniform(value) => Cover::Uniform(to_unit(value)),
                    read @ TileRead::Texels(_) => Cover::Plane(self.inputs.push(read)),
                }
            }
            Content::Solid(values) => {
                for &value in values.get(&id).into_iter().flat_map(Value::components) {
                    let number = self.inputs.push(TileRead::Uniform(value));
                    first.get_or_insert(number);
                }
                Cover::Uniform(1.0)
            }
            Content::Group { children, .. } => {
                return self.isolated(plan, layer, children, channel, at);
            }
        };
        Ok(first.map(|first| (first, cover)))
    }

    /// As [`Walker::content`] for an isolated group.
    fn isolated(
        &mut self,
        plan: &Plan<'_>,
        group: &Layer,
        children: &[Arc<Layer>],
        channel: &PlanChannel<'_>,
        at: TileAt,
    ) -> Result<Option<(PlaneNumber, Cover)>, LayersError> {
        let (id, components) = (channel.descriptor.id, channel.ground.len());
        let reading = Reading { channel: id, at, fields: plan.composition.fields };
        let precise = Precise { components, linear: channel.linear, lanes: plan.lanes };
        let memory = plan.memory.filter(|memory| {
            std::ptr::eq(group, Arc::as_ptr(plan.layers[memory.active])) && !plan.inside.is_empty()
        });
        let known = match memory {
            Some(memory) => Some(self.known_inside(plan, memory, reading, precise)?),
            None => None,
        };
        let below = known.as_ref().map(|known| known.as_slice());
        let kept = if below.is_some() { plan.inside.len() } else { 0 };
        let nodes = reading.nodes(&children[kept..])?;
        if nodes.is_empty() && below.is_none() {
            return Ok(None);
        }
        let uniform = below.is_none_or(|rows| rows.iter().all(|row| row.len() == 1));
        if uniform && nodes.iter().all(Node::is_uniform) {
            let (colour, coverage) = precise.isolated_uniform(below, &nodes);
            let numbers = colour.map(|value| self.inputs.push(TileRead::Uniform(value)));
            return Ok(Some((numbers[0], Cover::Uniform(to_unit(coverage)))));
        }
        let mut blanks: [_; 4] = from_fn(|_| self.inputs.blank());
        precise.isolated(below, &nodes, &mut blanks.each_mut().map(Arc::make_mut));
        let numbers = blanks.map(|blank| self.inputs.push_written(blank));
        Ok(Some((numbers[0], Cover::Plane(numbers[components]))))
    }

    /// What is below the active layer inside its isolated group; worked out where it isn't known.
    fn known_inside(
        &self,
        plan: &Plan<'_>,
        memory: Memory<'_>,
        reading: Reading<'_>,
        precise: Precise,
    ) -> Result<Arc<Vec<Vec<f32>>>, LayersError> {
        let Memory { cache, ticket, .. } = memory;
        let key = (reading.channel, reading.at);
        if let Some(known) = cache.inside(ticket, key, &self.fields) {
            return Ok(known);
        }
        let inside = Arc::new(precise.keep_inside(&reading.nodes(plan.inside)?));
        cache.keep_inside(ticket, key, &self.fields, Arc::clone(&inside));
        Ok(inside)
    }
}

/// True when the layer may give the channel anything in this tile.
fn gives(layer: &Layer, channel: &PlanChannel<'_>, at: TileAt) -> bool {
    let id = channel.descriptor.id;
    match &layer.content {
        Content::Painted(cells) => {
            cells.get(&id).is_some_and(|cell| !matches!(cell.coverage.tile(at), Tile::Uniform(0)))
        }
        Content::Solid(values) => values.contains_key(&id),
        Content::Group { .. } => true,
    }
}
