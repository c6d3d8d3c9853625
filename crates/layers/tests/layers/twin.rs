//! The compositor once more: f64, one texel at a time, premultiplied from bottom to top, sharing no
//! code with the crate but the names of things. W3C Compositing and Blending Level 1 (2015).

use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, ChannelId, ChannelKind, Combine, Content, Isolation, Layer, Mask,
    MaskSource,
};
use raster::Plane;

use crate::scene::Scene;

type Rgb = [f64; 3];

/// Premultiplied colour and coverage; over the ground, coverage is how much was painted.
#[derive(Clone, Copy)]
struct Texel {
    colour: Rgb,
    coverage: f64,
    opaque: bool,
}

struct Twin<'a> {
    scene: &'a Scene,
    channel: ChannelId,
    linear: bool,
    x: u32,
    y: u32,
}

/// The channel's components and how much was painted, 0..1, encoded as the channel is.
pub(crate) fn texel(scene: &Scene, channel: ChannelId, x: u32, y: u32) -> (Vec<f64>, f64) {
    let kind = scene.channels.iter().find(|known| known.id == channel).unwrap().kind;
    let linear = scene.blend_space == BlendSpace::Linear && kind == ChannelKind::Colour;
    let twin = Twin { scene, channel, linear, x, y };
    let ground = twin.colour(scene.ground[&channel].components().iter().copied());
    let below = Texel { colour: ground, coverage: 0.0, opaque: true };
    let above = twin.list(&scene.stack.layers, below);
    let components = above.colour[..kind.components()].iter();
    let values = components.map(|&value| if linear { encode(value) } else { value });
    (values.collect(), above.coverage)
}

impl Twin<'_> {
    fn list(&self, layers: &[Arc<Layer>], below: Texel) -> Texel {
        layers.iter().fold(below, |below, layer| self.layer(layer, below))
    }

    fn layer(&self, layer: &Layer, below: Texel) -> Texel {
        let cell = layer.cell(self.channel);
        if !layer.visible || !cell.on {
            return below;
        }
        let opacity = f64::from(layer.opacity.get()) * f64::from(cell.opacity.get());
        let weight = opacity * self.mask(&layer.mask) * self.mask(&cell.mask);
        let (colour, coverage) = match &layer.content {
            Content::Painted(cells) => {
                let Some(painted) = cells.get(&self.channel) else { return below };
                let stored = painted.values.iter().map(|plane| self.read(plane));
                (self.colour(stored), unit(self.read(&painted.coverage)))
            }
            Content::Solid(values) => {
                let Some(value) = values.get(&self.channel) else { return below };
                (self.colour(value.components().iter().copied()), 1.0)
            }
            Content::Group { isolation: Isolation::Isolated, children } => {
                let nothing = Texel { colour: [0.0; 3], coverage: 0.0, opaque: false };
                let inside = self.list(children, nothing);
                if inside.coverage == 0.0 {
                    return below;
                }
                (inside.colour.map(|component| component / inside.coverage), inside.coverage)
            }
            Content::Group { isolation: Isolation::PassThrough, children } => {
                let over = self.list(children, below);
                let mix = |from: f64, to: f64| from + (to - from) * weight;
                return Texel {
                    colour: std::array::from_fn(|i| mix(below.colour[i], over.colour[i])),
                    coverage: mix(below.coverage, over.coverage),
                    opaque: below.opaque,
                };
            }
        };
        over(cell.blend, colour, coverage * weight, below)
    }

    fn mask(&self, mask: &Mask) -> f64 {
        let mut value = 1.0;
        for term in mask.terms.iter().filter(|term| term.on) {
            let mut source = match &term.source {
                MaskSource::Painted(plane) => unit(self.read(plane)),
                MaskSource::Field(expr) => {
                    let field = unit(self.read(&self.scene.fields.0));
                    let (low, high) = (f64::from(expr.low), f64::from(expr.high));
                    ((field - low) / (high - low)).clamp(0.0, 1.0)
                }
            };
            if term.invert {
                source = 1.0 - source;
            }
            let combined = match term.combine {
                Combine::Multiply => value * source,
                Combine::Add => f64::min(value + source, 1.0),
                Combine::Subtract => f64::max(value - source, 0.0),
                Combine::Lighten => value.max(source),
                Combine::Darken => value.min(source),
                Combine::Replace => source,
            };
            value += (combined - value) * f64::from(term.strength.get());
        }
        value
    }

    fn read(&self, plane: &Plane) -> u16 {
        plane.texel(self.x, self.y).unwrap()
    }

    fn colour(&self, stored: impl Iterator<Item = u16>) -> Rgb {
        let mut colour = [0.0; 3];
        for (component, stored) in colour.iter_mut().zip(stored) {
            *component = if self.linear { decode(unit(stored)) } else { unit(stored) };
        }
        colour
    }
}

