// Light of one small, far source on a surface: pure functions, no bindings. Needs brdf, energy.
//
//   lit_alpha(roughness: f32, radius_rad: f32) -> f32          alpha, widened by the light's size
//   key_light(material: Material, n: vec3f, v: vec3f, l: vec3f, radius_rad: f32, dfg_v: vec4f, dfg_l: vec4f)
//       -> vec3f                                               radiance for a light of strength 1
//
// How to call it, with n, v, l of length 1, v towards the eye, l towards the light:
//   let dfg_v = textureSampleLevel(dfg_table, linear_clamp, dfg_uv(facing(n, v), material.roughness), 0.0);
//   let dfg_l = textureSampleLevel(dfg_table, linear_clamp, dfg_uv(dot(n, l), material.roughness), 0.0);
//   let radiance = strength * tint * shadow * key_light(material, n, v, l, radius_rad, dfg_v, dfg_l);
// Strength is irradiance on a surface that faces the light, over pi, as in `viewport::KeyLight`.
// Twins of the same names: `viewport::shading`.

// A light of radius rho lets the half vector vary by rho/2: variances of slopes add.
fn lit_alpha(roughness: f32, radius_rad: f32) -> f32 {
    let alpha = ggx_alpha(roughness);
    return min(sqrt(alpha * alpha + 0.25 * radius_rad * radius_rad), 1.0);
}

// One bounce with its Fresnel colour, and all further ones as a lobe (Kulla and Conty 2017).
fn key_reflection(f0: vec3f, v_dot_h: f32, bounce: f32, dfg_v: vec4f, dfg_l: vec4f) -> vec3f {
    let more = dfg_v.y * dfg_l.y / (PI * max(dfg_v.w, 1e-5));
    return fresnel_schlick(f0, v_dot_h) * bounce + multiple_colour(f0, dfg_v) * more;
}

// Diffuse light is what reflection leaves, on the way in and out (Kulla and Conty 2017): the same from both ends.
fn key_light(
    material: Material,
    n: vec3f,
    v: vec3f,
    l: vec3f,
    radius_rad: f32,
    dfg_v: vec4f,
    dfg_l: vec4f,
) -> vec3f {
    let n_dot_l = dot(n, l);
    if n_dot_l <= 0.0 {
        return vec3f(0.0);
    }
    let between = v + l;
    let h = between * inverseSqrt(max(dot(between, between), 1e-12));
    let v_dot_h = saturate(dot(v, h));
    let across = cross(n, h);
    let alpha = lit_alpha(material.roughness, radius_rad);
    let bounce = ggx_distribution(min(dot(across, across), 1.0), alpha)
        * smith_visibility(facing(n, v), n_dot_l, alpha);
    let f0 = vec3f(DIELECTRIC_F0);
    let left = (1.0 - specular_albedo(f0, dfg_v)) * (1.0 - specular_albedo(f0, dfg_l))
        / (1.0 - specular_albedo_average(f0, dfg_v));
    let dielectric = material.base_colour * left / PI
        + key_reflection(f0, v_dot_h, bounce, dfg_v, dfg_l);
    let metal = key_reflection(material.base_colour, v_dot_h, bounce, dfg_v, dfg_l);
    return PI * n_dot_l * mix(dielectric, metal, material.metalness);
}
