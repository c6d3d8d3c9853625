//! The board: weathered oak, grain along the planks, black under the iron.

use document::{CellEdit, LayerEdit, MaterialEdit, MaterialId, NewContent};
use glam::DVec3;
use layers::{BlendMode, BlendSpace, ChannelId, Isolation};

use super::hand::{Hand, colour, into_mask, metal, painted, rough, soft, swaying};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;

pub(crate) fn paint(hand: &mut Hand, oak: MaterialId) -> Result<(), String> {
    hand.change(oak, MaterialEdit::BlendSpace(BlendSpace::Linear))?;
    hand.solid(oak, "oak", &[colour(0.55, 0.43, 0.30), rough(0.68), metal(0.0)])?;
    grain(hand, oak)?;
    let silver = hand.painted(oak, "silvered")?;
    hand.blend(silver, COLOUR, BlendMode::Color, 0.5)?;
    let grey = [colour(0.52, 0.50, 0.47), rough(0.82)];
    for (x, from, to) in [(-0.2, -0.2, 0.2), (0.18, 0.1, 0.6), (-0.05, 0.4, 0.62)] {
        let line = swaying(DVec3::new(x, from, 0.0), DVec3::new(x, to, 0.0), DVec3::X * 0.04, 2.0);
        hand.draw(silver, painted(&grey), soft(0.8, 0.15), DVec3::new(0.1, 0.1, 1.0), 0.07, &line)?;
    }
    let warm = hand.painted(oak, "sheltered")?;
    hand.blend(warm, COLOUR, BlendMode::Luminosity, 0.15)?;
    let line = swaying(DVec3::new(-0.08, 0.1, 0.0), DVec3::new(0.08, 0.3, 0.0), DVec3::X * 0.05, 3.0);
    hand.draw(warm, painted(&[colour(0.66, 0.52, 0.36)]), soft(0.7, 0.2), DVec3::Z, 0.09, &line)?;
    stains(hand, oak)
}

/// Lines along the wood, in the flat view and on the model.
fn grain(hand: &mut Hand, oak: MaterialId) -> Result<(), String> {
    let grain = hand.painted(oak, "grain")?;
    hand.blend(grain, COLOUR, BlendMode::ColorBurn, 0.35)?;
    let dark = [colour(0.45, 0.34, 0.24), rough(0.76)];
    for line in [0.08, 0.19, 0.27, 0.33] {
        let points = [[line, 0.06], [line + 0.012, 0.3], [line - 0.006, 0.55], [line + 0.004, 0.92]];
        hand.draw_flat(grain, painted(&dark), soft(0.6, 0.5), 0.004, &points)?;
    }
    for x in [-0.21, -0.13, 0.02, 0.11, 0.2] {
        let line = swaying(DVec3::new(x, -0.22, 0.0), DVec3::new(x, 0.63, 0.0), DVec3::X * 0.008, 1.7);
        hand.draw(grain, painted(&dark), soft(0.5, 0.35), DVec3::Z, 0.006, &line)?;
    }
    Ok(())
}

/// Iron and water turn oak black: a group, so that all of it fades as one.
fn stains(hand: &mut Hand, oak: MaterialId) -> Result<(), String> {
    let group = hand.layer(oak, "stains", NewContent::Group(Isolation::Isolated), None)?;
    let black = hand.layer(oak, "iron stain", NewContent::Painted, Some(group))?;
    let stain = [colour(0.20, 0.18, 0.18), rough(0.6)];
    for x in [-0.055, 0.055] {
        let line = swaying(DVec3::new(x, 0.25, 0.0), DVec3::new(x * 1.2, -0.05, 0.0), DVec3::X * 0.006, 2.0);
        hand.draw(black, painted(&stain), soft(0.65, 0.3), DVec3::new(x * 8.0, -0.3, 1.0), 0.018, &line)?;
    }
    let values = [colour(0.30, 0.38, 0.30), rough(0.9)].into_iter().collect();
    let moss = hand.layer(oak, "algae", NewContent::Solid(values), Some(group))?;
    let mask = hand.mask(moss, 0.0)?;
    let foot = swaying(DVec3::new(-0.24, -0.2, 0.0), DVec3::new(0.24, -0.2, 0.0), DVec3::Y * 0.015, 5.0);
    hand.draw(moss, into_mask(mask, 0.7), soft(0.8, 0.2), DVec3::Z, 0.045, &foot)?;
    hand.edit(group, LayerEdit::Cells(vec![COLOUR], CellEdit::Blend(BlendMode::Multiply)))?;
    hand.edit(group, LayerEdit::Visible(false))?;
    hand.edit(group, LayerEdit::Visible(true))
}
