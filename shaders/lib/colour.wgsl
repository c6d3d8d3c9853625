// Colour: pure functions, no bindings. Needs nothing.
//
//   encode_srgb(linear: vec3f) -> vec3f      linear 0..1 to encoded 0..1
//   decode_srgb(encoded: vec3f) -> vec3f     encoded 0..1 to linear 0..1
//   luminance(linear: vec3f) -> f32          Rec. 709
//
// Twins: `raster::encode_srgb`, `raster::decode_srgb`, `viewport::shading::luminance`.

// IEC 61966-2-1, components below 0 are taken as 0.
fn encode_srgb(linear: vec3f) -> vec3f {
    let c = max(linear, vec3f(0.0));
    let curved = 1.055 * pow(c, vec3f(1.0 / 2.4)) - 0.055;
    return select(curved, 12.92 * c, c <= vec3f(0.0031308));
}

// IEC 61966-2-1, components below 0 are taken as 0.
fn decode_srgb(encoded: vec3f) -> vec3f {
    let c = max(encoded, vec3f(0.0));
    let curved = pow((c + 0.055) / 1.055, vec3f(2.4));
    return select(curved, c / 12.92, c <= vec3f(0.04045));
}

// ITU-R BT.709, item 3.2.
fn luminance(linear: vec3f) -> f32 {
    return dot(linear, vec3f(0.2126, 0.7152, 0.0722));
}
