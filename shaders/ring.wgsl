// The brush's footprint as a thin ring of two tones, which shows on white and on black. Needs frame.

// How far a line at `edge` covers a pixel: its light core and its dark rim.
fn ring_line(at: f32, edge: f32, px: f32) -> vec2f {
    let away = abs(at - edge) / px;
    return vec2f(saturate(1.3 - away), saturate(2.6 - away));
}

// Colour (linear) and coverage of the ring at a distance from its middle; `px`: how fast the distance
// changes from pixel to pixel.
fn ring(distance: f32, px: f32) -> vec4f {
    let radius = frame.ring.w;
    let width = max(px, 1e-12);
    let outer = ring_line(distance, radius, width);
    let hard = frame.ring_kind.y * radius;
    let has_inner = select(0.0, 0.45, hard > 4.0 * width && hard < radius - 4.0 * width);
    let inner = ring_line(distance, hard, width) * has_inner;
    let core = max(outer.x, inner.x);
    let rim = max(outer.y, inner.y) * 0.6;
    let coverage = core + rim * (1.0 - core);
    return vec4f(vec3f(0.95 * core / max(coverage, 1e-4)), coverage);
}

// Distance from the ring's middle of a fragment, in the ring's units.
fn ring_distance(point: vec3f, uv: vec2f) -> f32 {
    if frame.ring_kind.x == 2.0 {
        return length(uv - frame.ring.xy);
    }
    return length(point - frame.ring.xyz);
}

fn ring_over(colour: vec3f, distance: f32, px: f32, material: f32) -> vec3f {
    let kind = frame.ring_kind.x;
    if kind == 0.0 || (kind == 2.0 && material != frame.ring_kind.z) {
        return colour;
    }
    let over = ring(distance, px);
    return mix(colour, over.rgb, over.a);
}
