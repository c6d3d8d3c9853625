//! Masks: 0..1 over the surface, a list of terms combined in order.
//!
//! A mask is data: linear, never sRGB. An empty list is 1 everywhere. A mask reads texels of its own
//! and fields, never a cell: so no mask can depend on itself.

use raster::{Lanes, Plane, Tile, TileAt, Work, to_unit};

use crate::{LayersError, Opacity};

/// Names a term within its mask.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TermId(pub u32);

/// A factor over the surface.
#[derive(Debug, Clone, Default)]
pub struct Mask {
    /// Combined in this order, the first with 1. None: 1 everywhere.
    pub terms: Vec<MaskTerm>,
}

impl Mask {
    /// The terms that change anything.
    pub(crate) fn acting(&self) -> impl Iterator<Item = &MaskTerm> {
        self.terms.iter().filter(|term| term.on && term.strength > Opacity::NONE)
    }

    /// The mask's value over a tile where all that it reads is uniform; else `None`.
    pub(crate) fn uniform(
        &self,
        at: TileAt,
        fields: &dyn Fields,
    ) -> Result<Option<f32>, LayersError> {
        let mut value = [1.0];
        for term in self.acting() {
            let Tile::Uniform(stored) = term.tile(at, fields)? else { return Ok(None) };
            term.apply(&mut value, &mut [to_unit(stored)], Lanes::PORTABLE);
        }
        Ok(Some(value[0]))
    }
}

/// One step of a mask: `mask = lerp(mask, combine(mask, source), strength)`.
#[derive(Debug, Clone)]
pub struct MaskTerm {
    /// Its name within the mask.
    pub id: TermId,
    /// A term that is off is passed over.
    pub on: bool,
    /// Take 1 - source.
    pub invert: bool,
    /// How much of the step is taken; 0 changes nothing.
    pub strength: Opacity,
    /// How the source joins what the terms before gave.
    pub combine: Combine,
    /// What is combined.
    pub source: MaskSource,
}

/// Where a term's values come from.
#[derive(Debug, Clone)]
pub enum MaskSource {
    /// Painted texels.
    Painted(Plane),
    /// Computed from a field.
    Field(FieldExpr),
}

impl MaskTerm {
    /// The tile that the term reads.
    pub(crate) fn tile(&self, at: TileAt, fields: &dyn Fields) -> Result<Tile, LayersError> {
        match &self.source {
            MaskSource::Painted(plane) => Ok(plane.tile(at).clone()),
            MaskSource::Field(expr) => {
                fields.tile(expr.field, at)?.ok_or(LayersError::FieldMissing(expr.field))
            }
        }
    }

    /// Takes the step over a run of texels. `source` holds what [`MaskTerm::tile`] gave, as 0..1, and
    /// is used up.
    pub(crate) fn apply(&self, mask: &mut [f32], source: &mut [f32], lanes: Lanes) {
        lanes.run(TermStep { term: self, mask, source });
    }
}

/// See [`MaskTerm::apply`].
struct TermStep<'a> {
    term: &'a MaskTerm,
    mask: &'a mut [f32],
    source: &'a mut [f32],
}

impl Work for TermStep<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        let Self { term, mask, source } = self;
        if let MaskSource::Field(FieldExpr { low, high, .. }) = term.source {
            each(source, |field| ((field - low) / (high - low)).clamp(0.0, 1.0));
        }
        if term.invert {
            each(source, |value| 1.0 - value);
        }
        let strength = term.strength.get();
        match term.combine {
            Combine::Multiply => step(mask, source, strength, |before, value| before * value),
            Combine::Add => step(mask, source, strength, |before, value| (before + value).min(1.0)),
            Combine::Subtract => {
                step(mask, source, strength, |before, value| (before - value).max(0.0));
            }
            Combine::Lighten => step(mask, source, strength, f32::max),
            Combine::Darken => step(mask, source, strength, f32::min),
            Combine::Replace => step(mask, source, strength, |_, value| value),
        }
    }
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn each(values: &mut [f32], change: impl Fn(f32) -> f32) {
    for value in values {
        *value = change(*value);
    }
}

/// `lerp(mask, combine(mask, source), strength)`, exact at strength 0 and 1.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn step(mask: &mut [f32], source: &[f32], strength: f32, combine: impl Fn(f32, f32) -> f32) {
    for (before, &value) in mask.iter_mut().zip(source) {
        *before = *before * (1.0 - strength) + combine(*before, value) * strength;
    }
}

/// How a term joins the terms before it. Results are clamped to 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Combine {
    /// before x source.
    Multiply,
    /// before + source.
    Add,
    /// before - source.
    Subtract,
    /// The greater.
    Lighten,
    /// The lesser.
    Darken,
    /// The source alone.
    Replace,
}

/// A scalar over the surface, 0..1 in its tiles; computed outside of this crate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FieldId {
    /// Share of the sky that a point sees: 1 is open.
    Occlusion,
    /// 0.5 is flat, above is a ridge, below is a hollow.
    Curvature,
    /// Thin is 0.
    Thickness,
    /// Height along the part's own axis.
    Elevation,
    /// How far the surface turns from the part's own axis.
    Slope,
    /// Distance to the nearest sharp edge.
    EdgeDistance,
    /// Noise in the part's rest position.
    Noise,
}

impl FieldId {
    /// Every field.
    pub const ALL: [Self; 7] = [
        Self::Occlusion,
        Self::Curvature,
        Self::Thickness,
        Self::Elevation,
        Self::Slope,
        Self::EdgeDistance,
        Self::Noise,
    ];

    /// The field's name in files and messages.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Occlusion => "occlusion",
            Self::Curvature => "curvature",
            Self::Thickness => "thickness",
            Self::Elevation => "elevation",
            Self::Slope => "slope",
            Self::EdgeDistance => "edge-distance",
            Self::Noise => "noise",
        }
    }

    /// The field with this name.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|field| field.key() == key)
    }
}

/// A field through levels: `clamp((field - low) / (high - low))`. With `low` above `high` it falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldExpr {
    /// The field.
    pub field: FieldId,
    /// The field's value that gives 0.
    pub low: f32,
    /// The field's value that gives 1.
    pub high: f32,
}

impl FieldExpr {
    /// # Errors
    /// [`LayersError::Levels`] when the levels are equal or not finite.
    pub fn new(field: FieldId, low: f32, high: f32) -> Result<Self, LayersError> {
        let expr = Self { field, low, high };
        expr.check()?;
        Ok(expr)
    }

    /// # Errors
    /// [`LayersError::Levels`] when the levels are equal, not finite, or so far apart that their
    /// difference is not.
    pub fn check(&self) -> Result<(), LayersError> {
        let Self { low, high, .. } = *self;
        if (high - low).is_finite() && low != high {
            Ok(())
        } else {
            Err(LayersError::Levels { low, high })
        }
    }
}

/// Fields, handed in tile by tile. The identity of a tile must stay while its values do: that is how
/// the compositor learns what changed.
pub trait Fields: Sync {
    /// A field's tile; `None` where the field is not baked.
    ///
    /// # Errors
    /// [`LayersError`] when the tile can't be had.
    fn tile(&self, field: FieldId, at: TileAt) -> Result<Option<Tile>, LayersError>;
}

/// No field is baked.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFields;

impl Fields for NoFields {
    fn tile(&self, _field: FieldId, _at: TileAt) -> Result<Option<Tile>, LayersError> {
        Ok(None)
    }
}
