//! From an edit to its written form.

use brush::{Adjustment, Path, PathPoint, Stroke};
use glam::{Vec2, Vec3};
use layers::{BlendSpace, ChannelId, Combine, FieldExpr, Isolation, Place};
use raster::to_unit;

use super::brush::{WireBrush, WireTooth};
use super::decal::WireDecal;
use super::edit::{
    WireBlendSpace, WireCombine, WireEdit, WireField, WireFill, WireIsolation, WireMaterial,
    WireNewContent, WirePlace, WireShift, WireTermSource,
};
use super::region::{WireAlike, WireGradient, WireRegion, WireSelectMode};
use super::stencil::WireStencil;
use super::stroke::{
    WireAxis, WireCurve, WireGuide, WireLeftOut, WirePoint, WireStroke, WireStrokeKind,
    WireSymmetry,
};
use super::value::{WireValue, WireValues, channel_key};
use crate::{
    CellEdit, Deposit, Document, Edit, LayerEdit, MaskAt, MaskOwner, MaskTermEdit, MaterialEdit,
    MaterialId, NewContent, NewTermSource, Region, RegionFill, SelectEdit, Shape, Step, Target,
};

/// An edit as it is written down; `document` is the one that it changes. `None` for edits that carry
/// what has no place in a text: baked fields.
pub fn written(edit: &Edit, document: &Document) -> Option<WireEdit> {
    match edit {
        Edit::Import { model, size } => Some(WireEdit::Import {
            model: Some(model.hash().to_string()),
            texture_size: size.edge(),
        }),
        Edit::Material(id, change) => {
            Writer { document, material: material(document, *id) }.material_edit(change)
        }
    }
}

/// By name where that is the only one of its name.
fn material(document: &Document, id: MaterialId) -> WireMaterial {
    let named = |name: &String| document.materials.iter().filter(|m| m.name == *name).count();
    match document.materials.get(id.0 as usize) {
        Some(found) if named(&found.name) == 1 => WireMaterial::Name(found.name.clone()),
        _ => WireMaterial::Number(id.0),
    }
}

struct Writer<'a> {
    document: &'a Document,
    material: WireMaterial,
}

