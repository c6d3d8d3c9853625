//! The rope: hemp, dark with tar and dirt between its strands, pale on their backs where hands pull it.

use document::{LayerEdit, MaterialId};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Value};
use raster::from_unit;

use super::chance::Chance;
use super::hand::{Hand, colour, firm, metal, painted, rough, soft};
use super::places::{along, straight};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
/// The rope hangs from here to there.
const TOP: DVec3 = DVec3::new(0.0, -0.060, 0.265);
const KNOT: DVec3 = DVec3::new(0.0, -0.245, 0.265);
const END: DVec3 = DVec3::new(0.0, -0.372, 0.265);
/// Where one stands to see all of it.
const ROUND: [DVec3; 6] = [
    DVec3::new(0.0, 0.1, 1.0),
    DVec3::new(0.87, 0.1, 0.5),
    DVec3::new(0.87, 0.1, -0.5),
    DVec3::new(0.0, -0.6, -1.0),
    DVec3::new(-0.87, 0.1, -0.5),
    DVec3::new(-0.87, 0.1, 0.5),
];

pub(crate) fn paint(hand: &mut Hand, hemp: MaterialId) -> Result<(), String> {
    let mut chance = Chance::new(4);
    let dirt =
        hand.solid(hemp, "hemp in its dirt", &[colour(0.42, 0.34, 0.24), rough(0.9), metal(0.0)])?;
    let rope = straight(TOP, END);
    let backs = hand.painted(hemp, "backs of the strands")?;
    let clean = soft(0.0055, 0.9, 0.35, painted(&[colour(0.66, 0.56, 0.41), rough(0.86)]));
    for from in ROUND {
        let mut lines = vec![rope.clone()];
        lines.extend(along(&rope, 8, 0.06, 0.012, &mut chance));
        hand.draw(backs, &clean, from, &lines)?;
    }
    let fibres = hand.painted(hemp, "fibres")?;
    for (tone, opacity) in [(0.74, 0.5), (0.34, 0.5)] {
        let mut fibre =
            firm(0.0013, opacity, 0.7, painted(&[colour(tone, tone * 0.83, tone * 0.60)]));
        fibre.step = 0.003;
        for from in ROUND {
            hand.draw(fibres, &fibre, from, &along(&rope, 16, 0.05, 0.012, &mut chance))?;
        }
    }
    let tar = hand.painted(hemp, "tar")?;
    hand.blend(tar, COLOUR, BlendMode::Multiply, 0.8)?;
    let dark = soft(0.014, 0.8, 0.4, painted(&[colour(0.45, 0.36, 0.28), rough(0.6)]));
    let seized = straight(TOP, TOP - DVec3::Y * 0.035);
    let whipped = straight(END + DVec3::Y * 0.02, END);
    for from in ROUND {
        hand.draw(tar, &dark, from, &[seized.clone(), whipped.clone()])?;
    }
    let pulled = hand.painted(hemp, "pulled pale")?;
    hand.blend(pulled, COLOUR, BlendMode::Screen, 0.35)?;
    let pale = soft(0.010, 0.85, 0.35, painted(&[colour(0.50, 0.46, 0.38), rough(0.76)]));
    let grip = straight(KNOT + DVec3::Y * 0.06, KNOT - DVec3::Y * 0.05);
    for from in ROUND {
        hand.draw(pulled, &pale, from, &along(&grip, 7, 0.3, 0.012, &mut chance))?;
    }
    let depth = hand.solid(hemp, "damp", &[colour(0.04, 0.03, 0.02)])?;
    hand.blend(depth, COLOUR, BlendMode::Subtract, 0.5)?;
    let salt = hand.solid(hemp, "salt", &[colour(0.05, 0.05, 0.05)])?;
    hand.blend(salt, COLOUR, BlendMode::Add, 0.6)?;
    hand.edit(dirt, LayerEdit::Solid(ChannelId::ROUGHNESS, Some(Value::Scalar(from_unit(0.92)))))
}
