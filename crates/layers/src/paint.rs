//! The fine half of the compositor: the arithmetic of one tile of one channel.
//!
//! W3C Compositing and Blending Level 1 (2015), section 9: with coverages `as` of the source and `ab`
//! of the backdrop, `Cr = (1 - ab) Cs + ab B(Cb, Cs)`, `co = as Cr + (1 - as) ab Cb`,
//! `ao = as + ab (1 - as)`. Runs of texels walk through the whole tree in f32 and are rounded once;
//! a tile whose inputs are all uniform is one texel. The order of operations is fixed.

use raster::{
    Lanes, TILE_TEXELS, Tile, TileRead, decode_stored, encode_stored, from_unit, to_unit,
};

use crate::node::{MaskRead, Node, NodeContent};
use crate::{BlendMode, Isolation};

/// Texels that walk through the tree together: enough to pay for the steps, few enough for the stack.
pub(crate) const RUN: usize = 256;

pub(crate) type Row = [f32; RUN];

/// One run of texels on its way through the tree.
#[derive(Debug, Clone)]
pub(crate) struct Rows {
    /// Of a source: straight. Of a backdrop: multiplied by its coverage, which is 1 on the ground.
    pub(crate) colour: [Row; 3],
    /// Of a source or of a group's backdrop: coverage. On the ground, which is opaque, how much was
    /// painted over it.
    pub(crate) coverage: Row,
}

impl Rows {
    pub(crate) const NOTHING: Self = Self { colour: [[0.0; RUN]; 3], coverage: [0.0; RUN] };
}

/// What a backdrop stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Base {
    /// The ground: opaque, so that no formula needs a division.
    Opaque,
    /// Nothing: an isolated group.
    Transparent,
}

/// One tile of one channel: its values, a tile for each component, and how much was painted.
#[derive(Debug)]
pub(crate) struct PaintedTile {
    pub(crate) values: Vec<Tile>,
    pub(crate) painted: Tile,
}

/// Composites nodes, bottom first, over the ground. `linear` says that values are sRGB-encoded and
/// blended in linear light.
pub(crate) fn paint_tile(nodes: &[Node<'_>], ground: &[u16], linear: bool) -> PaintedTile {
    let lanes = Lanes::widest();
    let run = |first, len| {
        let which = Which::From(first);
        Run { components: ground.len(), linear, which, len, lanes }
    };
    if nodes.iter().all(Node::is_uniform) {
        let run = run(0, 1);
        let rows = run.over_ground(nodes, ground);
        let values = rows.colour[..ground.len()].iter();
        return PaintedTile {
            values: values.map(|row| Tile::Uniform(stored(row[0], linear))).collect(),
            painted: Tile::Uniform(stored(rows.coverage[0], false)),
        };
    }
    let mut values = vec![[0; TILE_TEXELS]; ground.len()];
    let mut painted = [0; TILE_TEXELS];
    for first in (0..TILE_TEXELS).step_by(RUN) {
        let run = run(first, RUN);
        let rows = run.over_ground(nodes, ground);
        for (texels, row) in values.iter_mut().zip(&rows.colour) {
            store(row, linear, &mut texels[first..][..RUN]);
        }
        store(&rows.coverage, false, &mut painted[first..][..RUN]);
    }
    PaintedTile { values: values.iter().map(Tile::of).collect(), painted: Tile::of(&painted) }
}

/// A result as it is kept: encoded where it was decoded, then rounded.
pub(crate) fn stored(value: f32, encode: bool) -> u16 {
    if encode { encode_stored(value) } else { from_unit(value) }
}

pub(crate) fn store(row: &Row, encode: bool, texels: &mut [u16]) {
    for (texel, &value) in texels.iter_mut().zip(row) {
        *texel = stored(value, encode);
    }
}

/// Texels of a tile, no more than [`RUN`].
#[derive(Debug, Clone, Copy)]
pub(crate) enum Which<'a> {
    /// As many as are wanted, one after the other.
    From(usize),
    /// Those of these indices.
    At(&'a [u16]),
}

/// Some texels of a tile.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Run<'a> {
    pub(crate) components: usize,
    pub(crate) linear: bool,
    pub(crate) which: Which<'a>,
    pub(crate) len: usize,
    pub(crate) lanes: Lanes,
}

