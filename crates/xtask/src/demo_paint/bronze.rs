//! The bell's metal: cast bronze with warm and cool tones, browned where hands and rain do not reach,
//! worn bright where they do.

use brush::FillScope;
use document::{CellEdit, LayerEdit, MaskOwner, MaterialEdit, MaterialId, NewContent};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Isolation, LayerId};
use surface::PartId;

use super::chance::Chance;
use super::hand::{Hand, On, Paint, colour, firm, into_mask, metal, painted, rough, soft};
use super::places::{AXIS_Z, Belt, about_axis, arc, circle, on_bell, run_down, straight};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGH: ChannelId = ChannelId::ROUGHNESS;
const BELL: PartId = PartId(0);
/// The id that the copied layer gets.
const COPY: LayerId = LayerId(40);

pub(crate) fn paint(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let mut chance = Chance::new(1);
    let base = [colour(0.93, 0.77, 0.53), rough(0.33), metal(1.0)];
    hand.change(bronze, MaterialEdit::Ground(base[0].0, base[0].1))?;
    hand.solid(bronze, "cast bronze", &base)?;
    casting(hand, bronze, &mut chance)?;
    tarnish(hand, bronze, &mut chance)?;
    inside(hand, bronze, &mut chance)?;
    super::verdigris::paint(hand, bronze, &mut chance)?;
    wear(hand, bronze, &mut chance)?;
    grime(hand, bronze)
}

