//! Bracket, bolts and clapper: forged iron, black with scale, rusting along its edges and round the bolts,
//! bright where it rubs.

use brush::{BuildUp, FillScope, Reach};
use document::{Deposit, LayerEdit, MaterialEdit, MaterialId};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Opacity, Place};
use surface::PartId;

use super::chance::Chance;
use super::hand::{Hand, On, colour, firm, metal, painted, rough, soft};
use super::places::{Line, along, straight};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const CLAPPER: PartId = PartId(1);
const BRACKET: PartId = PartId(2);

/// Before the plate's face.
const FACE: f64 = 0.0095;
/// Where the bolts are: left or right, and height.
const BOLTS: [[f64; 2]; 4] = [[-0.035, 0.272], [0.035, 0.272], [0.035, 0.512], [-0.035, 0.512]];
/// Heights of the bars' roots.
const ARM: f64 = 0.308;
const BRACE: f64 = 0.490;

pub(crate) fn paint(hand: &mut Hand, iron: MaterialId) -> Result<(), String> {
    let mut chance = Chance::new(2);
    hand.solid(iron, "forge scale", &[colour(0.25, 0.245, 0.25), rough(0.50), metal(0.0)])?;
    let tint = hand.painted(iron, "scale, tint")?;
    hand.fill(tint, FillScope::Part(BRACKET), &[colour(0.46, 0.47, 0.50), rough(0.56)])?;
    hand.fill(tint, FillScope::Part(CLAPPER), &[colour(0.54, 0.50, 0.47), rough(0.46)])?;
    hand.blend(tint, COLOUR, BlendMode::HardLight, 0.5)?;
    hammer(hand, iron, &mut chance)?;
    rust(hand, iron, &mut chance)?;
    let stain = hand.painted(iron, "orange bloom")?;
    hand.blend(stain, COLOUR, BlendMode::Overlay, 0.8)?;
    let bloom = soft(0.02, 0.7, 0.3, painted(&[colour(0.72, 0.48, 0.28), rough(0.85)]));
    let plate = straight(DVec3::new(0.0, 0.25, FACE), DVec3::new(0.0, 0.53, FACE));
    for x in [-0.5, 0.5] {
        hand.draw(
            stain,
            &bloom,
            DVec3::new(x, 0.1, 1.0),
            &along(&plate, 12, 0.15, 0.045, &mut chance),
        )?;
    }
    worn(hand, iron, &mut chance)?;
    hand.change(iron, MaterialEdit::MoveLayer(stain.1, Place { parent: None, index: 3 }))?;
    let opacity = Opacity::new(0.85).map_err(|error| error.to_string())?;
    hand.edit(stain, LayerEdit::Opacity(opacity))
}

/// The plate's outline, just inside its bevel.
fn outline() -> Line {
    let (x, cut, low, high) = (0.0565, 0.0415, 0.2425, 0.5415);
    let corners = [
        [-cut, low],
        [cut, low],
        [x, low + 0.015],
        [x, high - 0.015],
        [cut, high],
        [-cut, high],
        [-x, high - 0.015],
        [-x, low + 0.015],
        [-cut, low],
    ]
    .map(|[x, y]| DVec3::new(x, y, FACE));
    corners
        .windows(2)
        .flat_map(|side| (0..8).map(|step| side[0].lerp(side[1], f64::from(step) / 8.0)))
        .collect()
}

fn arm() -> Line {
    let hook = [[0.30, 0.3175], [0.311, 0.33], [0.313, 0.355], [0.295, 0.372], [0.275, 0.367]];
    let mut line = straight(DVec3::new(0.0, ARM, 0.015), DVec3::new(0.0, ARM, 0.285));
    line.extend(hook.map(|[z, y]| DVec3::new(0.0, y, z)));
    line
}

