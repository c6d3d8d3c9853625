//! The board: weathered oak, grain along the planks, silver where the sky reaches it, dark at the ends of
//! the grain, black under the iron.

use document::{CellEdit, LayerEdit, MaskOwner, MaterialEdit, MaterialId, NewContent};
use glam::DVec3;
use layers::{BlendMode, BlendSpace, ChannelId, Isolation};

use super::chance::Chance;
use super::hand::{Hand, Loaded, Paint, colour, into_mask, metal, painted, rough, soft};
use super::places::{Line, along, straight, swaying};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
/// The planks from left to right: edges, and heights of the top at those edges.
const PLANKS: [[[f64; 2]; 2]; 3] = [
    [[-0.250, 0.560], [-0.0845, 0.600]],
    [[-0.081, 0.644], [0.083, 0.644]],
    [[0.0865, 0.600], [0.250, 0.560]],
];
/// Height of the planks' lower ends, and of the iron plate's.
const FOOT: f64 = -0.228;
const PLATE_FOOT: f64 = 0.24;
/// Where one stands to see the front beside the bell, and the back. Level with it: seen aslant, upright
/// lines would lie deeper from point to point, and a thin stroke breaks where depth jumps.
const VIEWS: [DVec3; 3] =
    [DVec3::new(0.7, 0.0, 1.0), DVec3::new(-0.7, 0.0, 1.0), DVec3::new(0.2, 0.0, -1.0)];

pub(crate) fn paint(hand: &mut Hand, oak: MaterialId) -> Result<(), String> {
    let mut chance = Chance::new(3);
    hand.change(oak, MaterialEdit::BlendSpace(BlendSpace::Linear))?;
    hand.solid(oak, "oak", &[colour(0.56, 0.43, 0.29), rough(0.68), metal(0.0)])?;
    grain(hand, oak, &mut chance)?;
    silver(hand, oak, &mut chance)?;
    ends(hand, oak)?;
    stains(hand, oak, &mut chance)
}

/// On flat wood a path needs few points.
const STEP: f64 = 0.05;

fn streak(radius: f64, opacity: f32, paint: Paint<'_>) -> Loaded {
    let mut streak = Loaded { step: STEP, ..soft(radius, opacity, 0.6, painted(paint)) };
    streak.brush.spacing = 0.6;
    streak
}

/// Lines of grain all over one side of the board; each wanders a little.
fn fibres(chance: &mut Chance, count: u32, length: f64) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let (x, phase) = (chance.between(-0.25, 0.25), chance.between(0.0, 6.0));
            let (low, sway) =
                (chance.between(FOOT - 0.1, 0.62 - 0.5 * length), chance.between(0.001, 0.005));
            (0..=16)
                .map(|step| {
                    let y = low + length * f64::from(step) / 16.0;
                    DVec3::new(x + sway * libm::sin(phase + 7.0 * y), y.clamp(FOOT, 0.64), 0.0)
                })
                .collect()
        })
        .collect()
}