fn unit(stored: u16) -> f64 {
    f64::from(stored) / 65_535.0
}

/// IEC 61966-2-1:1999.
fn decode(encoded: f64) -> f64 {
    if encoded <= 0.040_45 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

fn encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { linear * 12.92 } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

/// The expanded formula: co = as (1 - ab) Cs + as ab B + (1 - as) ab Cb.
fn over(mode: BlendMode, cs: Rgb, a: f64, below: Texel) -> Texel {
    let ab = if below.opaque { 1.0 } else { below.coverage };
    let cb = below.colour.map(|component| if ab > 0.0 { component / ab } else { 0.0 });
    let mixed = blend(mode, cb, cs);
    Texel {
        colour: std::array::from_fn(|i| {
            a * (1.0 - ab) * cs[i] + a * ab * mixed[i] + (1.0 - a) * below.colour[i]
        }),
        coverage: a + below.coverage * (1.0 - a),
        ..below
    }
}

fn blend(mode: BlendMode, cb: Rgb, cs: Rgb) -> Rgb {
    let luminosity = |c: Rgb| 0.3 * c[0] + 0.59 * c[1] + 0.11 * c[2];
    match mode {
        BlendMode::Color => set_luminosity(cs, luminosity(cb)),
        BlendMode::Luminosity => set_luminosity(cb, luminosity(cs)),
        _ => std::array::from_fn(|i| separable(mode, cb[i], cs[i]).clamp(0.0, 1.0)),
    }
}

fn set_luminosity(colour: Rgb, target: f64) -> Rgb {
    let luminosity = 0.3 * colour[0] + 0.59 * colour[1] + 0.11 * colour[2];
    let moved = colour.map(|component| component + target - luminosity);
    let low = moved.into_iter().fold(f64::INFINITY, f64::min);
    let high = moved.into_iter().fold(f64::NEG_INFINITY, f64::max);
    // The greatest share of the way from the grey that stays within 0..1.
    let down = if low < 0.0 { target / (target - low) } else { 1.0 };
    let up = if high > 1.0 { (1.0 - target) / (high - target) } else { 1.0 };
    moved.map(|component| (target + (component - target) * down * up).clamp(0.0, 1.0))
}

fn separable(mode: BlendMode, cb: f64, cs: f64) -> f64 {
    match mode {
        BlendMode::Multiply => cb * cs,
        BlendMode::Screen => 1.0 - (1.0 - cb) * (1.0 - cs),
        BlendMode::Overlay => separable(BlendMode::HardLight, cs, cb),
        BlendMode::Darken => cb.min(cs),
        BlendMode::Lighten => cb.max(cs),
        BlendMode::HardLight if cs <= 0.5 => cb * 2.0 * cs,
        BlendMode::HardLight => 1.0 - (1.0 - cb) * (2.0 - 2.0 * cs),
        BlendMode::SoftLight if cs <= 0.5 => cb - (1.0 - 2.0 * cs) * cb * (1.0 - cb),
        BlendMode::SoftLight if cb <= 0.25 => {
            cb + (2.0 * cs - 1.0) * (((16.0 * cb - 12.0) * cb + 4.0) * cb - cb)
        }
        BlendMode::SoftLight => cb + (2.0 * cs - 1.0) * (cb.sqrt() - cb),
        BlendMode::Difference => (cb - cs).abs(),
        BlendMode::Exclusion => cb + cs - 2.0 * cb * cs,
        BlendMode::Add => cb + cs,
        BlendMode::Subtract => cb - cs,
        BlendMode::Normal => cs,
        _ => unreachable!("the twin knows the steady modes"),
    }
}
