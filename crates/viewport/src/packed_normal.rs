//! Normals as the adapter is given them.

use glam::Vec3;

/// A unit vector as two signed 16-bit numbers, folded from the octahedron (Meyer, Süßmuth, Sußner,
/// Stamminger, Greiner, "On floating-point normal vectors", 2010).
pub(crate) fn pack(normal: Vec3) -> u32 {
    let sum = normal.x.abs() + normal.y.abs() + normal.z.abs();
    if sum <= 0.0 || !sum.is_finite() {
        return pack(Vec3::Y);
    }
    let (x, y) = (normal.x / sum, normal.y / sum);
    let one = |value: f32| if value < 0.0 { -1.0 } else { 1.0 };
    let (x, y) =
        if normal.z < 0.0 { ((1.0 - y.abs()) * one(x), (1.0 - x.abs()) * one(y)) } else { (x, y) };
    let stored = |value: f32| u32::from((value * 32_767.0).round() as i16 as u16);
    stored(x) | stored(y) << 16
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unpack(packed: u32) -> Vec3 {
        let part = |bits: u32| f32::from(bits as u16 as i16) / 32_767.0;
        let (x, y) = (part(packed), part(packed >> 16));
        let z = 1.0 - x.abs() - y.abs();
        let fold = (-z).max(0.0);
        let back = |value: f32| value - fold * if value < 0.0 { -1.0 } else { 1.0 };
        Vec3::new(back(x), back(y), z).normalize_or_zero()
    }

    #[test]
    fn a_packed_normal_is_off_by_less_than_a_hundredth_of_a_degree() {
        for step in 0..10_000u32 {
            // Fibonacci lattice: even over the sphere.
            let z = 1.0 - (2.0 * step as f32 + 1.0) / 10_000.0;
            let (sin, cos) = (step as f32 * 2.399_963_2).sin_cos();
            let normal = Vec3::new(cos, sin, 0.0) * (1.0 - z * z).sqrt() + Vec3::Z * z;
            assert!((unpack(pack(normal)) - normal).length() < 1.7e-4, "{normal}");
        }
        for normal in [Vec3::X, Vec3::Y, Vec3::Z, Vec3::NEG_X, Vec3::NEG_Y, Vec3::NEG_Z] {
            assert_eq!(unpack(pack(normal)), normal);
        }
    }
}
