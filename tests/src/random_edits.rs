//! Random edits to a model of two materials at small sizes, some of them refused.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    Adjustment, Anchor, Axis, BrushSettings, BuildUp, Camera, CloneFrom, Easing, Fade, FillScope,
    Gradient, Jitter, Lasso, LeftOut, Lies, Mirror, Path, Pattern, Projection, Relief, Stencil,
    Stroke, StrokeKind, SurfacePath, Symmetry, Tiling, Tip, Tooth,
};
use document::wire::EditList;
use document::{
    Alike, CellEdit, Deposit, Document, Edit, LayerEdit, MaskAt, MaskOwner, MaskTermEdit,
    MaterialEdit, MaterialId, Model, NewContent, NewTerm, NewTermSource, Region, RegionFill,
    SelectEdit, SelectMode, Shape, Step, Target,
};
use editor::{Editor, Settings};
use glam::{DVec2, DVec3, DVec4, Vec2, Vec3};
use layers::{
    BlendMode, BlendSpace, ChannelId, Combine, Isolation, LayerId, Opacity, Place, TermId, Value,
};
use proptest::prelude::*;
use raster::{TextureSize, Unobserved};
use surface::{PartId, TriangleId};

use crate::meshes::two_materials;
use crate::strokes::{Bench, stroke};

/// A model at hand for random edits.
pub(crate) struct Desk {
    pub(crate) model: Arc<Model>,
    pub(crate) bench: Bench,
}

impl Desk {
    pub(crate) fn new() -> Self {
        let mesh = two_materials();
        let model = Arc::new(Model::new(Arc::clone(&mesh), Vec::new()));
        Self { model, bench: Bench::new(mesh, 64) }
    }

    /// The model imported, with a painted layer 0 and a group 1 that holds a painted layer 2 in each
    /// material, and a stroke in every cell of the painted ones.
    pub(crate) fn editor(&self, settings: Settings) -> Editor {
        let mut editor = Editor::new(settings).unwrap();
        let import = Edit::Import { model: Arc::clone(&self.model), size: size(64) };
        editor.apply(&import, &Unobserved).unwrap();
        for material in [0, 1] {
            let group = NewContent::Group(Isolation::PassThrough);
            let layers = [(0, NewContent::Painted, None), (1, group, None)];
            for (layer, content, parent) in
                layers.into_iter().chain([(2, NewContent::Painted, Some(LayerId(1)))])
            {
                let index = usize::from(layer == 1);
                let place = Place { parent, index };
                let (layer, name) = (LayerId(layer), format!("layer {layer}"));
                let change = MaterialEdit::AddLayer { layer, name, content, place };
                editor.apply(&Edit::Material(MaterialId(material), change), &Unobserved).unwrap();
            }
        }
        for (material, a) in [(0, 0), (0, 2), (1, 0), (1, 2)] {
            let x = 0.3 + 0.2 * f64::from(a);
            let paint = Op { kind: 25, material, a, b: 7, c: 5, x, z: 0.4 };
            let edit = self.edit(&paint, editor.document());
            editor.apply(&edit, &Unobserved).unwrap();
        }
        editor
    }

    /// The list applied to a fresh editor.
    pub(crate) fn replayed(&self, list: &EditList, threads: usize) -> Editor {
        let settings = Settings { threads: Some(threads), ..Settings::default() };
        let mut editor = Editor::new(settings).unwrap();
        editor.apply_list(list, &self.model, size(64), &Unobserved).unwrap();
        editor
    }

    fn shape(&self, op: &Op, material: MaterialId) -> Shape {
        if op.c.is_multiple_of(6) || op.kind == 30 {
            let (scope, opacity) = (self.scope(op), op.x as f32);
            let left_out = op.left_out();
            if op.kind == 30 {
                let (fade, easing) = (op.fade(), [Easing::Even, Easing::Smooth][op.b as usize % 2]);
                return Shape::Gradient(Gradient { fade, easing, opacity, scope, left_out });
            }
            return Shape::Fill { scope, opacity, left_out, tooth: op.fill_tooth() };
        }
        let from = DVec3::new(op.x + 1.2 * f64::from(material.0), 0.0, op.z);
        let to = from + DVec3::new(op.z - 0.5, 0.0, 0.4 - op.x) * 0.4;
        let radius = 0.08 + 0.02 * f64::from(op.c);
        let points = [0.0, 0.4, 1.0].map(|t| self.bench.point(from.lerp(to, t), radius));
        let build_up = if op.c.is_multiple_of(2) { BuildUp::Even } else { BuildUp::Gradual };
        let brush = BrushSettings {
            hardness: op.z as f32,
            opacity: 0.2 + 0.8 * op.x as f32,
            build_up,
            jitter: op.jitter(),
            tooth: op.tooth(),
            tip: op.tip(),
            ..BrushSettings::default()
        };
        let eye = (op.c % 4 == 1).then_some(DVec3::new(0.7, 3.0, 0.4));
        let path = Path::Surface(SurfacePath { runs: vec![points.to_vec()], eye });
        let (symmetry, stencil) = (op.symmetry(), op.stencil());
        Shape::Stroke(Stroke { left_out: op.left_out(), symmetry, stencil, ..stroke(path, brush) })
    }

