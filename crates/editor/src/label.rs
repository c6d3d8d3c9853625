//! What an edit did, in words for the history list: short, in sentence case, with the names that the
//! artist gave.

use brush::{Adjustment, FillScope, StrokeKind};
use document::{
    CellEdit, Deposit, Document, Edit, LayerEdit, MaskOwner, MaskTermEdit, MaterialEdit,
    MaterialId, NewContent, Region, SelectEdit, SelectMode, Shape, Step, Target,
};
use layers::{BlendSpace, ChannelId, Isolation, LayerId, Opacity};

/// Names an edit in the light of the document that it changes.
pub(crate) fn label(edit: &Edit, before: &Document) -> String {
    let Edit::Material(id, change) = edit else { return "Import".to_owned() };
    let words = Words { document: before, material: *id };
    match change {
        MaterialEdit::AddLayer { name, content: NewContent::Group(_), .. } => {
            format!("New group: {name}")
        }
        MaterialEdit::AddLayer { name, .. } => format!("New layer: {name}"),
        MaterialEdit::RemoveLayer(layer) => format!("Remove {}", words.layer(*layer)),
        MaterialEdit::MoveLayer(layer, _) => format!("Move {}", words.layer(*layer)),
        MaterialEdit::DuplicateLayer { layer, .. } => format!("Duplicate {}", words.layer(*layer)),
        MaterialEdit::MergeDown(layer) => format!("Merge {} down", words.layer(*layer)),
        MaterialEdit::Layer(layer, change) => words.layer_edit(*layer, change),
        MaterialEdit::TextureSize(size) => words.of_material(format!("{} texels", size.edge())),
        MaterialEdit::Ground(channel, _) => {
            words.of_material(format!("ground, {}", words.channel(*channel)))
        }
        MaterialEdit::BlendSpace(BlendSpace::Linear) => words.of_material("blends in linear light"),
        MaterialEdit::BlendSpace(BlendSpace::Encoded) => words.of_material("blends as encoded"),
        MaterialEdit::Select(edit) => words.selection(edit),
        MaterialEdit::Field(baked) => words.of_material(format!("bake {}", baked.field.key())),
    }
}

/// The names of one material's things.
struct Words<'a> {
    document: &'a Document,
    material: MaterialId,
}

