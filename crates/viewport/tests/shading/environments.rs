//! Environments and what is filtered of them.

use std::f32::consts::{PI, TAU};
use std::sync::atomic::{AtomicU64, Ordering};

use glam::{Vec2, Vec3, Vec4, Vec4Swizzles as _};
use half::f16;
use raster::{Observer, Unobserved};
use viewport::environment::{
    BuiltIn, CUBE_EDGE, CUBE_LEVELS, Environment, Prefiltered, cube_direction,
};
use viewport::shading::{ggx_distribution, luminance, sh_irradiance};

use crate::adapter::Adapter;
use crate::sphere::{directions, share};

fn filtered(environment: &Environment) -> Prefiltered {
    Prefiltered::new(environment, &Unobserved).unwrap()
}

fn edge_of(level: usize) -> usize {
    CUBE_EDGE >> level
}

fn direction(level: usize, at: usize) -> Vec3 {
    let edge = edge_of(level);
    let (face, row, column) = (at / (edge * edge), at / edge % edge, at % edge);
    let place = |at: usize| (2 * at + 1) as f32 / edge as f32 - 1.0;
    cube_direction(face, place(column), place(row))
}

/// All texels of a level: direction and radiance.
fn texels(filtered: &Prefiltered, level: usize) -> impl Iterator<Item = (Vec3, Vec3)> {
    let radiance = |bits: &[u16; 4]| Vec4::from(bits.map(|v| f16::from_bits(v).to_f32())).xyz();
    let texels = filtered.levels[level].iter().enumerate();
    texels.map(move |(at, bits)| (direction(level, at), radiance(bits)))
}

/// Mean over the sphere, by the solid angle of texels: proportional to the inverse cube of the distance.
fn mean(filtered: &Prefiltered, level: usize) -> Vec3 {
    let (mut sum, mut total) = (Vec3::ZERO, 0.0);
    for (d, radiance) in texels(filtered, level) {
        let weight = d.abs().max_element().powi(3);
        sum += radiance * weight;
        total += weight;
    }
    sum / total
}

/// Light with something of everything: a slope, a tint, a soft box, a dark half.
fn known(d: Vec3) -> Vec3 {
    let lamp = ((d.dot(Vec3::new(0.6, 0.64, 0.48)) - 0.8) / 0.1).clamp(0.0, 1.0);
    Vec3::new(0.3 + 0.2 * d.y, 0.4, 0.3 - 0.2 * d.x) + Vec3::new(6.0, 5.0, 4.0) * lamp
}

/// Mean luminance of the sphere, by which [`known`] is divided when it is normalised.
fn known_mean() -> f32 {
    directions(256).map(|d| luminance(known(d))).sum::<f32>() / directions(256).count() as f32
}

#[test]
fn an_even_environment_stays_even_at_every_roughness_and_in_its_irradiance() {
    let even = filtered(&Environment::from_radiance(|_| Vec3::splat(7.0)));
    assert_eq!(even.levels.len(), CUBE_LEVELS);
    for level in 0..CUBE_LEVELS {
        assert_eq!(even.levels[level].len(), 6 * edge_of(level) * edge_of(level));
        for (d, radiance) in texels(&even, level) {
            assert!((radiance - 1.0).abs().max_element() < 1e-3, "level {level}, {d}: {radiance}");
        }
    }
    for n in directions(5) {
        assert!((sh_irradiance(&even.irradiance, n) - PI).abs().max_element() < 1e-3);
    }
}

#[test]
fn a_white_lambert_surface_is_white_on_average_over_all_orientations() {
    for which in BuiltIn::ALL {
        let filtered = filtered(&Environment::built_in(which));
        let edge = 24;
        let irradiance: Vec3 = directions(edge)
            .map(|n| sh_irradiance(&filtered.irradiance, n) * share(edge) / (4.0 * PI))
            .sum();
        // The clamp at 0 adds a little where light is one-sided.
        let wrong = (irradiance / PI - 1.0).abs().max_element();
        assert!(wrong < 0.01, "{which:?}: {irradiance}");
        for level in 0..CUBE_LEVELS {
            let mean = mean(&filtered, level);
            assert!((mean - 1.0).abs().max_element() < 0.015, "{which:?}, level {level}: {mean}");
        }
    }
}

#[test]
fn environments_of_ours_tint_nothing_and_hold_no_specks() {
    for which in BuiltIn::ALL {
        let filtered = filtered(&Environment::built_in(which));
        for (d, radiance) in texels(&filtered, 0) {
            assert!(radiance.x == radiance.y && radiance.y == radiance.z, "{which:?}, {d}");
            assert!(radiance.x > 0.05 && radiance.x < 128.0, "{which:?}, {d}: {radiance}");
        }
    }
}

