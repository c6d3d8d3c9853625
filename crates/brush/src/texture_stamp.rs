//! Dabs in the flat view: discs in UV space.
//!
//! A padding texel shows a surface point across the seam, and is covered as that point is: so paint in
//! the flat view leaves no break on the model either.

use std::ops::RangeInclusive;

use glam::{DVec2, DVec3};
use raster::{Lanes, TILE_EDGE, TileAt};
use surface::{DecodedTile, Surface, TexelMap};

use crate::built_up::{Canvas, OnBlock};
use crate::falloff::dab_reach;
use crate::imprint::Imprint;
use crate::kernel::{AddGiven, AddShaded, Deposit, Disc, Discs, Lane, LeftByDisc, Radii};
use crate::stamp::{Stamps, TileFacts, Tool};
use crate::stencil::Through;
use crate::tile_lists::TileLists;
use crate::tile_tree::TileTree;
use crate::tip::across;
use crate::{BrushSettings, Image, TextureDab};

/// Dabs that are looked at together.
const CHUNK: usize = 16;

/// Stamping over the flat texture.
#[derive(Debug)]
pub(crate) struct OnTexels<'a> {
    surface: &'a Surface,
    map: &'a TexelMap,
    tree: &'a TileTree,
    brush: &'a BrushSettings,
    imprint: Option<&'a Imprint>,
    through: Option<Through<'a>>,
}

impl<'a> OnTexels<'a> {
    pub(crate) fn new(
        (surface, map, tree): (&'a Surface, &'a TexelMap, &'a TileTree),
        &Tool { brush, imprint, stencil }: &Tool<'a>,
    ) -> Self {
        let through = stencil.map(|stencil| stencil.through(&Image::ITSELF));
        Self { surface, map, tree, brush, imprint, through }
    }

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
    fn reach(&self) -> f64 {
        self.imprint.map_or(1.0, Imprint::reach)
    }

    fn list(&self, dabs: &[TextureDab], lists: &mut TileLists) {
        for (number, dab) in (0..).zip(dabs) {
            let radius = (dab.touch.radius * self.reach()) as f32;
            let reach = f64::from(dab_reach(radius, self.texel()));
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
            let disc = |number: &u32| self.disc(&dabs[*number as usize]);
            let mut discs = [disc(&numbers[0]); CHUNK];
            for (place, number) in discs.iter_mut().zip(numbers).skip(1) {
                *place = disc(number);
            }
            for (position, block) in decoded.blocks.iter().enumerate() {
                let classes = discs.each_ref().map(|disc| disc.class(block));
                if classes == [0; CHUNK] {
                    continue;
                }
                let onto = canvas.block(block.place);
                let discs = &discs[..numbers.len()];
                let tooth = self.shares((decoded, position), facts);
                let tooth = tooth.as_ref();
                if let OnBlock { bare, shades: Some(shades) } = onto {
                    for ((disc, &number), &class) in discs.iter().zip(numbers).zip(&classes) {
                        let touch = &dabs[number as usize].touch;
                        let left = &lanes.run(LeftByDisc { disc, class, block });
                        lanes.run(AddShaded { left, tooth, touch, shades });
                        lanes.run(AddGiven { deposit: &disc.deposit, left, tooth, bare });
                    }
                } else {
                    lanes.run(Discs {
                        dabs: discs,
                        class: &classes,
                        block,
                        tooth,
                        bare: onto.bare,
                    });
                }
            }
        }
    }
}

impl OnTexels<'_> {
    /// The shares of the dabs that the texels of a block take; none where they take all.
    fn shares(
        &self,
        (decoded, position): (&DecodedTile, usize),
        facts: &mut TileFacts,
    ) -> Option<Lane> {
        let tooth = self.brush.anchored_tooth().map(|tooth| {
            *facts.tooth.block(position, || tooth.on_block(self.surface, decoded, position))
        });
        let Some(through) = &self.through else { return tooth };
        let block = &decoded.blocks[position];
        let open = facts.through(0);
        let open = open.block(position, || through.on_flat_block(block, self.texel()));
        Some(tooth.map_or(*open, |tooth| std::array::from_fn(|n| tooth[n] * open[n])))
    }

    fn disc(&self, dab: &TextureDab) -> Disc<'_> {
        let radius = dab.touch.radius as f32;
        let (mut radii, mut short) = (Radii::new(radius, self.brush.hardness, self.texel()), 1.0);
        let mut wide = DVec2::ZERO;
        let long = dab.long.extend(0.0);
        let print = self.imprint.map(|imprint| {
            radii = Radii::within(radius * imprint.reach() as f32);
            imprint.pressed(radius, self.texel()).lying(long, DVec3::NEG_Z, false)
        });
        if print.is_none() {
            if dab.long != DVec2::ZERO {
                short = self.brush.tip.aspect;
                wide = across(DVec3::NEG_Z, long, self.brush.tip.squeeze()).truncate();
            }
            radii.edge = radii.edge.at_least(self.texel() / short);
        }
        Disc {
            centre: dab.centre.as_vec2(),
            radii,
            deposit: Deposit::new(&dab.touch, self.brush.build_up),
            across: wide.as_vec2(),
            print,
        }
    }
}
