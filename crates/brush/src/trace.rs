//! From pen samples to path points, as they come: steadied, evenly spaced, and looked up on what is
//! painted.
//!
//! A gesture that is known as a whole goes through the same steps, so it gives the same path however its
//! samples were handed over.

use crate::smoothing::Hand;
use crate::spacing::Even;
use crate::{PenSample, ScreenPoint, Smoothing};

/// What the pen is moved over.
pub(crate) trait View {
    /// A point of the path.
    type Point: Copy;

    /// What lies under a point of the screen, if anything.
    fn look_up(&self, point: ScreenPoint) -> Option<Self::Point>;

    /// True where the path must not run on from one point to the next.
    fn breaks(&self, before: &Self::Point, next: &Self::Point) -> bool;

    /// The distance between points of the path on the screen.
    fn step_px(&self) -> f64;
}

/// The path is drawn a point further.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Further<P> {
    /// Another run begins.
    Begin(P),
    /// The run goes on.
    Extend(P),
}

/// All that the next point of a path depends on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Trace<P> {
    hand: Hand,
    even: Even,
    before: Option<P>,
}

impl<P: Copy> Trace<P> {
    pub(crate) fn new(smoothing: Smoothing, view: &impl View<Point = P>) -> Self {
        Self { hand: Hand::new(smoothing), even: Even::new(view.step_px()), before: None }
    }

    /// Takes the next sample; gives the points that are certain now.
    pub(crate) fn push(
        &mut self,
        sample: &PenSample,
        view: &impl View<Point = P>,
        further: &mut impl FnMut(Further<P>),
    ) {
        let steadied = self.hand.steadied(sample);
        let before = &mut self.before;
        self.even.push(steadied, &mut |point| draw(before, point, view, further));
    }

    /// Gives the points that remain when the pen is lifted now.
    pub(crate) fn finish(
        mut self,
        view: &impl View<Point = P>,
        further: &mut impl FnMut(Further<P>),
    ) {
        let before = &mut self.before;
        if let Some(end) = self.hand.caught_up() {
            self.even.push(end, &mut |point| draw(before, point, view, further));
        }
        self.even.finish(&mut |point| draw(before, point, view, further));
    }
}

fn draw<V: View>(
    before: &mut Option<V::Point>,
    point: ScreenPoint,
    view: &V,
    further: &mut impl FnMut(Further<V::Point>),
) {
    let found = view.look_up(point);
    if let Some(next) = found {
        let goes_on = before.is_some_and(|before| !view.breaks(&before, &next));
        further(if goes_on { Further::Extend(next) } else { Further::Begin(next) });
    }
    *before = found;
}

/// Draws a run, or a run's next point.
pub(crate) fn add_to_runs<P>(runs: &mut Vec<Vec<P>>, further: Further<P>) {
    match (further, runs.last_mut()) {
        (Further::Extend(point), Some(run)) => run.push(point),
        (Further::Begin(point) | Further::Extend(point), _) => runs.push(vec![point]),
    }
}