#[test]
fn a_tint_is_kept_and_the_scale_of_a_picture_is_not() {
    let tinted = |scale: f32| filtered(&Environment::from_radiance(|d| known(d) * scale));
    let (one, other) = (tinted(1.0), tinted(1e6));
    for ((_, a), (_, b)) in texels(&one, 3).zip(texels(&other, 3)) {
        assert!((a - b).abs().max_element() < 2e-3 * a.max_element());
    }
    let mean = mean(&one, 0);
    assert!((luminance(mean) - 1.0).abs() < 1e-3, "{mean}");
    assert!(mean.x > mean.z * 1.1, "{mean}");
}

#[test]
fn the_sharpest_level_is_the_environment_itself() {
    let filtered = filtered(&Environment::from_radiance(known));
    let scale = 1.0 / known_mean();
    for (d, radiance) in texels(&filtered, 0) {
        assert!((radiance - known(d) * scale).abs().max_element() < 0.01, "{d}");
    }
}

/// Radiance about a direction by D n.l (Karis 2013, with n = v), by brute force on rings that are closer towards
/// the middle.
fn blurred(n: Vec3, alpha: f32) -> Vec3 {
    let (x, y) = n.any_orthonormal_pair();
    let (rings, turns) = (600, 96);
    let (mut sum, mut total) = (Vec3::ZERO, 0.0);
    for ring in 0..rings {
        let t = (ring as f32 + 0.5) / rings as f32;
        let (sine, cosine) = (0.5 * PI * t * t).sin_cos();
        let half = Vec3::new(sine, 0.0, 1.0 + cosine).normalize_or_zero();
        let weight = ggx_distribution(half.x * half.x, alpha) * cosine * sine * t;
        for turn in 0..turns {
            let around = Vec2::from_angle(TAU * (turn as f32 + 0.5) / turns as f32) * sine;
            sum += known(x * around.x + y * around.y + n * cosine) * weight;
            total += weight;
        }
    }
    sum / total
}

#[test]
fn blurred_levels_match_the_integral_by_brute_force() {
    let filtered = filtered(&Environment::from_radiance(known));
    let scale = 1.0 / known_mean();
    let mut worst = [0.0_f32; CUBE_LEVELS];
    for (level, worst) in worst.iter_mut().enumerate().skip(1) {
        let roughness = 1.0 - (1.0 - level as f32 / (CUBE_LEVELS - 1) as f32).sqrt();
        let all: Vec<(Vec3, Vec3)> = texels(&filtered, level).collect();
        // All over, corners and edges of faces among them.
        for (n, found) in all.iter().step_by(all.len() / 97 + 1).chain(&all[..1]) {
            let expected = blurred(*n, roughness * roughness) * scale;
            *worst = worst.max((found - expected).abs().max_element());
        }
    }
    // Radiance reaches 8 here, and falls from that to 0 within six degrees.
    assert!(worst.iter().all(|&wrong| wrong < 0.12), "worst by level: {worst:?}");
    assert!(worst[2..].iter().all(|&wrong| wrong < 0.06), "worst by level: {worst:?}");
}

#[test]
fn irradiance_matches_the_integral_by_brute_force() {
    let filtered = filtered(&Environment::from_radiance(known));
    let scale = 1.0 / known_mean();
    for n in directions(4) {
        let lit = |d: Vec3| known(d) * d.dot(n).max(0.0) * share(128) * scale;
        let expected: Vec3 = directions(128).map(lit).sum();
        let found = sh_irradiance(&filtered.irradiance, n);
        // Nine harmonics: at most 9 % of the peak (Ramamoorthi and Hanrahan 2001), here of pi times 3.
        assert!((found - expected).abs().max_element() < 0.25, "{n}: {found} {expected}");
    }
}

#[test]
fn no_level_shows_the_edges_of_the_cube() {
    // Across an edge of the cube, neighbours differ no more than neighbours within a face do nearby.
    let filtered = filtered(&Environment::built_in(BuiltIn::Raking));
    for level in 0..CUBE_LEVELS {
        let edge = edge_of(level);
        let all: Vec<(Vec3, Vec3)> = texels(&filtered, level).collect();
        let (mut within, mut across) = (0.0_f32, 0.0_f32);
        for row in 0..edge {
            // Faces +X and -Z meet at s = 1 of +X and s = -1 of -Z; so do -X and +Z.
            for (left, right) in [(0, 5), (1, 4), (4, 0), (5, 1)] {
                let at = |face: usize, column: usize| all[(face * edge + row) * edge + column].1.x;
                across = across.max((at(left, edge - 1) - at(right, 0)).abs());
                within = within.max((at(left, edge - 1) - at(left, edge - 2)).abs());
                within = within.max((at(right, 0) - at(right, 1)).abs());
            }
        }
        assert!(across <= 1.6 * within + 0.02, "level {level}: {across} across, {within} within");
    }
}

