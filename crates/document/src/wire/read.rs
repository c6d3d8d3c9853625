//! From a written edit to an edit, in the light of the document that it will change.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    Adjustment, Guide, KernelVersion, LeftOut, Path, PathPoint, Stroke, SurfacePath, TexturePoint,
};
use glam::{DVec3, Vec2, Vec3};
use layers::{
    BlendMode, BlendSpace, ChannelId, Combine, FieldExpr, FieldId, Isolation, LayerId, Opacity,
    Place, TermId, Value,
};
use raster::TextureSize;
use surface::{PartId, Surface, SurfacePoint, TriangleId};

use super::edit::{
    WireBlendSpace, WireCombine, WireEdit, WireField, WireIsolation, WireMaterial, WireNewContent,
    WirePlace, WireTermSource,
};
use super::stencil::WireStencil;
use super::stroke::{WireLeftOut, WirePoint, WireStroke, WireSymmetry};
use super::value::{WireValues, channel, stored};
use crate::{
    CellEdit, Document, Edit, LayerEdit, MaskAt, MaskOwner, MaskTermEdit, Material, MaterialEdit,
    MaterialId, Model, NewContent, NewTerm, NewTermSource, Target,
};

/// Reads written edits. Messages say what is wrong and what to do; the caller adds where.
pub struct Reader<'a> {
    /// The document that the edit will change.
    pub document: &'a Document,
    /// The model that an import brings in.
    pub model: &'a Arc<Model>,
    /// The model's surface, for path points that leave out what can be found out.
    pub surface: &'a Surface,
}

impl std::fmt::Debug for Reader<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reader").field("model", &self.model.hash()).finish_non_exhaustive()
    }
}

