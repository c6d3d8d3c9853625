//! A stroke while the pen is down.
//!
//! It goes through the machine that replay goes through, fed as the samples come. So it ends in exactly the
//! path, the dabs and the coverage that replay gives, however its samples were gathered into frames.

use std::sync::Arc;

use glam::{DVec3, Vec3};
use raster::{Extent, Plane};
use surface::DecodedTiles;

use crate::course::Course;
use crate::dab::{OnSurface, OnTexture};
use crate::frame::{Frames, NewDabs};
use crate::imprint::Imprint;
use crate::resolve::{FlatView, ModelView};
use crate::stamp::{OnTiles, Stamps, Tool};
use crate::stroke::check_symmetry;
use crate::texture_stamp::OnTexels;
use crate::tile_tree::TileTree;
use crate::transport::{Framed, Transport};
use crate::{
    BrushError, BrushSettings, BrushSize, Camera, CellPlanes, Coverage, Dab, FlatCamera, Image,
    KernelVersion, LeftOut, MovedTile, Path, PathPoint, PenSample, Smoothing, Stencil, Stroke,
    StrokeKind, SurfacePath, Symmetry, TextureDab, TexturePoint,
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
    /// What it does.
    pub kind: StrokeKind,
    /// The brush.
    pub brush: BrushSettings,
    /// Seed of everything random in the stroke.
    pub seed: u64,
    /// Parts that it does not paint.
    pub left_out: LeftOut,
    /// How it is repeated; only on the model.
    pub symmetry: Option<Symmetry>,
    /// What it is painted through.
    pub stencil: Option<Stencil>,
}

impl StrokeStart {
    /// # Errors
    /// [`BrushError::Setting`] naming the first number outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        self.brush.check()?;
        let on_surface = matches!(self.view, StrokeView::Model { .. });
        self.kind.check(on_surface)?;
        check_symmetry(self.symmetry.as_ref(), on_surface)?;
        self.stencil.as_ref().map_or(Ok(()), Stencil::check)?;
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

    fn ground<'a>(&'a self, images: &'a [Image]) -> OnSurface<'a> {
        OnSurface { surface: self.tiles.surface(), map: self.tiles.map(), images }
    }

    fn extent(&self) -> Extent {
        self.tiles.map().size().extent()
    }
}

/// What changed since it was asked for last. One of the two is empty: a stroke either covers or moves.
#[derive(Debug, Clone, Copy)]
pub struct Changed<'a> {
    /// What the whole stroke covers of these tiles now.
    pub covered: &'a Coverage,
    /// How the stroke has left these tiles, row by row.
    pub moved: &'a [MovedTile],
}

/// What is left when the pen is lifted.
#[derive(Debug)]
pub struct FinishedStroke {
    /// For the edit that records it.
    pub stroke: Stroke,
    /// Coverage of the tiles that changed since [`LiveStroke::changed`] was called last.
    pub covered: Coverage,
    /// Tiles that it has moved paint in since then.
    pub moved: Vec<MovedTile>,
    /// True where it covers or has moved anything.
    pub changes: bool,
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
    kind: StrokeKind,
    /// There where it moves paint.
    transport: Option<Transport>,
    brush: BrushSettings,
    seed: u64,
    left_out: LeftOut,
    symmetry: Option<Symmetry>,
    stencil: Option<Stencil>,
    /// What [`Symmetry::copies`] gives.
    images: Vec<Image>,
    place: Place,
    frames: Frames,
    imprint: Option<Imprint>,
}

impl LiveStroke {
    /// Puts the pen down on the material whose texels `tiles` decodes, to cover it.
    ///
    /// # Errors
    /// [`BrushError::Setting`] for a size or a setting out of range, [`BrushError::Transport`] for a stroke that moves
    /// paint.
    pub fn begin(
        start: &StrokeStart,
        tiles: Arc<DecodedTiles>,
        buffers: StrokeBuffers,
    ) -> Result<Self, BrushError> {
        if start.kind.is_transport() {
            return Err(BrushError::Transport);
        }
        Self::down(start, tiles, buffers)
    }

    /// Puts the pen down to move the paint of `cells`, as far as the plane `within` allows.
    ///
    /// # Errors
    /// As [`LiveStroke::begin`]; there for a stroke that moves none.
    pub fn begin_moving(
        start: &StrokeStart,
        tiles: Arc<DecodedTiles>,
        (cells, within): (Vec<CellPlanes>, Option<Plane>),
        buffers: StrokeBuffers,
    ) -> Result<Self, BrushError> {
        let extent = tiles.map().size().extent();
        let transport = Some(Transport::begin(start.kind, cells, extent, within)?);
        Ok(Self { transport, ..Self::down(start, tiles, buffers)? })
    }

    fn down(
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
        let imprint = frames.begin(place.extent(), &start.brush);
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
        Ok(Self {
            way,
            kind: start.kind,
            transport: None,
            brush: start.brush.clone(),
            seed: start.seed,
            left_out: start.left_out.clone(),
            symmetry: start.symmetry,
            stencil: start.stencil.clone(),
            images: start.symmetry.as_ref().map_or_else(Vec::new, Symmetry::copies),
            place,
            frames,
            imprint,
        })
    }

