//! Every function of `shaders/lib` against its twin, over many inputs.

use std::collections::BTreeSet;

use glam::{Vec2, Vec3, Vec4, Vec4Swizzles as _};
use raster::{decode_srgb, encode_srgb};
use viewport::shading::{
    DfgTable, Material, SHADER_LIBRARY, ShIrradiance, dfg_uv, facing, fresnel_schlick, ggx_alpha,
    ggx_distribution, image_light, image_reflection, key_light, key_reflection, lit_alpha,
    luminance, multiple_colour, reflection_lod, sh_irradiance, single_albedo, smith_visibility,
    specular_albedo, specular_albedo_average, tone_map, tone_neutral, turned,
};

use crate::adapter::Adapter;
use crate::sphere::directions;

/// Values from 0 to 1 that fill a square of this dimension evenly (an additive recurrence).
fn spread<const GROUP: usize>(count: usize) -> Vec<[Vec4; GROUP]> {
    let step = |axis: usize| 2.0_f64.powf(-((axis + 1) as f64) / (4 * GROUP + 1) as f64);
    let value = |at: usize, axis: usize| ((at as f64 + 0.5) * step(axis)).fract() as f32;
    let vector = |at: usize, group: usize| {
        Vec4::from(std::array::from_fn::<f32, 4, _>(|axis| value(at, 4 * group + axis)))
    };
    (0..count).map(|at| std::array::from_fn(|group| vector(at, group))).collect()
}

/// Holds `expression` on the adapter against `twin`: within this share of the value, and of `least` where it is
/// smaller.
fn compare<const GROUP: usize>(
    expression: &str,
    inputs: &[[Vec4; GROUP]],
    (share, least): (f32, f32),
    twin: impl Fn([Vec4; GROUP]) -> Vec4,
) {
    let found = Adapter::new().evaluate(expression, inputs);
    assert_eq!(found.len(), inputs.len());
    for (input, found) in inputs.iter().zip(found) {
        let expected = twin(*input);
        let allowed = expected.abs().max(Vec4::splat(least)) * share;
        let wrong = (found - expected).abs();
        assert!(
            found.is_finite() && wrong.cmple(allowed).all(),
            "{expression} of {input:?}: {found} on the adapter, {expected} by the twin"
        );
    }
}

/// WGSL asks of `sqrt`, division and the like for a few units in the last place only.
const CLOSE: (f32, f32) = (2e-5, 1e-2);

fn grey(value: f32) -> Vec4 {
    Vec4::splat(value)
}

/// Directions above and below the horizon, from the first two of some values.
fn direction(values: Vec4) -> Vec3 {
    let z = 2.0 * values.x - 1.0;
    let turn = Vec2::from_angle(std::f32::consts::TAU * values.y) * (1.0 - z * z).max(0.0).sqrt();
    turn.extend(z)
}

fn material(values: Vec4, metalness: f32) -> Material {
    Material { base_colour: values.xyz(), roughness: values.w, metalness }
}

#[test]
fn colour_is_encoded_and_decoded_as_by_its_twins() {
    let inputs: Vec<[Vec4; 1]> = (0..=1024).map(|at| [grey(at as f32 / 1024.0)]).collect();
    // On the adapter a power is the exponential of a product.
    let tolerance = (1e-4, 1e-2);
    compare("vec4f(encode_srgb(i[0].rgb), 0.0)", &inputs, tolerance, |[c]| {
        Vec3::from(c.xyz().to_array().map(encode_srgb)).extend(0.0)
    });
    compare("vec4f(decode_srgb(i[0].rgb), 0.0)", &inputs, tolerance, |[c]| {
        Vec3::from(c.xyz().to_array().map(decode_srgb)).extend(0.0)
    });
    compare("vec4f(luminance(i[0].rgb))", &spread::<1>(200), CLOSE, |[c]| grey(luminance(c.xyz())));
}