impl Reader<'_> {
    /// The edit that is written.
    ///
    /// # Errors
    /// A message naming what does not fit: an unknown material, channel, mode, size or kernel, a value
    /// out of range, a point that lies nowhere.
    pub fn edit(&self, wire: &WireEdit) -> Result<Edit, String> {
        match wire {
            WireEdit::Import { model, texture_size } => {
                self.check_model(model.as_deref())?;
                Ok(Edit::Import { model: Arc::clone(self.model), size: size(*texture_size)? })
            }
            WireEdit::TextureSize { material, size: edge } => {
                self.material_edit(material, MaterialEdit::TextureSize(size(*edge)?))
            }
            WireEdit::Ground { material, channel, value } => {
                let change = MaterialEdit::Ground(self.channel(channel)?, value.to_value()?);
                self.material_edit(material, change)
            }
            WireEdit::BlendSpace { material, space } => {
                let space = match space {
                    WireBlendSpace::Encoded => BlendSpace::Encoded,
                    WireBlendSpace::Linear => BlendSpace::Linear,
                };
                self.material_edit(material, MaterialEdit::BlendSpace(space))
            }
            WireEdit::AddLayer { material, layer, name, content, place } => {
                let change = MaterialEdit::AddLayer {
                    layer: LayerId(*layer),
                    name: name.clone(),
                    content: self.content(content)?,
                    place: self.place(self.material(material)?, place, None),
                };
                self.material_edit(material, change)
            }
            WireEdit::RemoveLayer { material, layer } => {
                self.material_edit(material, MaterialEdit::RemoveLayer(LayerId(*layer)))
            }
            WireEdit::MoveLayer { material, layer, place } => {
                let id = LayerId(*layer);
                let place = self.place(self.material(material)?, place, Some(id));
                self.material_edit(material, MaterialEdit::MoveLayer(id, place))
            }
            WireEdit::DuplicateLayer { material, layer, copy } => {
                let change =
                    MaterialEdit::DuplicateLayer { layer: LayerId(*layer), copy: LayerId(*copy) };
                self.material_edit(material, change)
            }
            WireEdit::MergeDown { material, layer } => {
                self.material_edit(material, MaterialEdit::MergeDown(LayerId(*layer)))
            }
            WireEdit::SelectEverything { .. }
            | WireEdit::Select { .. }
            | WireEdit::InvertSelection { .. }
            | WireEdit::GrowSelection { .. }
            | WireEdit::SoftenSelection { .. } => self.select_edit(wire),
            _ => self.layer_edit(wire),
        }
    }

    fn layer_edit(&self, wire: &WireEdit) -> Result<Edit, String> {
        let (material, layer, change) = match wire {
            WireEdit::RenameLayer { material, layer, name } => {
                (material, layer, LayerEdit::Rename(name.clone()))
            }
            WireEdit::LayerVisible { material, layer, visible } => {
                (material, layer, LayerEdit::Visible(*visible))
            }
            WireEdit::LayerOpacity { material, layer, opacity: factor } => {
                (material, layer, LayerEdit::Opacity(opacity(*factor)?))
            }
            WireEdit::GroupIsolation { material, layer, isolation: wanted } => {
                (material, layer, LayerEdit::Isolation(isolation(*wanted)))
            }
            WireEdit::CellOn { material, layer, channels, on } => {
                (material, layer, LayerEdit::Cells(self.channels(channels)?, CellEdit::On(*on)))
            }
            WireEdit::CellBlend { material, layer, channels, blend: key } => {
                let change = CellEdit::Blend(blend(key)?);
                (material, layer, LayerEdit::Cells(self.channels(channels)?, change))
            }
            WireEdit::CellOpacity { material, layer, channels, opacity: factor } => {
                let change = CellEdit::Opacity(opacity(*factor)?);
                (material, layer, LayerEdit::Cells(self.channels(channels)?, change))
            }
            WireEdit::SolidValue { material, layer, channel, value } => {
                let value = value.as_ref().map(super::WireValue::to_value).transpose()?;
                (material, layer, LayerEdit::Solid(self.channel(channel)?, value))
            }
            _ => return self.mask_edit(wire),
        };
        self.material_edit(material, MaterialEdit::Layer(LayerId(*layer), change))
    }

    fn mask_edit(&self, wire: &WireEdit) -> Result<Edit, String> {
        let (material, layer, change) = match wire {
            WireEdit::AddMaskTerm { material, layer, channel, term, source, combine: how } => {
                let term = NewTerm {
                    id: TermId(*term),
                    combine: combine(*how),
                    source: match source {
                        WireTermSource::Painted(value) => NewTermSource::Painted(stored(*value)?),
                        WireTermSource::Field(wire) => NewTermSource::Field(field(wire)?),
                    },
                };
                (material, layer, LayerEdit::AddMaskTerm(self.owner(channel.as_deref())?, term))
            }
            WireEdit::RemoveMaskTerm { material, layer, channel, term } => (
                material,
                layer,
                LayerEdit::RemoveMaskTerm(self.mask_at(channel.as_deref(), *term)?),
            ),
            WireEdit::MoveMaskTerm { material, layer, channel, term, index } => {
                let at = self.mask_at(channel.as_deref(), *term)?;
                (material, layer, LayerEdit::MoveMaskTerm(at, *index))
            }
            WireEdit::MaskTerm { material, layer, channel, term, .. } => {
                let at = self.mask_at(channel.as_deref(), *term)?;
                (material, layer, LayerEdit::MaskTerm(at, term_change(wire)?))
            }
            _ => return self.paint_edit(wire),
        };
        self.material_edit(material, MaterialEdit::Layer(LayerId(*layer), change))
    }

    /// A mask where a term is named, else cells.
    pub(super) fn target(
        &self,
        channels: &[String],
        channel: Option<&str>,
        term: Option<u32>,
    ) -> Result<Target, String> {
        match (term, channel, channels) {
            (Some(term), channel, []) => Ok(Target::Mask(self.mask_at(channel, term)?)),
            (None, None, channels) => Ok(Target::Cells(self.channels(channels)?)),
            _ => Err("give \"channels\" for cells, or \"term\" for a mask".to_owned()),
        }
    }

    pub(super) fn material_edit(
        &self,
        material: &WireMaterial,
        change: MaterialEdit,
    ) -> Result<Edit, String> {
        Ok(Edit::Material(self.material(material)?, change))
    }

    fn check_model(&self, hash: Option<&str>) -> Result<(), String> {
        let holds = self.model.hash().to_string();
        match hash {
            Some(hash) if hash != holds => Err(format!(
                "the list was recorded on model {hash}, but the model given is {holds}: give that \
                 model, or take \"model\" out of the list to apply it all the same"
            )),
            _ => Ok(()),
        }
    }

    pub(super) fn material(&self, wire: &WireMaterial) -> Result<MaterialId, String> {
        let materials = &self.document.materials;
        if materials.is_empty() {
            return Err("there is no model yet: the first edit must be an import".to_owned());
        }
        match wire {
            WireMaterial::Number(number) => Ok(MaterialId(*number)),
            WireMaterial::Name(name) => {
                let mut found = materials.iter().filter(|material| material.name == *name);
                match (found.next(), found.next()) {
                    (Some(material), None) => Ok(material.id),
                    (Some(_), Some(_)) => Err(format!(
                        "several materials are called '{name}': give the material's number"
                    )),
                    (None, _) => {
                        let known: Vec<&str> = materials.iter().map(|m| m.name.as_str()).collect();
                        Err(format!(
                            "there is no material '{name}': give one of {}",
                            known.join(", ")
                        ))
                    }
                }
            }
        }
    }

    pub(super) fn channel(&self, key: &str) -> Result<ChannelId, String> {
        channel(&self.document.channels, key)
    }

    /// No key means all channels.
    pub(super) fn channels(&self, keys: &[String]) -> Result<Vec<ChannelId>, String> {
        if keys.is_empty() {
            return Ok(self.document.channels.iter().map(|channel| channel.id).collect());
        }
        keys.iter().map(|key| self.channel(key)).collect()
    }

    pub(super) fn values(&self, wire: &WireValues) -> Result<BTreeMap<ChannelId, Value>, String> {
        wire.iter().map(|(key, value)| Ok((self.channel(key)?, value.to_value()?))).collect()
    }

    fn content(&self, wire: &WireNewContent) -> Result<NewContent, String> {
        Ok(match wire {
            WireNewContent::Painted => NewContent::Painted,
            WireNewContent::Solid(values) => NewContent::Solid(self.values(values)?),
            WireNewContent::Group(wanted) => NewContent::Group(isolation(*wanted)),
        })
    }

    /// Without an index: the top, counted without the layer that is moved.
    fn place(&self, material: MaterialId, wire: &WirePlace, moved: Option<LayerId>) -> Place {
        let parent = wire.parent.map(LayerId);
        let index = wire.index.unwrap_or_else(|| {
            let material: Option<&Arc<Material>> = self.document.materials.get(material.0 as usize);
            let list = material.map_or(&[][..], |material| match parent {
                None => &material.stack.layers,
                Some(group) => material.stack.find(group).map_or(&[][..], |group| group.children()),
            });
            list.iter().filter(|layer| Some(layer.id) != moved).count()
        });
        Place { parent, index }
    }

    fn owner(&self, channel: Option<&str>) -> Result<MaskOwner, String> {
        channel.map_or(Ok(MaskOwner::Layer), |key| Ok(MaskOwner::Cell(self.channel(key)?)))
    }

    pub(super) fn mask_at(&self, channel: Option<&str>, term: u32) -> Result<MaskAt, String> {
        Ok(MaskAt { owner: self.owner(channel)?, term: TermId(term) })
    }

    pub(super) fn part(&self, wire: &WireMaterial) -> Result<PartId, String> {
        let name = match wire {
            WireMaterial::Number(number) => return Ok(PartId(*number)),
            WireMaterial::Name(name) => name,
        };
        let parts = self.surface.mesh().parts();
        let found = (0u32..).zip(parts).find(|(_, part)| part.name == *name);
        let (number, _) = found.ok_or_else(|| {
            let known: Vec<&str> = parts.iter().map(|part| part.name.as_str()).collect();
            format!("there is no part '{name}': give one of {}", known.join(", "))
        })?;
        Ok(PartId(number))
    }

    pub(super) fn left_out(&self, wire: Option<&WireLeftOut>) -> Result<LeftOut, String> {
        let Some(wire) = wire else { return Ok(LeftOut::default()) };
        let parts = |parts: &[WireMaterial]| {
            parts.iter().map(|part| self.part(part)).collect::<Result<Vec<_>, _>>()
        };
        Ok(LeftOut::new(parts(&wire.hidden)?, parts(&wire.locked)?))
    }

    pub(super) fn stroke(&self, wire: &WireStroke) -> Result<Stroke, String> {
        let path = match (wire.runs.is_empty(), wire.texture_runs.is_empty(), &wire.guide) {
            (true, true, Some(guide)) => Path::Guided(Guide {
                knots: (guide.knots.iter())
                    .map(|point| self.point(point, wire.radius))
                    .collect::<Result<_, _>>()?,
                curve: guide.curve.curve(),
                closed: guide.closed,
            }),
            (false, true, None) => Path::Surface(SurfacePath {
                runs: points(&wire.runs, |point| self.point(point, wire.radius))?,
                eye: wire.eye.map(DVec3::from_array),
            }),
            (true, false, None) => Path::Texture(points(&wire.texture_runs, |point| {
                texture_point(point, wire.radius)
            })?),
            _ => {
                return Err(
                    "a stroke needs either \"runs\", \"texture_runs\" or a \"guide\"".to_owned()
                );
            }
        };
        Ok(Stroke {
            kernel: wire.kernel.map_or(KernelVersion::CURRENT, KernelVersion),
            kind: wire.kind.kind(),
            path,
            brush: wire.brush.settings()?,
            seed: wire.seed,
            left_out: self.left_out(wire.left_out.as_ref())?,
            symmetry: wire.symmetry.as_ref().map(WireSymmetry::symmetry),
            stencil: wire.stencil.as_ref().map(WireStencil::stencil).transpose()?,
        })
    }

    fn point(&self, wire: &WirePoint, radius: Option<f32>) -> Result<PathPoint, String> {
        if wire.uv.is_some() {
            return Err("a point with \"uv\" belongs into \"texture_runs\"".to_owned());
        }
        let on = self.on_surface(wire)?;
        let position = wire.position.map_or_else(
            || self.surface.position(on.triangle, on.barycentric).as_vec3(),
            Vec3::from_array,
        );
        let normal = wire.normal.map_or_else(
            || self.surface.smooth_normal(on.triangle, on.barycentric).as_vec3(),
            Vec3::from_array,
        );
        Ok(PathPoint {
            part: wire.part.map_or_else(|| self.surface.part_of(on.triangle), PartId),
            triangle: on.triangle,
            barycentric: on.barycentric.map(|b| b as f32),
            position,
            normal,
            radius: radius_of(wire, radius)?,
            pressure: wire.pressure.unwrap_or(1.0),
            lean: wire.lean.map_or(Vec3::ZERO, Vec3::from_array),
            speed: wire.speed.unwrap_or(0.0),
        })
    }

    fn on_surface(&self, wire: &WirePoint) -> Result<SurfacePoint, String> {
        match (wire.triangle, wire.barycentric, wire.position) {
            (Some(triangle), barycentric, position) => {
                let count = self.surface.triangle_count();
                if triangle as usize >= count {
                    return Err(format!("there is no triangle {triangle}: the model has {count}"));
                }
                if barycentric.is_none() && position.is_none() {
                    return Err("a point with \"triangle\" needs \"barycentric\"".to_owned());
                }
                let barycentric = barycentric.unwrap_or([1.0 / 3.0; 3]).map(f64::from);
                Ok(SurfacePoint { triangle: TriangleId(triangle), barycentric })
            }
            (None, None, Some(position)) => {
                let point = Vec3::from_array(position).as_dvec3();
                let nearest = point.is_finite().then(|| self.surface.nearest(point)).flatten();
                nearest.ok_or_else(|| format!("no surface is near {position:?}"))
            }
            _ => Err("a point needs \"position\", or \"triangle\" and \"barycentric\"".to_owned()),
        }
    }
}

