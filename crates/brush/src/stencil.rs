//! A sheet with holes, held before the view: a stroke is painted through it.
//!
//! What a stroke records is no camera but where each point falls on the sheet, so that it is done again the same,
//! whoever looks from where. Copies by symmetry are painted through the sheet's mirror images.

use glam::{DMat4, DVec2, DVec3, DVec4, Vec3};
use raster::{Extent, Lanes, Work};
use surface::{BLOCK_TEXELS, DecodedTile, TexelBlock};

use crate::image::Level;
use crate::kernel::Lane;
use crate::{BrushError, Camera, FlatCamera, GreyImage, Image};

/// A sheet that lets paint through where its image is white, and none beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stencil {
    /// What it lets through.
    pub image: GreyImage,
    /// It lets through where the image is black instead.
    pub inverted: bool,
    /// The rows of a matrix that takes a point (x, y, z, 1), in model units, or (u, v, 0, 1) on the flat texture, to
    /// (x w, y w, w): its place on the sheet, 0..1 from the left and from the top. Where w is not more than 0 it lies
    /// behind the view, and gets nothing.
    pub places: [DVec4; 3],
}

/// Where a sheet lies on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldAt {
    /// Its middle, in pixels of the view.
    pub centre_px: DVec2,
    /// Its width, in pixels.
    pub width_px: f64,
    /// How far it is turned clockwise, in radians.
    pub turn: f64,
    /// The width of the view in pixels where that is shown mirrored, left to right, and the sheet is not.
    pub mirrored_px: Option<f64>,
}

impl Stencil {
    /// Held before a camera.
    pub fn before(image: GreyImage, inverted: bool, camera: &Camera, held: &HeldAt) -> Self {
        Self { places: held.places(camera.pixel_rows(), image.extent()), image, inverted }
    }

    /// Held over the flat texture.
    pub fn over(image: GreyImage, inverted: bool, camera: &FlatCamera, held: &HeldAt) -> Self {
        Self { places: held.places(camera.pixel_rows(), image.extent()), image, inverted }
    }

    /// # Errors
    /// [`BrushError`] for a place that is not finite, or that takes all points onto a line.
    pub(crate) fn check(&self) -> Result<(), BrushError> {
        if !self.places.iter().all(|row| row.is_finite()) {
            let what = "a number of the stencil's place";
            let range = "numbers that are finite";
            return Err(BrushError::Setting { what, value: f64::NAN, range });
        }
        // The three rows are independent where one of their determinants by three columns is not 0.
        let rows = self.places.map(DVec4::normalize_or_zero);
        let without = |left_out: usize| {
            let columns = [0, 1, 2, 3].into_iter().filter(|column| *column != left_out);
            let kept: Vec<DVec3> =
                columns.map(|column| DVec3::from_array(rows.map(|row| row[column]))).collect();
            kept[0].dot(kept[1].cross(kept[2])).abs()
        };
        let is_flat = (0..4).map(without).all(|determinant| determinant < 1e-12);
        if is_flat { Err(BrushError::StencilPlaces) } else { Ok(()) }
    }

    /// The place of a point on the sheet, 0..1 from the left and from the top; none behind the view.
    pub fn place(&self, point: DVec3) -> Option<DVec2> {
        let [x, y, w] = self.places.map(|row| row.dot(point.extend(1.0)));
        (w > 0.0).then(|| DVec2::new(x, y) / w)
    }

    /// As a copy of the stroke is painted through it.
    pub(crate) fn through(&self, copy: &Image) -> Through<'_> {
        let moved = DMat4::from_cols(
            copy.direction(DVec3::X).extend(0.0),
            copy.direction(DVec3::Y).extend(0.0),
            copy.direction(DVec3::Z).extend(0.0),
            copy.point(DVec3::ZERO).extend(1.0),
        );
        let back = moved.inverse();
        Through { stencil: self, places: self.places.map(|row| back.transpose() * row) }
    }
}

impl HeldAt {
    fn places(&self, [x, y, w]: [DVec4; 3], Extent { width, height }: Extent) -> [DVec4; 3] {
        let height_px = self.width_px * f64::from(height) / f64::from(width);
        let (sin, cos) = libm::sincos(self.turn);
        let x = self.mirrored_px.map_or(x, |width_px| w * width_px - x);
        let (right, down) = (x - w * self.centre_px.x, y - w * self.centre_px.y);
        [
            (right * cos + down * sin) / self.width_px + w * 0.5,
            (down * cos - right * sin) / height_px + w * 0.5,
            w,
        ]
    }
}

/// A stencil as one copy of a stroke is painted through it.
#[derive(Debug, Clone)]
pub(crate) struct Through<'a> {
    stencil: &'a Stencil,
    places: [DVec4; 3],
}