fn brace() -> Line {
    [
        [BRACE, 0.010],
        [0.486, 0.026],
        [0.456, 0.062],
        [0.408, 0.089],
        [0.360, 0.118],
        [0.326, 0.156],
        [0.312, 0.185],
    ]
    .map(|[y, z]| DVec3::new(0.0, y, z))
    .into()
}

fn ring(x: f64, y: f64, radius: f64) -> Line {
    (0..=12)
        .map(|step| {
            let angle = f64::from(step) / 12.0 * std::f64::consts::TAU;
            DVec3::new(x + radius * libm::cos(angle), y + radius * libm::sin(angle), FACE)
        })
        .collect()
}

/// Where one stands to see each side of the bars.
const SIDES: [DVec3; 4] = [
    DVec3::new(1.0, 0.5, 0.35),
    DVec3::new(-1.0, 0.5, 0.35),
    DVec3::new(0.15, 1.0, 0.5),
    DVec3::new(0.5, -0.4, 1.0),
];

/// Flats that the hammer left.
fn hammer(hand: &mut Hand, iron: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let marks = hand.painted(iron, "hammer marks")?;
    hand.blend(marks, COLOUR, BlendMode::SoftLight, 0.7)?;
    let plate = straight(DVec3::new(0.0, 0.25, FACE), DVec3::new(0.0, 0.53, FACE));
    for (tone, gloss) in [(0.70, 0.40), (0.30, 0.62)] {
        let flat = firm(0.011, 0.7, 0.7, painted(&[colour(tone, tone, tone), rough(gloss)]));
        hand.draw(marks, &flat, DVec3::new(0.1, 0.2, 1.0), &along(&plate, 30, 0.03, 0.05, chance))?;
        for side in SIDES {
            let mut bars = along(&arm(), 12, 0.03, 0.003, chance);
            bars.extend(along(&brace(), 8, 0.04, 0.003, chance));
            hand.draw(marks, &flat, side, &bars)?;
        }
    }
    Ok(())
}

/// First a brown bloom, then red and orange scabs.
fn rust(hand: &mut Hand, iron: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let rust = hand.painted(iron, "rust")?;
    let brown = |opacity| painted_rust([0.34, 0.22, 0.17], opacity);
    let broad = soft(0.013, 0.85, 0.35, brown(0.90));
    let front = DVec3::new(0.05, 0.1, 1.0);
    hand.draw(rust, &broad, front, &[outline()])?;
    for x in [-1.0, 1.0] {
        hand.draw(
            rust,
            &broad,
            DVec3::new(x, 0.0, 0.35),
            &along(&outline(), 30, 0.05, 0.004, chance),
        )?;
    }
    for [x, y] in BOLTS {
        let mut round = soft(0.010, 0.9, 0.5, brown(0.92));
        (round.brush.reach, round.brush.build_up) = (Reach::Part, BuildUp::Even);
        hand.draw(
            rust,
            &round,
            DVec3::new(x * 4.0, 0.3, 1.0),
            &[ring(x, y, 0.0215), ring(x, y, 0.015)],
        )?;
    }
    let scab = soft(0.007, 0.9, 0.6, painted_rust([0.43, 0.26, 0.17], 0.94));
    let orange = soft(0.004, 0.8, 0.5, painted_rust([0.54, 0.33, 0.19], 0.95));
    for (brush, count) in [(&scab, 26), (&orange, 22)] {
        hand.draw(rust, brush, front, &along(&outline(), count, 0.04, 0.007, chance))?;
        for side in SIDES {
            let mut bars = along(&arm(), count / 2, 0.05, 0.006, chance);
            bars.extend(along(&brace(), count / 3, 0.08, 0.006, chance));
            hand.draw(rust, brush, side, &bars)?;
        }
        let heads: Vec<Line> = BOLTS
            .iter()
            .flat_map(|[x, y]| along(&ring(*x, *y, 0.012), 5, 0.15, 0.004, chance))
            .collect();
        hand.draw(rust, brush, DVec3::new(0.1, 0.25, 1.0), &heads)?;
        let rod = straight(DVec3::new(0.0, -0.03, 0.266), DVec3::new(0.0, -0.08, 0.27));
        for x in [-1.0, 1.0] {
            let from = DVec3::new(x, -0.4, 0.6);
            hand.draw(rust, brush, from, &along(&rod, 8, 0.3, 0.02, chance))?;
        }
    }
    nuts(hand, rust, &scab, chance)?;
    let runs: Vec<Line> = BOLTS
        .iter()
        .map(|[x, y]| {
            straight(DVec3::new(*x, y - 0.018, FACE), DVec3::new(x * 1.05, y - 0.06, FACE))
        })
        .collect();
    hand.draw(rust, &soft(0.007, 0.8, 0.4, brown(0.9)), front, &runs[2..])?;
    let cleaned = soft(0.012, 0.6, 0.3, Deposit::Erase(vec![COLOUR, ChannelId::ROUGHNESS]));
    hand.draw(
        rust,
        &cleaned,
        front,
        &[straight(DVec3::new(-0.02, 0.36, FACE), DVec3::new(0.025, 0.43, FACE))],
    )
}

