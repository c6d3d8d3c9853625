//! The bell: cast bronze, verdigris where water stands, worn bright at the lip.

use brush::{BrushSettings, PressureResponse, Response};
use document::{CellEdit, Deposit, LayerEdit, MaterialEdit, MaterialId, NewContent};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Isolation, LayerId, Opacity};

use super::hand::{
    Hand, arc, colour, into_mask, metal, painted, rough, soft, swaying, towards,
};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGH: ChannelId = ChannelId::ROUGHNESS;

pub(crate) fn paint(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let base = [colour(0.86, 0.69, 0.50), rough(0.36), metal(1.0)];
    hand.change(bronze, MaterialEdit::Ground(base[0].0, base[0].1))?;
    hand.solid(bronze, "cast bronze", &base)?;
    casting(hand, bronze)?;
    verdigris(hand, bronze)?;
    wear(hand, bronze)?;
    grime(hand, bronze)
}

/// Broad, faint changes of tone, as a casting has them.
fn casting(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let tone = hand.painted(bronze, "casting, tone")?;
    hand.blend(tone, COLOUR, BlendMode::Multiply, 0.8)?;
    for (angle, height) in [(-60.0, 0.20), (20.0, 0.12), (100.0, 0.17), (190.0, 0.22)] {
        let paint = painted(&[colour(0.80, 0.72, 0.66), rough(0.48)]);
        let aims = arc(height, 0.12, angle - 45.0, angle + 45.0);
        hand.draw(tone, paint, soft(0.6, 0.2), towards(angle, 0.2), 0.06, &aims)?;
    }
    let flow = hand.painted(bronze, "casting, flow lines")?;
    hand.blend(flow, COLOUR, BlendMode::SoftLight, 0.7)?;
    for angle in [-35.0, 10.0, 48.0] {
        let aims = arc(0.26, 0.10, angle, angle + 6.0);
        let end = arc(0.04, 0.17, angle, angle + 6.0);
        let line = swaying(aims[0], end[20], DVec3::X * 0.006, 2.5);
        let paint = painted(&[colour(0.35, 0.3, 0.28)]);
        hand.draw(flow, paint, soft(0.5, 0.4), towards(angle, 0.1), 0.012, &line)?;
    }
    Ok(())
}

/// Green-grey crust along the mouldings and in runs below them; neither metal nor smooth.
fn verdigris(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let group = hand.layer(bronze, "verdigris", NewContent::Group(Isolation::Isolated), None)?;
    let crust = hand.layer(bronze, "crust", NewContent::Painted, Some(group))?;
    let green = [colour(0.36, 0.53, 0.47), rough(0.86), metal(0.0)];
    for (height, distance, from, to) in [
        (0.285, 0.090, -70.0, 70.0),
        (0.285, 0.090, 110.0, 250.0),
        (0.075, 0.150, -75.0, 30.0),
        (0.075, 0.150, 120.0, 210.0),
        (0.030, 0.170, -40.0, 75.0),
    ] {
        let aims = arc(height, distance, from, to);
        let middle = f64::midpoint(from, to);
        hand.draw(crust, painted(&green), soft(0.85, 0.5), towards(middle, 0.15), 0.014, &aims)?;
    }
    let runs = hand.layer(bronze, "runs", NewContent::Painted, Some(group))?;
    hand.blend(runs, COLOUR, BlendMode::Lighten, 0.9)?;
    let pale = [colour(0.50, 0.66, 0.58), rough(0.92), metal(0.0)];
    for angle in [-50.0, -22.0, 8.0, 37.0, 62.0, 150.0, 200.0] {
        let (top, foot) = (arc(0.25, 0.105, angle, angle)[0], arc(0.09, 0.14, angle, angle)[0]);
        let line = swaying(top, foot, towards(angle + 90.0, 0.0) * 0.004, 1.5);
        let brush = BrushSettings {
            pressure: PressureResponse { size: Response { at_zero: 0.2, gamma: 1.0 }, ..PressureResponse::NONE },
            ..soft(0.6, 0.5)
        };
        hand.draw(runs, painted(&pale), brush, towards(angle, 0.1), 0.009, &line)?;
    }
    let wiped = arc(0.17, 0.13, -20.0, 25.0);
    hand.draw(runs, Deposit::Erase(vec![COLOUR, ROUGH]), soft(0.7, 0.3), towards(0.0, 0.1), 0.03, &wiped)?;
    let mask = hand.mask(group, 1.0)?;
    let held = arc(0.285, 0.09, -12.0, 14.0);
    hand.draw(group, into_mask(mask, 0.0), soft(0.9, 0.4), towards(0.0, 0.3), 0.022, &held)?;
    let opacity = Opacity::new(0.9).map_err(|error| error.to_string())?;
    hand.edit(group, LayerEdit::Opacity(opacity))
}

/// The lip, struck and handled: bright and smooth.
fn wear(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let wear = hand.painted(bronze, "handling wear")?;
    hand.blend(wear, COLOUR, BlendMode::Screen, 0.35)?;
    hand.edit(wear, LayerEdit::Cells(vec![ROUGH], CellEdit::Blend(BlendMode::Darken)))?;
    let bright = [colour(0.75, 0.66, 0.48), rough(0.16), metal(1.0)];
    for (from, to) in [(-85.0, 5.0), (-5.0, 85.0), (95.0, 185.0), (175.0, 265.0)] {
        let aims = arc(0.008, 0.174, from, to);
        let middle = f64::midpoint(from, to);
        hand.draw(wear, painted(&bright), soft(0.9, 0.35), towards(middle, -0.1), 0.010, &aims)?;
    }
    hand.change(bronze, MaterialEdit::DuplicateLayer { layer: wear.1, copy: LayerId(40) })?;
    let copy = super::hand::On(bronze, LayerId(40));
    hand.edit(copy, LayerEdit::Rename("handling wear, again".to_owned()))?;
    hand.blend(copy, COLOUR, BlendMode::ColorDodge, 0.12)
}

/// Soot in the air, thickest under the shoulder: a solid, let through by a painted mask.
fn grime(hand: &mut Hand, bronze: MaterialId) -> Result<(), String> {
    let group = hand.layer(bronze, "air", NewContent::Group(Isolation::PassThrough), None)?;
    let values = [colour(0.55, 0.52, 0.50), rough(0.7)].into_iter().collect();
    let grime = hand.layer(bronze, "grime", NewContent::Solid(values), Some(group))?;
    hand.blend(grime, COLOUR, BlendMode::Multiply, 0.75)?;
    let mask = hand.mask(grime, 0.04)?;
    for (angle, height) in [(-40.0, 0.235), (45.0, 0.23), (135.0, 0.235), (225.0, 0.23)] {
        let aims = arc(height, 0.11, angle - 42.0, angle + 42.0);
        hand.draw(grime, into_mask(mask, 0.8), soft(0.7, 0.25), towards(angle, -0.2), 0.04, &aims)?;
    }
    Ok(())
}