impl Words<'_> {
    fn of_material(&self, what: impl AsRef<str>) -> String {
        let name = self.document.material(self.material).map(|material| material.name.as_str());
        format!("{}: {}", name.unwrap_or("Material"), what.as_ref())
    }

    fn layer(&self, layer: LayerId) -> String {
        let material = self.document.material(self.material);
        let found = material.ok().and_then(|material| material.stack.find(layer));
        found.map_or_else(|| format!("layer {layer}"), |layer| layer.name.clone())
    }

    fn channel(&self, channel: ChannelId) -> String {
        let found = self.document.channel(channel);
        found.map_or_else(|_| format!("channel {channel}"), |found| found.label.to_lowercase())
    }

    /// The name of a single channel, the number of several.
    fn channels(&self, channels: impl ExactSizeIterator<Item = ChannelId>) -> String {
        let mut channels = channels;
        match (channels.len(), channels.next()) {
            (1, Some(channel)) => self.channel(channel),
            (count, _) => format!("{count} channels"),
        }
    }

    /// Which channels, after a comma; nothing where it is all of them.
    fn but_for_all(&self, channels: impl ExactSizeIterator<Item = ChannelId>) -> String {
        let is_all = channels.len() == self.document.channels.len();
        if is_all { String::new() } else { format!(", {}", self.channels(channels)) }
    }

    fn mask(&self, owner: MaskOwner) -> String {
        match owner {
            MaskOwner::Layer => "mask".to_owned(),
            MaskOwner::Cell(channel) => format!("mask of {}", self.channel(channel)),
        }
    }

    fn layer_edit(&self, id: LayerId, change: &LayerEdit) -> String {
        let layer = self.layer(id);
        match change {
            LayerEdit::Rename(name) => format!("Rename {layer} to {name}"),
            LayerEdit::Visible(true) => format!("Show {layer}"),
            LayerEdit::Visible(false) => format!("Hide {layer}"),
            LayerEdit::Opacity(opacity) => format!("{layer}: opacity {}", percent(*opacity)),
            LayerEdit::Isolation(Isolation::Isolated) => format!("{layer}: isolated"),
            LayerEdit::Isolation(Isolation::PassThrough) => format!("{layer}: pass through"),
            LayerEdit::Cells(channels, change) => {
                format!("{layer}: {}", self.cells(channels, change))
            }
            LayerEdit::Solid(channel, Some(_)) => {
                format!("{layer}: value, {}", self.channel(*channel))
            }
            LayerEdit::Solid(channel, None) => {
                format!("{layer}: no {}", self.channel(*channel))
            }
            LayerEdit::AddMaskTerm(owner, _) => format!("{layer}: new {} term", self.mask(*owner)),
            LayerEdit::RemoveMaskTerm(at) => {
                format!("{layer}: remove {} term", self.mask(at.owner))
            }
            LayerEdit::MoveMaskTerm(at, _) => format!("{layer}: move {} term", self.mask(at.owner)),
            LayerEdit::MaskTerm(at, change) => {
                format!("{layer}: {}, {}", self.mask(at.owner), term(change))
            }
            LayerEdit::Paint(step) => self.step(&layer, step),
            LayerEdit::Repaint { with: Some(_), .. } => format!("Change what was laid on {layer}"),
            LayerEdit::Repaint { with: None, .. } => format!("Remove what was laid on {layer}"),
            LayerEdit::FillRegion(fill) => self.deposit(&layer, &fill.deposit, FILL),
        }
    }

    fn cells(&self, channels: &[ChannelId], change: &CellEdit) -> String {
        let on = self.channels(channels.iter().copied());
        match change {
            CellEdit::On(true) => format!("{on} on"),
            CellEdit::On(false) => format!("{on} off"),
            CellEdit::Blend(mode) => format!("{}, {on}", mode.key().replace('-', " ")),
            CellEdit::Opacity(opacity) => format!("opacity {}, {on}", percent(*opacity)),
        }
    }

    fn target(&self, target: &Target) -> String {
        match target {
            Target::Cells(channels) => self.but_for_all(channels.iter().copied()),
            Target::Mask(at) => format!(", {}", self.mask(at.owner)),
        }
    }

    fn step(&self, layer: &str, step: &Step) -> String {
        match step {
            Step::Deposit { deposit, shape } => {
                let (paints, erases) = match shape {
                    Shape::Stroke(stroke) => match stroke.kind {
                        StrokeKind::Deposit => ("Stroke on", "Erase on"),
                        StrokeKind::Smudge { .. } => ("Smudge", ""),
                        StrokeKind::Soften { .. } => ("Soften", ""),
                        StrokeKind::Clone(_) => ("Clone on", ""),
                    },
                    Shape::Fill { .. } => FILL,
                    Shape::Gradient(_) => ("Gradient on", "Erase by gradient on"),
                    Shape::Decal(_) => ("Decal on", "Erase by decal on"),
                };
                self.deposit(layer, deposit, (paints, erases))
            }
            Step::Mirror { target, mirror } => {
                let what = if mirror.moves { "Move" } else { "Copy" };
                format!("{what} from across, {layer}{}", self.target(target))
            }
            Step::Clear(channels) => {
                format!("Clear {layer}, {}", self.channels(channels.iter().copied()))
            }
            Step::MaskStart { at, .. } => format!("{layer}: new {}", self.mask(at.owner)),
        }
    }

    fn deposit(&self, layer: &str, deposit: &Deposit, (paints, erases): (&str, &str)) -> String {
        match deposit {
            Deposit::Paint(values) => {
                format!("{paints} {layer}{}", self.but_for_all(values.keys().copied()))
            }
            Deposit::Erase(channels) => {
                format!("{erases} {layer}{}", self.but_for_all(channels.iter().copied()))
            }
            Deposit::Adjust(target, by) => {
                let what = match by {
                    Adjustment::Lighten(_) => "Lighten",
                    Adjustment::Darken(_) => "Darken",
                    Adjustment::Shift { .. } => "Shift",
                };
                format!("{what} {layer}{}", self.target(target))
            }
            Deposit::Move(target) => format!("{paints} {layer}{}", self.target(target)),
            Deposit::Mask { at, .. } => format!("{paints} {layer}, {}", self.mask(at.owner)),
        }
    }

    fn selection(&self, edit: &SelectEdit) -> String {
        match edit {
            SelectEdit::Everything => "Select everything".to_owned(),
            SelectEdit::Region { region, mode, .. } => {
                let region = self.region(region);
                match mode {
                    SelectMode::Replace => format!("Select {region}"),
                    SelectMode::Add => format!("Select {region} too"),
                    SelectMode::TakeAway => format!("Take {region} from the selection"),
                    SelectMode::Intersect => format!("Keep {region} of the selection"),
                }
            }
            SelectEdit::Invert => "Invert the selection".to_owned(),
            SelectEdit::Grow(texels) if *texels < 0 => {
                format!("Shrink the selection by {}", texels.unsigned_abs())
            }
            SelectEdit::Grow(texels) => format!("Grow the selection by {texels}"),
            SelectEdit::Soften(texels) => format!("Soften the selection by {texels}"),
        }
    }

    fn region(&self, region: &Region) -> String {
        match region {
            Region::Scope(FillScope::Material) => "all".to_owned(),
            Region::Scope(FillScope::Part(part)) => {
                let parts = self.document.model.as_ref().map(|model| model.mesh().parts());
                let found = parts.and_then(|parts| parts.get(part.0 as usize));
                found.map_or_else(|| "a part".to_owned(), |part| part.name.clone())
            }
            Region::Scope(FillScope::Island(_)) => "an island".to_owned(),
            Region::Scope(FillScope::Faces(_)) => "faces".to_owned(),
            Region::Scope(FillScope::Crease { .. }) => "faces up to creases".to_owned(),
            Region::Lasso(_) => "by lasso".to_owned(),
            Region::Alike(alike) => format!("by {}", self.channel(alike.channel)),
        }
    }
}