    fn scope(&self, op: &Op) -> FillScope {
        let from = self.bench.point(DVec3::new(op.x, 0.0, op.z), 0.1).triangle;
        match op.b {
            0 | 1 => FillScope::Material,
            2 => FillScope::Part(PartId(op.material)),
            3 => FillScope::Faces([from, TriangleId(0)].into()),
            4 => FillScope::Crease { from, angle: op.x as f32 * 4.0 },
            _ => FillScope::Island(from),
        }
    }

    fn region(&self, op: &Op) -> Region {
        let corner = |x: f64, z: f64| DVec2::new(op.x * 0.4 + x, op.z * 0.3 + z);
        let line = [corner(0.0, 0.0), corner(0.4, 0.1), corner(0.2, 0.5)];
        match op.c % 4 {
            0 => Region::Lasso(Lasso::Flat { outline: line.into() }),
            1 => {
                let camera = Camera {
                    eye: DVec3::new(0.9, 4.0, 0.9),
                    target: DVec3::new(0.9, 0.0, 0.5),
                    up: DVec3::NEG_Z,
                    projection: Projection::Perspective { fov_y_rad: 0.6 },
                    viewport_px: DVec2::new(640.0, 480.0),
                };
                let outline = line.map(|point| point * 600.0).into();
                Region::Lasso(Lasso::Model { camera, outline })
            }
            2 => {
                let (channel, uv) = (op.channel(), Vec2::new(op.x as f32, op.z as f32));
                let connected = op.a.is_multiple_of(2);
                Region::Alike(Alike { channel, uv, tolerance: op.z as f32 * 0.3, connected })
            }
            _ => Region::Scope(self.scope(op)),
        }
    }

    fn select(&self, op: &Op) -> SelectEdit {
        let modes =
            [SelectMode::Replace, SelectMode::Add, SelectMode::TakeAway, SelectMode::Intersect];
        match op.a {
            0 => SelectEdit::Everything,
            1 => SelectEdit::Invert,
            2 | 3 => SelectEdit::Grow(op.b as i32 - 4),
            4 => SelectEdit::Soften(op.b),
            _ => {
                let (region, mode) = (self.region(op), modes[op.b as usize % 4]);
                SelectEdit::Region { region, mode, left_out: op.left_out() }
            }
        }
    }

    /// What an op means for a document as it is; some are refused there.
    pub(crate) fn edit(&self, op: &Op, document: &Document) -> Edit {
        let material = MaterialId(op.material);
        let stack = &document.materials[op.material as usize].stack;
        let ids: Vec<LayerId> = stack.ids().collect();
        let pick = |number: u32| ids.get(number as usize % (ids.len() + 1)).copied();
        let layer = pick(op.a).unwrap_or(LayerId(900));
        let free = LayerId(ids.iter().map(|id| id.0 + 1).max().unwrap_or(0));
        let place = Place { parent: pick(op.b), index: op.c as usize % 3 };
        let add = |content| MaterialEdit::AddLayer {
            layer: free,
            name: format!("layer {free}"),
            content,
            place,
        };
        let change = match op.kind {
            0 => add(NewContent::Painted),
            1 => add(NewContent::Solid(op.values())),
            2 => add(NewContent::Group(
                [Isolation::Isolated, Isolation::PassThrough][op.c as usize % 2],
            )),
            3 => MaterialEdit::RemoveLayer(layer),
            4 => MaterialEdit::MoveLayer(layer, place),
            5 => MaterialEdit::DuplicateLayer { layer, copy: free },
            6 => MaterialEdit::Ground(op.channel(), op.value(op.channel())),
            7 => MaterialEdit::BlendSpace(
                [BlendSpace::Linear, BlendSpace::Encoded][op.c as usize % 2],
            ),
            23 if op.c < 6 => MaterialEdit::MergeDown(layer),
            31..=33 => MaterialEdit::Select(self.select(op)),
            8 => MaterialEdit::TextureSize(size([64, 128][op.c as usize % 2])),
            _ => MaterialEdit::Layer(layer, self.layer_edit(op, material)),
        };
        Edit::Material(material, change)
    }

