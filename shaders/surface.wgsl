// The textures of a material, and the sampler that reads them. Needs nothing.

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
