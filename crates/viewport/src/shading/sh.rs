use std::f64::consts::PI;

use glam::{DVec3, Vec3};

/// Irradiance of an environment about each normal: nine spherical harmonics (Ramamoorthi and Hanrahan 2001, "An
/// Efficient Representation for Irradiance Environment Maps"). Exact for even
/// light and for an even half of the sky; one small light comes out wrong by at most 9.4 % of its peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShIrradiance {
    /// In the order 1, y, z, x, xy, yz, 3z^2 - 1, xz, x^2 - y^2, with all constants in them.
    coefficients: [Vec3; 9],
}

impl ShIrradiance {
    /// From radiance: samples of (direction, radiance, solid angle in steradians) that cover the sphere once.
    pub fn from_radiance(samples: impl IntoIterator<Item = (Vec3, Vec3, f32)>) -> Self {
        let mut sums = [DVec3::ZERO; 9];
        for (direction, radiance, solid_angle) in samples {
            let weighted = radiance.as_dvec3() * f64::from(solid_angle);
            for (sum, value) in sums.iter_mut().zip(polynomials(direction)) {
                *sum += weighted * f64::from(value);
            }
        }
        let factors = factors();
        Self { coefficients: std::array::from_fn(|at| (sums[at] * factors[at]).as_vec3()) }
    }

    /// For `sh_irradiance` of `shaders/lib/sh.wgsl`: red, green, blue and 0.
    pub fn for_uniform(&self) -> [[f32; 4]; 9] {
        self.coefficients.map(|c| [c.x, c.y, c.z, 0.0])
    }
}

fn polynomials(n: Vec3) -> [f32; 9] {
    let Vec3 { x, y, z } = n;
    [1.0, y, z, x, x * y, y * z, 3.0 * z * z - 1.0, x * z, x * x - y * y]
}

/// The square of each harmonic's constant, times what the cosine keeps of its degree: pi, 2 pi/3, pi/4.
fn factors() -> [f64; 9] {
    let constant = 1.0 / (4.0 * PI) * PI;
    let linear = 3.0 / (4.0 * PI) * (2.0 * PI / 3.0);
    let product = 15.0 / (4.0 * PI) * (PI / 4.0);
    let zonal = 5.0 / (16.0 * PI) * (PI / 4.0);
    let difference = 15.0 / (16.0 * PI) * (PI / 4.0);
    [constant, linear, linear, linear, product, product, zonal, product, difference]
}

/// Irradiance on a surface with normal `n`, not divided by pi. What would be below 0 is 0.
pub fn sh_irradiance(sh: &ShIrradiance, n: Vec3) -> Vec3 {
    let terms = sh.coefficients.iter().zip(polynomials(n));
    terms.map(|(c, value)| *c * value).sum::<Vec3>().max(Vec3::ZERO)
}
