// Reflection of one bounce, glTF 2.0 Appendix B: pure functions, no bindings. Needs nothing.
//
//   struct Material { base_colour: vec3f (linear), roughness: f32, metalness: f32 }
//   ggx_alpha(roughness: f32) -> f32                                     clamped away from 0
//   ggx_distribution(sin2_n_h: f32, alpha: f32) -> f32                   sin2_n_h = |n x h|^2
//   smith_visibility(n_dot_v: f32, n_dot_l: f32, alpha: f32) -> f32
//   fresnel_schlick(f0: vec3f, v_dot_h: f32) -> vec3f
//   facing(n: vec3f, v: vec3f) -> f32                                    n.v, kept above 0
//
// Twins of the same names: `viewport::shading`.

const PI: f32 = 3.14159265358979;

// Below this a highlight of a light of no size would not fit into half floats: 1/(4 alpha^2) < 65504.
const MIN_ROUGHNESS: f32 = 0.045;

// Reflectance of a dielectric that faces the eye: index 1.5 (glTF 2.0, B.2.3).
const DIELECTRIC_F0: f32 = 0.04;

// Least cosine towards the eye: normals that were interpolated may turn away.
const MIN_N_DOT_V: f32 = 1e-4;

struct Material {
    // Linear Rec. 709, 0..1.
    base_colour: vec3f,
    // glTF's perceptual roughness, 0..1.
    roughness: f32,
    // 0..1.
    metalness: f32,
}

fn ggx_alpha(roughness: f32) -> f32 {
    let r = clamp(roughness, MIN_ROUGHNESS, 1.0);
    return r * r;
}

// Trowbridge-Reitz, glTF 2.0 B.2.2. In the sine, because 1 - (n.h)^2 would lose all digits where alpha is small.
fn ggx_distribution(sin2_n_h: f32, alpha: f32) -> f32 {
    let a2 = alpha * alpha;
    let d = sin2_n_h + a2 * (1.0 - sin2_n_h);
    return a2 / (PI * d * d);
}

// G / (4 n.l n.v), masking and shadowing correlated by height: Heitz 2014, glTF 2.0 B.2.2.
fn smith_visibility(n_dot_v: f32, n_dot_l: f32, alpha: f32) -> f32 {
    let a2 = alpha * alpha;
    let v = n_dot_v * sqrt(a2 + (1.0 - a2) * n_dot_l * n_dot_l);
    let l = n_dot_l * sqrt(a2 + (1.0 - a2) * n_dot_v * n_dot_v);
    return 0.5 / (v + l);
}

// Schlick 1994, glTF 2.0 B.2.1, f90 = 1.
fn fresnel_schlick(f0: vec3f, v_dot_h: f32) -> vec3f {
    let m = saturate(1.0 - v_dot_h);
    let m2 = m * m;
    return f0 + (1.0 - f0) * (m2 * m2 * m);
}

fn facing(n: vec3f, v: vec3f) -> f32 {
    return clamp(dot(n, v), MIN_N_DOT_V, 1.0);
}
