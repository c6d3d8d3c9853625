//! What hangs together over edges that are not sharp.

use glam::DVec3;

use crate::{Surface, TriangleId};

/// An edge at exactly the angle asked for counts as less sharp, whichever way its cosine was rounded.
const ROUNDING: f64 = 1e-12;

impl Surface {
    /// The triangles that hang together with `from` over welded edges at which the surface bends by no more than
    /// `angle` (in radians, 0 to pi; what lies in one plane bends by 0), ascending. A triangle without area belongs to
    /// what it touches, and nothing hangs together over it.
    pub fn up_to_creases(&self, from: TriangleId, angle: f64) -> Vec<TriangleId> {
        let least = libm::cos(angle) - ROUNDING;
        let mut met = vec![false; self.triangle_count()];
        met[from.0 as usize] = true;
        let mut waiting = vec![from];
        let mut found = Vec::new();
        while let Some(triangle) = waiting.pop() {
            found.push(triangle);
            let normal = self.geometric_normal(triangle);
            if normal == DVec3::ZERO && triangle != from {
                continue;
            }
            for edge in 0..3 {
                for &next in self.neighbours(triangle, edge) {
                    if !met[next.0 as usize] && self.bend(triangle, edge, next) >= least {
                        met[next.0 as usize] = true;
                        waiting.push(next);
                    }
                }
            }
        }
        found.sort_unstable();
        found
    }

    /// The cosine of the angle by which the surface bends over an edge: 1 where both triangles lie in one plane, or one
    /// has no area. A neighbour that is wound the other way is turned round.
    fn bend(&self, triangle: TriangleId, edge: usize, next: TriangleId) -> f64 {
        let (here, there) = (self.geometric_normal(triangle), self.geometric_normal(next));
        if here == DVec3::ZERO || there == DVec3::ZERO {
            return 1.0;
        }
        let ends = (self.vertex_of(triangle, edge), self.vertex_of(triangle, (edge + 1) % 3));
        let runs_alike = (0..3).any(|other| {
            (self.vertex_of(next, other), self.vertex_of(next, (other + 1) % 3)) == ends
        });
        if runs_alike { -here.dot(there) } else { here.dot(there) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{cube, cylinder, prepared};

    fn count(surface: &Surface, degrees: f64) -> usize {
        surface.up_to_creases(TriangleId(0), degrees.to_radians()).len()
    }

    /// The faces of a cube stand at 90 degrees to each other (Euclid).
    #[test]
    fn a_face_of_a_cube_ends_at_its_edges_and_at_90_degrees_nothing_ends() {
        let surface = prepared(cube());
        assert_eq!(surface.up_to_creases(TriangleId(4), 0.0), [TriangleId(4), TriangleId(5)]);
        assert_eq!(count(&surface, 89.9), 2);
        assert_eq!(count(&surface, 90.0), 12);
    }

    /// The sides of a regular prism with n of them meet at 360 / n degrees.
    #[test]
    fn a_prism_hangs_together_from_360_over_n_degrees_on() {
        let surface = prepared(cylinder(24, 3));
        let sides = surface.triangle_count();
        assert_eq!(count(&surface, 14.9), 2 * 3);
        assert_eq!(count(&surface, 15.1), sides);
    }
}
