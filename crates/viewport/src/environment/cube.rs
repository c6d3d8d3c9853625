//! Radiance on the six faces of a cube, with a border of one texel around each face that shows its neighbours.

use glam::{DVec3, Vec2, Vec3, Vec3A};
use rayon::prelude::*;

pub(crate) const FACES: usize = 6;

/// Direction (length 1) of a place on a face: `s` to the right and `t` down, -1..1 on the face. Faces are +X, -X,
/// +Y, -Y, +Z, -Z, laid out as graphics interfaces share it (Vulkan 1.3, 16.5.4).
pub fn cube_direction(face: usize, s: f32, t: f32) -> Vec3 {
    let through = match face {
        0 => Vec3::new(1.0, -t, -s),
        1 => Vec3::new(-1.0, -t, s),
        2 => Vec3::new(s, 1.0, t),
        3 => Vec3::new(s, -1.0, -t),
        4 => Vec3::new(s, -t, 1.0),
        _ => Vec3::new(-s, -t, -1.0),
    };
    through.normalize_or_zero()
}

/// The face that a direction meets, and where.
#[inline]
fn cube_place(d: Vec3A) -> (usize, Vec2) {
    let a = d.abs();
    if a.x >= a.y && a.x >= a.z {
        let (face, s) = if d.x > 0.0 { (0, -d.z) } else { (1, d.z) };
        (face, Vec2::new(s, -d.y) / a.x)
    } else if a.y >= a.z {
        let (face, t) = if d.y > 0.0 { (2, d.z) } else { (3, -d.z) };
        (face, Vec2::new(d.x, t) / a.y)
    } else {
        let (face, s) = if d.z > 0.0 { (4, d.x) } else { (5, -d.x) };
        (face, Vec2::new(s, -d.y) / a.z)
    }
}

/// One level of a cube.
#[derive(Debug, Clone)]
pub(crate) struct CubeLevel {
    pub(crate) edge: usize,
    /// Face by face, row by row, with the border.
    pub(crate) texels: Vec<Vec3A>,
}

impl CubeLevel {
    /// From the radiance of each texel; the border is left black. What is negative or not finite counts as 0.
    pub(crate) fn from_texels(edge: usize, radiance: impl Fn(CubeTexel) -> Vec3 + Sync) -> Self {
        let mut level = Self::black(edge);
        level.each_row(|face, row, texels| {
            for (column, texel) in texels.iter_mut().enumerate() {
                let c = radiance(CubeTexel { edge, face, row, column });
                let kept = |v: f32| if v.is_finite() { v.max(0.0) } else { 0.0 };
                *texel = Vec3A::new(kept(c.x), kept(c.y), kept(c.z));
            }
        });
        level
    }

    fn black(edge: usize) -> Self {
        Self { edge, texels: vec![Vec3A::ZERO; FACES * (edge + 2) * (edge + 2)] }
    }

    /// Calls with face, row and the row's texels, without the border.
    fn each_row(&mut self, fill: impl Fn(usize, usize, &mut [Vec3A]) + Sync) {
        let (edge, stride) = (self.edge, self.edge + 2);
        self.texels.par_chunks_mut(stride).enumerate().for_each(|(at, row)| {
            let (face, row_at) = (at / stride, at % stride);
            if (1..=edge).contains(&row_at) {
                fill(face, row_at - 1, &mut row[1..=edge]);
            }
        });
    }

    /// Where a texel of this level lies.
    pub(crate) fn index(&self, texel: CubeTexel) -> usize {
        let stride = self.edge + 2;
        (texel.face * stride + texel.row + 1) * stride + texel.column + 1
    }

    /// Mean radiance of the sphere.
    pub(crate) fn mean(&self) -> DVec3 {
        let areas = solid_angles(self.edge);
        let (mut sum, mut sphere) = (DVec3::ZERO, 0.0);
        for texel in CubeTexel::all(self.edge) {
            let area = f64::from(areas[texel.row * self.edge + texel.column]);
            sum += self.texels[self.index(texel)].as_dvec3() * area;
            sphere += area;
        }
        sum / sphere
    }

