//! How a selection comes to be: regions found on the surface, and combined with what was selected.

use std::sync::Arc;

use brush::{Coverage, Neighbourhood, fill_coverage, lasso_coverage};
use layers::{Composition, composite};
use raster::{Bitmap, Plane, Tile};
use surface::{PartId, TexelMap};

use crate::apply::Context;
use crate::{
    Alike, DocumentError, Material, Region, RegionFill, SelectEdit, SelectMode, Selection,
};

/// Texels by which a selection grows or softens at most.
const MOST_TEXELS: u32 = 256;

impl Context<'_> {
    /// The material with another selection.
    pub(crate) fn selected(
        &self,
        material: &Material,
        edit: &SelectEdit,
    ) -> Result<Option<Arc<Selection>>, DocumentError> {
        let before = material.selection.as_deref();
        let mut values = match (edit, before) {
            (SelectEdit::Everything, _) => return Ok(None),
            (SelectEdit::Region { .. }, _) => Vec::new(),
            (SelectEdit::Invert, None) => return Err(DocumentError::NothingSelected),
            (SelectEdit::Grow(_) | SelectEdit::Soften(_), None) => {
                return Err(DocumentError::NoSelection);
            }
            (_, Some(before)) => values_of(before.plane())?,
        };
        let around = || self.neighbourhood(material);
        match edit {
            SelectEdit::Everything => return Ok(None),
            SelectEdit::Region { region, mode, left_out } => {
                let coverage = self.region(material, region, left_out)?;
                values = combined(before, &coverage, *mode)?;
            }
            SelectEdit::Invert => invert(&mut values),
            SelectEdit::Grow(texels) => {
                check_texels(texels.unsigned_abs())?;
                around()?.grow(&mut values, *texels, self.observer)?;
            }
            SelectEdit::Soften(texels) => {
                check_texels(*texels)?;
                around()?.soften(&mut values, *texels, self.observer)?;
            }
        }
        self.kept(material, values)
    }

    /// A selection of these values; none where they select everything that can be seen.
    fn kept(
        &self,
        material: &Material,
        mut values: Vec<u16>,
    ) -> Result<Option<Arc<Selection>>, DocumentError> {
        let around = self.neighbourhood(material)?;
        around.clear_unshown(&mut values);
        if around.is_full(&values) {
            return Ok(None);
        }
        if values.iter().all(|value| *value == 0) {
            return Err(DocumentError::NothingSelected);
        }
        Ok(Some(Arc::new(Selection::new(plane_of(material, &values)))))
    }

    fn neighbourhood(&self, material: &Material) -> Result<Neighbourhood, DocumentError> {
        let (surface, map) = (self.surface()?, self.texel_map(material.size)?);
        Ok(Neighbourhood::new(&surface, &map, self.observer)?)
    }

    /// What of a fill's region is selected: what it is painted within.
    pub(crate) fn fill_within(
        &self,
        material: &Material,
        fill: &RegionFill,
    ) -> Result<Arc<Selection>, DocumentError> {
        let coverage = self.region(material, &fill.region, &fill.left_out)?;
        let values = combined(material.selection.as_deref(), &coverage, SelectMode::Intersect)?;
        if values.iter().all(|value| *value == 0) {
            return Err(DocumentError::NothingSelected);
        }
        Ok(Arc::new(Selection::new(plane_of(material, &values))))
    }

    fn region(
        &self,
        material: &Material,
        region: &Region,
        left_out: &brush::LeftOut,
    ) -> Result<Coverage, DocumentError> {
        let (surface, map) = (self.surface()?, self.texel_map(material.size)?);
        let named = match region {
            Region::Scope(brush::FillScope::Part(part)) => Some(*part),
            _ => None,
        };
        check_parts(&surface, named, left_out)?;
        Ok(match region {
            Region::Scope(scope) => {
                fill_coverage(scope, (1.0, None), left_out, &surface, &map, self.observer)?
            }
            Region::Lasso(lasso) => lasso_coverage(lasso, left_out, &surface, &map, self.observer)?,
            Region::Alike(alike) => {
                let found = self.alike(material, alike, &map)?;
                let everywhere = brush::FillScope::Material;
                let coverage = fill_coverage(
                    &everywhere,
                    (1.0, None),
                    left_out,
                    &surface,
                    &map,
                    self.observer,
                )?;
                coverage.within(&found)?
            }
        })
    }

    fn alike(
        &self,
        material: &Material,
        wanted: &Alike,
        map: &TexelMap,
    ) -> Result<Plane, DocumentError> {
        let descriptor = self.document.channel(wanted.channel)?;
        if !(0.0..=1.0).contains(&wanted.tolerance) {
            return Err(DocumentError::Tolerance(wanted.tolerance));
        }
        let edge = material.size.edge();
        let at = (wanted.uv.as_dvec2() * f64::from(edge)).floor();
        let inside = |at: f64| at >= 0.0 && at < f64::from(edge);
        let texel = (inside(at.x) && inside(at.y)).then_some((at.x as u32, at.y as u32));
        let Some((x, y)) = texel.filter(|(x, y)| map.owner(*x, *y).is_some()) else {
            return Err(DocumentError::NothingThere { u: wanted.uv.x, v: wanted.uv.y });
        };
        let channels = std::slice::from_ref(descriptor);
        let composition = Composition { channels, ..self.document.composition(material.id)? };
        let made = composite(&composition, self.observer)?;
        let planes = made.channels.get(&wanted.channel).map(|channel| &channel.values);
        let planes: Vec<&Plane> = planes.into_iter().flatten().collect();
        let image = Bitmap::from_planes(&planes)?;
        let most = raster::from_unit(wanted.tolerance);
        let picked = image.texel(x, y);
        let texels = image.values().chunks_exact(image.components().max(1));
        let near = |texel: &[u16]| {
            texel.iter().zip(picked).all(|(value, picked)| value.abs_diff(*picked) <= most)
        };
        let mut found: Vec<bool> = texels.map(near).collect();
        if wanted.connected {
            let from = y as usize * edge as usize + x as usize;
            found = self.neighbourhood(material)?.connected(from, &found);
        }
        let full = |found: bool| if found { u16::MAX } else { 0 };
        let values: Vec<u16> = found.into_iter().map(full).collect();
        Ok(plane_of(material, &values))
    }
}