impl Run<'_> {
    pub(crate) fn over_ground(self, nodes: &[Node<'_>], ground: &[u16]) -> Rows {
        let mut rows = self.ground(ground);
        self.paint(nodes, &mut rows, Base::Opaque);
        rows
    }

    /// The ground alone.
    pub(crate) fn ground(self, ground: &[u16]) -> Rows {
        let mut rows = Rows::NOTHING;
        for (row, &stored) in rows.colour.iter_mut().zip(ground) {
            self.load_value(&TileRead::Uniform(stored), row);
        }
        rows
    }

    /// Composites nodes, bottom first, over a backdrop.
    pub(crate) fn paint(self, nodes: &[Node<'_>], backdrop: &mut Rows, base: Base) {
        let mut source = Rows::NOTHING;
        for node in nodes {
            if let NodeContent::Group { isolation: Isolation::PassThrough, children } =
                &node.content
            {
                self.pass_through(node, children, backdrop, base);
            } else {
                self.source(node, &mut source);
                self.blend(node.blend, &mut source, backdrop, base);
            }
        }
    }

    /// Writes what a node gives, weighed: straight values and coverage. A pass-through group gives
    /// nothing by itself.
    pub(crate) fn source(self, node: &Node<'_>, source: &mut Rows) {
        match &node.content {
            NodeContent::Group { isolation: Isolation::PassThrough, .. } => {
                source.coverage = [0.0; RUN];
            }
            content => self.isolated(content, source),
        }
        self.weigh(node, &mut source.coverage);
    }

    /// Writes a content as it is by itself: straight values and coverage. Any group is isolated here.
    pub(crate) fn isolated(self, content: &NodeContent<'_>, source: &mut Rows) {
        match content {
            NodeContent::Texels { values, coverage } => {
                for (row, read) in source.colour.iter_mut().zip(values) {
                    self.load_value(read, row);
                }
                self.load(coverage, &mut source.coverage, to_unit);
            }
            NodeContent::Group { children, .. } => {
                *source = Rows::NOTHING;
                self.paint(children, source, Base::Transparent);
                source.colour = self.straight(source);
            }
        }
    }

    fn pass_through(self, node: &Node<'_>, children: &[Node<'_>], backdrop: &mut Rows, base: Base) {
        let mut over = backdrop.clone();
        self.paint(children, &mut over, base);
        let mut factor = [1.0; RUN];
        self.weigh(node, &mut factor);
        for (row, over) in backdrop.colour.iter_mut().zip(&over.colour) {
            self.lerp(row, over, &factor);
        }
        self.lerp(&mut backdrop.coverage, &over.coverage, &factor);
    }

    /// Multiplies by the node's opacities and masks.
    fn weigh(self, node: &Node<'_>, coverage: &mut Row) {
        let coverage = &mut coverage[..self.len];
        self.lanes.run(|| coverage.iter_mut().for_each(|coverage| *coverage *= node.factor));
        for terms in node.masks.iter().filter(|terms| !terms.is_empty()) {
            let mask = self.mask(terms);
            self.lanes.run(|| {
                for (coverage, mask) in coverage.iter_mut().zip(&mask) {
                    *coverage *= mask;
                }
            });
        }
    }

    /// What a mask's terms come to.
    pub(crate) fn mask(self, terms: &MaskRead<'_>) -> Row {
        let mut mask = [1.0; RUN];
        for (term, read) in terms {
            let mut source = [0.0; RUN];
            self.load(read, &mut source, to_unit);
            term.apply(&mut mask[..self.len], &mut source[..self.len], self.lanes);
        }
        mask
    }

    /// Blends a source onto a backdrop; the source is used up.
    fn blend(self, mode: BlendMode, source: &mut Rows, backdrop: &mut Rows, base: Base) {
        let Rows { colour, coverage } = source;
        let colour = &mut colour[..self.components];
        let coverage = &coverage[..self.len];
        if base == Base::Opaque && (mode.is_separable() || self.components < 3) {
            for (row, source) in backdrop.colour.iter_mut().zip(colour) {
                let (row, source) = (&mut row[..self.len], &source[..self.len]);
                mode.blend_onto(row, source, coverage, self.lanes);
            }
        } else {
            self.mix(mode, colour, backdrop, base);
            for (row, blended) in backdrop.colour.iter_mut().zip(colour) {
                self.lerp(row, blended, coverage);
            }
        }
        self.lanes.run(|| {
            for (ab, a) in backdrop.coverage.iter_mut().zip(coverage) {
                *ab = a + *ab * (1.0 - a);
            }
        });
    }

    /// `(1 - ab) Cs + ab B(Cb, Cs)` over the source.
    fn mix(self, mode: BlendMode, source: &mut [Row], backdrop: &Rows, base: Base) {
        let components = ..self.components;
        if base == Base::Opaque {
            mode.blend_rows(&backdrop.colour[components], source, self.len, self.lanes);
        } else if mode != BlendMode::Normal {
            let below = self.straight(backdrop);
            let mut blended = [[0.0; RUN]; 3];
            blended[components].copy_from_slice(source);
            mode.blend_rows(&below[components], &mut blended[components], self.len, self.lanes);
            for (source, blended) in source.iter_mut().zip(&blended) {
                self.lerp(source, blended, &backdrop.coverage[..self.len]);
            }
        }
    }

    /// Colour without its coverage; black where nothing is covered.
    pub(crate) fn straight(self, rows: &Rows) -> [Row; 3] {
        let mut straight = rows.colour;
        for row in &mut straight[..self.components] {
            self.lanes.run(|| {
                for (colour, &coverage) in row[..self.len].iter_mut().zip(&rows.coverage) {
                    *colour = if coverage > 0.0 { (*colour / coverage).min(1.0) } else { 0.0 };
                }
            });
        }
        straight
    }

    /// `row (1 - factor) + to factor`: exact at 0 and 1.
    fn lerp(self, row: &mut Row, to: &Row, factor: &[f32]) {
        self.lanes.run(|| {
            for ((value, to), factor) in row[..self.len].iter_mut().zip(to).zip(factor) {
                *value = *value * (1.0 - factor) + to * factor;
            }
        });
    }

    fn load_value(self, read: &TileRead, row: &mut Row) {
        if self.linear {
            self.load(read, row, decode_stored);
        } else {
            self.load(read, row, to_unit);
        }
    }

    fn load(self, read: &TileRead, row: &mut Row, value: impl Fn(u16) -> f32) {
        match read {
            TileRead::Uniform(stored) => row[..self.len].fill(value(*stored)),
            TileRead::Texels(texels) => match self.which {
                Which::From(first) => self.lanes.run(|| {
                    for (row, &stored) in row.iter_mut().zip(&texels[first..][..self.len]) {
                        *row = value(stored);
                    }
                }),
                Which::At(indices) => {
                    for (row, &index) in row.iter_mut().zip(indices) {
                        *row = value(texels[index as usize]);
                    }
                }
            },
        }
    }
}
