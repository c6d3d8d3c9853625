//! Finds the tiles of a texel map that a ball touches, without looking at all of them.
//!
//! Each level halves the grid of tiles: a box there holds the boxes of four tiles or boxes below. Tiles that
//! are neighbours in a layout mostly are neighbours on the surface.

use glam::DVec3;
use raster::{TILE_EDGE, TileAt};
use surface::TexelMap;

/// A box; a low corner above the high one where it holds nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) low: DVec3,
    pub(crate) high: DVec3,
}

impl Span {
    pub(crate) const NOTHING: Self =
        Self { low: DVec3::splat(f64::INFINITY), high: DVec3::splat(f64::NEG_INFINITY) };

    pub(crate) fn round(centre: DVec3, radius: f64) -> Self {
        Self { low: centre - radius, high: centre + radius }
    }

    pub(crate) fn with(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    pub(crate) fn meets(&self, other: &Self) -> bool {
        self.low.cmple(other.high).all() && other.low.cmple(self.high).all()
    }

    /// True when the ball touches the box.
    pub(crate) fn meets_ball(&self, centre: DVec3, radius: f64) -> bool {
        let away = (self.low - centre).max(centre - self.high).max(DVec3::ZERO);
        away.length_squared() <= radius * radius
    }
}

/// See the module.
#[derive(Debug)]
pub(crate) struct TileTree {
    /// The tiles' own boxes first, then ever coarser ones.
    levels: Vec<Level>,
}

#[derive(Debug)]
struct Level {
    across: u32,
    down: u32,
    boxes: Vec<Span>,
}

impl Level {
    fn at(&self, x: u32, y: u32) -> Option<&Span> {
        (x < self.across && y < self.down).then(|| &self.boxes[(y * self.across + x) as usize])
    }

    fn halved(&self) -> Self {
        let (across, down) = (self.across.div_ceil(2), self.down.div_ceil(2));
        let below = |x: u32, y: u32| {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let found =
                four.iter().filter_map(|(right, down)| self.at(2 * x + right, 2 * y + down));
            found.fold(Span::NOTHING, |sum, span| sum.with(*span))
        };
        let boxes = (0..down).flat_map(|y| (0..across).map(move |x| below(x, y))).collect();
        Self { across, down, boxes }
    }
}

impl TileTree {
    /// The texture's edge in texels.
    pub(crate) fn edge(&self) -> u32 {
        self.levels[0].across * TILE_EDGE as u32
    }

    pub(crate) fn new(map: &TexelMap) -> Self {
        let extent = map.size().extent();
        let (across, down) = extent.tiles();
        let boxes = extent.tile_places().map(|at| span_of(map, at)).collect();
        let mut levels = vec![Level { across, down, boxes }];
        while let Some(last) = levels.last().filter(|last| last.boxes.len() > 1) {
            levels.push(last.halved());
        }
        Self { levels }
    }

    /// The box of a tile; nothing for one that shows nothing.
    pub(crate) fn span(&self, at: TileAt) -> Span {
        self.levels[0].at(at.x, at.y).copied().unwrap_or(Span::NOTHING)
    }

    /// True where the tile shows anything.
    pub(crate) fn shows(&self, at: TileAt) -> bool {
        self.span(at) != Span::NOTHING
    }

    /// Calls `visit` with each tile whose box meets `span`.
    pub(crate) fn near(&self, span: &Span, visit: &mut impl FnMut(TileAt, &Span)) {
        self.descend(self.levels.len() - 1, 0, 0, span, visit);
    }

    fn descend(
        &self,
        level: usize,
        x: u32,
        y: u32,
        span: &Span,
        visit: &mut impl FnMut(TileAt, &Span),
    ) {
        let Some(here) = self.levels[level].at(x, y).filter(|here| here.meets(span)) else {
            return;
        };
        if level == 0 {
            visit(TileAt { x, y }, here);
            return;
        }
        for (right, down) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            self.descend(level - 1, 2 * x + right, 2 * y + down, span, visit);
        }
    }
}

/// The box may lack a little of what its outermost texels stand for: a tenth of its size is allowed.
fn span_of(map: &TexelMap, at: TileAt) -> Span {
    map.bounds(at).map_or(Span::NOTHING, |bounds| {
        let wide = 0.1 * bounds.low.distance(bounds.high);
        Span { low: bounds.low - wide, high: bounds.high + wide }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(across: u32, down: u32) -> TileTree {
        let place = |x: u32, y: u32| DVec3::new(f64::from(x), f64::from(y * y), 0.0);
        let boxes = (0..down)
            .flat_map(|y| (0..across).map(move |x| Span::round(place(x, y), 0.4)))
            .collect();
        let mut levels = vec![Level { across, down, boxes }];
        while let Some(last) = levels.last().filter(|last| last.boxes.len() > 1) {
            levels.push(last.halved());
        }
        TileTree { levels }
    }

    #[test]
    fn the_tree_finds_exactly_what_looking_at_every_box_finds() {
        for (across, down) in [(1, 1), (2, 2), (7, 5), (16, 16)] {
            let tree = grid(across, down);
            for step in 0..60 {
                let centre = DVec3::new(f64::from(step) * 0.3, f64::from(step), 0.1);
                let span = Span::round(centre, 0.2 + 0.1 * f64::from(step % 7));
                let mut found = Vec::new();
                tree.near(&span, &mut |at, _| found.push((at.y, at.x)));
                found.sort_unstable();
                let all = (0..down).flat_map(|y| (0..across).map(move |x| (y, x)));
                let near = |(y, x): &(u32, u32)| tree.span(TileAt { x: *x, y: *y }).meets(&span);
                assert_eq!(found, all.filter(near).collect::<Vec<_>>());
            }
        }
    }
}
