//! The hand that paints the demo: aims at points of the model from somewhere, and draws.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    BrushSettings, BrushSize, Camera, FillScope, Gesture, KernelVersion, LeftOut, Path, PenSample,
    Projection, Response, Responses, Smoothing, Stroke, StrokeKind, SurfacePath, TexturePoint,
};
use document::{
    CellEdit, Deposit, Edit, LayerEdit, MaskAt, MaskOwner, MaterialEdit, MaterialId, NewContent,
    NewTerm, NewTermSource, Shape, Step,
};
use editor::{Editor, Settings};
use exchange::{Embedded, read_model_bytes};
use glam::{DVec2, DVec3, Vec2};
use layers::{BlendMode, ChannelId, Combine, LayerId, Opacity, Place, TermId, Value};
use raster::{TextureSize, Unobserved, from_unit};

use super::places::{Line, ROUND, Side, towards};

/// The size at which the demo is recorded; strokes are painted again at any other.
const RECORDED_SIZE: u32 = 2048;

/// How far the eye is from what it looks at, in metres.
const DISTANCE: f64 = 1.6;
/// How high a view is, in radians.
const FOV_Y: f64 = 0.6;
/// How close the points of a path come, in pixels, however thin the brush.
const CLOSEST_PX: f64 = 0.34;

/// An editor and what it takes to paint with it in few words.
pub(crate) struct Hand {
    editor: Editor,
    seed: u64,
}

/// A layer of a material.
#[derive(Clone, Copy)]
pub(crate) struct On(pub(crate) MaterialId, pub(crate) LayerId);

/// What is painted: channel and value.
pub(crate) type Paint<'a> = &'a [(ChannelId, Value)];

/// Base colour, 0..1, sRGB-encoded.
pub(crate) fn colour(r: f32, g: f32, b: f32) -> (ChannelId, Value) {
    (ChannelId::BASE_COLOUR, Value::Colour([r, g, b].map(from_unit)))
}

/// Roughness, 0..1.
pub(crate) fn rough(value: f32) -> (ChannelId, Value) {
    (ChannelId::ROUGHNESS, Value::Scalar(from_unit(value)))
}

/// Metalness, 0..1.
pub(crate) fn metal(value: f32) -> (ChannelId, Value) {
    (ChannelId::METALNESS, Value::Scalar(from_unit(value)))
}

/// A brush with what is on it.
pub(crate) struct Loaded {
    /// Its radius under full pressure, in metres.
    pub(crate) radius: f64,
    /// From one point of the recorded path to the next, in metres. Flat things need few.
    pub(crate) step: f64,
    /// How it deposits.
    pub(crate) brush: BrushSettings,
    /// What it deposits.
    pub(crate) deposit: Deposit,
}

/// A soft brush with a radius, a ceiling and a flow, thinner and fainter under a light hand.
pub(crate) fn soft(radius: f64, opacity: f32, flow: f32, deposit: Deposit) -> Loaded {
    let size = Response { at_zero: 0.25, ..Response::NONE };
    let pressure = Responses { size, flow: size, ..Responses::NONE };
    let brush = BrushSettings {
        hardness: 0.1,
        opacity,
        flow,
        spacing: 0.2,
        pressure,
        ..BrushSettings::default()
    };
    Loaded { radius, step: radius * 0.5, brush, deposit }
}

/// The same with a firmer edge.
pub(crate) fn firm(radius: f64, opacity: f32, flow: f32, deposit: Deposit) -> Loaded {
    let mut firm = soft(radius, opacity, flow, deposit);
    firm.brush.hardness = 0.55;
    firm
}

impl Hand {
    pub(crate) fn new(obj: &[u8], mtl: &[u8]) -> Result<Self, String> {
        let beside = [("harbour-bell.mtl", mtl)];
        let imported = read_model_bytes("harbour-bell.obj", obj, &Embedded(&beside), &Unobserved);
        let model = Arc::new(imported.map_err(|error| error.to_string())?.model);
        let size = TextureSize::new(RECORDED_SIZE).map_err(|error| error.to_string())?;
        let editor = Editor::new(Settings::default()).map_err(|error| error.to_string())?;
        let mut hand = Self { editor, seed: 0 };
        hand.apply(&Edit::Import { model, size })?;
        Ok(hand)
    }

