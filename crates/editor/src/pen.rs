//! The pen: a stroke from its first sample to the edit that it becomes.
//!
//! Samples are taken as they come and cost little; once a frame the stroke is stamped as far as it has
//! come, and the tiles that changed are painted into the document that is shown. The history has nothing
//! of it until the pen is lifted.

use std::sync::Arc;

use brush::{BrushError, LiveStroke, PenSample, StrokeBuffers, StrokeStart};
use document::{Deposit, Document, DocumentError, MaterialId, Painting};
use layers::LayerId;
use raster::{Observer, TileAt};

use crate::{Editor, EditorError};

/// What a stroke is painted on, and with what.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeTarget {
    /// The material.
    pub material: MaterialId,
    /// The layer.
    pub layer: LayerId,
    /// The cells or the mask term, and what they get.
    pub deposit: Deposit,
}

/// The pen's state.
#[derive(Debug, Default)]
pub(crate) struct Pen {
    wet: Option<Wet>,
    /// Left by the last stroke, so that the next begins without allocating.
    buffers: StrokeBuffers,
}

impl Pen {
    /// Bytes of memory that the stroke's buffers take, whether it goes on or not.
    pub(crate) fn bytes(&self) -> usize {
        self.wet.as_ref().map_or(0, |wet| wet.live.bytes()) + self.buffers.bytes()
    }
}

/// A stroke that goes on.
#[derive(Debug)]
struct Wet {
    live: LiveStroke,
    painting: Painting,
}

impl Editor {
    /// Pen down. Makes the surface and the texel map where they are missing.
    ///
    /// # Errors
    /// [`EditorError::PenDown`] while another stroke goes on, [`EditorError::Document`] for a target that
    /// can't be painted or a part that the model doesn't have, [`EditorError::Brush`] for settings out of range.
    pub fn begin_stroke(
        &mut self,
        target: &StrokeTarget,
        start: &StrokeStart,
        observer: &dyn Observer,
    ) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        self.drop_preview();
        let StrokeTarget { material, layer, deposit } = target;
        let painting = Painting::begin(self.document(), *material, *layer, deposit.clone())?;
        start.check()?;
        let parts = self.document().model()?.mesh().parts().len();
        if let Some(part) = start.left_out.highest().filter(|part| part.0 as usize >= parts) {
            return Err(DocumentError::NoPart(part.0).into());
        }
        let tiles = self.decoded_tiles(*material, observer)?;
        let buffers = std::mem::take(&mut self.pen.buffers);
        let (planes, within) = (painting.planes_to_move()?, painting.within()?);
        let live = self.pools.interactive(|| match planes {
            Some(planes) => LiveStroke::begin_moving(start, tiles, (planes, within), buffers),
            None => LiveStroke::begin(start, tiles, buffers),
        })?;
        self.pen.wet = Some(Wet { live, painting });
        let middle = self.document().material(*material)?.size.edge() / 2;
        self.make_ready(*material, *layer, TileAt::of_texel(middle, middle))
    }

    /// Takes the samples that came since the last call. Nothing is painted before the next frame.
    ///
    /// # Errors
    /// [`EditorError::PenUp`] where no stroke goes on; [`EditorError::Brush`] for a sample that is not
    /// finite: the stroke goes on without it.
    pub fn extend_stroke(&mut self, samples: &[PenSample]) -> Result<(), EditorError> {
        let Self { pen, pools, .. } = self;
        let wet = pen.wet.as_mut().ok_or(EditorError::PenUp)?;
        Ok(pools.interactive(|| wet.live.extend(samples))?)
    }

    /// Brings [`Editor::shown`] up to the last sample. Once a frame is enough.
    ///
    /// # Errors
    /// [`EditorError::PenUp`] where no stroke goes on; where a tile can't be read, or there are too many
    /// dabs: what is shown then stays as it was, and the stroke can still be ended or taken back.
    pub fn stroke_frame(&mut self) -> Result<(), EditorError> {
        let Self { pen, pools, .. } = self;
        let wet = pen.wet.as_mut().ok_or(EditorError::PenUp)?;
        pools.interactive(|| {
            let changed = wet.live.changed()?;
            if !changed.covered.tiles.is_empty() {
                wet.painting.cover(changed.covered)?;
            }
            if !changed.moved.is_empty() {
                wet.painting.take_moved(changed.moved)?;
            }
            Ok(())
        })
    }

    /// Pen up: the stroke becomes one edit. False where the pen met nothing: then there is none.
    ///
    /// # Errors
    /// As [`Editor::stroke_frame`]; [`DocumentError::OutsideSelection`] where the selection lets nothing of it through,
    /// [`DocumentError::OutsideStencil`] where its stencil does.
    /// The stroke is then taken back.
    pub fn end_stroke(&mut self) -> Result<bool, EditorError> {
        let Wet { live, mut painting } = self.pen.wet.take().ok_or(EditorError::PenUp)?;
        let finished = match self.pools.interactive(|| live.finish()) {
            Ok(finished) => finished,
            Err(BrushError::EmptyPath) => return Ok(false),
            Err(error) => return Err(error.into()),
        };
        self.pen.buffers = finished.buffers;
        if self.pools.interactive(|| painting.is_held_back(&finished.coverage))? {
            return Err(DocumentError::OutsideSelection.into());
        }
        if !finished.changes && finished.stroke.stencil.is_some() {
            return Err(DocumentError::OutsideStencil.into());
        }
        if !finished.changes && finished.stroke.kind.is_transport() && painting.within()?.is_some()
        {
            return Err(DocumentError::OutsideSelection.into());
        }
        self.pools.interactive(|| {
            painting.cover(&finished.covered)?;
            painting.take_moved(&finished.moved)
        })?;
        let (made, edit) = painting.finish(finished.stroke)?;
        self.push(made, &edit);
        Ok(true)
    }

    /// Takes the stroke that goes on back; false where there is none.
    pub fn cancel_stroke(&mut self) -> bool {
        let Some(wet) = self.pen.wet.take() else { return false };
        self.pen.buffers = wet.live.cancel();
        true
    }

    /// What to show: the present document, with the stroke that goes on or the edit that is tried out.
    pub fn shown(&self) -> &Document {
        match (&self.pen.wet, &self.preview) {
            (Some(wet), _) => wet.painting.shown(),
            (None, Some(preview)) => &preview.made,
            (None, None) => self.document(),
        }
    }

    /// True from pen down to pen up.
    pub fn is_pen_down(&self) -> bool {
        self.pen.wet.is_some()
    }

    pub(crate) fn check_pen_is_up(&self) -> Result<(), EditorError> {
        if self.pen.wet.is_some() { Err(EditorError::PenDown) } else { Ok(()) }
    }

    fn decoded_tiles(
        &self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<surface::DecodedTiles>, EditorError> {
        let size = self.document().material(material)?.size;
        let model = self.document().model()?;
        let made = self
            .pools
            .interactive(|| self.derived.decoded_tiles(model, material.slot(), size, observer))?;
        Ok(made)
    }
}
