//! The hand that paints the demo: aims at points of the model from somewhere, and draws.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    BrushSettings, BrushSize, Camera, FillScope, Gesture, KernelVersion, Path, PenSample, Projection,
    Smoothing, Stroke, StrokeKind, TexturePoint,
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

/// The size at which the demo is recorded; strokes are painted again at any other.
const RECORDED_SIZE: u32 = 2048;

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

/// A soft brush of a ceiling and a flow.
pub(crate) fn soft(opacity: f32, flow: f32) -> BrushSettings {
    BrushSettings { hardness: 0.1, opacity, flow, ..BrushSettings::default() }
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
        self.change(material, MaterialEdit::AddLayer { layer, name: name.to_owned(), content, place })?;
        Ok(On(material, layer))
    }

    pub(crate) fn solid(&mut self, id: MaterialId, name: &str, paint: Paint<'_>) -> Result<On, String> {
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

    /// A painted mask for a whole layer, with one value everywhere.
    pub(crate) fn mask(&mut self, on: On, value: f32) -> Result<MaskAt, String> {
        let at = MaskAt { owner: MaskOwner::Layer, term: TermId(1) };
        let source = NewTermSource::Painted(from_unit(value));
        let term = NewTerm { id: at.term, combine: Combine::Multiply, source };
        self.edit(on, LayerEdit::AddMaskTerm(at.owner, term))?;
        Ok(at)
    }

    pub(crate) fn fill(&mut self, on: On, scope: FillScope, paint: Paint<'_>) -> Result<(), String> {
        self.deposit(on, painted(paint), Shape::Fill { scope, opacity: 1.0 })
    }

    fn deposit(&mut self, on: On, deposit: Deposit, shape: Shape) -> Result<(), String> {
        self.edit(on, LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape })))
    }

    /// Draws through points of the model, seen from a direction, with a radius in metres.
    pub(crate) fn draw(
        &mut self,
        on: On,
        deposit: Deposit,
        brush: BrushSettings,
        from: DVec3,
        radius: f64,
        aims: &[DVec3],
    ) -> Result<(), String> {
        let gesture = gesture(from, radius, aims);
        let path = self.editor.resolve(&gesture, &Unobserved).map_err(|error| error.to_string())?;
        if path.runs.is_empty() {
            return Err(format!("a stroke at {:?} meets nothing", aims.first()));
        }
        self.stroke(on, deposit, brush, Path::Surface(path))
    }

    /// Draws on the flat texture.
    pub(crate) fn draw_flat(
        &mut self,
        on: On,
        deposit: Deposit,
        brush: BrushSettings,
        radius: f32,
        points: &[[f32; 2]],
    ) -> Result<(), String> {
        let point = |uv: &[f32; 2]| TexturePoint { uv: Vec2::from_array(*uv), radius, pressure: 1.0 };
        self.stroke(on, deposit, brush, Path::Texture(vec![points.iter().map(point).collect()]))
    }

    fn stroke(
        &mut self,
        on: On,
        deposit: Deposit,
        brush: BrushSettings,
        path: Path,
    ) -> Result<(), String> {
        self.seed += 1;
        let stroke = Stroke {
            kernel: KernelVersion::CURRENT,
            kind: StrokeKind::Deposit,
            path,
            brush,
            seed: self.seed,
        };
        self.deposit(on, deposit, Shape::Stroke(stroke))
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

/// A pen that comes down lightly, presses, and lifts, along the aims as they are seen.
fn gesture(from: DVec3, radius: f64, aims: &[DVec3]) -> Gesture {
    let middle = aims.iter().sum::<DVec3>() / aims.len() as f64;
    let up = if from.y.abs() > 0.9 * from.length() { DVec3::NEG_Z } else { DVec3::Y };
    let camera = Camera {
        eye: middle + from.normalize_or(DVec3::Z) * 1.6,
        target: middle,
        up,
        projection: Projection::Perspective { fov_y_rad: 0.6 },
        viewport_px: DVec2::new(1600.0, 1200.0),
    };
    let last = aims.len().saturating_sub(1).max(1) as f64;
    let samples = (0u32..).zip(aims).filter_map(|(number, aim)| {
        let along = f64::from(number) / last;
        Some(PenSample {
            position_px: camera.project(*aim)?,
            pressure: (0.35 + 0.65 * (4.0 * along * (1.0 - along)).sqrt()) as f32,
            tilt_rad: [0.0; 2],
            eraser: false,
            time_secs: f64::from(number) / 60.0,
        })
    });
    Gesture { camera, samples: samples.collect(), size: BrushSize::Object(radius), smoothing: Smoothing::Off }
}

/// Points round the bell's axis at a height and distance, from one angle to another; 0 is the front.
pub(crate) fn arc(height: f64, distance: f64, from_deg: f64, to_deg: f64) -> Vec<DVec3> {
    (0..=24)
        .map(|step| {
            let angle = (from_deg + (to_deg - from_deg) * f64::from(step) / 24.0).to_radians();
            let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
            DVec3::new(distance * sine, height, 0.245 + distance * cosine)
        })
        .collect()
}

/// Where one stands to see that arc's middle.
pub(crate) fn towards(middle_deg: f64, lift: f64) -> DVec3 {
    let angle = middle_deg.to_radians();
    DVec3::new(libm::sin(angle), lift, libm::cos(angle))
}

/// Points along a straight line that sways from side to side by `sway`.
pub(crate) fn swaying(from: DVec3, to: DVec3, sway: DVec3, waves: f64) -> Vec<DVec3> {
    (0..=32)
        .map(|step| {
            let t = f64::from(step) / 32.0;
            from.lerp(to, t) + sway * libm::sin(t * waves * std::f64::consts::TAU)
        })
        .collect()
}