    fn layer_edit(&self, op: &Op, material: MaterialId) -> LayerEdit {
        let owner = [MaskOwner::Layer, MaskOwner::Cell(op.channel())][op.c as usize % 2];
        let at = MaskAt { owner, term: TermId(op.b % 2) };
        let opacity = Opacity::new(op.x as f32).unwrap();
        let cells = |change| LayerEdit::Cells(vec![op.channel()], change);
        let paint = |deposit| {
            LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape: self.shape(op, material) }))
        };
        match op.kind {
            9 => LayerEdit::Rename(["", "a name"][op.c as usize % 2].to_owned()),
            10 => LayerEdit::Visible(op.c.is_multiple_of(2)),
            11 => LayerEdit::Opacity(opacity),
            12 => LayerEdit::Isolation(Isolation::Isolated),
            13 => cells(CellEdit::Blend(BlendMode::ALL[op.c as usize % BlendMode::ALL.len()])),
            14 => cells(CellEdit::Opacity(opacity)),
            15 => cells(CellEdit::On(op.c.is_multiple_of(2))),
            16 => {
                let value = (op.c.is_multiple_of(2)).then(|| op.value(op.channel()));
                LayerEdit::Solid(op.channel(), value)
            }
            17 => {
                let source = NewTermSource::Painted((op.z * 65_535.0) as u16);
                let combine =
                    [Combine::Multiply, Combine::Add, Combine::Subtract][op.c as usize % 3];
                LayerEdit::AddMaskTerm(owner, NewTerm { id: at.term, combine, source })
            }
            18 => LayerEdit::RemoveMaskTerm(at),
            19 => LayerEdit::MaskTerm(at, MaskTermEdit::Invert(op.c % 4 < 2)),
            20 => LayerEdit::MoveMaskTerm(at, op.a as usize % 2),
            21 => paint(Deposit::Mask { at, value: (op.z * 65_535.0) as u16 }),
            22 if op.c.is_multiple_of(4) => {
                LayerEdit::Paint(Arc::new(Step::Clear(vec![op.channel()])))
            }
            22 => paint(Deposit::Erase(vec![op.channel()])),
            35 => paint(Deposit::Adjust(op.target(at), op.adjustment())),
            36 | 37 => self.moved(op, material, at),
            38 => {
                let axis = [Axis::X, Axis::Z][op.a as usize % 2];
                let (at_mask, at) = (at, op.x as f32);
                let moves = op.b.is_multiple_of(2);
                let mirror = Mirror { axis, at, moves, left_out: op.left_out() };
                LayerEdit::Paint(Arc::new(Step::Mirror { target: op.target(at_mask), mirror }))
            }
            34 if op.c % 4 < 3 => LayerEdit::FillRegion(Arc::new(RegionFill {
                deposit: Deposit::Paint(op.values()),
                region: self.region(op),
                opacity: op.x as f32,
                left_out: op.left_out(),
                tooth: op.fill_tooth(),
            })),
            _ => paint(Deposit::Paint(op.values())),
        }
    }
}

impl Desk {
    /// A stroke that moves paint.
    fn moved(&self, op: &Op, material: MaterialId, at: MaskAt) -> LayerEdit {
        let mut shape = self.shape(&Op { c: op.c | 1, ..op.clone() }, material);
        if let Shape::Stroke(stroke) = &mut shape {
            let anchor = |x| Anchor { position: DVec3::new(x, 0.0, op.z), normal: DVec3::Y };
            let clone = CloneFrom::Surface { source: anchor(op.z), start: anchor(op.x) };
            stroke.kind = [
                StrokeKind::Smudge { hold: op.x as f32 },
                StrokeKind::Soften { reach: 0.05 + 0.5 * op.z as f32 },
                StrokeKind::Clone(clone),
            ][op.c as usize % 3];
        }
        let deposit = Deposit::Move(op.target(at));
        LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }))
    }
}

pub(crate) fn size(edge: u32) -> TextureSize {
    TextureSize::new(edge).unwrap()
}

/// Numbers that mean an edit once there is a document to change.
#[derive(Debug, Clone)]
pub(crate) struct Op {
    pub(crate) kind: u32,
    pub(crate) material: u32,
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) c: u32,
    pub(crate) x: f64,
    pub(crate) z: f64,
}

impl Op {
    fn jitter(&self) -> Jitter {
        let part = (self.x * 0.5) as f32;
        let some = Jitter {
            size: part,
            opacity: part,
            position: part,
            angle: part,
            hue: 90.0 * part,
            shade: part,
            value: part,
        };
        [Jitter::NONE, some][self.b as usize % 2]
    }