/// An equirectangular picture of a function of direction.
fn picture(width: usize, radiance: impl Fn(Vec3) -> Vec3) -> Vec<[f32; 3]> {
    let height = width / 2;
    let one = |at: usize| {
        let turn = ((at % width) as f32 + 0.5) / width as f32 * TAU - PI;
        let down = ((at / width) as f32 + 0.5) / height as f32 * PI;
        let across = down.sin();
        let d = Vec3::new(across * turn.sin(), down.cos(), -across * turn.cos());
        radiance(d).to_array()
    };
    (0..width * height).map(one).collect()
}

#[test]
fn a_picture_shows_what_it_was_taken_of() {
    for width in [512, 4100] {
        let texels_of_picture = picture(width, known);
        let read = Environment::from_equirect(width, width / 2, &texels_of_picture).unwrap();
        let (read, made) = (filtered(&read), filtered(&Environment::from_radiance(known)));
        let mut worst = 0.0_f32;
        for ((_, a), (_, b)) in texels(&read, 0).zip(texels(&made, 0)) {
            worst = worst.max((a - b).abs().max_element());
        }
        // A texel of 512 columns is 0.0123 wide; the lamp's rim rises by 6/0.1 of the cosine's change.
        assert!(worst < 0.12 * 1024.0 / width.min(2048) as f32 + 0.02, "{width}: {worst}");
        assert!(read.levels.len() == CUBE_LEVELS);
    }
}

#[test]
fn a_pole_counts_for_no_more_than_its_share_of_the_sky() {
    // The top row alone is lit: a cap of solid angle 2 pi (1 - cos(pi/64)) around the zenith.
    let (width, height) = (128, 64);
    let mut texels_of_picture = vec![[0.0_f32; 3]; width * height];
    texels_of_picture[..width].fill([1.0; 3]);
    let pole = filtered(&Environment::from_equirect(width, height, &texels_of_picture).unwrap());
    // All light comes from above, so a surface that faces up gets 4 (mean of radiance is 1): pi times 4.
    let up = sh_irradiance(&pole.irradiance, Vec3::Y).x / (4.0 * PI);
    assert!((up - 1.0625).abs() < 0.01, "{up}"); // nine harmonics of one small light
    let level: Vec<(Vec3, Vec3)> = texels(&pole, 0).filter(|(d, _)| d.y > 0.9999).collect();
    let (least, most) =
        level.iter().fold((f32::MAX, 0.0_f32), |(a, b), (_, c)| (a.min(c.x), b.max(c.x)));
    assert!(most - least < 0.02 * most, "around the pole: {least} to {most}");
}

#[test]
fn a_sun_is_made_larger_and_nothing_of_its_light_is_lost() {
    let width = 1024;
    let mut texels_of_picture = picture(width, |_| Vec3::ONE);
    texels_of_picture[100 * width + 300] = [3e6, 2.8e6, 2.5e6];
    let environment = Environment::from_equirect(width, width / 2, &texels_of_picture).unwrap();
    assert!(environment.softened_share() > 0.5, "{}", environment.softened_share());
    let sunny = filtered(&environment);
    for level in 0..CUBE_LEVELS {
        let brightest = texels(&sunny, level).map(|(_, c)| c.max_element()).fold(0.0_f32, f32::max);
        assert!(brightest.is_finite() && brightest < 6000.0, "level {level}: {brightest}");
        let mean = luminance(mean(&sunny, level));
        assert!((mean - 1.0).abs() < 0.04, "level {level}: {mean}");
    }
    // On rough surfaces it leaves one smooth highlight, no specks: around its middle radiance falls.
    let rough: Vec<(Vec3, Vec3)> = texels(&sunny, 4).collect();
    let (sun, peak) = rough.iter().max_by(|a, b| a.1.x.total_cmp(&b.1.x)).unwrap();
    for (d, c) in rough.iter().filter(|(d, _)| d.angle_between(*sun) > 0.5) {
        assert!(c.x < 0.8 * peak.x, "{d}: {c}, peak {peak}");
    }
}

#[test]
fn what_is_no_radiance_counts_as_none() {
    let bad = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -5.0];
    let mut texels_of_picture = picture(64, |_| Vec3::ONE);
    for (at, value) in bad.into_iter().enumerate() {
        texels_of_picture[at * 70] = [value; 3];
    }
    let mended = filtered(&Environment::from_equirect(64, 32, &texels_of_picture).unwrap());
    let all = texels(&mended, 1).all(|(_, c)| c.is_finite() && c.min_element() >= 0.0);
    assert!(all);
    assert!((luminance(mean(&mended, 0)) - 1.0).abs() < 0.01);
    // A black one stays black.
    let black = filtered(&Environment::from_radiance(|_| Vec3::ZERO));
    assert!(texels(&black, 0).all(|(_, c)| c == Vec3::ZERO));
    assert!(Environment::from_equirect(4, 2, &[[1.0; 3]; 7]).is_none());
    assert!(Environment::from_equirect(0, 0, &[]).is_none());
}

