//! Where a dab lies and which way, and where texels lie in it.

use std::f64::consts::SQRT_2;

use glam::{DQuat, DVec2, DVec3, Vec3};
use surface::{BLOCK_TEXELS, DecodedTile, DecodedTiles, TexelBlock};

use super::{Anchor, CloneFrom};
use crate::kernel::Lane;
use crate::{Dab, Image, LeftOut, TextureDab, Touch};

/// A dab's own frame: two directions along the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Frame {
    /// Middle, in the path's units.
    pub(crate) centre: DVec3,
    /// Unit length.
    pub(crate) across: DVec3,
    /// Unit length, at a right angle to it.
    pub(crate) down: DVec3,
    /// What counts as 1.
    pub(crate) radius: f32,
}

impl Frame {
    /// With `across` as near to what it was as the normal allows.
    fn along(centre: DVec3, normal: DVec3, across: Option<DVec3>, radius: f64) -> Self {
        let flat = across.map(|across| across - normal * across.dot(normal));
        let across = flat.and_then(DVec3::try_normalize);
        let across = across.unwrap_or_else(|| normal.any_orthonormal_vector());
        Self { centre, across, down: normal.cross(across), radius: radius as f32 }
    }

    /// Its image.
    pub(crate) fn imaged(self, image: &Image) -> Self {
        Self {
            centre: image.point(self.centre),
            across: image.direction(self.across),
            down: image.direction(self.down),
            radius: self.radius,
        }
    }

    /// As seen from a tile's origin.
    pub(crate) fn on(&self, origin: DVec3) -> Places {
        let scale = 1.0 / f64::from(self.radius);
        Places {
            centre: (self.centre - origin).as_vec3(),
            across: (self.across * scale).as_vec3(),
            down: (self.down * scale).as_vec3(),
            out: (self.across.cross(self.down) * scale).as_vec3(),
        }
    }
}

/// A frame, as seen from a tile's origin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Places {
    centre: Vec3,
    across: Vec3,
    down: Vec3,
    out: Vec3,
}

impl Places {
    /// How far the points of a block lie from the frame's plane, as a share of the radius.
    pub(crate) fn depth(&self, [x, y, z]: [&Lane; 3]) -> Lane {
        std::array::from_fn(|n| (Vec3::new(x[n], y[n], z[n]) - self.centre).dot(self.out).abs())
    }

    /// Where the points of a block lie in the frame: -1 to 1 within the radius.
    pub(crate) fn of(&self, [x, y, z]: [&Lane; 3]) -> [Lane; 2] {
        let (mut right, mut down) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
        for n in 0..BLOCK_TEXELS {
            let away = Vec3::new(x[n], y[n], z[n]) - self.centre;
            right[n] = away.dot(self.across);
            down[n] = away.dot(self.down);
        }
        [right, down]
    }
}

const FLAT: Lane = [0.0; BLOCK_TEXELS];

/// A dab that has a frame.
pub(crate) trait Framed: Sync + Sized {
    /// True for the first of a run, of all its copies.
    fn begins(&self) -> bool;

    /// The number of its image under the stroke's symmetry.
    fn image(&self) -> u8;

    /// The frame whose image is its own, turned no more than it must be since the dab before; a dab reaches as far as
    /// that, in radii.
    fn frame(&self, before: Option<&Frame>, image: &Image, reach: f64) -> Frame;

    /// What the points of a tile are measured from.
    fn origin(decoded: &DecodedTile) -> DVec3;

    /// The points of a block's texels, from there.
    fn points(block: &TexelBlock) -> [&Lane; 3];

    /// The most that a point of the tile moves from one texel to the next.
    fn widest(decoded: &DecodedTile, tiles: &DecodedTiles) -> f32;

    /// Where it takes its paint from: its image, as the dab's frame is one. None where nothing is there.
    fn source(
        &self,
        placed: (&Frame, &Image),
        from: &CloneFrom,
        ground: (&DecodedTiles, &LeftOut),
    ) -> Option<Source<Self>>;
}

/// Where a dab takes its paint from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Source<D> {
    /// The dab, if it lay there.
    pub(crate) dab: D,
    pub(crate) frame: Frame,
    /// What faces away from it is left; none in the flat texture.
    pub(crate) normal: Option<Vec3>,
}