/// Light and dark years, then open pores, then cracks.
fn grain(hand: &mut Hand, oak: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let years = hand.painted(oak, "years")?;
    let tones: [(Paint<'_>, f64); 3] = [
        (&[colour(0.44, 0.32, 0.21), rough(0.74)], 0.0060),
        (&[colour(0.64, 0.51, 0.36), rough(0.64)], 0.0050),
        (&[colour(0.36, 0.26, 0.17), rough(0.78)], 0.0032),
    ];
    for (paint, radius) in tones {
        for from in VIEWS {
            hand.draw(years, &streak(radius, 0.7, paint), from, &fibres(chance, 10, 0.7))?;
        }
    }
    let pores = hand.painted(oak, "pores")?;
    hand.blend(pores, COLOUR, BlendMode::ColorBurn, 0.22)?;
    let pore = streak(0.0022, 0.8, &[colour(0.42, 0.33, 0.25), rough(0.84)]);
    for from in VIEWS {
        hand.draw(pores, &pore, from, &fibres(chance, 14, 0.2))?;
    }
    let cracks = hand.painted(oak, "cracks")?;
    let crack = soft(0.0012, 0.8, 0.8, painted(&[colour(0.26, 0.22, 0.19), rough(0.9)]));
    for [u, from, to] in
        [[0.047, 0.42, 0.55], [0.081, 0.86, 0.98], [0.372, 0.46, 0.58], [0.68, 0.83, 0.98]]
    {
        let bend = |t: f32| [u + 0.002 * (t * 5.0).fract(), from + (to - from) * t];
        hand.draw_flat(cracks, &crack, &[vec![bend(0.0), bend(0.3), bend(0.55), bend(1.0)]])?;
    }
    let planks = hand.painted(oak, "plank from plank")?;
    hand.blend(planks, COLOUR, BlendMode::Luminosity, 0.25)?;
    for ([[left, low], [right, _]], tone) in PLANKS.into_iter().zip([0.36, 0.58, 0.46]) {
        let from = DVec3::Z * if tone > 0.5 { 1.0 } else { -1.0 };
        let aim = DVec3::new(f64::midpoint(left, right), low - 0.1, 0.0);
        hand.fill_island(planks, from, aim, &[colour(tone, tone * 0.8, tone * 0.6)])?;
    }
    Ok(())
}

/// Sun and rain take the colour out of what faces them.
fn silver(hand: &mut Hand, oak: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let bleached = hand.painted(oak, "bleached")?;
    hand.blend(bleached, COLOUR, BlendMode::Saturation, 0.6)?;
    let grey = streak(0.075, 0.8, &[colour(0.55, 0.53, 0.50), rough(0.82)]);
    let upright = |[[left, low], [right, high]]: [[f64; 2]; 2]| {
        let x = f64::midpoint(left, right);
        straight(DVec3::new(x, FOOT, 0.0), DVec3::new(x, low.min(high), 0.0))
    };
    for x in [-0.7, 0.7] {
        hand.draw(bleached, &grey, DVec3::new(x, 0.0, 1.0), &PLANKS.map(upright))?;
    }
    let silver = hand.painted(oak, "silvered")?;
    let pale = streak(0.016, 0.45, &[colour(0.60, 0.58, 0.54), rough(0.84)]);
    let thin = streak(0.006, 0.5, &[colour(0.66, 0.64, 0.60), rough(0.86)]);
    for plank in PLANKS {
        let line = upright(plank);
        for x in [-0.6, 0.6] {
            let from = DVec3::new(x, 0.0, 1.0);
            hand.draw(silver, &pale, from, &upright_touches(&line, 11, 0.5, chance))?;
            hand.draw(silver, &thin, from, &upright_touches(&line, 7, 0.3, chance))?;
        }
    }
    Ok(())
}

/// Touches along a plank, beside its middle but not aslant.
fn upright_touches(line: &Line, count: u32, length: f64, chance: &mut Chance) -> Vec<Line> {
    let mut touches = along(line, count, length, 0.0, chance);
    for touch in &mut touches {
        let beside = DVec3::X * chance.between(-0.078, 0.078);
        for point in touch {
            *point += beside;
        }
    }
    touches
}

/// Cut across, wood drinks: the ends are dark, and so is the wood next to them.
fn ends(hand: &mut Hand, oak: MaterialId) -> Result<(), String> {
    let ends = hand.painted(oak, "end grain")?;
    let dark = [colour(0.31, 0.25, 0.20), rough(0.88)];
    let drunk = soft(0.022, 0.8, 0.4, painted(&dark));
    for [[left, low], [right, high]] in PLANKS {
        let x = f64::midpoint(left, right);
        let top = [DVec3::new(left, low, -0.018), DVec3::new(right, high, -0.018)];
        let foot = [DVec3::new(left, FOOT, -0.018), DVec3::new(right, FOOT, -0.018)];
        hand.fill_island(ends, DVec3::new(0.0, 1.0, 0.0), top[0].midpoint(top[1]), &dark)?;
        hand.fill_island(ends, DVec3::NEG_Y, DVec3::new(x, FOOT, -0.018), &dark)?;
        for [a, b] in [top, foot] {
            let edge = straight(a + DVec3::Z * 0.018, b + DVec3::Z * 0.018);
            let inwards = if a.y < 0.0 { DVec3::Y } else { DVec3::NEG_Y } * 0.008;
            let edge: Line = edge.into_iter().map(|point| point + inwards).collect();
            hand.draw(ends, &drunk, DVec3::new(0.1, 0.0, 1.0), std::slice::from_ref(&edge))?;
            let behind = edge.into_iter().map(|point| point - DVec3::Z * 0.036).collect();
            hand.draw(ends, &drunk, DVec3::new(0.1, 0.0, -1.0), &[behind])?;
        }
    }
    hand.blend(ends, COLOUR, BlendMode::Darken, 0.9)
}

/// Iron and water turn oak black: a group, so that all of it fades as one.
fn stains(hand: &mut Hand, oak: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let group = hand.layer(oak, "stains", NewContent::Group(Isolation::Isolated), None)?;
    let black = hand.layer(oak, "iron stain", NewContent::Painted, Some(group))?;
    let paint = [colour(0.44, 0.41, 0.40), rough(0.62)];
    let round = soft(0.014, 0.85, 0.4, painted(&paint));
    for x in [-0.062, 0.062] {
        let from = DVec3::new(x * 14.0, 0.2, 1.0);
        let edge = straight(DVec3::new(x, 0.245, 0.0), DVec3::new(x, 0.54, 0.0));
        hand.draw(black, &round, from, &[edge])?;
        for (radius, reach) in [(0.018, 0.30), (0.009, 0.42), (0.006, 0.36)] {
            let run = streak(radius, 0.8, &paint);
            let mut drip = || {
                let start = DVec3::new(x * chance.between(0.0, 1.0), PLATE_FOOT, 0.0);
                let end = start - DVec3::Y * reach * chance.between(0.4, 1.0);
                swaying(start, end, DVec3::X * 0.0025, chance.between(1.0, 3.0))
            };
            let drips: Vec<Line> = (0..3).map(|_| drip()).collect();
            // The bell hangs before the board: one looks past it.
            hand.draw(black, &run, DVec3::new(x.signum(), 0.0, 0.3), &drips)?;
        }
    }
    let bolts = soft(0.020, 0.8, 0.4, painted(&paint));
    let behind: Vec<Line> = [[-0.035, 0.272], [0.035, 0.272], [0.035, 0.512], [-0.035, 0.512]]
        .iter()
        .map(|[x, y]| straight(DVec3::new(*x, y + 0.02, -0.036), DVec3::new(*x, y - 0.09, -0.036)))
        .collect();
    hand.draw(black, &bolts, DVec3::new(0.5, 0.1, -1.0), &behind)?;
    let values = [colour(0.55, 0.62, 0.45), rough(0.9)].into_iter().collect();
    let moss = hand.layer(oak, "algae", NewContent::Solid(values), Some(group))?;
    let mask = hand.mask(moss, MaskOwner::Layer, 0.0)?;
    let foot = straight(DVec3::new(-0.24, -0.215, 0.0), DVec3::new(0.24, -0.215, 0.0));
    for (radius, count) in [(0.022, 16), (0.010, 40)] {
        let brush = soft(radius, 0.7, 0.3, into_mask(mask, 0.75));
        hand.draw(
            moss,
            &brush,
            DVec3::new(0.1, 0.0, 1.0),
            &along(&foot, count, 0.1, 0.025, chance),
        )?;
    }
    hand.edit(group, LayerEdit::Cells(vec![COLOUR], CellEdit::Blend(BlendMode::Multiply)))?;
    hand.edit(group, LayerEdit::Visible(false))?;
    hand.edit(group, LayerEdit::Visible(true))
}