impl Writer<'_> {
    fn material_edit(self, change: &MaterialEdit) -> Option<WireEdit> {
        let key = |channel| channel_key(&self.document.channels, channel);
        let material = self.material.clone();
        Some(match change {
            MaterialEdit::TextureSize(size) => {
                WireEdit::TextureSize { material, size: size.edge() }
            }
            MaterialEdit::Ground(channel, value) => {
                WireEdit::Ground { material, channel: key(*channel), value: WireValue::of(*value) }
            }
            MaterialEdit::BlendSpace(space) => {
                let space = match space {
                    BlendSpace::Encoded => WireBlendSpace::Encoded,
                    BlendSpace::Linear => WireBlendSpace::Linear,
                };
                WireEdit::BlendSpace { material, space }
            }
            MaterialEdit::Field(_) => return None,
            MaterialEdit::AddLayer { layer, name, content, place: at } => WireEdit::AddLayer {
                material,
                layer: layer.0,
                name: name.clone(),
                content: match content {
                    NewContent::Painted => WireNewContent::Painted,
                    NewContent::Solid(values) => WireNewContent::Solid(self.values(values)),
                    NewContent::Group(wanted) => WireNewContent::Group(isolation(*wanted)),
                },
                place: place(*at),
            },
            MaterialEdit::RemoveLayer(layer) => WireEdit::RemoveLayer { material, layer: layer.0 },
            MaterialEdit::MoveLayer(layer, to) => {
                WireEdit::MoveLayer { material, layer: layer.0, place: place(*to) }
            }
            MaterialEdit::DuplicateLayer { layer, copy } => {
                WireEdit::DuplicateLayer { material, layer: layer.0, copy: copy.0 }
            }
            MaterialEdit::MergeDown(layer) => WireEdit::MergeDown { material, layer: layer.0 },
            MaterialEdit::Select(edit) => self.select(edit),
            MaterialEdit::Layer(layer, change) => self.layer_edit(layer.0, change)?,
        })
    }

    fn layer_edit(self, layer: u32, change: &LayerEdit) -> Option<WireEdit> {
        let material = self.material.clone();
        Some(match change {
            LayerEdit::Rename(name) => {
                WireEdit::RenameLayer { material, layer, name: name.clone() }
            }
            LayerEdit::Visible(visible) => {
                WireEdit::LayerVisible { material, layer, visible: *visible }
            }
            LayerEdit::Opacity(opacity) => {
                WireEdit::LayerOpacity { material, layer, opacity: opacity.get() }
            }
            LayerEdit::Isolation(wanted) => {
                WireEdit::GroupIsolation { material, layer, isolation: isolation(*wanted) }
            }
            LayerEdit::Cells(channels, change) => {
                let channels = self.keys(channels);
                match change {
                    CellEdit::On(on) => WireEdit::CellOn { material, layer, channels, on: *on },
                    CellEdit::Blend(blend) => {
                        let blend = blend.key().to_owned();
                        WireEdit::CellBlend { material, layer, channels, blend }
                    }
                    CellEdit::Opacity(opacity) => {
                        let opacity = opacity.get();
                        WireEdit::CellOpacity { material, layer, channels, opacity }
                    }
                }
            }
            LayerEdit::Solid(channel, value) => WireEdit::SolidValue {
                material,
                layer,
                channel: self.key(*channel),
                value: value.map(WireValue::of),
            },
            LayerEdit::Paint(step) => return self.paint(layer, step),
            LayerEdit::Repaint { step, with } => {
                let with = match with {
                    Some(with) => Some(Box::new(self.paint(layer, with)?)),
                    None => None,
                };
                WireEdit::Repaint { material, layer, step: *step, with }
            }
            LayerEdit::FillRegion(wanted) => {
                let RegionFill { deposit, region, opacity, left_out, tooth } = &**wanted;
                let (scope, left_out) = (self.region(region), WireLeftOut::of(left_out));
                let tooth = tooth.as_ref().map(WireTooth::of);
                let fill = Some(WireFill { scope, opacity: *opacity, left_out, tooth });
                let shape = WrittenShape { fill, ..WrittenShape::default() };
                return self.deposit(layer, deposit, shape);
            }
            _ => return self.mask_edit(layer, change),
        })
    }

    fn mask_edit(self, layer: u32, change: &LayerEdit) -> Option<WireEdit> {
        let material = self.material.clone();
        Some(match change {
            LayerEdit::AddMaskTerm(owner, new) => WireEdit::AddMaskTerm {
                material,
                layer,
                channel: self.owner(*owner),
                term: new.id.0,
                source: match &new.source {
                    NewTermSource::Painted(value) => WireTermSource::Painted(to_unit(*value)),
                    NewTermSource::Field(expr) => WireTermSource::Field(field(expr)),
                },
                combine: combine(new.combine),
            },
            LayerEdit::MoveMaskTerm(at, index) => WireEdit::MoveMaskTerm {
                material,
                layer,
                channel: self.owner(at.owner),
                term: at.term.0,
                index: *index,
            },
            LayerEdit::MaskTerm(at, change) => self.term(layer, *at, change),
            LayerEdit::RemoveMaskTerm(at) => WireEdit::RemoveMaskTerm {
                material,
                layer,
                channel: self.owner(at.owner),
                term: at.term.0,
            },
            _ => return self.layer_edit(layer, change),
        })
    }

    fn term(self, layer: u32, at: MaskAt, change: &MaskTermEdit) -> WireEdit {
        let channel = self.owner(at.owner);
        let (mut on, mut invert, mut strength, mut how, mut expr) = (None, None, None, None, None);
        match change {
            MaskTermEdit::On(wanted) => on = Some(*wanted),
            MaskTermEdit::Invert(wanted) => invert = Some(*wanted),
            MaskTermEdit::Strength(wanted) => strength = Some(wanted.get()),
            MaskTermEdit::Combine(wanted) => how = Some(combine(*wanted)),
            MaskTermEdit::Field(wanted) => expr = Some(field(wanted)),
        }
        WireEdit::MaskTerm {
            material: self.material,
            layer,
            channel,
            term: at.term.0,
            on,
            invert,
            strength,
            combine: how,
            field: expr,
        }
    }

    fn paint(self, layer: u32, step: &Step) -> Option<WireEdit> {
        let material = self.material.clone();
        Some(match step {
            Step::MaskStart { at, value } => WireEdit::PaintMask {
                material,
                layer,
                channel: self.owner(at.owner),
                term: at.term.0,
                value: to_unit(*value),
                stroke: None,
                fill: Some(WireFill {
                    scope: WireRegion::Material,
                    opacity: 1.0,
                    left_out: None,
                    tooth: None,
                }),
                gradient: None,
                decal: None,
            },
            Step::Mirror { target, mirror } => {
                let (channels, channel, term) = self.target(target);
                WireEdit::MirrorPaint {
                    material,
                    layer,
                    channels,
                    channel,
                    term,
                    along: WireAxis::of(mirror.axis),
                    at: mirror.at,
                    moves: mirror.moves,
                    left_out: WireLeftOut::of(&mirror.left_out),
                }
            }
            Step::Clear(channels) => {
                WireEdit::ClearCells { material, layer, channels: self.keys(channels) }
            }
            Step::Deposit { deposit, shape } => {
                return self.deposit(layer, deposit, written_shape(shape));
            }
        })
    }

    fn deposit(&self, layer: u32, deposit: &Deposit, shape: WrittenShape) -> Option<WireEdit> {
        let material = self.material.clone();
        let WrittenShape { stroke, fill, gradient, decal } = shape;
        Some(match deposit {
            Deposit::Paint(values) => {
                let values = self.values(values);
                WireEdit::Paint { material, layer, values, stroke, fill, gradient, decal }
            }
            Deposit::Erase(channels) => {
                let channels = self.keys(channels);
                WireEdit::Erase { material, layer, channels, stroke, fill, gradient, decal }
            }
            Deposit::Mask { at, value } => WireEdit::PaintMask {
                material,
                layer,
                channel: self.owner(at.owner),
                term: at.term.0,
                value: to_unit(*value),
                stroke,
                fill,
                gradient,
                decal,
            },
            Deposit::Move(target) => {
                let (channels, channel, term) = self.target(target);
                WireEdit::MovePaint { material, layer, channels, channel, term, stroke: stroke? }
            }
            Deposit::Adjust(target, by) => {
                let shape = WrittenShape { stroke, fill, gradient, decal };
                self.adjust(layer, target, by, shape)
            }
        })
    }

    fn adjust(
        &self,
        layer: u32,
        target: &Target,
        by: &Adjustment,
        shape: WrittenShape,
    ) -> WireEdit {
        let WrittenShape { stroke, fill, gradient, decal } = shape;
        let (channels, channel, term) = self.target(target);
        let (mut lighten, mut darken, mut shift) = (None, None, None);
        match *by {
            Adjustment::Lighten(by) => lighten = Some(by),
            Adjustment::Darken(by) => darken = Some(by),
            Adjustment::Shift { hue, saturation, value } => {
                shift = Some(WireShift { hue, saturation, value });
            }
        }
        let material = self.material.clone();
        WireEdit::Adjust {
            material,
            layer,
            channels,
            channel,
            term,
            lighten,
            darken,
            shift,
            stroke,
            fill,
            gradient,
            decal,
        }
    }

    fn target(&self, target: &Target) -> (Vec<String>, Option<String>, Option<u32>) {
        match target {
            Target::Cells(channels) => (self.keys(channels), None, None),
            Target::Mask(at) => (Vec::new(), self.owner(at.owner), Some(at.term.0)),
        }
    }

    fn select(self, edit: &SelectEdit) -> WireEdit {
        let material = self.material.clone();
        match edit {
            SelectEdit::Everything => WireEdit::SelectEverything { material },
            SelectEdit::Region { region, mode, left_out } => WireEdit::Select {
                material,
                region: self.region(region),
                mode: WireSelectMode::of(*mode),
                left_out: WireLeftOut::of(left_out),
            },
            SelectEdit::Invert => WireEdit::InvertSelection { material },
            SelectEdit::Grow(texels) => WireEdit::GrowSelection { material, texels: *texels },
            SelectEdit::Soften(texels) => WireEdit::SoftenSelection { material, texels: *texels },
        }
    }

    fn region(&self, region: &Region) -> WireRegion {
        match region {
            Region::Scope(scope) => WireRegion::of_scope(scope),
            Region::Lasso(lasso) => WireRegion::of_lasso(lasso),
            Region::Alike(alike) => WireRegion::Alike(WireAlike {
                channel: self.key(alike.channel),
                uv: alike.uv.to_array(),
                tolerance: alike.tolerance,
                connected: alike.connected,
            }),
        }
    }

    fn key(&self, channel: ChannelId) -> String {
        channel_key(&self.document.channels, channel)
    }

    fn keys(&self, channels: &[ChannelId]) -> Vec<String> {
        channels.iter().map(|channel| self.key(*channel)).collect()
    }

    fn values<'v>(
        &self,
        values: impl IntoIterator<Item = (&'v ChannelId, &'v layers::Value)>,
    ) -> WireValues {
        let written = values.into_iter().map(|(id, value)| (self.key(*id), WireValue::of(*value)));
        written.collect()
    }

    fn owner(&self, owner: MaskOwner) -> Option<String> {
        match owner {
            MaskOwner::Layer => None,
            MaskOwner::Cell(channel) => Some(self.key(channel)),
        }
    }
}

