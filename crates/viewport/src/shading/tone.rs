use glam::Vec3;

/// Exposure before [`tone_neutral`]: what diffuse light loses to reflection at a dielectric that faces the eye
/// (0.04) is given back, so that base colour comes back true, from 0.04 to 0.76.
pub const NEUTRAL_EXPOSURE: f32 = 1.0 / 0.96;

/// The largest finite half float: a target of halves may hold infinity, which would become no number at all.
pub const BRIGHTEST: f32 = 65_504.0;

/// Radiance to 0..1, linear: the Khronos PBR Neutral tone mapper (specification of 2024). Negative components
/// count as 0, and those above [`BRIGHTEST`] as that.
pub fn tone_neutral(radiance: Vec3) -> Vec3 {
    let c = radiance.clamp(Vec3::ZERO, Vec3::splat(BRIGHTEST));
    let least = c.min_element();
    let offset = if least < 0.08 { least - 6.25 * least * least } else { 0.04 };
    let shifted = c - offset;
    let peak = shifted.max_element();
    let start = 0.8 - 0.04;
    if peak <= start {
        return shifted;
    }
    let d = 1.0 - start;
    let compressed = 1.0 - d * d / (peak + d - start);
    let grey = 1.0 - 1.0 / (0.15 * (peak - compressed) + 1.0);
    (shifted * (compressed / peak)).lerp(Vec3::splat(compressed), grey)
}

/// Radiance to 0..1, linear, after `exposure_ev` stops: by [`tone_neutral`] with [`NEUTRAL_EXPOSURE`], or where
/// `linear` clipped, for measuring.
pub fn tone_map(radiance: Vec3, exposure_ev: f32, linear: bool) -> Vec3 {
    let exposed = radiance * exposure_ev.exp2();
    if linear {
        exposed.clamp(Vec3::ZERO, Vec3::ONE)
    } else {
        tone_neutral(exposed * NEUTRAL_EXPOSURE)
    }
}

/// Relative luminance of a linear colour (ITU-R BT.709, item 3.2).
pub fn luminance(linear: Vec3) -> f32 {
    linear.dot(Vec3::new(0.2126, 0.7152, 0.0722))
}