fn points<P>(
    runs: &[Vec<WirePoint>],
    read: impl Fn(&WirePoint) -> Result<P, String>,
) -> Result<Vec<Vec<P>>, String> {
    runs.iter().map(|run| run.iter().map(&read).collect()).collect()
}

fn texture_point(wire: &WirePoint, radius: Option<f32>) -> Result<TexturePoint, String> {
    let uv = wire.uv.ok_or("a point of \"texture_runs\" needs \"uv\"")?;
    Ok(TexturePoint {
        uv: Vec2::from_array(uv),
        radius: radius_of(wire, radius)?,
        pressure: wire.pressure.unwrap_or(1.0),
        lean: wire.uv_lean.map_or(Vec2::ZERO, Vec2::from_array),
        speed: wire.speed.unwrap_or(0.0),
    })
}

fn radius_of(wire: &WirePoint, radius: Option<f32>) -> Result<f32, String> {
    wire.radius.or(radius).ok_or_else(|| "give \"radius\", for the stroke or its points".to_owned())
}

fn size(edge: u32) -> Result<TextureSize, String> {
    TextureSize::new(edge).map_err(|error| error.to_string())
}

pub(super) fn opacity(value: f32) -> Result<Opacity, String> {
    Opacity::new(value).map_err(|error| error.to_string())
}