impl Through<'_> {
    /// What it lets through to each texel of a block of the surface.
    pub(crate) fn on_block(&self, decoded: &DecodedTile, position: usize) -> Lane {
        let block = &decoded.blocks[position];
        let frame = &decoded.frames[block.frame[first_shown(block)] as usize];
        self.shares(block, block.offset.each_ref(), decoded.origin, [frame.du, frame.dv])
    }

    /// The same on the flat texture, whose texels are so wide.
    pub(crate) fn on_flat_block(&self, block: &TexelBlock, texel: f32) -> Lane {
        const LEVEL: Lane = [0.0; BLOCK_TEXELS];
        let points = [&block.uv[0], &block.uv[1], &LEVEL];
        self.shares(block, points, DVec3::ZERO, [Vec3::X * texel, Vec3::Y * texel])
    }

    fn shares(
        &self,
        block: &TexelBlock,
        points: [&Lane; 3],
        origin: DVec3,
        [across, down]: [Vec3; 2],
    ) -> Lane {
        let image = &self.stencil.image;
        let Extent { width, height } = image.extent();
        let size = DVec2::new(f64::from(width), f64::from(height));
        let rows = self.places.map(|row| row.truncate().extend(row.dot(origin.extend(1.0))));
        let number = first_shown(block);
        let first = Vec3::from(points.map(|lane| lane[number]));
        let pixel = |point: Vec3| {
            let [x, y, w] = rows.map(|row| row.dot(point.as_dvec3().extend(1.0)));
            (w > 0.0).then(|| DVec2::new(x, y) / w * size)
        };
        let far = |step: Vec3| Some(pixel(first + step)?.distance(pixel(first)?));
        let (Some(across), Some(down)) = (far(across), far(down)) else {
            return [0.0; BLOCK_TEXELS];
        };
        let (level_number, level) = image.levels().fitting(across.max(down) as f32);
        let shrunk = 1.0 / f64::from(1_u32 << level_number);
        let size = size * shrunk;
        let [x, y, w] = rows;
        Lanes::widest().run(Shares {
            rows: [x * size.x, y * size.y, w].map(|row| row.as_vec4().to_array()),
            points,
            size: size.as_vec2().to_array(),
            slope: (1.0 / (across.max(down) * shrunk)) as f32,
            inverted: self.stencil.inverted,
            level,
        })
    }
}

fn first_shown(block: &TexelBlock) -> usize {
    (block.shown.trailing_zeros() as usize).min(BLOCK_TEXELS - 1)
}

/// Works out a block.
struct Shares<'a> {
    /// To pixels of the level, times w, and w.
    rows: [[f32; 4]; 3],
    points: [&'a Lane; 3],
    /// In pixels.
    size: [f32; 2],
    /// How steep the sheet's edges are, a pixel: they are a texel wide.
    slope: f32,
    inverted: bool,
    level: &'a Level,
}

impl Work for Shares<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> Lane {
        let Self { rows, points: [px, py, pz], size, slope, inverted, level } = self;
        let (mut across, mut down) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
        let mut within = [0.0; BLOCK_TEXELS];
        let edge = |place: f32, size: f32| {
            let inside = place.min(size - place);
            (inside * slope + 0.5).clamp(0.0, 1.0)
        };
        for n in 0..BLOCK_TEXELS {
            let at = |row: &[f32; 4]| row[0] * px[n] + row[1] * py[n] + row[2] * pz[n] + row[3];
            let w = at(&rows[2]);
            let share = if w > 0.0 { 1.0 / w } else { 0.0 };
            let (x, y) = (at(&rows[0]) * share, at(&rows[1]) * share);
            within[n] = if w > 0.0 { edge(x, size[0]) * edge(y, size[1]) } else { 0.0 };
            (across[n], down[n]) = (x + 0.5, y + 0.5);
        }
        let mut shares = level.between(&across, &down);
        for n in 0..BLOCK_TEXELS {
            let open = if inverted { 1.0 - shares[n] } else { shares[n] };
            shares[n] = open * within[n];
        }
        shares
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Projection;

    fn camera() -> Camera {
        Camera {
            eye: DVec3::new(0.5, 1.0, 3.0),
            target: DVec3::ZERO,
            up: DVec3::Y,
            projection: Projection::Perspective { fov_y_rad: 0.8 },
            viewport_px: DVec2::new(800.0, 600.0),
        }
    }

    fn image() -> GreyImage {
        let values = (1..=8).map(|n| n * 8_000).collect();
        GreyImage::new(Extent { width: 4, height: 2 }, values).unwrap()
    }

    /// A sheet of 200 x 100 pixels, turned by a right angle: its upper left corner is to the right of its middle and
    /// above.
    #[test]
    fn a_point_falls_on_the_sheet_where_it_is_seen() {
        let held = HeldAt {
            centre_px: DVec2::new(300.0, 250.0),
            width_px: 200.0,
            turn: std::f64::consts::FRAC_PI_2,
            mirrored_px: None,
        };
        let stencil = Stencil::before(image(), false, &camera(), &held);
        let at = |x: f64, y: f64| {
            let ray = camera().ray(DVec2::new(x, y));
            stencil.place(ray.origin + ray.direction * 2.0).unwrap()
        };
        assert!(at(300.0, 250.0).distance(DVec2::splat(0.5)) < 1e-9);
        assert!(at(350.0, 150.0).length() < 1e-9, "{}", at(350.0, 150.0));
        assert!(at(250.0, 350.0).distance(DVec2::ONE) < 1e-9);
        assert!(stencil.place(DVec3::new(1.0, 2.0, 6.0)).is_none(), "it lies behind the eye");
    }

    #[test]
    fn a_copy_is_painted_through_the_sheets_mirror_image() {
        let held = HeldAt {
            centre_px: DVec2::new(400.0, 300.0),
            width_px: 300.0,
            turn: 0.3,
            mirrored_px: None,
        };
        let stencil = Stencil::before(image(), false, &camera(), &held);
        let mirrors = [true, false, false];
        let symmetry = crate::Symmetry { centre: DVec3::new(0.1, 0.0, 0.0), mirrors, turns: None };
        let copy = symmetry.copies()[1];
        let point = DVec3::new(0.2, 0.1, -0.3);
        let place = |rows: [DVec4; 3], point: DVec3| rows.map(|row| row.dot(point.extend(1.0)));
        let (own, copied) =
            (place(stencil.places, point), place(stencil.through(&copy).places, copy.point(point)));
        assert!(own.iter().zip(copied).all(|(a, b)| (a - b).abs() < 1e-9), "{own:?} {copied:?}");
    }
}
