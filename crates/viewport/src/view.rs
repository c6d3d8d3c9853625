//! What a picture shows, and how: plain values that the window or the command line fills in.

use brush::{Camera, FlatCamera};
use glam::{DVec2, DVec3};
use surface::MaterialSlot;

/// What is drawn on the surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Shown {
    /// The material under light, tone mapped.
    #[default]
    Lit,
    /// Base colour alone: unlit, not tone mapped, the stored bytes.
    Colour,
    /// Roughness alone: unlit, grey, the stored bytes.
    Roughness,
    /// Metalness alone: unlit, grey, the stored bytes.
    Metalness,
    /// Squares of a fixed number of texels, numbered: shows stretch and density.
    Checker,
    /// Each UV island in a colour of its own.
    Islands,
    /// The mask that was handed in as [`crate::TextureKind::Mask`], in grey; black without one.
    Mask,
}

/// How radiance becomes a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ToneMapping {
    /// Khronos PBR Neutral, with the exposure that brings base colour back true.
    #[default]
    Neutral,
    /// Clipped at 0 and 1: for measuring.
    Linear,
}

/// The light that the light dial turns: a small sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeyLight {
    /// From the light's horizontal direction to +Z about +Y, in radians; it turns with the model, not
    /// with the camera.
    pub azimuth_rad: f32,
    /// Height over the horizon in radians, -pi/2..pi/2.
    pub elevation_rad: f32,
    /// Irradiance on a surface that faces it, over pi: 1 shows white as white; 0 is no light.
    pub strength: f32,
    /// Radius as seen from the model, in radians: how soft shadows are.
    pub radius_rad: f32,
    /// Linear, Rec. 709; its largest component is 1.
    pub tint: [f32; 3],
}

/// All light of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lighting {
    /// The light with a shadow.
    pub key: KeyLight,
    /// Factor of the environment.
    pub environment_strength: f32,
    /// The environment turned about +Y, in radians.
    pub environment_turn_rad: f32,
    /// Stops: the picture is multiplied by 2 to this power before tone mapping.
    pub exposure_ev: f32,
    /// How radiance becomes a picture.
    pub tone: ToneMapping,
}

impl Lighting {
    /// What one works by: the environment, and a key light from the upper left, half as strong as a white
    /// surface can show.
    pub const WORKING: Self = Self {
        key: KeyLight {
            azimuth_rad: -0.7,
            elevation_rad: 0.8,
            strength: 0.55,
            radius_rad: 0.06,
            tint: [1.0; 3],
        },
        environment_strength: 0.75,
        environment_turn_rad: 0.0,
        exposure_ev: 0.0,
        tone: ToneMapping::Neutral,
    };
}

/// The ring that shows what the brush covers: drawn by its distance from each point of the surface, so it is
/// the true footprint in both views.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Footprint {
    /// A ball about a point of the surface.
    Surface {
        /// Its middle, in model units.
        centre: DVec3,
        /// Its radius, in model units.
        radius: f64,
        /// Share of the radius that is fully covered: a second, fainter ring.
        hardness: f32,
    },
    /// A disc on the texture of one material.
    Texture {
        /// The material.
        material: MaterialSlot,
        /// Its middle.
        centre: DVec2,
        /// Its radius in UV units.
        radius: f64,
        /// As above.
        hardness: f32,
    },
}

/// A picture of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelView {
    /// Where it is seen from. Its viewport is the picture's size.
    pub camera: Camera,
    /// Left and right exchanged, as in a mirror: a pixel at x shows what the camera sees at width - x.
    pub mirrored: bool,
    /// What is drawn.
    pub shown: Shown,
    /// Edges of the polygons over it.
    pub wire: bool,
    /// The light.
    pub lighting: Lighting,
    /// Parts that are not drawn and cast no shadow, by their number.
    pub hidden_parts: Vec<bool>,
    /// The brush.
    pub footprint: Option<Footprint>,
    /// sRGB-encoded, behind the model.
    pub background: [f32; 3],
}

/// A picture of one material's texture, laid flat. Never lit, never tone mapped: [`Shown::Lit`] shows the base
/// colour.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatPicture {
    /// How it lies in the picture.
    pub camera: FlatCamera,
    /// The picture's size in pixels.
    pub size_px: [u32; 2],
    /// Which material.
    pub material: MaterialSlot,
    /// What is drawn.
    pub shown: Shown,
    /// Outlines of the islands.
    pub outlines: bool,
    /// Edges of the polygons.
    pub wire: bool,
    /// The brush.
    pub footprint: Option<Footprint>,
    /// sRGB-encoded, outside of the texture.
    pub background: [f32; 3],
}