fn blend(key: &str) -> Result<BlendMode, String> {
    BlendMode::from_key(key).ok_or_else(|| {
        let known: Vec<&str> = BlendMode::ALL.iter().map(|mode| mode.key()).collect();
        format!("there is no blend mode '{key}': give one of {}", known.join(", "))
    })
}

fn isolation(wire: WireIsolation) -> Isolation {
    match wire {
        WireIsolation::Isolated => Isolation::Isolated,
        WireIsolation::PassThrough => Isolation::PassThrough,
    }
}

fn combine(wire: WireCombine) -> Combine {
    match wire {
        WireCombine::Multiply => Combine::Multiply,
        WireCombine::Add => Combine::Add,
        WireCombine::Subtract => Combine::Subtract,
        WireCombine::Lighten => Combine::Lighten,
        WireCombine::Darken => Combine::Darken,
        WireCombine::Replace => Combine::Replace,
    }
}

fn field(wire: &WireField) -> Result<FieldExpr, String> {
    let field = FieldId::from_key(&wire.field).ok_or_else(|| {
        let known: Vec<&str> = FieldId::ALL.iter().map(|field| field.key()).collect();
        format!("there is no field '{}': give one of {}", wire.field, known.join(", "))
    })?;
    FieldExpr::new(field, wire.low, wire.high).map_err(|error| error.to_string())
}

