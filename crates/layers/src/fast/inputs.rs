//! What one layer reads in one tile: planes by number, masks worked out, nothing allocated twice.

use std::sync::Arc;

use raster::{Lanes, TILE_TEXELS, Texels, TileAt, TileRead, from_unit, to_unit};

use super::kernel::Source;
use crate::{Combine, Fields, LayersError, Mask, MaskSource, Opacity};

/// A plane of [`Inputs`].
pub(super) type PlaneNumber = usize;

/// The planes that a layer reads.
#[derive(Debug)]
pub(super) struct Inputs {
    reads: Vec<TileRead>,
    /// Planes to write what is worked out, lent to `reads` until it is cleared.
    spare: Vec<Arc<Texels>>,
    lent: Vec<Arc<Texels>>,
    mask: Vec<f32>,
    source: Vec<f32>,
}

/// What a mask comes to in a tile.
#[derive(Debug, Clone, Copy)]
pub(super) enum Cover {
    Uniform(f32),
    Plane(PlaneNumber),
}

impl Inputs {
    pub(super) fn new() -> Self {
        Self {
            reads: Vec::new(),
            spare: Vec::new(),
            lent: Vec::new(),
            mask: vec![0.0; TILE_TEXELS],
            source: vec![0.0; TILE_TEXELS],
        }
    }

    pub(super) fn clear(&mut self) {
        self.reads.clear();
        self.spare.append(&mut self.lent);
    }

    pub(super) fn push(&mut self, read: TileRead) -> PlaneNumber {
        self.reads.push(read);
        self.reads.len() - 1
    }

    /// A plane that nobody reads yet.
    pub(super) fn blank(&mut self) -> Arc<Texels> {
        self.spare.pop().unwrap_or_else(|| Arc::new([0; TILE_TEXELS]))
    }

    /// Takes a plane from [`Inputs::blank`] that has been written.
    pub(super) fn push_written(&mut self, texels: Arc<Texels>) -> PlaneNumber {
        let number = self.push(TileRead::Texels(Arc::clone(&texels)));
        self.lent.push(texels);
        number
    }

    pub(super) fn source(&self, number: PlaneNumber) -> Source<'_> {
        match &self.reads[number] {
            TileRead::Uniform(value) => Source::Uniform(*value),
            TileRead::Texels(texels) => Source::Texels(texels),
        }
    }

    /// True when both are one plane.
    pub(super) fn same(&self, a: PlaneNumber, b: PlaneNumber) -> bool {
        match (&self.reads[a], &self.reads[b]) {
            (TileRead::Uniform(a), TileRead::Uniform(b)) => a == b,
            (TileRead::Texels(a), TileRead::Texels(b)) => Arc::ptr_eq(a, b),
            _ => false,
        }
    }

    /// Works a mask out.
    pub(super) fn mask(
        &mut self,
        mask: &Mask,
        at: TileAt,
        fields: &dyn Fields,
    ) -> Result<Cover, LayersError> {
        if let Some(value) = mask.uniform(at, fields)? {
            return Ok(Cover::Uniform(value));
        }
        if let Some(read) = as_painted(mask, at, fields)? {
            return Ok(Cover::Plane(self.push(read)));
        }
        self.mask.fill(1.0);
        let lanes = Lanes::widest();
        for term in mask.acting() {
            let source = &mut self.source;
            match term.tile(at, fields)?.read()? {
                TileRead::Uniform(stored) => source.fill(to_unit(stored)),
                TileRead::Texels(texels) => lanes.run(|| {
                    for (to, &stored) in source.iter_mut().zip(texels.iter()) {
                        *to = to_unit(stored);
                    }
                }),
            }
            term.apply(&mut self.mask, source, lanes);
        }
        let mut blank = self.blank();
        let texels = Arc::make_mut(&mut blank);
        lanes.run(|| {
            for (texel, &value) in texels.iter_mut().zip(&self.mask) {
                *texel = from_unit(value);
            }
        });
        Ok(Cover::Plane(self.push_written(blank)))
    }
}

/// The texels of a mask that is one painted plane and no more.
fn as_painted(
    mask: &Mask,
    at: TileAt,
    fields: &dyn Fields,
) -> Result<Option<TileRead>, LayersError> {
    let mut terms = mask.acting();
    let (Some(term), None) = (terms.next(), terms.next()) else { return Ok(None) };
    let plain = term.strength == Opacity::FULL
        && !term.invert
        && matches!(term.source, MaskSource::Painted(_))
        && matches!(term.combine, Combine::Multiply | Combine::Darken | Combine::Replace);
    Ok(if plain { Some(term.tile(at, fields)?.read()?) } else { None })
}