    pub(crate) fn recorded(&self) -> Result<String, String> {
        self.editor.recorded().to_json().map_err(|error| error.to_string())
    }

    pub(crate) fn material(&self, name: &str) -> Result<MaterialId, String> {
        let materials = &self.editor.document().materials;
        let found = materials.iter().find(|material| material.name == name);
        found.map(|material| material.id).ok_or_else(|| format!("no material {name}"))
    }

    fn apply(&mut self, edit: &Edit) -> Result<(), String> {
        self.editor.apply(edit, &Unobserved).map_err(|error| error.to_string())
    }

    pub(crate) fn change(&mut self, id: MaterialId, change: MaterialEdit) -> Result<(), String> {
        self.apply(&Edit::Material(id, change))
    }

    pub(crate) fn edit(&mut self, on: On, change: LayerEdit) -> Result<(), String> {
        self.change(on.0, MaterialEdit::Layer(on.1, change))
    }

    /// A new layer on top, or on top of a group.
    pub(crate) fn layer(
        &mut self,
        material: MaterialId,
        name: &str,
        content: NewContent,
        group: Option<On>,
    ) -> Result<On, String> {
        let layer = self.editor.free_layer_id(material);
        let found = self.editor.document().material(material).map_err(|error| error.to_string())?;
        let parent = group.map(|group| group.1);
        let index = match parent {
            None => found.stack.layers.len(),
            Some(group) => found.stack.find(group).map_or(0, |group| group.children().len()),
        };
        let place = Place { parent, index };
        self.change(
            material,
            MaterialEdit::AddLayer { layer, name: name.to_owned(), content, place },
        )?;
        Ok(On(material, layer))
    }

    pub(crate) fn solid(
        &mut self,
        id: MaterialId,
        name: &str,
        paint: Paint<'_>,
    ) -> Result<On, String> {
        self.layer(id, name, NewContent::Solid(paint.iter().copied().collect()), None)
    }

    pub(crate) fn painted(&mut self, id: MaterialId, name: &str) -> Result<On, String> {
        self.layer(id, name, NewContent::Painted, None)
    }

    pub(crate) fn blend(
        &mut self,
        on: On,
        channel: ChannelId,
        mode: BlendMode,
        opacity: f32,
    ) -> Result<(), String> {
        self.edit(on, LayerEdit::Cells(vec![channel], CellEdit::Blend(mode)))?;
        let opacity = Opacity::new(opacity).map_err(|error| error.to_string())?;
        self.edit(on, LayerEdit::Cells(vec![channel], CellEdit::Opacity(opacity)))
    }

    /// A painted mask with one value everywhere.
    pub(crate) fn mask(&mut self, on: On, owner: MaskOwner, value: f32) -> Result<MaskAt, String> {
        let at = MaskAt { owner, term: TermId(1) };
        let source = NewTermSource::Painted(from_unit(value));
        let term = NewTerm { id: at.term, combine: Combine::Multiply, source };
        self.edit(on, LayerEdit::AddMaskTerm(at.owner, term))?;
        Ok(at)
    }

    pub(crate) fn fill(
        &mut self,
        on: On,
        scope: FillScope,
        paint: Paint<'_>,
    ) -> Result<(), String> {
        self.deposit(
            on,
            painted(paint),
            Shape::Fill { scope, opacity: 1.0, left_out: LeftOut::default(), tooth: None },
        )
    }