struct Watch {
    most: AtomicU64,
    total: AtomicU64,
    stop_at: u64,
}

impl Observer for Watch {
    fn progress(&self, done: u64, total: u64) {
        self.most.fetch_max(done, Ordering::SeqCst);
        self.total.store(total, Ordering::SeqCst);
    }

    fn stopped(&self) -> bool {
        self.most.load(Ordering::SeqCst) >= self.stop_at
    }
}

#[test]
fn filtering_tells_its_progress_and_stops_when_asked() {
    let environment = Environment::from_radiance(known);
    let watch = |stop_at| Watch { most: 0.into(), total: 0.into(), stop_at };
    let whole = watch(u64::MAX);
    assert!(Prefiltered::new(&environment, &whole).is_ok());
    let total = whole.total.into_inner();
    assert_eq!(whole.most.into_inner(), total);
    let stopped = watch(total / 10);
    assert!(Prefiltered::new(&environment, &stopped).is_err());
    assert!(stopped.most.into_inner() < total / 2);
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| filtered(&Environment::built_in(BuiltIn::Studio)))
    };
    assert!(run(1) == run(3));
}

#[test]
fn an_adapter_sees_the_environment_where_it_is() {
    let environment = filtered(&Environment::from_radiance(known));
    let adapter = Adapter::new();
    let size = |edge: usize| wgpu::Extent3d {
        width: edge as u32,
        height: edge as u32,
        depth_or_array_layers: 6,
    };
    let texture = adapter.device.create_texture(&wgpu::TextureDescriptor {
        label: None,
        size: size(CUBE_EDGE),
        mip_level_count: CUBE_LEVELS as u32,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format: wgpu::TextureFormat::Rgba16Float,
        usage: wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_DST,
        view_formats: &[],
    });
    for (level, texels) in environment.levels.iter().enumerate() {
        let edge = edge_of(level);
        let to = wgpu::TexelCopyTextureInfo { mip_level: level as u32, ..texture.as_image_copy() };
        let layout = wgpu::TexelCopyBufferLayout {
            offset: 0,
            bytes_per_row: Some(8 * edge as u32),
            rows_per_image: Some(edge as u32),
        };
        adapter.queue.write_texture(to, bytemuck::cast_slice(texels), layout, size(edge));
    }
    let view = texture.create_view(&wgpu::TextureViewDescriptor {
        dimension: Some(wgpu::TextureViewDimension::Cube),
        ..Default::default()
    });
    let sampler = adapter.device.create_sampler(&wgpu::SamplerDescriptor {
        mag_filter: wgpu::FilterMode::Linear,
        min_filter: wgpu::FilterMode::Linear,
        mipmap_filter: wgpu::MipmapFilterMode::Linear,
        ..Default::default()
    });
    let declarations = "@group(1) @binding(0) var cube: texture_cube<f32>;
                        @group(1) @binding(1) var linear: sampler;";
    let bindings =
        [wgpu::BindingResource::TextureView(&view), wgpu::BindingResource::Sampler(&sampler)];
    let inputs: Vec<[Vec4; 1]> = directions(24).map(|d| [d.extend(0.0)]).collect();
    let expression = "textureSampleLevel(cube, linear, i[0].xyz, 0.0)";
    let found = adapter.evaluate_with(declarations, &bindings, expression, &inputs);
    let scale = 1.0 / known_mean();
    for ([d], found) in inputs.iter().zip(found) {
        let expected = known(d.xyz()) * scale;
        let wrong = (found.xyz() - expected).abs().max_element();
        assert!(wrong < 0.15, "{d}: {found}, expected {expected}");
    }
    // The roughest level, seen by the adapter across faces, is as smooth as it is.
    let expression = "textureSampleLevel(cube, linear, i[0].xyz, 5.0)";
    let around: Vec<[Vec4; 1]> = (0..720)
        .map(|at| Vec2::from_angle(at as f32 * TAU / 720.0))
        .map(|turn| [Vec4::new(turn.x, 0.1, turn.y, 0.0)])
        .collect();
    let found = adapter.evaluate_with(declarations, &bindings, expression, &around);
    for (a, b) in found.iter().zip(found.iter().cycle().skip(1)) {
        assert!((*a - *b).abs().max_element() < 0.03, "{a} beside {b}");
    }
}
