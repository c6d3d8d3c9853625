//! How pen, hand and surface act on the brush.

use brush::{BrushSettings, Reach, Response, Responses};
use egui::Ui;

use crate::brush_in_hand::{BrushInHand, strength};
use crate::desk::Desk;
use crate::widgets::{Scale, ValueRow, fold, named_row, remark, wide_segments};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    steadying(ui, desk);
    by_pressure(ui, &mut desk.brush.settings.pressure);
    let (tilt, speed) = (&mut desk.brush.settings.tilt, &mut desk.brush.settings.speed);
    fold(ui, "Tilt", false, |ui| by(ui, &TILT, tilt));
    fold(ui, "Speed", false, |ui| by(ui, &SPEED, speed));
}

fn by_pressure(ui: &mut Ui, by: &mut Responses) {
    remark(ui, "Pressure acts on");
    response(ui, &SIZE, &mut by.size);
    response(ui, &OPACITY, &mut by.opacity);
    response(ui, &FLOW, &mut by.flow);
    response(ui, &ANGLE, &mut by.angle);
    response(ui, &SCATTER, &mut by.scatter);
    response(ui, &TONES, &mut by.tones);
}

/// What the pen tells beside its pressure: in names, for upright and flat, or slow and fast.
struct Told {
    name: &'static str,
    ends: [&'static str; 2],
    /// The same, where there is little room.
    short: [&'static str; 2],
}

const TILT: Told = Told { name: "tilt", ends: ["upright", "flat"], short: ["up", "flat"] };
const SPEED: Told = Told { name: "speed", ends: ["slow", "fast"], short: ["slow", "fast"] };

/// A row for each end of what follows it.
fn by(ui: &mut Ui, told: &Told, by: &mut Responses) {
    let Responses { size, opacity, flow, angle, scatter, tones } = by;
    let all = [
        ("Size", size),
        ("Opacity", opacity),
        ("Flow", flow),
        ("Turn", angle),
        ("Scatter", scatter),
        ("Tones", tones),
    ];
    for (name, response) in all {
        let shares = [&mut response.at_zero, &mut response.at_full];
        for ((end, short), share) in told.ends.iter().zip(told.short).zip(shares) {
            let about = match name {
                "Turn" => format!("How far the tip is turned, {end}: at 0 % by half a turn"),
                "Scatter" => format!("What is left of how far dabs go astray, {end}"),
                "Tones" => format!("What is left of how dabs differ in colour and values, {end}"),
                _ => format!("What is left of the {}, {end}", name.to_lowercase()),
            };
            let (row, mut value) = (format!("{name}, {short}"), f64::from(*share));
            let spoken = format!("{name} by {}, {end}", told.name);
            let row = ValueRow::new(&row, &about, 0.0..=1.0).percent().spoken(&spoken).usual(1.0);
            if row.show(ui, &mut value).changed() {
                *share = value as f32;
            }
        }
        if !response.is_none() {
            curve(ui, &format!("Curve of {} on {}", told.name, name.to_lowercase()), response);
        }
    }
}

/// How a response goes from one end to the other.
fn curve(ui: &mut Ui, spoken: &str, response: &mut Response) {
    let mut gamma = f64::from(response.gamma);
    let about = "Below 1 it acts early, above 1 only towards the end";
    let row = ValueRow::new("   curve", about, 0.25..=4.0).scale(Scale::Ratio);
    if row.spoken(spoken).usual(1.0).show(ui, &mut gamma).changed() {
        response.gamma = gamma as f32;
    }
}

fn steadying(ui: &mut Ui, desk: &mut Desk) {
    let is_pulled = desk.brush.is_pulled();
    named_row(ui, "Steady by", |ui| {
        let choices = [
            (false, "Filter", "Small shakes are smoothed out; a fast hand is followed at once"),
            (true, "String", "The brush hangs on a string that the hand pulls"),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == is_pulled);
        if let Some(chosen) = chosen.filter(|chosen| *chosen != is_pulled) {
            desk.brush.set_pulled(chosen);
        }
    });
    let mut share = desk.brush.steadying();
    let (name, about) = if is_pulled {
        ("String", "The string's length: a longer one takes sharper turns out")
    } else {
        ("Steadying", "Takes the shake out of the hand; more lags more")
    };
    let row = ValueRow::new(name, about, 0.0..=1.0).percent().usual(BrushInHand::USUAL_STEADYING);
    if row.show(ui, &mut share).changed() {
        desk.brush.set_steadying(share);
    }
}

/// How a row for a response is called.
struct Names {
    name: &'static str,
    spoken: &'static str,
    about: &'static str,
    curve: &'static str,
}

const SIZE: Names = Names {
    name: "Size",
    spoken: "Pressure on size",
    about: "How much smaller the brush gets under a light hand",
    curve: "Curve of pressure on size",
};
const OPACITY: Names = Names {
    name: "Opacity",
    spoken: "Pressure on opacity",
    about: "How much less a light hand can cover",
    curve: "Curve of pressure on opacity",
};
const FLOW: Names = Names {
    name: "Flow",
    spoken: "Pressure on flow",
    about: "How much slower paint builds up under a light hand",
    curve: "Curve of pressure on flow",
};

const ANGLE: Names = Names {
    name: "Turn",
    spoken: "Pressure on the turn",
    about: "How far a light hand turns the tip: at 100 % by half a turn",
    curve: "Curve of pressure on the turn",
};

const SCATTER: Names = Names {
    name: "Scatter",
    spoken: "Pressure on scatter",
    about: "How much less dabs go astray under a light hand (see Jitter)",
    curve: "Curve of pressure on scatter",
};
const TONES: Names = Names {
    name: "Tones",
    spoken: "Pressure on tones",
    about: "How much less dabs differ in colour and values under a light hand (see Jitter)",
    curve: "Curve of pressure on tones",
};

fn response(ui: &mut Ui, names: &Names, response: &mut Response) {
    let mut share = strength(*response);
    let row =
        ValueRow::new(names.name, names.about, 0.0..=1.0).percent().spoken(names.spoken).usual(0.0);
    if row.show(ui, &mut share).changed() {
        response.at_zero = (1.0 - share) as f32;
    }
    if response.at_zero >= 1.0 {
        return;
    }
    curve(ui, names.curve, response);
}

/// Which surfaces a stroke reaches.
pub(crate) fn reach(ui: &mut Ui, settings: &mut BrushSettings) {
    let choices = [
        (Reach::Material, "All", "Every surface of the material under the brush that can be seen"),
        (Reach::Part, "Part", "Only the part under the brush"),
        (Reach::Connected, "Joined", "Only what hangs together with the surface under the brush"),
    ];
    named_row(ui, "Reach", |ui| {
        let chosen = wide_segments(ui, &choices, |choice| choice == settings.reach);
        settings.reach = chosen.unwrap_or(settings.reach);
    });
}