    fn deposit(&mut self, on: On, deposit: Deposit, shape: Shape) -> Result<(), String> {
        self.edit(on, LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape })))
    }

    /// Draws lines of the model, seen from a direction, in one stroke that lifts between them.
    pub(crate) fn draw(
        &mut self,
        on: On,
        with: &Loaded,
        from: DVec3,
        lines: &[Line],
    ) -> Result<(), String> {
        let path = self.path(from, with.radius, with.step, lines)?;
        self.stroke(on, with, Path::Surface(path))
    }

    /// The same from each side of the bell in turn.
    pub(crate) fn all_round(
        &mut self,
        on: On,
        with: &Loaded,
        lift: f64,
        mut lines: impl FnMut(Side) -> Vec<Line>,
    ) -> Result<(), String> {
        ROUND
            .iter()
            .try_for_each(|side| self.draw(on, with, towards(side.seen_from, lift), &lines(*side)))
    }

    /// Fills the island that is seen at a point.
    pub(crate) fn fill_island(
        &mut self,
        on: On,
        from: DVec3,
        aim: DVec3,
        paint: Paint<'_>,
    ) -> Result<(), String> {
        let path = self.path(from, 0.02, 0.01, &[vec![aim]])?;
        path.runs
            .iter()
            .flatten()
            .try_for_each(|seen| self.fill(on, FillScope::Island(seen.triangle), paint))
    }

    fn path(
        &self,
        from: DVec3,
        radius: f64,
        step: f64,
        lines: &[Line],
    ) -> Result<SurfacePath, String> {
        let camera = view(from, step, lines);
        let mut whole: Option<SurfacePath> = None;
        for line in lines {
            let gesture = gesture(camera, radius, line);
            let path =
                self.editor.resolve(&gesture, &Unobserved).map_err(|error| error.to_string())?;
            match &mut whole {
                None => whole = Some(path),
                Some(whole) => whole.runs.extend(path.runs),
            }
        }
        let aim = lines.first().and_then(|line| line.first());
        whole
            .filter(|path| !path.runs.is_empty())
            .ok_or_else(|| format!("a stroke at {aim:?} meets nothing"))
    }

    /// Draws lines on the flat texture; the radius is in its edges.
    pub(crate) fn draw_flat(
        &mut self,
        on: On,
        with: &Loaded,
        lines: &[Vec<[f32; 2]>],
    ) -> Result<(), String> {
        let radius = with.radius as f32;
        let point = |uv: &[f32; 2]| TexturePoint::of(Vec2::from_array(*uv), radius);
        let runs = lines.iter().map(|line| line.iter().map(point).collect());
        self.stroke(on, with, Path::Texture(runs.collect()))
    }

    fn stroke(&mut self, on: On, with: &Loaded, path: Path) -> Result<(), String> {
        self.seed += 1;
        let stroke = Stroke {
            kernel: KernelVersion::CURRENT,
            kind: StrokeKind::Deposit,
            path,
            brush: with.brush.clone(),
            seed: self.seed,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        self.deposit(on, with.deposit.clone(), Shape::Stroke(stroke))
    }
}

/// Paint of these values.
pub(crate) fn painted(paint: Paint<'_>) -> Deposit {
    Deposit::Paint(paint.iter().copied().collect::<BTreeMap<_, _>>())
}

/// Paint into a mask.
pub(crate) fn into_mask(at: MaskAt, value: f32) -> Deposit {
    Deposit::Mask { at, value: from_unit(value) }
}

/// A pen that comes down lightly, presses, and lifts, along the line as it is seen.
fn gesture(camera: Camera, radius: f64, line: &[DVec3]) -> Gesture {
    let last = line.len().saturating_sub(1).max(1) as f64;
    let samples = (0u32..).zip(line).filter_map(|(number, aim)| {
        let along = f64::from(number) / last;
        let pressure = (0.35 + 0.65 * (4.0 * along * (1.0 - along)).sqrt()) as f32;
        let sample = PenSample::mouse(camera.project(*aim)?, f64::from(number) / 60.0);
        Some(PenSample { pressure, ..sample })
    });
    Gesture {
        camera,
        samples: samples.collect(),
        size: BrushSize::Object(radius),
        smoothing: Smoothing::Off,
        left_out: LeftOut::default(),
    }
}

/// A view of the middle of some lines, with so few pixels that a path's points are a step apart.
fn view(from: DVec3, step: f64, lines: &[Line]) -> Camera {
    let aims = lines.iter().map(Vec::len).sum::<usize>().max(1);
    let middle = lines.iter().flatten().sum::<DVec3>() / aims as f64;
    let up = if from.y.abs() > 0.9 * from.length() { DVec3::NEG_Z } else { DVec3::Y };
    let height = 2.0 * DISTANCE * libm::tan(FOV_Y * 0.5) * CLOSEST_PX / step;
    Camera {
        eye: middle + from.normalize_or(DVec3::Z) * DISTANCE,
        target: middle,
        up,
        projection: Projection::Perspective { fov_y_rad: FOV_Y },
        viewport_px: DVec2::new(height * 4.0 / 3.0, height),
    }
}
