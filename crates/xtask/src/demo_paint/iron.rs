//! Bracket, bolts and clapper: forged iron, rusting from the edges, polished where it strikes.

use brush::{BuildUp, BrushSettings, FillScope, Reach};
use document::{LayerEdit, MaterialEdit, MaterialId};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Opacity, Place};
use surface::PartId;

use super::hand::{Hand, colour, metal, painted, rough, soft, swaying};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const CLAPPER: PartId = PartId(1);
const BRACKET: PartId = PartId(2);

pub(crate) fn paint(hand: &mut Hand, iron: MaterialId) -> Result<(), String> {
    hand.solid(iron, "forged iron", &[colour(0.74, 0.73, 0.71), rough(0.52), metal(1.0)])?;
    let scale = hand.painted(iron, "forge scale")?;
    hand.fill(scale, FillScope::Part(BRACKET), &[colour(0.62, 0.60, 0.60), rough(0.64)])?;
    hand.fill(scale, FillScope::Part(CLAPPER), &[colour(0.78, 0.77, 0.75), rough(0.42)])?;
    hand.blend(scale, COLOUR, BlendMode::HardLight, 0.35)?;

    let rust = hand.painted(iron, "rust")?;
    let red = [colour(0.42, 0.25, 0.16), rough(0.93), metal(0.0)];
    let (foot, head) = (DVec3::new(0.0, 0.27, 0.012), DVec3::new(0.0, 0.53, 0.012));
    for side in [-0.05, 0.05] {
        let x = DVec3::X * side;
        let line = swaying(foot + x, head + x, DVec3::X * 0.003, 4.0);
        hand.draw(rust, painted(&red), soft(0.8, 0.4), DVec3::new(side * 4.0, 0.1, 1.0), 0.012, &line)?;
    }
    let arm = swaying(DVec3::new(0.0, 0.50, 0.05), DVec3::new(0.0, 0.50, 0.30), DVec3::X * 0.01, 2.0);
    hand.draw(rust, painted(&red), soft(0.7, 0.25), DVec3::new(0.1, 1.0, 0.15), 0.03, &arm)?;
    let parts_only = BrushSettings { reach: Reach::Part, build_up: BuildUp::Even, ..soft(0.75, 1.0) };
    for bolt in [DVec3::new(-0.03, 0.3, 0.02), DVec3::new(0.03, 0.3, 0.02), DVec3::new(-0.03, 0.49, 0.02), DVec3::new(0.03, 0.49, 0.02)] {
        let dab = [bolt, bolt + DVec3::Y * 0.004];
        hand.draw(rust, painted(&red), parts_only, DVec3::new(bolt.x * 3.0, 0.3, 1.0), 0.018, &dab)?;
    }

    let stain = hand.painted(iron, "orange bloom")?;
    hand.blend(stain, COLOUR, BlendMode::Overlay, 0.6)?;
    let bloom = [colour(0.66, 0.40, 0.20), rough(0.88)];
    let line = swaying(DVec3::new(-0.02, 0.29, 0.012), DVec3::new(0.02, 0.5, 0.012), DVec3::X * 0.02, 3.0);
    hand.draw(stain, painted(&bloom), soft(0.5, 0.2), DVec3::new(0.2, 0.1, 1.0), 0.02, &line)?;

    let struck = hand.painted(iron, "struck bright")?;
    hand.blend(struck, COLOUR, BlendMode::Lighten, 0.8)?;
    let bright = [colour(0.83, 0.82, 0.80), rough(0.2), metal(1.0)];
    for from in [DVec3::Z, DVec3::NEG_Z] {
        let ball = [DVec3::new(-0.012, -0.02, 0.262), DVec3::new(0.012, -0.025, 0.262)];
        let connected = BrushSettings { reach: Reach::Connected, ..soft(0.9, 0.6) };
        hand.draw(struck, painted(&bright), connected, from - DVec3::Y * 0.4, 0.022, &ball)?;
    }
    hand.change(iron, MaterialEdit::MoveLayer(stain.1, Place { parent: None, index: 2 }))?;
    let opacity = Opacity::new(0.85).map_err(|error| error.to_string())?;
    hand.edit(stain, LayerEdit::Opacity(opacity))
}
