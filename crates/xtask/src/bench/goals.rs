//! What is to be reached, as ratios of figures of one run. Names are those that benches and peers print.

use Bound::{AtLeast, AtMost};

/// What a ratio must be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Bound {
    /// This or more.
    AtLeast(f64),
    /// This or less.
    AtMost(f64),
    /// Shown for comparison only.
    None,
}

/// One line of the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Goal {
    /// What the table calls it.
    pub(crate) work: &'static str,
    /// The figure that is ours.
    pub(crate) ours: &'static str,
    /// The figure that it is divided by; without one the goal is for the figure itself.
    pub(crate) against: Option<&'static str>,
    /// What the ratio must be.
    pub(crate) bound: Bound,
}

/// How much a curve's dearest point may cost beyond its cheapest.
pub(crate) const FLAT: f64 = 1.2;

const FIVE_VALUES: &str = "compositor five values, coverage, mask: one thread";
const STAMPS: [&str; 3] = [
    "plane 4096, radius 32, 1 threads, warm",
    "plane 4096, radius 128, 1 threads, warm",
    "plane 4096, radius 512, 1 threads, warm",
];

/// All goals, in the table's order.
pub(crate) const GOALS: [Goal; 33] = [
    // 10 layers of 4096 x 4096, 16-bit, one thread.
    ratio("over : Skia", "compositor over", "Skia over", AtLeast(0.95)),
    ratio("multiply : OpenCV", "compositor multiply", "OpenCV multiply", AtLeast(2.0)),
    ratio("  in strips", "compositor multiply", "OpenCV multiply, in strips", Bound::None),
    ratio("multiply : Skia", "compositor multiply", "Skia multiply", Bound::None),
    ratio("overlay : Skia", "compositor overlay", "Skia overlay", AtLeast(3.0)),
    ratio("soft-light : tiny-skia", "compositor soft-light", "tiny-skia soft-light", AtLeast(3.0)),
    ratio("soft-light : Skia", "compositor soft-light", "Skia soft-light", Bound::None),
    // Bytes read.
    ratio("five values, mask : read rate", FIVE_VALUES, "memory read, one thread", AtLeast(0.55)),
    ratio(
        "  two threads : one",
        "compositor five values, coverage, mask: two threads",
        FIVE_VALUES,
        AtLeast(1.7),
    ),
    // A warm deposit stroke on a flat model beside flat stamps, one thread.
    ratio("dabs, radius 32 : Skia stamp", STAMPS[0], "Skia stamp, radius 32", AtLeast(1.3)),
    ratio("dabs, radius 128 : Skia stamp", STAMPS[1], "Skia stamp, radius 128", AtLeast(1.3)),
    ratio("dabs, radius 512 : Skia stamp", STAMPS[2], "Skia stamp, radius 512", AtLeast(1.3)),
    ratio("dabs, radius 32 : gradient", STAMPS[0], "Skia gradient, radius 32", AtLeast(10.0)),
    ratio("dabs, radius 128 : gradient", STAMPS[1], "Skia gradient, radius 128", AtLeast(10.0)),
    ratio("dabs, radius 512 : gradient", STAMPS[2], "Skia gradient, radius 512", AtLeast(10.0)),
    // A dab of 250 texels radius, 4096 x 4096, a stack of 10 with 5 above: sample to composited display
    // texels, in ms.
    value("dab to display, p50", "dab to display, p50", AtMost(3.0)),
    value("dab to display, p99", "dab to display, p99", AtMost(8.0)),
    // 40 layers at 4096 x 4096, in ms: all thumbnails of a layer table, one, the values under the pointer.
    value("thumbnails, 40 layers x 4", "thumbnails, 40 layers x 4", AtMost(1000.0)),
    value("  one of colour", "thumbnail of a colour cell", AtMost(10.0)),
    value("values of a texel", "values of a texel, 40 layers", AtMost(0.5)),
    // The same in the whole window of 1920 x 1080 with 500k triangles: sample to submitted frame, in ms.
    value(
        "window frame, p50",
        "sample to submitted frame, radius 32, there again, p50",
        Bound::None,
    ),
    value(
        "window frame, p95",
        "sample to submitted frame, radius 32, there again, p95",
        AtMost(8.0),
    ),
    value(
        "window frame, p99",
        "sample to submitted frame, radius 32, there again, p99",
        Bound::None,
    ),
    // A long background job beside the stroke may slow it by a quarter.
    ratio(
        "  p99 beside a job : alone",
        "dab to display beside a job, p99",
        "dab to display, p99",
        AtMost(1.25),
    ),
    // In s.
    value("texel map of 500k at 4096", "texel map, 4096, 500k triangles", AtMost(0.3)),
    ratio(
        "OBJ, a million triangles : tobj",
        "OBJ of a million triangles",
        "tobj, a million triangles",
        AtMost(1.5),
    ),
    ratio(
        "OBJ, 500k quads : tobj",
        "OBJ of half a million quads",
        "tobj, half a million quads",
        AtMost(1.5),
    ),
    // Until it is on disk, in ms, beside as many bytes in a plain file that is synced.
    value("stroke of 200 tiles kept, p99", "project, stroke of 200 tiles, p99", AtMost(50.0)),
    ratio(
        "  p50 : plain file",
        "project, stroke of 200 tiles, p50",
        "plain file, stroke of 200 tiles, p50",
        Bound::None,
    ),
    value("stroke of 4 tiles kept, p99", "project, stroke of 4 tiles, p99", AtMost(10.0)),
    ratio("open : read of the file", "project, open", "plain file, read", Bound::None),
    // 100,000 small strokes: what the ledger counts at most, and how much slower the last are, in %.
    ratio("soak, memory : budget", "soak, memory counted", "soak, memory budget", AtMost(1.0)),
    value("soak, speed drift", "soak, speed drift", AtMost(5.0)),
];

const fn ratio(
    work: &'static str,
    ours: &'static str,
    against: &'static str,
    bound: Bound,
) -> Goal {
    Goal { work, ours, against: Some(against), bound }
}

const fn value(work: &'static str, ours: &'static str, bound: Bound) -> Goal {
    Goal { work, ours, against: None, bound }
}

impl Bound {
    /// True where it holds; nothing where there is none.
    pub(crate) fn holds(self, value: f64) -> Option<bool> {
        match self {
            AtLeast(bound) => Some(value >= bound),
            AtMost(bound) => Some(value <= bound),
            Self::None => None,
        }
    }
}
