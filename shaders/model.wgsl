// The model view. Needs frame, ring, surface, light, pattern and all of lib.

struct VertexIn {
    @location(0) position: vec3f,
    @location(1) normal: vec2f,
    @location(2) uv: vec2f,
    // Part, island.
    @location(3) belongs: vec2u,
}

struct Fragment {
    @builtin(position) at: vec4f,
    @location(0) point: vec3f,
    @location(1) normal: vec3f,
    @location(2) uv: vec2f,
    @location(3) @interpolate(flat) island: u32,
}

@vertex
fn vertex(in: VertexIn) -> Fragment {
    var out: Fragment;
    out.at = frame.clip_from_model * vec4f(in.position, 1.0);
    out.point = in.position;
    out.normal = unpack_normal(in.normal);
    out.uv = in.uv;
    out.island = in.belongs.y;
    return out;
}

fn to_eye(point: vec3f) -> vec3f {
    return select(frame.eye.xyz, normalize(frame.eye.xyz - point), frame.eye.w > 0.0);
}

// The normal on the side that is seen.
fn seen_normal(normal: vec3f, is_front: bool) -> vec3f {
    let n = normalize(normal);
    return select(-n, n, is_front == (frame.picture.w > 0.0));
}

fn with_ring(colour: vec3f, point: vec3f, uv: vec2f) -> vec3f {
    let held = with_selection(colour, surface_sampler, uv, dpdx(uv), dpdy(uv));
    let distance = ring_distance(point, uv);
    return ring_over(held, distance, fwidth(distance), material_facts.x);
}

// Roughness as wide as normals vary within a pixel: Tokuyoshi and Kaplanyan 2019.
fn filtered_roughness(roughness: f32, n: vec3f) -> f32 {
    let dx = dpdx(n);
    let dy = dpdy(n);
    let widened = min(0.5 * (dot(dx, dx) + dot(dy, dy)), 0.18);
    let alpha = roughness * roughness;
    return sqrt(sqrt(saturate(alpha * alpha + widened)));
}

// Light on the surface, tone mapped.
@fragment
fn lit(in: Fragment, @builtin(front_facing) is_front: bool) -> @location(0) vec4f {
    let n = seen_normal(in.normal, is_front);
    let v = to_eye(in.point);
    let flat_normal = normalize(cross(dpdx(in.point), dpdy(in.point)));
    var material: Material;
    material.base_colour = textureSample(base_colour_map, surface_sampler, in.uv).rgb;
    let stored = textureSample(roughness_map, surface_sampler, in.uv).r;
    material.roughness = filtered_roughness(stored, n);
    material.metalness = textureSample(metalness_map, surface_sampler, in.uv).r;

    let dfg = textureSampleLevel(dfg_table, linear_clamp, dfg_uv(facing(n, v), material.roughness), 0.0);
    let mirrored = turned(reflect(-v, n), frame.ambient.y);
    let lod = reflection_lod(material.roughness, frame.ambient.z);
    let reflected = textureSampleLevel(environment, linear_clamp, mirrored, lod).rgb;
    let irradiance = sh_irradiance(frame.sh, turned(n, frame.ambient.y));
    var radiance = frame.ambient.x * image_light(material, dfg, reflected, irradiance);

    let l = frame.key.xyz;
    if frame.key.w > 0.0 && dot(n, l) > 0.0 {
        let dfg_l = textureSampleLevel(dfg_table, linear_clamp, dfg_uv(dot(n, l), material.roughness), 0.0);
        let reaches = key_reaches(in.point, flat_normal, in.at.xy);
        radiance += frame.key.w * frame.key_tint.rgb * reaches
            * key_light(material, n, v, l, frame.key_tint.w, dfg, dfg_l);
    }
    let shown = tone_map(radiance, frame.ambient.w, frame.background.w > 0.5);
    return vec4f(with_ring(shown, in.point, in.uv), 1.0);
}

// One channel as it is stored, neither lit nor tone mapped.
@fragment
fn channel(in: Fragment) -> @location(0) vec4f {
    let shown = stored_channel(surface_sampler, in.uv, dpdx(in.uv), dpdy(in.uv));
    return vec4f(with_ring(shown, in.point, in.uv), 0.0);
}

// A little light from the eye, so that the form can be read.
fn formed(encoded: vec3f, in: Fragment, is_front: bool) -> vec4f {
    let n = seen_normal(in.normal, is_front);
    let light = 0.55 + 0.45 * abs(dot(n, to_eye(in.point)));
    return vec4f(with_ring(decode_srgb(encoded * light), in.point, in.uv), 0.0);
}

@fragment
fn squares(in: Fragment, @builtin(front_facing) is_front: bool) -> @location(0) vec4f {
    let colour = checker(in.uv, material_facts.y, dpdx(in.uv), dpdy(in.uv));
    return formed(colour, in, is_front);
}

@fragment
fn islands(in: Fragment, @builtin(front_facing) is_front: bool) -> @location(0) vec4f {
    return formed(island_colour(in.island), in, is_front);
}
