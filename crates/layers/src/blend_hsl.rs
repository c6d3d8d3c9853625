//! The blend modes that need all three components: hue, saturation, color, luminosity.
//! W3C Compositing and Blending Level 1 (2015), section 10.2.

use crate::BlendMode;

type Rgb = [f32; 3];

/// B(Cb, Cs) of a mode that is not separable; the source for any other.
pub(crate) fn blend(mode: BlendMode, cb: Rgb, cs: Rgb) -> Rgb {
    let blended = match mode {
        BlendMode::Hue => set_luminosity(set_saturation(cs, saturation(cb)), luminosity(cb)),
        BlendMode::Saturation => set_luminosity(set_saturation(cb, saturation(cs)), luminosity(cb)),
        BlendMode::Color => set_luminosity(cs, luminosity(cb)),
        BlendMode::Luminosity => set_luminosity(cb, luminosity(cs)),
        _ => cs,
    };
    blended.map(|component| component.clamp(0.0, 1.0))
}

fn luminosity([r, g, b]: Rgb) -> f32 {
    0.3 * r + 0.59 * g + 0.11 * b
}

fn least([r, g, b]: Rgb) -> f32 {
    r.min(g).min(b)
}

fn greatest([r, g, b]: Rgb) -> f32 {
    r.max(g).max(b)
}

fn saturation(colour: Rgb) -> f32 {
    greatest(colour) - least(colour)
}

/// The colour stretched so that its least component is 0 and its greatest `saturation`; W3C's
/// `SetSat`, written without sorting: all three components follow one straight line.
fn set_saturation(colour: Rgb, saturation: f32) -> Rgb {
    let (low, high) = (least(colour), greatest(colour));
    if high > low {
        colour.map(|component| (component - low) * saturation / (high - low))
    } else {
        [0.0; 3]
    }
}

/// W3C's `SetLum`.
fn set_luminosity(colour: Rgb, target: f32) -> Rgb {
    let shift = target - luminosity(colour);
    clip(colour.map(|component| component + shift))
}

/// W3C's `ClipColor`: pulls components beyond 0..1 towards the colour's luminosity, which stays.
/// The differences divided by are tested against 0, since rounding can make a grey leave 0..1.
fn clip(colour: Rgb) -> Rgb {
    let l = luminosity(colour);
    let (low, high) = (least(colour), greatest(colour));
    let mut clipped = colour;
    if low < 0.0 && low < l {
        clipped = clipped.map(|component| l + (component - l) * l / (l - low));
    }
    if high > 1.0 && high > l {
        clipped = clipped.map(|component| l + (component - l) * (1.0 - l) / (high - l));
    }
    clipped
}