#[test]
fn one_bounce_is_that_of_its_twins() {
    let inputs = spread::<1>(2000);
    compare(
        "vec4f(ggx_alpha(i[0].x), ggx_distribution(i[0].y * i[0].y, ggx_alpha(i[0].x)),
               smith_visibility(i[0].y, i[0].z, ggx_alpha(i[0].x)), 0.0)",
        &inputs,
        CLOSE,
        |[i]| {
            let alpha = ggx_alpha(i.x);
            let d = ggx_distribution(i.y * i.y, alpha);
            Vec4::new(alpha, d, smith_visibility(i.y, i.z, alpha), 0.0)
        },
    );
    compare("vec4f(fresnel_schlick(i[0].rgb, i[0].w), 0.0)", &inputs, CLOSE, |[i]| {
        fresnel_schlick(i.xyz(), i.w).extend(0.0)
    });
    let pairs: Vec<[Vec4; 2]> = spread::<2>(500)
        .into_iter()
        .map(|pair| pair.map(|values| direction(values).extend(0.0)))
        .collect();
    compare("vec4f(facing(i[0].xyz, i[1].xyz))", &pairs, (1e-4, 1e-2), |[n, v]| {
        grey(facing(n.xyz(), v.xyz()))
    });
}

#[test]
fn energy_is_that_of_its_twins() {
    // A texel's shares: the bias is at most what is not missing.
    let inputs: Vec<[Vec4; 2]> = spread::<2>(1000)
        .into_iter()
        .map(|[c, dfg]| {
            let missing = Vec2::new(dfg.y, dfg.w) * 0.8;
            let bias = Vec2::new(dfg.x, dfg.z) * (1.0 - missing);
            [c, Vec4::new(bias.x, missing.x, bias.y, missing.y)]
        })
        .collect();
    for (name, twin) in [
        ("single_albedo", single_albedo as fn(Vec3, Vec4) -> Vec3),
        ("multiple_colour", multiple_colour),
        ("specular_albedo", specular_albedo),
        ("specular_albedo_average", specular_albedo_average),
    ] {
        compare(&format!("vec4f({name}(i[0].rgb, i[1]), 0.0)"), &inputs, CLOSE, |[c, dfg]| {
            twin(c.xyz(), dfg).extend(0.0)
        });
    }
    compare("vec4f(dfg_uv(i[0].x, i[0].y), 0.0, 0.0)", &inputs, CLOSE, |[i, _]| {
        dfg_uv(i.x, i.y).extend(0.0).extend(0.0)
    });
}

#[test]
fn image_light_is_that_of_its_twins() {
    let dfg = DfgTable::new();
    let inputs: Vec<[Vec4; 4]> = spread::<4>(1000)
        .into_iter()
        .map(|[c, light, around, angle]| {
            [c, light * 3.0, around.xyz().extend(angle.y), dfg.sample(angle.x, c.w)]
        })
        .collect();
    compare(
        "vec4f(image_light(Material(i[0].rgb, i[0].w, i[2].w), i[3], i[1].rgb, i[2].rgb), 0.0)",
        &inputs,
        CLOSE,
        |[c, light, around, dfg]| {
            image_light(material(c, around.w), dfg, light.xyz(), around.xyz()).extend(0.0)
        },
    );
    compare(
        "vec4f(image_reflection(i[0].rgb, i[3], i[1].rgb, i[2].rgb), reflection_lod(i[0].w, 6.0))",
        &inputs,
        CLOSE,
        |[c, light, around, dfg]| {
            let reflected = image_reflection(c.xyz(), dfg, light.xyz(), around.xyz());
            reflected.extend(reflection_lod(c.w, 6.0))
        },
    );
    let turns: Vec<[Vec4; 1]> =
        (directions(12).zip(-20..20)).map(|(d, turn)| [d.extend(turn as f32 * 0.3)]).collect();
    // Sines of an adapter are good to 2^-11 (WGSL, 15.7.4).
    compare("vec4f(turned(i[0].xyz, i[0].w), 0.0)", &turns, (1e-3, 1.0), |[d]| {
        turned(d.xyz(), d.w).extend(0.0)
    });
}

