// The textures of a material, and how they are read as stored. Needs frame, light, lib/colour.

@group(2) @binding(0) var base_colour_map: texture_2d<f32>;
@group(2) @binding(1) var roughness_map: texture_2d<f32>;
@group(2) @binding(2) var metalness_map: texture_2d<f32>;
@group(2) @binding(3) var mask_map: texture_2d<f32>;
// Number of the material, texels a side, 1 where the selection is shown.
@group(2) @binding(4) var<uniform> material_facts: vec4f;
@group(2) @binding(5) var selection_map: texture_2d<f32>;

// How much of what is not selected goes over to grey.
const DIMMED: f32 = 0.62;

// How much is selected, with magnified texels as squares.
fn selected_at(filtered: sampler, at: vec2f, dx: vec2f, dy: vec2f) -> f32 {
    let edge = f32(textureDimensions(selection_map).x);
    let step = abs(dx) + abs(dy);
    let is_magnified = max(step.x, step.y) * edge <= 1.0;
    let uv = select(at, sharp_uv(at, step, edge), is_magnified);
    return textureSampleGrad(selection_map, filtered, uv, dx, dy).r;
}

// A colour with what is selected seen: what is not is dimmed to the surround's grey, and a line of two tones runs
// where half is selected. `dx`, `dy`: UV from pixel to pixel.
fn with_selection(colour: vec3f, filtered: sampler, at: vec2f, dx: vec2f, dy: vec2f) -> vec3f {
    if material_facts.z == 0.0 {
        return colour;
    }
    let selected = selected_at(filtered, at, dx, dy);
    let right = selected_at(filtered, at + dx, dx, dy);
    let below = selected_at(filtered, at + dy, dx, dy);
    let rise = max(length(vec2f(right - selected, below - selected)), 1e-4);
    let away = abs(selected - 0.5) / rise;
    let dimmed = mix(colour, frame.background.rgb * 0.7, DIMMED * (1.0 - selected));
    let rim = mix(dimmed, vec3f(0.0), 0.6 * saturate(2.2 - away) * step_of(rise));
    return mix(rim, vec3f(0.95), saturate(1.2 - away) * step_of(rise));
}

// 1 where a selection has an edge: not where it is soft over many pixels.
fn step_of(rise: f32) -> f32 {
    return saturate(rise * 12.0);
}

// A UV which, with a linear filter, shows magnified texels as squares with edges one pixel soft, and
// everything smaller than that filtered as ever. `step`: UV from pixel to pixel.
fn sharp_uv(uv: vec2f, step: vec2f, edge: f32) -> vec2f {
    let at = uv * edge;
    let seam = floor(at + 0.5);
    let soft = clamp(step * edge, vec2f(1e-6), vec2f(1.0));
    return (seam + clamp((at - seam) / soft, vec2f(-0.5), vec2f(0.5))) / edge;
}

// Linear colour of the channel that is shown, unlit; `dx`, `dy`: UV from pixel to pixel.
fn stored_channel(filtered: sampler, at: vec2f, dx: vec2f, dy: vec2f) -> vec3f {
    let edge = f32(textureDimensions(base_colour_map).x);
    let step = abs(dx) + abs(dy);
    let is_magnified = max(step.x, step.y) * edge <= 1.0;
    let uv = select(at, sharp_uv(at, step, edge), is_magnified);
    if frame.picture.z == SHOWN_ROUGHNESS {
        return decode_srgb(textureSampleGrad(roughness_map, filtered, uv, dx, dy).rrr);
    }
    if frame.picture.z == SHOWN_METALNESS {
        return decode_srgb(textureSampleGrad(metalness_map, filtered, uv, dx, dy).rrr);
    }
    if frame.picture.z == SHOWN_MASK {
        return decode_srgb(textureSampleGrad(mask_map, filtered, uv, dx, dy).rrr);
    }
    return textureSampleGrad(base_colour_map, filtered, uv, dx, dy).rgb;
}