    /// Half as many texels on an edge, each the mean of four by solid angle.
    pub(crate) fn halved(&self) -> Self {
        let areas = solid_angles(self.edge);
        let mut half = Self::black(self.edge / 2);
        half.each_row(|face, row, texels| {
            for (column, texel) in texels.iter_mut().enumerate() {
                let (mut sum, mut total) = (Vec3A::ZERO, 0.0);
                for (x, y) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                    let (column, row) = (2 * column + x, 2 * row + y);
                    let area = areas[row * self.edge + column];
                    let part = CubeTexel { edge: self.edge, face, row, column };
                    sum += self.texels[self.index(part)] * area;
                    total += area;
                }
                *texel = sum / total;
            }
        });
        half.fill_border();
        half
    }

    /// Fills the border from the faces beside it, so that sampling sees no seam.
    pub(crate) fn fill_border(&mut self) {
        let (edge, stride) = (self.edge, self.edge + 2);
        let place = |at: usize| (2.0 * (at as f32 - 0.5)) / edge as f32 - 1.0;
        let mut border = Vec::new();
        for face in 0..FACES {
            for along in 0..stride {
                for (x, y) in [(along, 0), (along, stride - 1), (0, along), (stride - 1, along)] {
                    let beyond = cube_direction(face, place(x), place(y));
                    border.push(((face * stride + y) * stride + x, self.inside(beyond.into())));
                }
            }
        }
        for (at, value) in border {
            self.texels[at] = value;
        }
    }

    /// Bilinear, from one face alone.
    fn inside(&self, direction: Vec3A) -> Vec3A {
        let edge = self.edge as f32;
        let (face, at) = cube_place(direction);
        let at = ((at + 1.0) * (0.5 * edge)).clamp(Vec2::splat(0.5), Vec2::splat(edge - 0.5));
        self.bilinear(face, at)
    }

    /// Bilinear, across faces.
    #[inline]
    pub(crate) fn sample(&self, direction: Vec3A) -> Vec3A {
        let (face, at) = cube_place(direction);
        self.bilinear(face, (at + 1.0) * (0.5 * self.edge as f32))
    }

    /// `at` in texels from the face's corner, -0.5 .. edge + 0.5.
    #[inline]
    fn bilinear(&self, face: usize, at: Vec2) -> Vec3A {
        let stride = self.edge + 2;
        let at = at + 0.5;
        let (x, y) = ((at.x as usize).min(self.edge), (at.y as usize).min(self.edge));
        let (right, down) = (at.x - x as f32, at.y - y as f32);
        let first = (face * stride + y) * stride + x;
        let upper = self.texels[first].lerp(self.texels[first + 1], right);
        let second = first + stride;
        let lower = self.texels[second].lerp(self.texels[second + 1], right);
        upper.lerp(lower, down)
    }
}

/// A texel of a level with so many on an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct CubeTexel {
    pub(crate) edge: usize,
    pub(crate) face: usize,
    pub(crate) row: usize,
    pub(crate) column: usize,
}

impl CubeTexel {
    /// Direction of its middle.
    pub(crate) fn middle(self) -> Vec3 {
        self.direction(0.5, 0.5)
    }

    /// Direction of a place in it: 0..1 to the right and down.
    pub(crate) fn direction(self, right: f32, down: f32) -> Vec3 {
        let place = |at: usize, part: f32| 2.0 * (at as f32 + part) / self.edge as f32 - 1.0;
        cube_direction(self.face, place(self.column, right), place(self.row, down))
    }

    /// All texels of a level, face by face, row by row.
    pub(crate) fn all(edge: usize) -> impl Iterator<Item = Self> {
        (0..FACES * edge * edge).map(move |at| Self {
            edge,
            face: at / (edge * edge),
            row: at / edge % edge,
            column: at % edge,
        })
    }
}

/// Solid angle of each texel of a face in steradians, row by row: exact, by its corners.
pub(crate) fn solid_angles(edge: usize) -> Vec<f32> {
    let corner = |at: usize| 2.0 * at as f64 / edge as f64 - 1.0;
    let up_to = |x: f64, y: f64| (x * y).atan2((x * x + y * y + 1.0).sqrt());
    let one = |at: usize| {
        let (x, y) = (at % edge, at / edge);
        let (left, right, top, bottom) = (corner(x), corner(x + 1), corner(y), corner(y + 1));
        let area =
            up_to(right, bottom) - up_to(left, bottom) - up_to(right, top) + up_to(left, top);
        area as f32
    };
    (0..edge * edge).map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direction_is_found_again_at_the_place_that_it_came_from() {
        for texel in CubeTexel::all(8) {
            let (found, at) = cube_place(texel.middle().into());
            let place = |at: usize| (2 * at + 1) as f32 / 8.0 - 1.0;
            assert_eq!(found, texel.face);
            assert!((at - Vec2::new(place(texel.column), place(texel.row))).length() < 1e-6);
        }
    }

    #[test]
    fn solid_angles_sum_up_to_the_sphere() {
        for edge in [1, 2, 64] {
            let face: f64 = solid_angles(edge).iter().map(|&area| f64::from(area)).sum();
            assert!((6.0 * face - 4.0 * std::f64::consts::PI).abs() < 1e-5, "{edge}: {face}");
        }
    }

    #[test]
    fn sampling_across_an_edge_or_a_corner_has_no_seam() {
        // Of a smooth function, whose greatest slope is 1: a seam would jump by up to a texel's width.
        let mut level = CubeLevel::from_texels(16, |texel| 0.5 + 0.5 * texel.middle());
        level.fill_border();
        for (a, b) in [([1.0, 1.0, 0.2], [1, -1, 0]), ([1.0, 0.3, -1.0], [1, 0, 1])] {
            let step = 1e-3 * Vec3A::from(b.map(|v| v as f32));
            let at = |side: f32| (Vec3A::from(a) + side * step).normalize_or_zero();
            let jump = (level.sample(at(1.0)) - level.sample(at(-1.0))).abs().max_element();
            assert!(jump < 3e-3, "{jump}");
        }
        for corner in 0..8 {
            let sign = |bit: usize| if corner >> bit & 1 == 1 { -1.0 } else { 1.0 };
            let d = Vec3A::new(sign(0), sign(1), sign(2)).normalize_or_zero();
            let wrong = (level.sample(d) - (0.5 + 0.5 * d)).abs().max_element();
            assert!(wrong < 0.01, "{wrong}");
        }
    }
}
