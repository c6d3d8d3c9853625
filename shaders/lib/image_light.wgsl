// Light of an environment on a surface: pure functions, no bindings. Needs brdf, energy.
//
//   turned(direction: vec3f, turn_rad: f32) -> vec3f                     direction in an environment that is
//                                                                        turned about +Y by turn_rad
//   reflection_lod(roughness: f32, levels: f32) -> f32                   level of the prefiltered cube
//   image_light(material: Material, dfg: vec4f, reflected: vec3f, irradiance: vec3f) -> vec3f
//
// How to call it, with n, v of length 1, v towards the eye:
//   let dfg = textureSampleLevel(dfg_table, linear_clamp, dfg_uv(facing(n, v), material.roughness), 0.0);
//   let to = turned(reflect(-v, n), turn);
//   let reflected = textureSampleLevel(cube, linear_clamp, to, reflection_lod(material.roughness, levels)).rgb;
//   let irradiance = sh_irradiance(sh, turned(n, turn));
//   let radiance = strength * image_light(material, dfg, reflected, irradiance);
// Twins of the same names: `viewport::shading`.

fn turned(direction: vec3f, turn_rad: f32) -> vec3f {
    let c = cos(turn_rad);
    let s = sin(turn_rad);
    return vec3f(c * direction.x - s * direction.z, direction.y, s * direction.x + c * direction.z);
}

// More levels for smooth surfaces: a level has about as many texels as its blur can show.
fn reflection_lod(roughness: f32, levels: f32) -> f32 {
    let r = saturate(roughness);
    return r * (2.0 - r) * (levels - 1.0);
}

fn image_reflection(f0: vec3f, dfg: vec4f, reflected: vec3f, scattered: vec3f) -> vec3f {
    return single_albedo(f0, dfg) * reflected + multiple_colour(f0, dfg) * dfg.y * scattered;
}

// Radiance towards the eye. `reflected`: prefiltered radiance; `irradiance`: not divided by pi.
// One bounce sees what is mirrored; more bounces and diffuse light see the average (Fdez-Aguera 2019).
fn image_light(material: Material, dfg: vec4f, reflected: vec3f, irradiance: vec3f) -> vec3f {
    let scattered = irradiance / PI;
    let f0 = vec3f(DIELECTRIC_F0);
    let diffuse = material.base_colour * (1.0 - specular_albedo(f0, dfg)) * scattered;
    let dielectric = diffuse + image_reflection(f0, dfg, reflected, scattered);
    let metal = image_reflection(material.base_colour, dfg, reflected, scattered);
    return mix(dielectric, metal, material.metalness);
}
