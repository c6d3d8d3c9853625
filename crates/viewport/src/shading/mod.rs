//! How a surface answers light, on the processor: each function of `shaders/lib` under the same name.
//!
//! The model is glTF 2.0, Appendix B (GGX, height-correlated Smith, Schlick), with two additions, without which
//! a rough metal darkens and a smooth white glows at its rim: light of more than one bounce is given back, and
//! diffuse light is what reflection leaves over (Kulla and Conty 2017, "Revisiting Physically Based Shading at
//! Imageworks"). So a white surface in white light is exactly white, metal or not, at every roughness and angle;
//! and the light of an environment is the integral of the light of small sources.
//!
//! Colours are linear Rec. 709, directions have length 1, roughness is glTF's perceptual one.

mod brdf;
mod dfg;
mod energy;
mod image_light;
mod key_light;
mod library;
mod sh;
mod tone;

pub use brdf::{
    DIELECTRIC_F0, MIN_N_DOT_V, MIN_ROUGHNESS, Material, facing, fresnel_schlick, ggx_alpha,
    ggx_distribution, smith_visibility,
};
pub use dfg::{DFG_SIZE, DfgTable};
pub use energy::{
    dfg_uv, multiple_colour, single_albedo, specular_albedo, specular_albedo_average,
};
pub use image_light::{image_light, image_reflection, reflection_lod, turned};
pub use key_light::{key_light, key_reflection, lit_alpha};
pub use library::{SHADER_LIBRARY, ShaderPiece};
pub use sh::{ShIrradiance, sh_irradiance};
pub use tone::{BRIGHTEST, NEUTRAL_EXPOSURE, luminance, tone_map, tone_neutral};