/// What a fill is called that paints, and that erases.
const FILL: (&str, &str) = ("Fill", "Erase all of");

fn term(change: &MaskTermEdit) -> &'static str {
    match change {
        MaskTermEdit::On(true) => "term on",
        MaskTermEdit::On(false) => "term off",
        MaskTermEdit::Invert(true) => "inverted",
        MaskTermEdit::Invert(false) => "not inverted",
        MaskTermEdit::Strength(_) => "strength",
        MaskTermEdit::Combine(_) => "combined otherwise",
        MaskTermEdit::Field(_) => "levels",
    }
}

fn percent(opacity: Opacity) -> String {
    format!("{:.0} %", opacity.get() * 100.0)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::sync::Arc;

    use brush::{FillScope, LeftOut};
    use document::{MaskAt, Material, Recipes};
    use layers::{BlendMode, Content, Ground, Layer, Place, Stack, TermId, Value};
    use raster::TextureSize;
    use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};

    use super::*;

    fn document() -> Document {
        let layer = Layer::new(LayerId(4), "Verdigris", Content::Painted(BTreeMap::new()));
        let material = Material {
            id: MaterialId(0),
            name: "Bronze".to_owned(),
            size: TextureSize::new(64).unwrap(),
            blend_space: BlendSpace::Encoded,
            ground: Ground::new(),
            stack: Stack { layers: vec![Arc::new(layer)] },
            recipes: Recipes::default(),
            fields: BTreeMap::new(),
            selection: None,
            pass_maps: Arc::default(),
        };
        let corner = |position| Corner { position, uv: NO_INDEX, normal: NO_INDEX };
        let mesh = Mesh::new(MeshData {
            positions: vec![glam::Vec3::ZERO, glam::Vec3::X, glam::Vec3::Y],
            corners: (0..3).map(corner).collect(),
            face_starts: vec![0, 3],
            face_parts: vec![PartId(0)],
            face_materials: vec![MaterialSlot(0)],
            parts: vec![Part { name: "bell".to_owned(), axis: glam::Vec3::Y }],
            material_names: vec!["Bronze".to_owned()],
            ..MeshData::default()
        });
        let mesh = Arc::new(mesh.unwrap());
        let model = Some(Arc::new(document::Model::new(mesh, Vec::new())));
        Document { materials: vec![Arc::new(material)], model, ..Document::default() }
    }

    fn of(change: MaterialEdit) -> String {
        label(&Edit::Material(MaterialId(0), change), &document())
    }

    fn of_layer(change: LayerEdit) -> String {
        of(MaterialEdit::Layer(LayerId(4), change))
    }

    fn fill(deposit: Deposit) -> LayerEdit {
        let (scope, left_out) = (FillScope::Material, LeftOut::default());
        let shape = Shape::Fill { scope, opacity: 1.0, left_out, tooth: None };
        LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }))
    }

    #[test]
    fn labels_say_what_was_done_to_what() {
        let opacity = Opacity::new(0.35).unwrap();
        let roughness = vec![ChannelId::ROUGHNESS];
        let values = BTreeMap::from([(ChannelId::ROUGHNESS, Value::Scalar(9))]);
        let at = MaskAt { owner: MaskOwner::Cell(ChannelId::METALNESS), term: TermId(0) };
        let group = MaterialEdit::AddLayer {
            layer: LayerId(5),
            name: "Age".to_owned(),
            content: NewContent::Group(Isolation::Isolated),
            place: Place { parent: None, index: 0 },
        };
        let size = MaterialEdit::TextureSize(TextureSize::new(4096).unwrap());
        for (expected, made) in [
            ("Verdigris: opacity 35 %", of_layer(LayerEdit::Opacity(opacity))),
            ("Hide Verdigris", of_layer(LayerEdit::Visible(false))),
            ("Rename Verdigris to Patina", of_layer(LayerEdit::Rename("Patina".to_owned()))),
            (
                "Verdigris: color dodge, roughness",
                of_layer(LayerEdit::Cells(roughness, CellEdit::Blend(BlendMode::ColorDodge))),
            ),
            ("Fill Verdigris, roughness", of_layer(fill(Deposit::Paint(values)))),
            (
                "Erase all of Verdigris, 2 channels",
                of_layer(fill(Deposit::Erase(vec![ChannelId::BASE_COLOUR, ChannelId::METALNESS]))),
            ),
            (
                "Erase all of Verdigris",
                of_layer(fill(Deposit::Erase(vec![
                    ChannelId::BASE_COLOUR,
                    ChannelId::ROUGHNESS,
                    ChannelId::METALNESS,
                ]))),
            ),
            (
                "Clear Verdigris, base colour",
                of_layer(LayerEdit::Paint(Arc::new(Step::Clear(vec![ChannelId::BASE_COLOUR])))),
            ),
            ("Fill Verdigris, mask of metalness", of_layer(fill(Deposit::Mask { at, value: 0 }))),
            ("New group: Age", of(group)),
            ("Bronze: 4096 texels", of(size)),
            ("Remove Verdigris", of(MaterialEdit::RemoveLayer(LayerId(4)))),
        ] {
            assert_eq!(made, expected);
        }
    }
}
