// Energy that one bounce leaves out, and what is left for diffuse light: pure functions, no bindings. Needs brdf.
//
//   dfg_uv(n_dot_v: f32, roughness: f32) -> vec2f              where to sample the DFG table: linear filter,
//                                                              clamped, level 0; its texel is `dfg: vec4f` below
//   single_albedo(f0: vec3f, dfg: vec4f) -> vec3f              reflected share, one bounce, at one angle
//   multiple_colour(f0: vec3f, dfg: vec4f) -> vec3f            colour of the light of more bounces
//   specular_albedo(f0: vec3f, dfg: vec4f) -> vec3f            reflected share, all bounces, at one angle
//   specular_albedo_average(f0: vec3f, dfg: vec4f) -> vec3f    the same, average over angles
//
// dfg.x  bias: what Schlick's f90 adds            dfg.z  its average over angles
// dfg.y  missing: 1 - albedo of a perfect metal   dfg.w  its average over angles
// Twins of the same names: `viewport::shading`; the table: `viewport::shading::DfgTable`.

const DFG_EDGE: f32 = 64.0;

// The first and the last texel lie at 0 and 1; along x the root of the cosine, as all happens at grazing angles.
fn dfg_uv(n_dot_v: f32, roughness: f32) -> vec2f {
    let at = saturate(vec2f(sqrt(max(n_dot_v, 0.0)), roughness));
    return (at * (DFG_EDGE - 1.0) + 0.5) / DFG_EDGE;
}

// Karis 2013: f0 A + B, with A = 1 - missing - B.
fn single_albedo(f0: vec3f, dfg: vec4f) -> vec3f {
    return f0 * (1.0 - dfg.y - dfg.x) + dfg.x;
}

// Kulla and Conty 2017: geometric series of bounces with Schlick's average reflectance.
fn multiple_colour(f0: vec3f, dfg: vec4f) -> vec3f {
    let average = f0 + (1.0 - f0) / 21.0;
    return average * average * (1.0 - dfg.w) / (1.0 - average * dfg.w);
}

fn specular_albedo(f0: vec3f, dfg: vec4f) -> vec3f {
    return single_albedo(f0, dfg) + multiple_colour(f0, dfg) * dfg.y;
}

fn specular_albedo_average(f0: vec3f, dfg: vec4f) -> vec3f {
    let single = f0 * (1.0 - dfg.w - dfg.z) + dfg.z;
    return single + multiple_colour(f0, dfg) * dfg.w;
}
