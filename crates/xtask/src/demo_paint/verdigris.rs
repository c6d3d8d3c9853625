//! Green-grey crust where water stands on the bell, and the runs that it leaves: neither metal nor smooth.

use document::{Deposit, LayerEdit, MaskOwner, MaterialId, NewContent};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Isolation, Opacity};

use super::chance::Chance;
use super::hand::{Hand, Loaded, On, colour, firm, into_mask, metal, painted, rough, soft};
use super::places::{Belt, arc, circle, run_down};

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGH: ChannelId = ChannelId::ROUGHNESS;
const METAL: ChannelId = ChannelId::METALNESS;

pub(crate) fn paint(
    hand: &mut Hand,
    bronze: MaterialId,
    chance: &mut Chance,
) -> Result<(), String> {
    let group = hand.layer(bronze, "verdigris", NewContent::Group(Isolation::Isolated), None)?;
    crust(hand, bronze, group, chance)?;
    runs(hand, bronze, group, chance)?;
    bloom(hand, bronze, group, chance)?;
    let mask = hand.mask(group, MaskOwner::Layer, 1.0)?;
    let held = soft(0.024, 0.9, 0.4, into_mask(mask, 0.0));
    hand.draw(group, &held, DVec3::Z, &[arc(0.10, -22.0, 16.0), arc(0.12, -12.0, 20.0)])?;
    let opacity = Opacity::new(0.96).map_err(|error| error.to_string())?;
    hand.edit(group, LayerEdit::Opacity(opacity))
}

/// In the mouldings, broken up.
fn crust(
    hand: &mut Hand,
    bronze: MaterialId,
    group: On,
    chance: &mut Chance,
) -> Result<(), String> {
    let crust = hand.layer(bronze, "crust", NewContent::Painted, Some(group))?;
    let green = [colour(0.33, 0.49, 0.43), rough(0.86), metal(0.0)];
    for (height, lift) in [(0.2175, -0.3), (0.0555, 0.5)] {
        let groove = soft(0.009, 0.9, 0.55, painted(&green));
        hand.all_round(crust, &groove, lift, |side| vec![arc(height, side.first, side.last)])?;
    }
    let broken = soft(0.008, 0.9, 0.5, painted(&green));
    let belts = [
        (0.196, 0.216, 6.0, 12),
        (0.228, 0.246, 8.0, 9),
        (0.040, 0.064, 7.0, 14),
        (0.026, 0.036, 9.0, 5),
    ];
    for (low, high, length, count) in belts {
        let belt = Belt { low, high, length };
        hand.all_round(crust, &broken, 0.1, |side| belt.touches(side, count, chance))?;
    }
    let crown = soft(0.012, 0.9, 0.5, painted(&green));
    for from in [DVec3::new(0.6, 1.0, 0.4), DVec3::new(-0.6, 1.0, 0.4)] {
        hand.draw(crust, &crown, from, &[circle(0.270, 0.057)])?;
    }
    let mask = hand.mask(crust, MaskOwner::Cell(ROUGH), 1.0)?;
    let rubbed = soft(0.02, 0.8, 0.3, into_mask(mask, 0.5));
    hand.draw(crust, &rubbed, DVec3::Z, &[arc(0.05, -40.0, 35.0)])
}

/// Down from the shoulder and from the rim, all round.
fn runs(hand: &mut Hand, bronze: MaterialId, group: On, chance: &mut Chance) -> Result<(), String> {
    let runs = hand.layer(bronze, "runs", NewContent::Painted, Some(group))?;
    let pale = [colour(0.42, 0.57, 0.50), rough(0.90), metal(0.0)];
    for (radius, opacity, count, reach) in [(0.0085, 0.65, 5, 0.10), (0.0050, 0.85, 5, 0.06)] {
        let run = Loaded { step: 0.007, ..soft(radius, opacity, 0.5, painted(&pale)) };
        hand.all_round(runs, &run, 0.1, |side| {
            let mut run = || {
                let degrees = chance.between(side.first, side.last);
                run_down(0.222, chance.between(0.09, 0.09 + reach), degrees, chance)
            };
            (0..count).map(|_| run()).collect()
        })?;
    }
    let drips = soft(0.0055, 0.8, 0.5, painted(&pale));
    hand.all_round(runs, &drips, 0.0, |side| {
        let mut drip = || {
            let degrees = chance.between(side.first, side.last);
            run_down(0.046, chance.between(0.014, 0.03), degrees, chance)
        };
        (0..5).map(|_| drip()).collect()
    })?;
    let wiped = soft(0.018, 0.6, 0.3, Deposit::Erase(vec![COLOUR, ROUGH, METAL]));
    hand.draw(
        runs,
        &wiped,
        DVec3::new(0.4, 0.0, 1.0),
        &[arc(0.15, -20.0, 40.0), arc(0.17, 0.0, 50.0)],
    )
}

/// Pale powder on the crust.
fn bloom(
    hand: &mut Hand,
    bronze: MaterialId,
    group: On,
    chance: &mut Chance,
) -> Result<(), String> {
    let bloom = hand.layer(bronze, "powder", NewContent::Painted, Some(group))?;
    hand.blend(bloom, COLOUR, BlendMode::Lighten, 0.85)?;
    let powder =
        firm(0.004, 0.7, 0.6, painted(&[colour(0.58, 0.72, 0.63), rough(0.94), metal(0.0)]));
    for (low, high, length, count) in [(0.200, 0.245, 3.0, 22), (0.036, 0.070, 3.0, 22)] {
        let belt = Belt { low, high, length };
        hand.all_round(bloom, &powder, 0.1, |side| belt.touches(side, count, chance))?;
    }
    Ok(())
}
