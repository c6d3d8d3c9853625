// Radiance to what a screen shows: pure functions, no bindings. Needs nothing.
//
//   tone_neutral(radiance: vec3f) -> vec3f                               Khronos PBR Neutral, to 0..1 linear
//   tone_map(radiance: vec3f, exposure_ev: f32, linear: bool) -> vec3f   with exposure, to 0..1 linear;
//                                                                        `linear`: clipped, for measuring
//
// The result is linear: `encode_srgb` comes after. Twins of the same names: `viewport::shading`.

// What diffuse light loses to reflection at a dielectric that faces the eye is given back (1 - 0.04), so that
// base colour comes back true.
const NEUTRAL_EXPOSURE: f32 = 1.0 / 0.96;

// Largest finite half float: a target of halves may hold infinity, which would become no number at all.
const BRIGHTEST: f32 = 65504.0;

// Khronos PBR Neutral tone mapper, specification of 2024.
fn tone_neutral(radiance: vec3f) -> vec3f {
    let c = clamp(radiance, vec3f(0.0), vec3f(BRIGHTEST));
    let least = min(c.r, min(c.g, c.b));
    let offset = select(0.04, least - 6.25 * least * least, least < 0.08);
    let shifted = c - offset;
    let peak = max(shifted.r, max(shifted.g, shifted.b));
    let start = 0.8 - 0.04;
    if peak <= start {
        return shifted;
    }
    let d = 1.0 - start;
    let compressed = 1.0 - d * d / (peak + d - start);
    let grey = 1.0 - 1.0 / (0.15 * (peak - compressed) + 1.0);
    return mix(shifted * (compressed / peak), vec3f(compressed), grey);
}

fn tone_map(radiance: vec3f, exposure_ev: f32, linear: bool) -> vec3f {
    let exposed = radiance * exp2(exposure_ev);
    if linear {
        return saturate(exposed);
    }
    return tone_neutral(exposed * NEUTRAL_EXPOSURE);
}