/// One of them.
#[derive(Default)]
struct WrittenShape {
    stroke: Option<WireStroke>,
    fill: Option<WireFill>,
    gradient: Option<WireGradient>,
    decal: Option<WireDecal>,
}

fn written_shape(shape: &Shape) -> WrittenShape {
    let mut written = WrittenShape::default();
    match shape {
        Shape::Stroke(wanted) => written.stroke = Some(stroke(wanted)),
        Shape::Fill { scope, opacity, left_out, tooth } => {
            let (scope, left_out) = (WireRegion::of_scope(scope), WireLeftOut::of(left_out));
            let tooth = tooth.as_ref().map(WireTooth::of);
            written.fill = Some(WireFill { scope, opacity: *opacity, left_out, tooth });
        }
        Shape::Gradient(wanted) => written.gradient = Some(WireGradient::of(wanted)),
        Shape::Decal(wanted) => written.decal = Some(WireDecal::of(wanted)),
    }
    written
}

fn stroke(stroke: &Stroke) -> WireStroke {
    let mut written = WireStroke {
        kernel: Some(stroke.kernel.0),
        kind: WireStrokeKind::of(stroke.kind),
        seed: stroke.seed,
        brush: WireBrush::of(&stroke.brush),
        radius: None,
        eye: None,
        left_out: WireLeftOut::of(&stroke.left_out),
        symmetry: stroke.symmetry.as_ref().map(WireSymmetry::of),
        stencil: stroke.stencil.as_ref().map(WireStencil::of),
        runs: Vec::new(),
        texture_runs: Vec::new(),
        guide: None,
    };
    match &stroke.path {
        Path::Surface(path) => {
            written.eye = path.eye.map(|eye| eye.to_array());
            written.runs = runs(&path.runs, surface_point);
        }
        Path::Guided(guide) => {
            written.guide = Some(WireGuide {
                knots: guide.knots.iter().map(surface_point).collect(),
                curve: WireCurve::of(guide.curve),
                closed: guide.closed,
            });
        }
        Path::Texture(path) => {
            written.texture_runs = runs(path, |point| WirePoint {
                uv: Some(point.uv.to_array()),
                radius: Some(point.radius),
                pressure: Some(point.pressure),
                uv_lean: (point.lean != Vec2::ZERO).then(|| point.lean.to_array()),
                speed: some_speed(point.speed),
                ..WirePoint::default()
            });
        }
    }
    written
}

