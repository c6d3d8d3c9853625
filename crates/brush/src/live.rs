//! A stroke while the pen is down.
//!
//! It goes through the machine that replay goes through, fed as the samples come. So it ends in exactly the
//! path, the dabs and the coverage that replay gives, however its samples were gathered into frames.

use std::sync::Arc;

use glam::{DVec3, Vec3};
use raster::{Extent, Tile, TileAt};
use surface::DecodedTiles;

use crate::course::Course;
use crate::dab::{OnSurface, OnTexture};
use crate::frame::{Frames, NewDabs};
use crate::resolve::{FlatView, ModelView};
use crate::stamp::OnTiles;
use crate::texture_stamp::OnTexels;
use crate::tile_tree::TileTree;
use crate::{
    BrushError, BrushSettings, BrushSize, Camera, Coverage, Dab, FlatCamera, KernelVersion,
    LeftOut, Path, PathPoint, PenSample, Smoothing, Stroke, StrokeKind, SurfacePath, TextureDab,
    TexturePoint,
};

/// In which view the pen is put down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StrokeView {
    /// On the model.
    Model {
        /// Where it is seen from.
        camera: Camera,
        /// The brush's radius.
        size: BrushSize,
    },
    /// On the texture laid flat.
    Flat {
        /// How it lies on the screen.
        camera: FlatCamera,
        /// The brush's radius in UV units: 1 is the texture's edge.
        radius: f64,
    },
}

/// What is known of a stroke when the pen comes down.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeStart {
    /// Where.
    pub view: StrokeView,
    /// How the hand is steadied.
    pub smoothing: Smoothing,
    /// The brush.
    pub brush: BrushSettings,
    /// Seed of everything random in the stroke.
    pub seed: u64,
    /// Parts that it does not paint.
    pub left_out: LeftOut,
}

impl StrokeStart {
    /// # Errors
    /// [`BrushError::Setting`] naming the first number outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        self.brush.check()?;
        let above_0 = |what, value: f64| {
            let fine = value > 0.0 && value.is_finite();
            fine.then_some(()).ok_or(BrushError::Setting { what, value, range: "more than 0" })
        };
        match self.view {
            StrokeView::Model { size: BrushSize::Screen(radius), .. }
            | StrokeView::Model { size: BrushSize::Object(radius), .. } => {
                above_0("brush size", radius)
            }
            StrokeView::Flat { camera, radius } => {
                above_0("brush size", radius)?;
                above_0("zoom of the flat view", camera.uv_per_px)
            }
        }
    }
}

/// Memory that one stroke leaves for the next: handed on, strokes begin without allocating.
#[derive(Debug, Default)]
pub struct StrokeBuffers {
    frames: Frames,
    place: Option<Place>,
}

impl StrokeBuffers {
    /// Bytes of memory that they take.
    pub fn bytes(&self) -> usize {
        self.frames.bytes()
    }
}

/// What is painted on, and what every stroke there needs to know of it.
#[derive(Debug)]
struct Place {
    tiles: Arc<DecodedTiles>,
    tree: TileTree,
    bounds: (Vec3, Vec3),
}

impl Place {
    fn new(tiles: Arc<DecodedTiles>) -> Self {
        let (tree, bounds) = (TileTree::new(tiles.map()), tiles.surface().mesh().bounds());
        Self { tiles, tree, bounds }
    }

    fn view<'a>(&'a self, camera: Camera, size: BrushSize, left_out: &'a LeftOut) -> ModelView<'a> {
        ModelView { camera, size, surface: self.tiles.surface(), bounds: self.bounds, left_out }
    }

    fn ground(&self) -> OnSurface<'_> {
        OnSurface { surface: self.tiles.surface(), map: self.tiles.map() }
    }

    fn extent(&self) -> Extent {
        self.tiles.map().size().extent()
    }
}

/// What is left when the pen is lifted.
#[derive(Debug)]
pub struct FinishedStroke {
    /// For the edit that records it.
    pub stroke: Stroke,
    /// Coverage of the tiles that changed since [`LiveStroke::changed`] was called last.
    pub changed: Vec<(TileAt, Tile)>,
    /// What [`crate::stroke_coverage`] gives for it.
    pub coverage: Coverage,
    /// For the next stroke.
    pub buffers: StrokeBuffers,
}

#[derive(Debug)]
enum Way {
    Model { course: Course<PathPoint, Dab>, camera: Camera, size: BrushSize, eye: DVec3 },
    Flat { course: Course<TexturePoint, TextureDab>, view: FlatView },
}

/// See the module.
#[derive(Debug)]
pub struct LiveStroke {
    way: Way,
    brush: BrushSettings,
    seed: u64,
    left_out: LeftOut,
    place: Place,
    frames: Frames,
}

