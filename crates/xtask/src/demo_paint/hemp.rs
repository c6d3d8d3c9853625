//! The rope: tarred hemp, paler where hands pull it.

use document::{LayerEdit, MaterialId};
use glam::DVec3;
use layers::{BlendMode, ChannelId, LayerId, Value};
use raster::from_unit;

use super::hand::{Hand, On, colour, metal, painted, rough, soft, swaying};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;

pub(crate) fn paint(hand: &mut Hand, hemp: MaterialId) -> Result<(), String> {
    let base = hand.solid(hemp, "hemp", &[colour(0.64, 0.55, 0.41), rough(0.88), metal(0.0)])?;
    let tar = hand.painted(hemp, "tar")?;
    hand.blend(tar, COLOUR, BlendMode::Multiply, 0.9)?;
    for from in [DVec3::Z, DVec3::X, DVec3::NEG_Z, DVec3::NEG_X] {
        let line = swaying(DVec3::new(0.0, -0.08, 0.265), DVec3::new(0.0, -0.2, 0.265), DVec3::ZERO, 1.0);
        let dark = [colour(0.42, 0.34, 0.28), rough(0.6)];
        hand.draw(tar, painted(&dark), soft(0.7, 0.3), from, 0.025, &line)?;
    }
    let pulled = hand.painted(hemp, "pulled pale")?;
    hand.blend(pulled, COLOUR, BlendMode::Screen, 0.4)?;
    for from in [DVec3::new(0.5, 0.0, 1.0), DVec3::new(-0.5, 0.0, -1.0)] {
        let line = swaying(DVec3::new(0.0, -0.27, 0.265), DVec3::new(0.0, -0.34, 0.265), DVec3::ZERO, 1.0);
        let pale = [colour(0.5, 0.47, 0.42), rough(0.78)];
        hand.draw(pulled, painted(&pale), soft(0.8, 0.4), from, 0.03, &line)?;
    }
    let depth = hand.solid(hemp, "depth", &[colour(0.04, 0.03, 0.02)])?;
    hand.blend(depth, COLOUR, BlendMode::Subtract, 0.5)?;
    let salt = hand.solid(hemp, "salt", &[colour(0.05, 0.05, 0.05)])?;
    hand.blend(salt, COLOUR, BlendMode::Add, 0.6)?;
    let value = Value::Scalar(from_unit(0.9));
    hand.edit(On(hemp, LayerId(base.1.0)), LayerEdit::Solid(ChannelId::ROUGHNESS, Some(value)))
}
