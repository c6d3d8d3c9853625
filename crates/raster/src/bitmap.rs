//! A whole image as one block of values: what files and filters work on.

use crate::{Extent, Plane, RasterError, TILE_EDGE, TileAt};

/// Interleaved values, row by row from the top left. Its length is always width x height x components.
#[derive(Debug, Clone, PartialEq)]
pub struct Bitmap<T> {
    extent: Extent,
    components: usize,
    values: Vec<T>,
}

impl<T: Copy> Bitmap<T> {
    /// `None` when the number of values is not width x height x components.
    pub fn new(extent: Extent, components: usize, values: Vec<T>) -> Option<Self> {
        (values.len() == extent.texels() * components).then_some(Self {
            extent,
            components,
            values,
        })
    }

    /// One value everywhere.
    pub fn filled(extent: Extent, components: usize, value: T) -> Self {
        Self { extent, components, values: vec![value; extent.texels() * components] }
    }

    /// Width and height.
    pub fn extent(&self) -> Extent {
        self.extent
    }

    /// Values a texel.
    pub fn components(&self) -> usize {
        self.components
    }

    /// All values.
    pub fn values(&self) -> &[T] {
        &self.values
    }

    /// All values, for writing.
    pub fn values_mut(&mut self) -> &mut [T] {
        &mut self.values
    }

    /// One texel's values; the texel must lie inside.
    pub fn texel(&self, x: u32, y: u32) -> &[T] {
        let at = (y as usize * self.extent.width as usize + x as usize) * self.components;
        &self.values[at..at + self.components]
    }

    /// One texel's values, for writing; the texel must lie inside.
    pub fn texel_mut(&mut self, x: u32, y: u32) -> &mut [T] {
        let at = (y as usize * self.extent.width as usize + x as usize) * self.components;
        &mut self.values[at..at + self.components]
    }
}

impl Bitmap<u16> {
    /// The planes side by side as one image. All planes must have one extent, and there must be one.
    ///
    /// # Errors
    /// [`RasterError::Page`] when a tile can't be read.
    pub fn from_planes(planes: &[&Plane]) -> Result<Self, RasterError> {
        let extent = planes[0].extent();
        let mut bitmap = Self::filled(extent, planes.len(), 0);
        for (component, plane) in planes.iter().enumerate() {
            for at in extent.tile_places() {
                bitmap.put_tile(component, plane, at)?;
            }
        }
        Ok(bitmap)
    }

    fn put_tile(&mut self, component: usize, plane: &Plane, at: TileAt) -> Result<(), RasterError> {
        let read = plane.tile(at).read()?;
        let (left, top) = at.first_texel();
        let edge = TILE_EDGE as u32;
        let (width, components) = (self.extent.width as usize, self.components);
        for y in top..(top + edge).min(self.extent.height) {
            for x in left..(left + edge).min(self.extent.width) {
                let index = (y - top) as usize * TILE_EDGE + (x - left) as usize;
                let texel = y as usize * width + x as usize;
                self.values[texel * components + component] = read.at(index);
            }
        }
        Ok(())
    }

    /// One component as a plane.
    pub fn plane(&self, component: usize) -> Plane {
        Plane::from_fn(self.extent, |x, y| self.texel(x, y)[component])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn planes_and_bitmaps_carry_the_same_values() {
        let extent = Extent { width: 100, height: 70 };
        let planes: Vec<_> = (0..3u32)
            .map(|c| Plane::from_fn(extent, |x, y| (x * 31 + y * 7 + c * 1000) as u16))
            .collect();
        let bitmap = Bitmap::from_planes(&planes.iter().collect::<Vec<_>>()).unwrap();
        assert_eq!(bitmap.texel(99, 69), [3552, 4552, 5552]);
        for (component, plane) in planes.iter().enumerate() {
            let back = bitmap.plane(component);
            for (x, y) in [(0, 0), (63, 63), (64, 64), (99, 69)] {
                assert_eq!(back.texel(x, y), plane.texel(x, y));
            }
        }
    }

    #[test]
    fn a_wrong_number_of_values_is_refused() {
        assert!(Bitmap::new(Extent { width: 2, height: 2 }, 3, vec![0u8; 11]).is_none());
    }
}
