//! Dabs in the flat view: discs in UV space.
//!
//! A padding texel shows a surface point across the seam, and is covered as that point is: so paint in
//! the flat view leaves no break on the model either.

use std::ops::RangeInclusive;

use glam::DVec2;
use raster::{Lanes, TILE_EDGE, TileAt};
use surface::{DecodedTile, Surface, TexelMap};

use crate::built_up::Canvas;
use crate::falloff::dab_reach;
use crate::kernel::{Deposit, Disc, Discs, Radii};
use crate::stamp::{Stamps, TileFacts};
use crate::tile_lists::TileLists;
use crate::tile_tree::TileTree;
use crate::{BrushSettings, TextureDab};

/// Dabs that are looked at together.
const CHUNK: usize = 16;

/// Stamping over the flat texture.
#[derive(Debug)]
pub(crate) struct OnTexels<'a> {
    pub(crate) surface: &'a Surface,
    pub(crate) map: &'a TexelMap,
    pub(crate) tree: &'a TileTree,
    pub(crate) brush: &'a BrushSettings,
}

impl OnTexels<'_> {
    /// One texel in UV units.
    fn texel(&self) -> f32 {
        1.0 / self.map.size().edge() as f32
    }

    /// Columns or rows of tiles that a dab's square meets.
    fn tiles(&self, middle: f64, reach: f64) -> RangeInclusive<u32> {
        let across = self.map.size().edge() / TILE_EDGE as u32;
        let tile = |at: f64| (at * f64::from(across)).floor().clamp(-1.0, f64::from(across));
        let (first, last) = (tile(middle - reach).max(0.0), tile(middle + reach));
        if last < 0.0 || first >= f64::from(across) {
            return RangeInclusive::new(1, 0);
        }
        first as u32..=(last as u32).min(across - 1)
    }
}

impl Stamps for OnTexels<'_> {
    type Dab = TextureDab;
    type Prepared = ();

    /// Tiles under the dabs, and those whose padding may show what lies there: their points lie where
    /// those of a tile under the dabs do.
    fn list(&self, dabs: &[TextureDab], lists: &mut TileLists) {
        for (number, dab) in (0..).zip(dabs) {
            let reach = f64::from(dab_reach(dab.touch.radius as f32, self.texel()));
            for y in self.tiles(dab.centre.y, reach) {
                for x in self.tiles(dab.centre.x, reach) {
                    if self.tree.shows(TileAt { x, y }) {
                        lists.add(TileAt { x, y }, number);
                    }
                }
            }
        }
        let under: Vec<TileAt> = lists.tiles().iter().map(|(at, _)| *at).collect();
        let mut shares = Vec::new();
        for &at in &under {
            self.tree.near(&self.tree.span(at), &mut |other, _| {
                if other != at && self.map.shows_padding(other) {
                    shares.push((at, other));
                }
            });
        }
        lists.share(&shares);
    }

    fn prepare(&self, _dabs: &[TextureDab]) {}

    fn stamp(
        &self,
        decoded: &DecodedTile,
        dabs: &[TextureDab],
        (): &(),
        numbers: &[u32],
        facts: &mut TileFacts,
        canvas: &mut Canvas<'_>,
    ) {
        let lanes = Lanes::widest();
        for numbers in numbers.chunks(CHUNK) {
            let discs: [Disc; CHUNK] = std::array::from_fn(|index| {
                self.disc(&dabs[numbers[index.min(numbers.len() - 1)] as usize])
            });
            for (position, block) in decoded.blocks.iter().enumerate() {
                let classes = discs.each_ref().map(|disc| disc.class(block));
                if classes == [0; CHUNK] {
                    continue;
                }
                let bare = canvas.block(block.place);
                let dabs = &discs[..numbers.len()];
                let of = self.brush.tooth.as_ref();
                let tooth = of.map(|of| facts.tooth.block(of, self.surface, decoded, position));
                lanes.run(Discs { dabs, class: &classes, block, tooth, bare });
            }
        }
    }
}

impl OnTexels<'_> {
    fn disc(&self, dab: &TextureDab) -> Disc {
        let radii = Radii::new(dab.touch.radius as f32, self.brush.hardness, self.texel());
        let short = if dab.across == DVec2::ZERO { 1.0 } else { self.brush.tip.aspect };
        let edge = radii.edge.at_least(self.texel() / short);
        Disc {
            centre: dab.centre.as_vec2(),
            radii: Radii { edge, ..radii },
            deposit: Deposit::new(&dab.touch, self.brush.build_up),
            across: dab.across.as_vec2(),
        }
    }
}