impl LiveStroke {
    /// Puts the pen down on the material whose texels `tiles` decodes.
    ///
    /// # Errors
    /// [`BrushError::Setting`] for a size or a setting out of range.
    pub fn begin(
        start: &StrokeStart,
        tiles: Arc<DecodedTiles>,
        buffers: StrokeBuffers,
    ) -> Result<Self, BrushError> {
        start.check()?;
        let StrokeBuffers { mut frames, place } = buffers;
        let place = place.filter(|place| Arc::ptr_eq(&place.tiles, &tiles));
        let place = place.unwrap_or_else(|| {
            frames.leave_place();
            Place::new(tiles)
        });
        frames.begin(place.extent(), start.brush.tooth);
        let way = match start.view {
            StrokeView::Model { camera, size } => {
                let view = place.view(camera, size, &start.left_out);
                let course = Course::new(start.smoothing, start.seed, &view);
                Way::Model { course, camera, size, eye: view.eye() }
            }
            StrokeView::Flat { camera, radius } => {
                let view = FlatView { camera, radius };
                Way::Flat { course: Course::new(start.smoothing, start.seed, &view), view }
            }
        };
        let left_out = start.left_out.clone();
        Ok(Self { way, brush: start.brush, seed: start.seed, left_out, place, frames })
    }

    /// Takes the samples that came since the last frame, any number of them.
    ///
    /// # Errors
    /// [`BrushError::NotFinite`] for a sample that holds such a number, [`BrushError::TooManyDabs`]. The
    /// stroke is then as it was before.
    pub fn extend(&mut self, samples: &[PenSample]) -> Result<(), BrushError> {
        let Self { way, brush, left_out, place, .. } = self;
        match way {
            Way::Model { course, camera, size, .. } => {
                let view = place.view(*camera, *size, left_out);
                course.extend(samples, &view, &place.ground(), brush)
            }
            Way::Flat { course, view } => course.extend(samples, view, &OnTexture, brush),
        }
    }

    /// Coverage of the tiles that changed since the last call: all dabs so far, and those that the
    /// stroke would end with if the pen were lifted now. Row by row.
    ///
    /// # Errors
    /// [`BrushError::TooManyDabs`].
    pub fn changed(&mut self) -> Result<&[(TileAt, Tile)], BrushError> {
        let Self { way, brush, left_out, place, frames, .. } = self;
        let (tiles, tree) = (&place.tiles, &place.tree);
        let limits = (brush.opacity, &*left_out);
        let changed = match way {
            Way::Model { course, camera, size, eye } => {
                let view = place.view(*camera, *size, left_out);
                let dabs = course.new_dabs(&view, &place.ground(), brush)?;
                let stamps = OnTiles::new(tiles.surface(), tree, brush, Some(*eye), left_out);
                frames.stamp(&stamps, &dabs, tiles, limits)
            }
            Way::Flat { course, view } => {
                let dabs = course.new_dabs(view, &OnTexture, brush)?;
                let (surface, map) = (tiles.surface(), tiles.map());
                let stamps = OnTexels { surface, map, tree, brush };
                frames.stamp(&stamps, &dabs, tiles, limits)
            }
        };
        Ok(changed?)
    }

    /// Lifts the pen.
    ///
    /// # Errors
    /// [`BrushError::EmptyPath`] where the pen met nothing, [`BrushError::TooManyDabs`].
    pub fn finish(self) -> Result<FinishedStroke, BrushError> {
        let Self { way, brush, seed, left_out, place, mut frames } = self;
        let (tiles, tree) = (&place.tiles, &place.tree);
        let limits = (brush.opacity, &left_out);
        let (path, changed) = match way {
            Way::Model { course, camera, size, eye } => {
                let view = place.view(camera, size, &left_out);
                let (runs, dabs) = course.finish(&view, &place.ground(), &brush)?;
                let stamps = OnTiles::new(tiles.surface(), tree, &brush, Some(eye), &left_out);
                let dabs = NewDabs { certain: &dabs, provisional: &[] };
                let changed = frames.stamp(&stamps, &dabs, tiles, limits)?.to_vec();
                (Path::Surface(SurfacePath { runs, eye: Some(eye) }), changed)
            }
            Way::Flat { course, view } => {
                let (runs, dabs) = course.finish(&view, &OnTexture, &brush)?;
                let (surface, map) = (tiles.surface(), tiles.map());
                let stamps = OnTexels { surface, map, tree, brush: &brush };
                let dabs = NewDabs { certain: &dabs, provisional: &[] };
                let changed = frames.stamp(&stamps, &dabs, tiles, limits)?.to_vec();
                (Path::Texture(runs), changed)
            }
        };
        let (kernel, kind) = (KernelVersion::CURRENT, StrokeKind::Deposit);
        let stroke = Stroke { kernel, kind, path, brush, seed, left_out };
        let coverage = frames.coverage(place.extent());
        frames.end_stroke();
        Ok(FinishedStroke {
            stroke,
            changed,
            coverage,
            buffers: StrokeBuffers { frames, place: Some(place) },
        })
    }

    /// Takes the stroke back, and gives its memory for the next.
    pub fn cancel(self) -> StrokeBuffers {
        let Self { place, mut frames, .. } = self;
        frames.end_stroke();
        StrokeBuffers { frames, place: Some(place) }
    }

    /// How many dabs are certain so far.
    pub fn dabs(&self) -> usize {
        match &self.way {
            Way::Model { course, .. } => course.dabs(),
            Way::Flat { course, .. } => course.dabs(),
        }
    }

    /// Bytes of memory that it takes, the tiles that it has shown included, decoded tiles not.
    pub fn bytes(&self) -> usize {
        let course = match &self.way {
            Way::Model { course, .. } => course.bytes(),
            Way::Flat { course, .. } => course.bytes(),
        };
        course + self.frames.bytes()
    }
}
