// Irradiance from nine spherical harmonics: pure functions, no bindings. Needs nothing.
//
//   sh_irradiance(sh: array<vec4f, 9>, n: vec3f) -> vec3f      irradiance, not divided by pi, 0 or more
//
// `sh` is `viewport::shading::ShIrradiance::for_uniform`: rgb and an unused w, ready for a uniform buffer.
// Twin: `viewport::shading::sh_irradiance`.

// Ramamoorthi and Hanrahan 2001; constants are folded into the coefficients.
fn sh_irradiance(sh: array<vec4f, 9>, n: vec3f) -> vec3f {
    let e = sh[0].rgb
        + sh[1].rgb * n.y + sh[2].rgb * n.z + sh[3].rgb * n.x
        + sh[4].rgb * (n.x * n.y) + sh[5].rgb * (n.y * n.z)
        + sh[6].rgb * (3.0 * n.z * n.z - 1.0)
        + sh[7].rgb * (n.x * n.z) + sh[8].rgb * (n.x * n.x - n.y * n.y);
    return max(e, vec3f(0.0));
}
