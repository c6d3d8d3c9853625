// What was drawn, encoded for the screen. Needs lib/colour.

@group(0) @binding(0) var drawn: texture_2d<f32>;

@vertex
fn everywhere(@builtin(vertex_index) corner: u32) -> @builtin(position) vec4f {
    return vec4f(f32(corner & 1u) * 4.0 - 1.0, f32(corner >> 1u) * 4.0 - 1.0, 0.5, 1.0);
}

// Where light was computed (coverage 1), rounding is scattered, so that soft shades show no bands; what is
// shown as stored stays exact.
@fragment
fn encoded(@builtin(position) at: vec4f) -> @location(0) vec4f {
    let colour = textureLoad(drawn, vec2i(at.xy), 0);
    let noise = fract(52.9829189 * fract(dot(floor(at.xy), vec2f(0.06711056, 0.00583715)))) - 0.5;
    let scatter = noise * saturate(colour.a) * 0.9 / 255.0;
    return vec4f(saturate(encode_srgb(saturate(colour.rgb)) + scatter), 1.0);
}
