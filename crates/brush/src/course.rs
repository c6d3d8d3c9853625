//! The path and the dabs of a stroke that is under way: what is certain, and what would follow if the pen
//! were lifted now.

use crate::dab::{Ground, PathStep, Placer};
use crate::frame::NewDabs;
use crate::trace::{Further, Trace, View, add_to_runs};
use crate::{BrushError, BrushSettings, PenSample, Smoothing};

/// See the module.
#[derive(Debug)]
pub(crate) struct Course<P, D> {
    trace: Trace<P>,
    placer: Placer<P>,
    samples: usize,
    runs: Vec<Vec<P>>,
    /// Dabs that are certain and not handed out yet.
    fresh: Vec<D>,
    /// Dabs that were handed out last.
    handed: Vec<D>,
    handed_before: usize,
    provisional: Vec<D>,
    /// Points on their way from the trace to the placer.
    points: Vec<Further<P>>,
}

impl<P: PathStep, D> Course<P, D> {
    pub(crate) fn new(smoothing: Smoothing, seed: u64, view: &impl View<Point = P>) -> Self {
        Self {
            trace: Trace::new(smoothing, view),
            placer: Placer::new(seed),
            samples: 0,
            runs: Vec::new(),
            fresh: Vec::new(),
            handed: Vec::new(),
            handed_before: 0,
            provisional: Vec::new(),
            points: Vec::new(),
        }
    }

    /// Goes on with more samples; stays as it was where that fails.
    pub(crate) fn extend(
        &mut self,
        samples: &[PenSample],
        view: &impl View<Point = P>,
        ground: &impl Ground<Point = P, Dab = D>,
        brush: &BrushSettings,
    ) -> Result<(), BrushError> {
        if let Some(index) = samples.iter().position(|sample| !sample.is_finite()) {
            return Err(BrushError::NotFinite { index: self.samples + index });
        }
        let mut trace = self.trace;
        self.points.clear();
        for sample in samples {
            trace.push(sample, view, &mut |further| self.points.push(further));
        }
        let (mut placer, before) = (self.placer, self.fresh.len());
        for &point in &self.points {
            let placed = placer.place(point, brush, ground, &mut self.fresh);
            placed.inspect_err(|_| self.fresh.truncate(before))?;
        }
        (self.trace, self.placer) = (trace, placer);
        self.samples += samples.len();
        self.points.drain(..).for_each(|further| add_to_runs(&mut self.runs, further));
        Ok(())
    }

    /// The dabs that became certain since the last call, and those that would follow them now.
    pub(crate) fn new_dabs(
        &mut self,
        view: &impl View<Point = P>,
        ground: &impl Ground<Point = P, Dab = D>,
        brush: &BrushSettings,
    ) -> Result<NewDabs<'_, D>, BrushError> {
        self.provisional.clear();
        self.points.clear();
        self.trace.finish(view, &mut |further| self.points.push(further));
        let mut placer = self.placer;
        for &point in &self.points {
            placer.place(point, brush, ground, &mut self.provisional)?;
        }
        placer.end(brush, ground, &mut self.provisional);
        self.handed_before += self.handed.len();
        self.handed.clear();
        std::mem::swap(&mut self.handed, &mut self.fresh);
        Ok(NewDabs { certain: &self.handed, provisional: &self.provisional })
    }

    /// Ends the path; gives its runs, and the dabs that were not handed out yet.
    pub(crate) fn finish(
        mut self,
        view: &impl View<Point = P>,
        ground: &impl Ground<Point = P, Dab = D>,
        brush: &BrushSettings,
    ) -> Result<(Vec<Vec<P>>, Vec<D>), BrushError> {
        self.points.clear();
        self.trace.finish(view, &mut |further| self.points.push(further));
        for point in self.points.drain(..) {
            self.placer.place(point, brush, ground, &mut self.fresh)?;
            add_to_runs(&mut self.runs, point);
        }
        self.placer.end(brush, ground, &mut self.fresh);
        if self.runs.is_empty() {
            return Err(BrushError::EmptyPath);
        }
        Ok((self.runs, self.fresh))
    }

    /// How many dabs are certain.
    pub(crate) fn dabs(&self) -> usize {
        self.handed_before + self.handed.len() + self.fresh.len()
    }

    /// Bytes of memory that it takes.
    pub(crate) fn bytes(&self) -> usize {
        let points: usize = self.runs.iter().map(Vec::capacity).sum();
        let dabs = self.fresh.capacity() + self.handed.capacity() + self.provisional.capacity();
        points * size_of::<P>() + dabs * size_of::<D>()
    }
}
