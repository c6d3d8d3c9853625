// Light's textures and the key light's soft shadow. Needs frame.

@group(1) @binding(0) var shadow_map: texture_depth_2d;
@group(1) @binding(1) var shadow_sampler: sampler_comparison;
@group(1) @binding(2) var environment: texture_cube<f32>;
@group(1) @binding(3) var dfg_table: texture_2d<f32>;
@group(1) @binding(4) var linear_clamp: sampler;
@group(1) @binding(5) var surface_sampler: sampler;
@group(1) @binding(6) var digits: texture_2d<f32>;
// As surface_sampler, but not anisotropic.
@group(1) @binding(7) var even_sampler: sampler;
// The shadow map once more, to be read and not compared: OpenGL reads nothing from a texture of depths.
@group(1) @binding(8) var shadow_depths: texture_2d<f32>;

override BLOCKER_TAPS: u32 = 16u;
override FILTER_TAPS: u32 = 32u;

const GOLDEN_ANGLE: f32 = 2.39996323;
// Widest penumbra, as a share of the map.
const WIDEST: f32 = 0.08;

// Even over a disc: Vogel 1979.
fn on_disc(tap: u32, taps: u32, turn: f32) -> vec2f {
    let angle = f32(tap) * GOLDEN_ANGLE + turn;
    return sqrt((f32(tap) + 0.5) / f32(taps)) * vec2f(cos(angle), sin(angle));
}

// A turn for each pixel that its neighbours even out: Jimenez 2014.
fn turn_of(pixel: vec2f) -> f32 {
    return 6.2831853 * fract(52.9829189 * fract(dot(pixel, vec2f(0.06711056, 0.00583715))));
}

// Share of the key light that reaches a point: percentage-closer soft shadows, Fernando 2005. `n`: normal of
// the triangle, towards the eye or not.
fn key_reaches(point: vec3f, n: vec3f, pixel: vec2f) -> f32 {
    let texel = frame.flat_view.w;
    let facing = dot(n, frame.key.xyz);
    let lifted = point + n * (sign(facing) * 1.5 * texel * 2.0 * frame.units.x * (1.0 - abs(facing) * 0.5));
    let clip = frame.light_from_model * vec4f(lifted, 1.0);
    let at = clip.xy * vec2f(0.5, -0.5) + 0.5;
    // How depth changes over the map where the surface goes on as it is here.
    let across = (frame.light_from_model * vec4f(n, 0.0)).xyz;
    let steep = select(min(across.z, -1e-4), max(across.z, 1e-4), across.z > 0.0);
    let slope = clamp(vec2f(across.x, -across.y) / (-2.0 * steep), vec2f(-4.0), vec2f(4.0));
    let bias = texel;
    let spread = tan(frame.key_tint.w);
    let turn = turn_of(pixel);
    let search = clamp(clip.z * spread, 2.0 * texel, WIDEST);
    let edge = 1.0 / texel;
    var blockers = 0.0;
    var depth = 0.0;
    for (var tap = 0u; tap < BLOCKER_TAPS; tap += 1u) {
        let offset = on_disc(tap, BLOCKER_TAPS, turn) * search;
        let here = clamp(vec2i((at + offset) * edge), vec2i(0), vec2i(i32(edge) - 1));
        let found = textureLoad(shadow_depths, here, 0).x;
        if found < clip.z + dot(slope, offset) - bias {
            blockers += 1.0;
            depth += found;
        }
    }
    if blockers == 0.0 {
        return 1.0;
    }
    if blockers == f32(BLOCKER_TAPS) {
        return 0.0;
    }
    let penumbra = clamp((clip.z - depth / blockers) * spread, texel, WIDEST);
    var reaches = 0.0;
    for (var tap = 0u; tap < FILTER_TAPS; tap += 1u) {
        let offset = on_disc(tap, FILTER_TAPS, turn) * penumbra;
        let reference = clip.z + dot(slope, offset) - bias;
        reaches += textureSampleCompareLevel(shadow_map, shadow_sampler, at + offset, reference);
    }
    return reaches / f32(FILTER_TAPS);
}