/// Refuses parts that the model does not have.
pub(crate) fn check_parts(
    surface: &surface::Surface,
    named: Option<PartId>,
    left_out: &brush::LeftOut,
) -> Result<(), DocumentError> {
    match named.max(left_out.highest()) {
        Some(part) if part.0 as usize >= surface.mesh().parts().len() => {
            Err(DocumentError::NoPart(part.0))
        }
        _ => Ok(()),
    }
}

fn check_texels(texels: u32) -> Result<(), DocumentError> {
    let fine = (1..=MOST_TEXELS).contains(&texels);
    fine.then_some(()).ok_or(DocumentError::SelectionTexels { texels, most: MOST_TEXELS })
}

fn values_of(plane: &Plane) -> Result<Vec<u16>, DocumentError> {
    Ok(Bitmap::from_planes(&[plane])?.values().to_vec())
}

fn plane_of(material: &Material, values: &[u16]) -> Plane {
    let edge = material.size.edge() as usize;
    Plane::from_fn(material.size.extent(), |x, y| values[y as usize * edge + x as usize])
}

/// What is left of 1.
fn invert(values: &mut [u16]) {
    for value in values {
        *value = u16::MAX - *value;
    }
}

/// What was selected and what a region covers, together.
fn combined(
    before: Option<&Selection>,
    region: &Coverage,
    mode: SelectMode,
) -> Result<Vec<u16>, DocumentError> {
    let mut covered = Plane::uniform(region.extent, 0);
    for (at, tile) in &region.tiles {
        covered.set_tile(*at, Tile::clone(tile));
    }
    let mut values = values_of(&covered)?;
    let Some(before) = before else {
        // Everything was selected, which nobody means to add to.
        if mode == SelectMode::TakeAway {
            invert(&mut values);
        }
        return Ok(values);
    };
    for (value, before) in values.iter_mut().zip(values_of(before.plane())?) {
        *value = match mode {
            SelectMode::Replace => *value,
            SelectMode::Add => before.max(*value),
            SelectMode::TakeAway => before.min(u16::MAX - *value),
            SelectMode::Intersect => before.min(*value),
        };
    }
    Ok(values)
}
