//! Which texels a fill or a gradient may cover, told by the triangle that owns them.

use surface::{IslandId, PartId, Surface, SurfacePoint, TexelMap, TriangleId};

use crate::{BrushError, FillScope, LeftOut};

/// What a scope is on one surface, looked up once.
#[derive(Debug)]
pub(crate) struct Members<'a> {
    surface: &'a Surface,
    left_out: &'a LeftOut,
    within: Within,
}

#[derive(Debug)]
enum Within {
    Material,
    Part(PartId),
    /// None where the island shows no texel.
    Island(Option<IslandId>),
    /// By number.
    Triangles(Vec<bool>),
}

impl<'a> Members<'a> {
    /// # Errors
    /// [`BrushError`] for a triangle that does not exist or an angle out of range.
    pub(crate) fn new(
        scope: &FillScope,
        left_out: &'a LeftOut,
        surface: &'a Surface,
        map: &TexelMap,
    ) -> Result<Self, BrushError> {
        let within = match scope {
            FillScope::Material => Within::Material,
            FillScope::Part(part) => Within::Part(*part),
            FillScope::Island(triangle) => {
                let shown = shown_by(*triangle, surface, map)?;
                Within::Island(surface.islands().island_of(shown))
            }
            FillScope::Faces(faces) => Within::Triangles(triangles(faces, surface, map)?),
            FillScope::Crease { from, angle } => {
                if !(0.0..=std::f32::consts::PI).contains(angle) {
                    let (what, value) = ("angle of the crease", f64::from(*angle));
                    let range = "0 to pi, in radians";
                    return Err(BrushError::Setting { what, value, range });
                }
                check(*from, surface)?;
                let faces = surface.up_to_creases(*from, f64::from(*angle));
                Within::Triangles(triangles(&faces, surface, map)?)
            }
        };
        Ok(Self { surface, left_out, within })
    }

    /// True where all texels are covered, those that show nothing too.
    pub(crate) fn is_everything(&self) -> bool {
        matches!(self.within, Within::Material) && self.left_out.is_empty()
    }

    /// True for texels of this triangle; padding belongs to the island that it borders.
    pub(crate) fn has(&self, owner: TriangleId) -> bool {
        let part = || self.surface.part_of(owner);
        let within = match &self.within {
            Within::Material => true,
            Within::Part(wanted) => part() == *wanted,
            Within::Island(island) => {
                island.is_some() && self.surface.islands().island_of(owner) == *island
            }
            Within::Triangles(wanted) => wanted[owner.0 as usize],
        };
        within && (self.left_out.is_empty() || self.left_out.paints(part()))
    }
}

fn check(triangle: TriangleId, surface: &Surface) -> Result<(), BrushError> {
    let count = surface.triangle_count();
    if triangle.0 as usize >= count {
        return Err(BrushError::NoSuchTriangle { triangle: triangle.0, count });
    }
    Ok(())
}

/// The triangle whose texels show this one's middle: another one where islands are stacked.
fn shown_by(
    triangle: TriangleId,
    surface: &Surface,
    map: &TexelMap,
) -> Result<TriangleId, BrushError> {
    check(triangle, surface)?;
    let middle = SurfacePoint { triangle, barycentric: [1.0 / 3.0; 3] };
    Ok(map.primary_point(surface, &middle).triangle)
}

fn triangles(
    faces: &[TriangleId],
    surface: &Surface,
    map: &TexelMap,
) -> Result<Vec<bool>, BrushError> {
    let mut wanted = vec![false; surface.triangle_count()];
    for &triangle in faces {
        let shown = shown_by(triangle, surface, map)?;
        wanted[triangle.0 as usize] = true;
        wanted[shown.0 as usize] = true;
    }
    Ok(wanted)
}
