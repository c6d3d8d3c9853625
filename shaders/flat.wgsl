// The flat view: one material's texture laid flat. Needs frame, ring, surface, light, pattern, lib/colour.

struct OnScreen {
    @builtin(position) at: vec4f,
}

// One triangle over the whole picture.
@vertex
fn everywhere(@builtin(vertex_index) corner: u32) -> OnScreen {
    var out: OnScreen;
    out.at = vec4f(f32(corner & 1u) * 4.0 - 1.0, f32(corner >> 1u) * 4.0 - 1.0, 0.5, 1.0);
    return out;
}

@fragment
fn texture(in: OnScreen) -> @location(0) vec4f {
    let step = frame.flat_view.z;
    let uv = frame.flat_view.xy + in.at.xy * step;
    let at = clamp(uv, vec2f(0.0), vec2f(1.0));
    let stored = stored_channel(even_sampler, at, vec2f(step, 0.0), vec2f(0.0, step));
    let shown = with_selection(stored, even_sampler, at, vec2f(step, 0.0), vec2f(0.0, step));
    return vec4f(mix(frame.background.rgb, shown, inside(uv)), 0.0);
}

@fragment
fn squares(in: OnScreen) -> @location(0) vec4f {
    let step = frame.flat_view.z;
    let uv = frame.flat_view.xy + in.at.xy * step;
    let shown = decode_srgb(checker(uv, material_facts.y, vec2f(step, 0.0), vec2f(0.0, step)));
    return vec4f(mix(frame.background.rgb, shown, inside(uv)), 0.0);
}

@fragment
fn ground(in: OnScreen) -> @location(0) vec4f {
    let uv = frame.flat_view.xy + in.at.xy * frame.flat_view.z;
    return vec4f(mix(frame.background.rgb, vec3f(0.024), inside(uv)), 0.0);
}

// How much of a pixel lies in the square of the texture.
fn inside(uv: vec2f) -> f32 {
    let past = max(-uv, uv - 1.0) / frame.flat_view.z;
    return saturate(0.5 - max(past.x, past.y));
}

struct OnSurface {
    @builtin(position) at: vec4f,
    @location(0) point: vec3f,
    @location(1) uv: vec2f,
    @location(2) @interpolate(flat) island: u32,
}

// The mesh, spread where its UVs lie.
@vertex
fn spread(
    @location(0) position: vec3f,
    @location(2) uv: vec2f,
    @location(3) belongs: vec2u,
) -> OnSurface {
    var out: OnSurface;
    out.at = flat_clip(uv);
    out.point = position;
    out.uv = uv;
    out.island = belongs.y;
    return out;
}

@fragment
fn islands(in: OnSurface) -> @location(0) vec4f {
    return vec4f(decode_srgb(island_colour(in.island)), 1.0);
}

@fragment
fn footprint(in: OnSurface) -> @location(0) vec4f {
    let distance = ring_distance(in.point, in.uv);
    return ring(distance, fwidth(distance));
}

// A ring on the texture itself, wherever islands lie.
@fragment
fn disc(in: OnScreen) -> @location(0) vec4f {
    let uv = frame.flat_view.xy + in.at.xy * frame.flat_view.z;
    return ring(length(uv - frame.ring.xy), frame.flat_view.z);
}