#[test]
fn key_light_is_that_of_its_twins() {
    let dfg = DfgTable::new();
    let inputs: Vec<[Vec4; 6]> = spread::<2>(4000)
        .into_iter()
        .map(|[c, place]| {
            let v = direction(Vec4::new(0.5 + 0.5 * place.x, place.y, 0.0, 0.0));
            let l = direction(Vec4::new(place.z, place.w, 0.0, 0.0));
            let [at_v, at_l] = [v.z, l.z.max(0.0)].map(|cosine| dfg.sample(cosine, c.w));
            [c, Vec3::Z.extend(place.x), v.extend(0.2 * place.w), l.extend(0.0), at_v, at_l]
        })
        .collect();
    compare(
        "vec4f(key_light(Material(i[0].rgb, i[0].w, i[1].w), i[1].xyz, i[2].xyz, i[3].xyz, i[2].w,
               i[4], i[5]), lit_alpha(i[0].w, i[2].w))",
        &inputs,
        (2e-4, 1e-2),
        |[c, n, v, l, at_v, at_l]| {
            let places = [n, v, l].map(glam::Vec4Swizzles::xyz);
            let lit = key_light(material(c, n.w), places, v.w, at_v, at_l);
            lit.extend(lit_alpha(c.w, v.w))
        },
    );
    compare(
        "vec4f(key_reflection(i[0].rgb, i[1].w, 2.0, i[4], i[5]), 0.0)",
        &inputs,
        CLOSE,
        |[c, n, .., at_v, at_l]| key_reflection(c.xyz(), n.w, 2.0, at_v, at_l).extend(0.0),
    );
}

#[test]
fn irradiance_is_that_of_its_twin() {
    // Light from nowhere in particular, so that no coefficient is 0.
    let lit = |d: Vec3| {
        let to = [[0.5, 0.3, 0.8], [-0.2, 0.9, 0.4], [0.7, -0.6, -0.3]].map(Vec3::from);
        Vec3::from(to.map(|to| d.dot(to).max(0.0)))
    };
    let sh = ShIrradiance::from_radiance(directions(32).map(|d| (d, lit(d), 0.006)));
    let list: Vec<String> =
        sh.for_uniform().iter().map(|[r, g, b, _]| format!("vec4f({r}, {g}, {b}, 0.0)")).collect();
    let expression =
        format!("vec4f(sh_irradiance(array<vec4f, 9>({}), i[0].xyz), 0.0)", list.join(", "));
    let inputs: Vec<[Vec4; 1]> = directions(16).map(|n| [n.extend(0.0)]).collect();
    compare(&expression, &inputs, (1e-4, 0.1), |[n]| sh_irradiance(&sh, n.xyz()).extend(0.0));
}

#[test]
fn tone_mapping_is_that_of_its_twins() {
    let mut inputs: Vec<[Vec4; 1]> = spread::<1>(2000)
        .into_iter()
        .map(|[c]| [(c.xyz() * c.xyz() * 6.0 - 0.1).extend(4.0 * c.w - 2.0)])
        .collect();
    inputs.push([Vec4::new(1e30, 65_504.0, 0.0, 0.0)]);
    let tolerance = (1e-4, 1e-2);
    compare("vec4f(tone_neutral(i[0].rgb), 0.0)", &inputs, tolerance, |[c]| {
        tone_neutral(c.xyz()).extend(0.0)
    });
    for linear in [false, true] {
        let expression = format!("vec4f(tone_map(i[0].rgb, i[0].w, {linear}), 0.0)");
        compare(&expression, &inputs, tolerance, |[c]| tone_map(c.xyz(), c.w, linear).extend(0.0));
    }
}

#[test]
fn no_function_of_the_library_was_left_out() {
    let declared: BTreeSet<&str> = SHADER_LIBRARY
        .iter()
        .flat_map(|piece| piece.source.lines())
        .filter_map(|line| Some(line.strip_prefix("fn ")?.split_once('(')?.0))
        .collect();
    let compared = include_str!("shader_twins.rs");
    for name in declared {
        // Each stands in an expression for the adapter and in the call of its twin, or is passed by name.
        assert!(compared.matches(name).count() >= 3, "{name} is not held against its twin");
    }
}