impl Framed for Dab {
    fn begins(&self) -> bool {
        self.begins && self.copy.place == 0
    }

    fn image(&self) -> u8 {
        self.copy.image
    }

    fn frame(&self, before: Option<&Frame>, image: &Image, reach: f64) -> Frame {
        let across = before.map(|before| before.across);
        let (centre, normal) = (image.point_of(self.centre), image.direction_of(self.normal));
        Frame::along(centre, normal, across, self.touch.radius * reach)
    }

    fn origin(decoded: &DecodedTile) -> DVec3 {
        decoded.origin
    }

    fn points(block: &TexelBlock) -> [&Lane; 3] {
        block.offset.each_ref()
    }

    fn widest(decoded: &DecodedTile, _tiles: &DecodedTiles) -> f32 {
        decoded.frames.iter().map(|f| f.du.length().max(f.dv.length())).fold(0.0, f32::max)
    }

    fn source(
        &self,
        (frame, image): (&Frame, &Image),
        from: &CloneFrom,
        (tiles, left_out): (&DecodedTiles, &LeftOut),
    ) -> Option<Source<Self>> {
        let CloneFrom::Surface { source, start } = from else { return None };
        let turn = turn_between(start, source);
        let wanted = image.point(source.position + turn * (frame.centre - start.position));
        let surface = tiles.surface();
        let on = surface.nearest_where(wanted, |t| !left_out.hides(surface.part_of(t)))?;
        let centre = surface.position(on.triangle, on.barycentric);
        // Past the end of what it takes from there is nothing.
        if centre.distance(wanted) > 2.0 * self.touch.radius {
            return None;
        }
        let normal = surface.smooth_normal(on.triangle, on.barycentric);
        let own = turn * image.direction_of(self.normal);
        let normal = if image.direction_of(normal).dot(own) < 0.0 { -normal } else { normal };
        let (middle, out) = (image.point_of(centre), image.direction_of(normal));
        let radius = f64::from(frame.radius);
        let frame = Frame::along(middle, out, Some(turn * frame.across), radius).imaged(image);
        // A square around the circle is taken.
        let touch = Touch { radius: self.touch.radius * SQRT_2, ..self.touch };
        let dab = Self { centre, normal, touch, ..*self };
        Some(Source { dab, frame, normal: Some(normal.as_vec3()) })
    }
}

fn turn_between(start: &Anchor, source: &Anchor) -> DQuat {
    DQuat::from_rotation_arc(
        start.normal.try_normalize().unwrap_or(DVec3::Z),
        source.normal.try_normalize().unwrap_or(DVec3::Z),
    )
}

impl Framed for TextureDab {
    fn begins(&self) -> bool {
        self.begins
    }

    fn image(&self) -> u8 {
        0
    }

    fn frame(&self, _before: Option<&Frame>, _image: &Image, reach: f64) -> Frame {
        on_texture(self.centre, self.touch.radius * reach)
    }

    fn origin(_decoded: &DecodedTile) -> DVec3 {
        DVec3::ZERO
    }

    fn points(block: &TexelBlock) -> [&Lane; 3] {
        [&block.uv[0], &block.uv[1], &FLAT]
    }

    fn widest(_decoded: &DecodedTile, tiles: &DecodedTiles) -> f32 {
        1.0 / tiles.map().size().edge() as f32
    }

    fn source(
        &self,
        (frame, _image): (&Frame, &Image),
        from: &CloneFrom,
        _ground: (&DecodedTiles, &LeftOut),
    ) -> Option<Source<Self>> {
        let CloneFrom::Texture(offset) = from else { return None };
        let centre = self.centre + offset.as_dvec2();
        let touch = Touch { radius: self.touch.radius * SQRT_2, ..self.touch };
        let dab = Self { centre, touch, ..*self };
        let frame = on_texture(centre, f64::from(frame.radius));
        Some(Source { dab, frame, normal: None })
    }
}

fn on_texture(centre: DVec2, radius: f64) -> Frame {
    Frame { centre: centre.extend(0.0), across: DVec3::X, down: DVec3::Y, radius: radius as f32 }
}