pub(super) fn adjustment(wire: &WireEdit) -> Result<Adjustment, String> {
    let WireEdit::Adjust { lighten, darken, shift, .. } = wire else {
        return Err("this edit adjusts nothing".to_owned());
    };
    match (lighten, darken, shift) {
        (Some(by), None, None) => Ok(Adjustment::Lighten(*by)),
        (None, Some(by), None) => Ok(Adjustment::Darken(*by)),
        (None, None, Some(by)) => {
            Ok(Adjustment::Shift { hue: by.hue, saturation: by.saturation, value: by.value })
        }
        _ => Err("give exactly one of \"lighten\", \"darken\", \"shift\"".to_owned()),
    }
}

fn term_change(wire: &WireEdit) -> Result<MaskTermEdit, String> {
    let WireEdit::MaskTerm { on, invert, strength, combine: how, field: expr, .. } = wire else {
        return Err("this edit changes no mask term".to_owned());
    };
    let mut changes = Vec::new();
    changes.extend(on.map(MaskTermEdit::On));
    changes.extend(invert.map(MaskTermEdit::Invert));
    changes.extend(strength.map(opacity).transpose()?.map(MaskTermEdit::Strength));
    changes.extend(how.map(|how| MaskTermEdit::Combine(combine(how))));
    changes.extend(expr.as_ref().map(field).transpose()?.map(MaskTermEdit::Field));
    match (changes.pop(), changes.is_empty()) {
        (Some(change), true) => Ok(change),
        _ => Err("give exactly one of \"on\", \"invert\", \"strength\", \"combine\", \"field\""
            .to_owned()),
    }
}