fn surface_point(point: &PathPoint) -> WirePoint {
    WirePoint {
        part: Some(point.part.0),
        triangle: Some(point.triangle.0),
        barycentric: Some(point.barycentric),
        position: Some(point.position.to_array()),
        normal: Some(point.normal.to_array()),
        radius: Some(point.radius),
        pressure: Some(point.pressure),
        lean: (point.lean != Vec3::ZERO).then(|| point.lean.to_array()),
        speed: some_speed(point.speed),
        ..WirePoint::default()
    }
}

fn some_speed(speed: f32) -> Option<f32> {
    (speed != 0.0).then_some(speed)
}

fn runs<P>(runs: &[Vec<P>], write: impl Fn(&P) -> WirePoint) -> Vec<Vec<WirePoint>> {
    runs.iter().map(|run| run.iter().map(&write).collect()).collect()
}

fn place(place: Place) -> WirePlace {
    WirePlace { parent: place.parent.map(|parent| parent.0), index: Some(place.index) }
}

fn isolation(isolation: Isolation) -> WireIsolation {
    match isolation {
        Isolation::Isolated => WireIsolation::Isolated,
        Isolation::PassThrough => WireIsolation::PassThrough,
    }
}

fn combine(combine: Combine) -> WireCombine {
    match combine {
        Combine::Multiply => WireCombine::Multiply,
        Combine::Add => WireCombine::Add,
        Combine::Subtract => WireCombine::Subtract,
        Combine::Lighten => WireCombine::Lighten,
        Combine::Darken => WireCombine::Darken,
        Combine::Replace => WireCombine::Replace,
    }
}

fn field(expr: &FieldExpr) -> WireField {
    WireField { field: expr.field.key().to_owned(), low: expr.low, high: expr.high }
}