/// Behind the board nobody paints: the nuts are rusty all over.
fn nuts(
    hand: &mut Hand,
    rust: On,
    scab: &super::hand::Loaded,
    chance: &mut Chance,
) -> Result<(), String> {
    let nuts: Vec<Line> = BOLTS
        .iter()
        .flat_map(|[x, y]| {
            let line =
                straight(DVec3::new(x - 0.008, *y, -0.046), DVec3::new(x + 0.008, *y, -0.046));
            along(&line, 4, 0.6, 0.008, chance)
        })
        .collect();
    hand.draw(rust, scab, DVec3::new(0.1, 0.1, -1.0), &nuts)
}

fn painted_rust([r, g, b]: [f32; 3], roughness: f32) -> Deposit {
    painted(&[colour(r, g, b), rough(roughness), metal(0.0)])
}

/// Bare metal: along edges, where the loop turns, where the clapper strikes.
fn worn(hand: &mut Hand, iron: MaterialId, chance: &mut Chance) -> Result<(), String> {
    let worn = hand.painted(iron, "bare metal")?;
    let bare = [colour(0.78, 0.77, 0.75), rough(0.28), metal(1.0)];
    let edge = firm(0.0028, 0.9, 0.7, painted(&bare));
    hand.draw(
        worn,
        &edge,
        DVec3::new(0.05, 0.1, 1.0),
        &along(&outline(), 14, 0.05, 0.001, chance),
    )?;
    let heads: Vec<Line> = BOLTS
        .iter()
        .flat_map(|[x, y]| along(&ring(*x, *y, 0.011), 3, 0.12, 0.0008, chance))
        .collect();
    hand.draw(worn, &edge, DVec3::new(0.2, 0.3, 1.0), &heads)?;
    let bars = along(&arm(), 12, 0.06, 0.009, chance);
    hand.draw(worn, &edge, SIDES[2], &bars)?;
    let rubbed = soft(0.010, 0.95, 0.6, painted(&bare));
    let seat = straight(DVec3::new(0.0, ARM + 0.009, 0.225), DVec3::new(0.0, ARM + 0.009, 0.268));
    for from in [SIDES[0], SIDES[1], SIDES[2]] {
        hand.draw(worn, &rubbed, from, std::slice::from_ref(&seat))?;
    }
    hand.blend(worn, COLOUR, BlendMode::Lighten, 1.0)?;
    for from in [DVec3::Z, DVec3::NEG_Z] {
        let mut ball = soft(0.020, 0.95, 0.6, painted(&bare));
        ball.brush.reach = Reach::Connected;
        let blow = straight(DVec3::new(-0.014, -0.012, 0.262), DVec3::new(0.014, -0.014, 0.262));
        hand.draw(worn, &ball, from - DVec3::Y * 0.4, &[blow])?;
    }
    Ok(())
}