/// Broad, faint changes of tone, as a casting has them.
fn casting(hand: &mut Hand, bronze: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let tone = hand.painted(bronze, "casting, tone")?;
    hand.fill(tone, FillScope::Part(BELL), &[colour(0.99, 0.98, 0.97)])?;
    hand.blend(tone, COLOUR, BlendMode::Multiply, 0.9)?;
    let waist = Belt { low: 0.05, high: 0.25, length: 30.0 };
    let tones: [Paint<'_>; 2] =
        [&[colour(0.99, 0.94, 0.87), rough(0.42)], &[colour(0.93, 0.95, 0.95), rough(0.26)]];
    for paint in tones {
        let brush = soft(0.045, 0.7, 0.25, painted(paint));
        hand.all_round(tone, &brush, 0.2, |side| waist.touches(side, 6, chance))?;
    }
    let flow = hand.painted(bronze, "casting, flow lines")?;
    hand.blend(flow, COLOUR, BlendMode::SoftLight, 0.5)?;
    let line = soft(0.018, 0.5, 0.4, painted(&[colour(0.36, 0.34, 0.33)]));
    hand.all_round(flow, &line, 0.1, |side| {
        (0..4)
            .map(|_| run_down(0.235, 0.06, chance.between(side.first, side.last), chance))
            .collect()
    })?;
    let rosy = hand.painted(bronze, "copper in the alloy")?;
    hand.blend(rosy, COLOUR, BlendMode::Color, 0.45)?;
    let blush = soft(0.03, 0.8, 0.3, painted(&[colour(0.92, 0.72, 0.58)]));
    let low = Belt { low: 0.01, high: 0.16, length: 24.0 };
    hand.all_round(rosy, &blush, 0.0, |side| low.touches(side, 5, chance))
}

/// The brown skin that bronze gets in the open: no metal shows through it.
fn tarnish(hand: &mut Hand, bronze: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let brown = hand.painted(bronze, "brown skin")?;
    let paint = [colour(0.40, 0.28, 0.19), rough(0.52), metal(0.0)];
    for (height, radius) in [(0.228, 0.020), (0.047, 0.016)] {
        let brush = soft(radius, 0.9, 0.45, painted(&paint));
        hand.all_round(brown, &brush, 0.1, |side| vec![arc(height, side.first, side.last)])?;
    }
    let spots = soft(0.007, 0.9, 0.45, painted(&paint));
    let belts = [(0.196, 0.25, 16.0, 14), (0.055, 0.085, 18.0, 13)];
    for (low, high, length, count) in belts {
        let belt = Belt { low, high, length };
        hand.all_round(brown, &spots, 0.15, |side| belt.touches(side, count, chance))?;
    }
    let streaks = soft(0.013, 0.9, 0.3, painted(&paint));
    hand.all_round(brown, &streaks, 0.1, |side| {
        let mut streak = || {
            let degrees = chance.between(side.first, side.last);
            run_down(0.215, chance.between(0.12, 0.19), degrees, chance)
        };
        (0..5).map(|_| streak()).collect()
    })?;
    let top = soft(0.022, 0.85, 0.4, painted(&paint));
    let rings = [circle(0.268, 0.068), circle(0.279, 0.030)];
    hand.draw(brown, &top, DVec3::new(0.5, 1.0, 0.3), &rings)?;
    hand.draw(brown, &top, DVec3::new(-0.5, 1.0, 0.3), &rings)
}

/// Nobody polishes the inside: brown all over, paler where the clapper has struck.
fn inside(hand: &mut Hand, bronze: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let dark = hand.painted(bronze, "inside")?;
    let brown = [colour(0.34, 0.25, 0.18), rough(0.62), metal(0.0)];
    let wall = [45.0, 135.0, 225.0, 315.0].map(|angle| about_axis(0.08, 0.125, angle));
    for wall in wall {
        hand.fill_island(dark, DVec3::NEG_Y, wall, &brown)?;
    }
    hand.fill_island(dark, DVec3::NEG_Y, about_axis(0.257, 0.045, 90.0), &brown)?;
    let green = soft(0.02, 0.6, 0.3, painted(&[colour(0.36, 0.47, 0.41), rough(0.85)]));
    let blots = (0..14).map(|_| {
        let (height, angle) = (chance.between(0.03, 0.2), chance.between(0.0, 360.0));
        let distance = 0.15 - 0.3 * height;
        straight(
            about_axis(height, distance, angle),
            about_axis(height * 0.5, distance, angle + 8.0),
        )
    });
    let blots: Vec<_> = blots.collect();
    hand.draw(dark, &green, DVec3::new(0.1, -1.0, 0.2), &blots)?;
    let struck =
        firm(0.016, 0.9, 0.6, painted(&[colour(0.95, 0.81, 0.59), rough(0.22), metal(1.0)]));
    let blows = [0.0, 180.0].map(|angle| {
        straight(about_axis(0.014, 0.16, angle - 7.0), about_axis(0.014, 0.16, angle + 7.0))
    });
    hand.draw(dark, &struck, DVec3::new(0.3, -1.0, 0.1), &blows)
}

/// The lip, struck and handled, and the loop that turns on its arm: bright and smooth.
fn wear(hand: &mut Hand, bronze: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let wear = hand.painted(bronze, "handling wear")?;
    let bright = [colour(0.97, 0.84, 0.62), rough(0.17), metal(1.0)];
    let lip = soft(0.010, 0.95, 0.5, painted(&bright));
    hand.all_round(wear, &lip, -0.1, |side| vec![arc(0.007, side.first, side.last)])?;
    let under = soft(0.009, 0.9, 0.5, painted(&bright));
    hand.draw(wear, &under, DVec3::new(0.0, -1.0, 0.1), &[circle(-0.001, 0.170)])?;
    let crests = firm(0.0045, 0.9, 0.6, painted(&bright));
    let belts = [
        Belt { low: 0.0368, high: 0.039, length: 9.0 },
        Belt { low: 0.225, high: 0.227, length: 12.0 },
    ];
    for belt in belts {
        hand.all_round(wear, &crests, 0.0, |side| belt.touches(side, 4, chance))?;
    }
    let palm = soft(0.03, 0.7, 0.25, painted(&bright));
    let rubbed = [arc(0.10, -24.0, 12.0), arc(0.115, -14.0, 22.0), arc(0.088, 0.0, 30.0)];
    hand.draw(wear, &palm, DVec3::Z, &rubbed)?;
    let turned = soft(0.013, 0.95, 0.6, painted(&bright));
    let hoop: Vec<DVec3> = (0..=24)
        .map(|step| {
            let angle = std::f64::consts::PI * f64::from(step) / 24.0;
            DVec3::new(0.0315 * libm::cos(angle), 0.287 + 0.043 * libm::sin(angle), AXIS_Z)
        })
        .collect();
    for from in [DVec3::new(0.0, 0.4, 1.0), DVec3::new(0.9, 0.8, -0.3), DVec3::new(-0.9, 0.8, -0.3)]
    {
        hand.draw(wear, &turned, from, std::slice::from_ref(&hoop))?;
    }
    hand.edit(wear, LayerEdit::Cells(vec![ROUGH], CellEdit::Blend(BlendMode::Darken)))?;
    hand.change(bronze, MaterialEdit::DuplicateLayer { layer: wear.1, copy: COPY })?;
    let copy = On(bronze, COPY);
    hand.edit(copy, LayerEdit::Rename("handling wear, gleam".to_owned()))?;
    hand.blend(copy, COLOUR, BlendMode::ColorDodge, 0.08)
}

/// Soot in the air: a solid, let through by a painted mask.
fn grime(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let group = hand.layer(bronze, "air", NewContent::Group(Isolation::PassThrough), None)?;
    let values = [colour(0.87, 0.85, 0.82), rough(0.7)].into_iter().collect();
    let grime = hand.layer(bronze, "grime", NewContent::Solid(values), Some(group))?;
    hand.blend(grime, COLOUR, BlendMode::Multiply, 0.4)?;
    let mask = hand.mask(grime, MaskOwner::Layer, 0.06)?;
    let under = soft(0.020, 0.8, 0.3, into_mask(mask, 0.8));
    hand.all_round(grime, &under, -0.2, |side| vec![arc(0.214, side.first, side.last)])?;
    let crown = soft(0.030, 0.7, 0.3, into_mask(mask, 0.7));
    hand.draw(
        grime,
        &crown,
        DVec3::new(0.0, 1.0, 0.6),
        &[vec![on_bell(0.262, -60.0), on_bell(0.264, 0.0), on_bell(0.262, 60.0)]],
    )
}
