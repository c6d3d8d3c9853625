// What every pass of a picture knows. Needs nothing.
//
// Positions are relative to the middle of the model's bounds, in model units.

struct Frame {
    clip_from_model: mat4x4f,
    light_from_model: mat4x4f,
    // Eye and 1; or for a parallel camera the direction to the eye and 0.
    eye: vec4f,
    // Direction to the key light; its strength.
    key: vec4f,
    // Its tint; its radius in radians.
    key_tint: vec4f,
    // Environment: strength, turn in radians, levels of the cube; stops of exposure.
    ambient: vec4f,
    // Linear; 1 where tone mapping is linear.
    background: vec4f,
    // Middle of the brush (model units, or UV in xy); its radius.
    ring: vec4f,
    // 0 none, 1 about a point of the surface, 2 on a texture; hardness; material; unused.
    ring_kind: vec4f,
    // Width, height in pixels; what is shown; -1 where the picture is mirrored, else 1.
    picture: vec4f,
    // Flat view: UV at the top left, UV a pixel; 1 over the shadow map's edge.
    flat_view: vec4f,
    // Model units: half the width of the shadow map, size of a pixel at depth 1.
    units: vec4f,
    sh: array<vec4f, 9>,
}

@group(0) @binding(0) var<uniform> frame: Frame;

const SHOWN_COLOUR: f32 = 1.0;
const SHOWN_ROUGHNESS: f32 = 2.0;
const SHOWN_METALNESS: f32 = 3.0;
const SHOWN_MASK: f32 = 6.0;

// From an octahedron folded onto a square: Meyer et al. 2010.
fn unpack_normal(packed: vec2f) -> vec3f {
    let n = vec3f(packed, 1.0 - abs(packed.x) - abs(packed.y));
    let fold = max(-n.z, 0.0);
    return normalize(vec3f(n.xy - select(vec2f(-fold), vec2f(fold), n.xy >= vec2f(0.0)), n.z));
}

// Clip position of a UV in the flat view.
fn flat_clip(uv: vec2f) -> vec4f {
    let px = (uv - frame.flat_view.xy) / frame.flat_view.z;
    let at = px / frame.picture.xy * 2.0 - 1.0;
    return vec4f(at.x, -at.y, 0.5, 1.0);
}
