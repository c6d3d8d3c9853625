// Edges as thin bands that face the eye. Needs frame, lib/colour.

// Two for each vertex: position and normal; UV, part and island.
@group(1) @binding(0) var<storage, read> vertices: array<vec4u>;

const FLAT_ONLY: u32 = 0x80000000u;

struct Fragment {
    @builtin(position) at: vec4f,
    // Pixels from the middle of the line.
    @location(0) @interpolate(linear) away: f32,
}

fn position_of(id: u32) -> vec3f {
    return bitcast<vec3f>(vertices[2u * id].xyz);
}

fn uv_of(id: u32) -> vec2f {
    return bitcast<vec2f>(vertices[2u * id + 1u].xy);
}

// Clip position of a point pulled towards the eye by two pixels, so that the surface doesn't hide it.
fn pulled(point: vec3f) -> vec4f {
    let plain = frame.clip_from_model * vec4f(point, 1.0);
    let px = frame.units.y * select(1.0, max(plain.w, 0.0), frame.eye.w > 0.0);
    let way = select(frame.eye.xyz, normalize(frame.eye.xyz - point), frame.eye.w > 0.0);
    let near = frame.clip_from_model * vec4f(point + way * px * 2.0, 1.0);
    return vec4f(plain.xy / plain.w * near.w, near.zw);
}

// A corner of the band from a to b: 0..5.
fn band(a: vec4f, b: vec4f, corner: u32, half_width: f32) -> Fragment {
    let px = 0.5 * frame.picture.xy;
    let along = b.xy / b.w * px - a.xy / a.w * px;
    let direction = select(vec2f(1.0, 0.0), normalize(along), dot(along, along) > 1e-12);
    let is_end = corner == 1u || corner == 2u || corner == 4u;
    let side = select(-1.0, 1.0, corner == 2u || corner == 4u || corner == 5u);
    let end = select(a, b, is_end);
    let reach = half_width + 1.0;
    let offset = vec2f(-direction.y, direction.x) * side * reach
        + direction * select(-0.5, 0.5, is_end);
    var out: Fragment;
    out.at = vec4f(end.xy + offset / px * end.w, end.zw);
    out.away = side * reach;
    return out;
}

const WIRE_HALF: f32 = 0.55;
const OUTLINE_HALF: f32 = 0.75;
const NOWHERE: vec4f = vec4f(2.0, 2.0, 2.0, 1.0);

@vertex
fn on_model(@builtin(vertex_index) corner: u32, @location(0) ends: vec2u) -> Fragment {
    let a = pulled(position_of(ends.x));
    let b = pulled(position_of(ends.y & ~FLAT_ONLY));
    var out: Fragment;
    out.at = NOWHERE;
    out.away = 0.0;
    if (ends.y & FLAT_ONLY) != 0u || a.w <= 0.0 || b.w <= 0.0 {
        return out;
    }
    return band(a, b, corner, WIRE_HALF);
}

@vertex
fn on_texture(@builtin(vertex_index) corner: u32, @location(0) ends: vec2u) -> Fragment {
    let a = flat_clip(uv_of(ends.x));
    let b = flat_clip(uv_of(ends.y & ~FLAT_ONLY));
    return band(a, b, corner, WIRE_HALF);
}

@vertex
fn outline(@builtin(vertex_index) corner: u32, @location(0) ends: vec2u) -> Fragment {
    let a = flat_clip(uv_of(ends.x));
    let b = flat_clip(uv_of(ends.y & ~FLAT_ONLY));
    return band(a, b, corner, OUTLINE_HALF);
}

@fragment
fn wire(in: Fragment) -> @location(0) vec4f {
    let coverage = saturate(WIRE_HALF + 0.5 - abs(in.away));
    return vec4f(vec3f(0.004), coverage * 0.7);
}

@fragment
fn border(in: Fragment) -> @location(0) vec4f {
    let coverage = saturate(OUTLINE_HALF + 0.5 - abs(in.away));
    return vec4f(vec3f(0.72), coverage * 0.8);
}