    /// Takes the samples that came since the last frame, any number of them.
    ///
    /// # Errors
    /// [`BrushError::NotFinite`] for a sample that holds such a number, [`BrushError::TooManyDabs`]. The
    /// stroke is then as it was before.
    pub fn extend(&mut self, samples: &[PenSample]) -> Result<(), BrushError> {
        let Self { way, brush, left_out, images, place, .. } = self;
        match way {
            Way::Model { course, camera, size, .. } => {
                let view = place.view(*camera, *size, left_out);
                course.extend(samples, &view, &place.ground(images), brush)
            }
            Way::Flat { course, view } => course.extend(samples, view, &OnTexture, brush),
        }
    }

    /// The tiles that changed since the last call: by all dabs so far and, where it covers, by those that the stroke
    /// would end with if the pen were lifted now.
    ///
    /// # Errors
    /// [`BrushError::TooManyDabs`], or where a tile can't be read.
    pub fn changed(&mut self) -> Result<Changed<'_>, BrushError> {
        let Self { way, brush, left_out, images, place, frames, transport, .. } = self;
        let (imprint, stencil) = (&self.imprint, &self.stencil);
        let tool = &Tool { brush, imprint: imprint.as_ref(), stencil: stencil.as_ref() };
        let (tiles, tree) = (&place.tiles, &place.tree);
        let mut hand = Hand { frames, transport, tiles, brush, left_out, images };
        match way {
            Way::Model { course, camera, size, eye } => {
                let view = place.view(*camera, *size, left_out);
                let dabs = course.new_dabs(&view, &place.ground(images), brush)?;
                let eyes = (Some(*eye), &images[..]);
                hand.does(&OnTiles::new((tiles.surface(), tree), tool, eyes, left_out), &dabs)?;
            }
            Way::Flat { course, view } => {
                let dabs = course.new_dabs(view, &OnTexture, brush)?;
                let on = (&**tiles.surface(), &**tiles.map(), tree);
                hand.does(&OnTexels::new(on, tool), &dabs)?;
            }
        }
        Ok(match transport {
            Some(transport) => Changed { covered: frames.changed(), moved: transport.moved()? },
            None => Changed { covered: frames.changed(), moved: &[] },
        })
    }

    /// Lifts the pen.
    ///
    /// # Errors
    /// [`BrushError::EmptyPath`] where the pen met nothing, [`BrushError::TooManyDabs`], or where a tile can't be
    /// read.
    pub fn finish(self) -> Result<FinishedStroke, BrushError> {
        let Self { way, kind, brush, seed, left_out, symmetry, stencil, images, place, .. } = self;
        let (mut frames, mut transport) = (self.frames, self.transport);
        let imprint = self.imprint.as_ref();
        let tool = &Tool { brush: &brush, imprint, stencil: stencil.as_ref() };
        let (tiles, tree) = (&place.tiles, &place.tree);
        let mut hand = Hand {
            frames: &mut frames,
            transport: &mut transport,
            tiles,
            brush: &brush,
            left_out: &left_out,
            images: &images,
        };
        let path = match way {
            Way::Model { course, camera, size, eye } => {
                let view = place.view(camera, size, &left_out);
                let (runs, dabs) = course.finish(&view, &place.ground(&images), &brush)?;
                let eyes = (Some(eye), &images[..]);
                let stamps = OnTiles::new((tiles.surface(), tree), tool, eyes, &left_out);
                hand.does(&stamps, &NewDabs { certain: &dabs, provisional: &[] })?;
                Path::Surface(SurfacePath { runs, eye: Some(eye) })
            }
            Way::Flat { course, view } => {
                let (runs, dabs) = course.finish(&view, &OnTexture, &brush)?;
                let stamps = OnTexels::new((tiles.surface(), tiles.map(), tree), tool);
                hand.does(&stamps, &NewDabs { certain: &dabs, provisional: &[] })?;
                Path::Texture(runs)
            }
        };
        let kernel = KernelVersion::CURRENT;
        let stroke = Stroke { kernel, kind, path, brush, seed, left_out, symmetry, stencil };
        let moved = transport.as_mut().map(|transport| transport.moved().map(<[_]>::to_vec));
        let (covered, coverage) = (frames.changed().clone(), frames.coverage(place.extent()));
        let moves = transport.as_ref().is_some_and(Transport::has_moved);
        frames.end_stroke();
        Ok(FinishedStroke {
            stroke,
            changes: moves || !coverage.tiles.is_empty(),
            covered,
            moved: moved.transpose()?.unwrap_or_default(),
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
        course + self.frames.bytes() + self.transport.as_ref().map_or(0, Transport::bytes)
    }
}

/// What does the dabs.
struct Hand<'a> {
    frames: &'a mut Frames,
    transport: &'a mut Option<Transport>,
    tiles: &'a DecodedTiles,
    brush: &'a BrushSettings,
    left_out: &'a LeftOut,
    images: &'a [Image],
}

impl Hand<'_> {
    /// Does a stroke's new dabs. What is moved can't be taken back: there the provisional ones have to wait.
    fn does<S: Stamps<Dab: Framed>>(
        &mut self,
        stamps: &S,
        dabs: &NewDabs<'_, S::Dab>,
    ) -> Result<(), BrushError> {
        let Self { frames, transport, tiles, brush, left_out, images } = self;
        match transport {
            Some(transport) => {
                transport.apply(stamps, dabs.certain, tiles, (brush, left_out, images))?;
            }
            None => frames.stamp(stamps, dabs, tiles, (brush.opacity, left_out))?,
        }
        Ok(())
    }
}