    /// Mostly none; across a plane, or around the middle of what is painted.
    fn symmetry(&self) -> Option<Symmetry> {
        let centre = DVec3::new(0.5 + 1.2 * f64::from(self.material), 0.0, 0.5);
        let mirrors = [true, false, self.c.is_multiple_of(2)];
        match self.a {
            3 | 4 => Some(Symmetry { centre, mirrors, turns: None }),
            5 => Some(Symmetry { centre, mirrors: [false; 3], turns: Some((Axis::Y, 3)) }),
            _ => None,
        }
    }

    /// Mostly none; a sheet that stands on the floor in front of the model.
    fn stencil(&self) -> Option<Stencil> {
        let places = [
            DVec4::new(0.8, 0.1, 0.0, -0.5 * f64::from(self.material)),
            DVec4::new(0.0, 0.2, 0.9, 0.1 * self.x),
            DVec4::new(0.05, 0.0, 0.0, 1.0),
        ];
        let inverted = self.c.is_multiple_of(2);
        let image = || crate::brush_images::leaf(40);
        self.b.is_multiple_of(6).then(|| Stencil { image: image(), inverted, places })
    }

    fn fill_tooth(&self) -> Option<Tooth> {
        let relief = || Relief::Image(crate::brush_images::leaf(24), Tiling::Unstructured);
        let image = || Tooth { relief: relief(), scale: 0.2, ..Tooth::default() };
        if self.a.is_multiple_of(3) { self.tooth() } else { self.b.is_multiple_of(4).then(image) }
    }

    fn target(&self, at: MaskAt) -> Target {
        if self.c.is_multiple_of(5) {
            Target::Mask(at)
        } else {
            Target::Cells(vec![self.channel()])
        }
    }

    fn adjustment(&self) -> Adjustment {
        let [x, z] = [self.x, self.z].map(|share| share as f32);
        [
            Adjustment::Lighten(x),
            Adjustment::Darken(z),
            Adjustment::Shift { hue: 90.0 * x, saturation: z - 0.5, value: 0.5 - x },
        ][self.c as usize % 3]
    }

    fn tip(&self) -> Tip {
        let lies = [Lies::Axis, Lies::Stroke, Lies::Chance].get(self.a as usize % 5).copied();
        lies.map_or(Tip::ROUND, |lies| Tip { aspect: 0.4, lies, turn: self.x as f32, ..Tip::ROUND })
    }

    fn fade(&self) -> Fade {
        let [x, z] = [self.x, self.z].map(|share| share as f32);
        match self.c % 3 {
            0 => Fade::Linear { from: Vec3::new(x, 0.0, 0.1), to: Vec3::new(0.2, 0.0, z) },
            1 => Fade::Radial { centre: Vec3::new(x, 0.1, z), radius: z },
            _ => Fade::Axis {
                axis: [Axis::X, Axis::Y, Axis::Z][self.a as usize % 3],
                from: x,
                to: z,
            },
        }
    }

    fn tooth(&self) -> Option<Tooth> {
        let pattern = *Pattern::ALL.get(self.b as usize % (Pattern::ALL.len() + 2))?;
        let (scale, contrast) = (0.02 + 0.1 * self.z as f32, self.x as f32);
        let relief = Relief::Pattern(pattern);
        Some(Tooth { relief, scale, contrast, seed: self.c, ..Tooth::default() })
    }

    /// Mostly nothing; then a part that shields, one that does not, and one that isn't there.
    fn left_out(&self) -> LeftOut {
        match self.a {
            8 => LeftOut::new([PartId(1 - self.material)], []),
            9 => LeftOut::new([], [PartId(self.b % 2)]),
            10 => LeftOut::new([PartId(0)], [PartId(1)]),
            11 => LeftOut::new([PartId(2)], []),
            _ => LeftOut::default(),
        }
    }

    fn channel(&self) -> ChannelId {
        ChannelId((self.b % 3) as u16)
    }

    fn value(&self, channel: ChannelId) -> Value {
        let [x, z] = [self.x, self.z].map(|share| (share * 65_535.0) as u16);
        if channel == ChannelId::BASE_COLOUR {
            Value::Colour([x, z, 9_000])
        } else {
            Value::Scalar(z)
        }
    }

    fn values(&self) -> BTreeMap<ChannelId, Value> {
        let all = [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS, ChannelId::METALNESS];
        let kept = all.into_iter().filter(|channel| self.b & (1 << channel.0) != 0);
        kept.map(|channel| (channel, self.value(channel))).collect()
    }
}

pub(crate) fn op() -> impl Strategy<Value = Op> {
    (0..39u32, 0..2u32, 0..12u32, 0..8u32, 0..12u32, 0.0..1.0f64, 0.0..1.0f64)
        .prop_map(|(kind, material, a, b, c, x, z)| Op { kind, material, a, b, c, x, z })
}

pub(crate) fn ops() -> impl Strategy<Value = Vec<Op>> {
    prop::collection::vec(op(), 6..14)
}
