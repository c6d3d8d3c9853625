// The textures of a material, and how they are read as stored. Needs frame, light, lib/colour.

@group(2) @binding(0) var base_colour_map: texture_2d<f32>;
@group(2) @binding(1) var roughness_map: texture_2d<f32>;
@group(2) @binding(2) var metalness_map: texture_2d<f32>;
@group(2) @binding(3) var mask_map: texture_2d<f32>;
// Number of the material, texels a side.
@group(2) @binding(4) var<uniform> material_facts: vec4f;

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
