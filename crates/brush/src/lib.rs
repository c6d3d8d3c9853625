//! From a hand's gesture to texels.
//!
//! The data flows one way: a [`Gesture`] (pen samples on a screen, and the camera) is smoothed and ray
//! cast into a [`Path`] on the surface; path, [`BrushSettings`] and seed make a [`Stroke`], which is
//! what an edit records; a stroke places [`Dab`]s at even arc length; the dabs build up [`Coverage`]
//! over the texel map; coverage changes the planes of cells and masks, once a stroke. Strokes that move paint
//! (smudge, soften, clone) read and write those planes dab by dab instead.
//!
//! Positions and radii are in model units, or in UV units (1 is the texture's edge) where a stroke was
//! made in the flat view. A dab is a ball: it is evaluated at the 3D point that each texel shows, so it
//! crosses seams and keeps its size whatever the scale of the layout.
//!
//! This crate knows no layer, no file, no clock and no thread of its own (rayon excepted).

mod adjust;
mod block_bounds;
mod built_up;
mod camera;
mod course;
mod coverage;
mod dab;
mod decal;
mod deposit;
mod error;
mod falloff;
mod fill;
mod frame;
mod gesture;
mod gradient;
mod grid;
mod guide;
mod image;
mod imprint;
mod kernel;
mod lasso;
mod left_out;
mod live;
mod members;
mod mirror;
mod neighbourhood;
mod path;
mod resolve;
mod settings;
mod shaded;
mod shares_on_tile;
mod sight;
mod smoothing;
mod spacing;
mod stamp;
mod stencil;
mod stroke;
mod symmetry;
mod texture_stamp;
mod tile_lists;
mod tile_tree;
mod tip;
mod tooth;
mod trace;
mod transport;

pub use adjust::{Adjustment, adjust_cells, adjust_mask};
pub use camera::{Camera, FlatCamera, Projection};
pub use coverage::{Coverage, Shades, stroke_coverage};
pub use dab::{Dab, TextureDab, Touch, dabs, texture_dabs};
pub use decal::{Decal, decal_coverage};
pub use deposit::{
    CellPlanes, Mixing, cover_cells, cover_mask, covered_tile, erase_cells, erased_tile,
    masked_tile, mixed_tile,
};
pub use error::BrushError;
pub use fill::{FillScope, fill_coverage};
pub use gesture::{BrushSize, Gesture, PenSample};
pub use gradient::{Easing, Fade, Gradient, gradient_coverage};
pub use guide::{Curve, Guide};
pub use image::{GreyImage, ImageFault, ImageName, LONGEST_IMAGE_EDGE};
pub use lasso::{Lasso, lasso_coverage};
pub use left_out::LeftOut;
pub use live::{Changed, FinishedStroke, LiveStroke, StrokeBuffers, StrokeStart, StrokeView};
pub use mirror::{Mirror, mirror_cells};
pub use neighbourhood::Neighbourhood;
pub use path::{Path, PathPoint, SurfacePath, TexturePoint};
pub use resolve::{HALF_SPEED, resolve};
pub use settings::{
    BrushSettings, BuildUp, FLOW_REFERENCE_SPACING, Jitter, Reach, Response, Responses,
};
pub use smoothing::{ScreenPoint, Smoothing};
pub use stencil::{HeldAt, Stencil};
pub use stroke::{KernelVersion, Stroke, StrokeKind};
pub use symmetry::{Axis, CopyOf, Image, Symmetry};
pub use tip::{Lies, Tip};
pub use tooth::{Hold, Pattern, Relief, Tiling, Tooth, ToothPoint};
pub use transport::{Anchor, CloneFrom, MovedTile, put_moved, transport_cells};
