//! Why the brush can't paint what is chosen, and what mends it.

use document::{MaskOwner, MaterialId};
use layers::{Content, Layer, MaskSource, Opacity};
use surface::{Island, PartId};

use super::Desk;
use crate::chosen::Aim;
use crate::commands::{Command, LayerCommand, ViewCommand};

/// A reason, and the way out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Refusal {
    /// What, and what to do, in one line.
    pub(crate) text: String,
    /// The command that mends it; none where none does.
    pub(crate) mend: Option<Command>,
}

impl Refusal {
    fn new(text: impl Into<String>, mend: Option<Command>) -> Self {
        Self { text: text.into(), mend }
    }
}

const ADD_PAINTED: Command = Command::Layer(LayerCommand::AddPainted);
const SHOW_LAYER: Command = Command::Layer(LayerCommand::ToggleVisible);

impl Desk {
    /// Tells it, with the keys of what mends it.
    pub(crate) fn tell_refusal(&mut self, refusal: Refusal) {
        let keys = refusal.mend.and_then(|mend| self.bindings.text(mend));
        let keys = keys.map_or_else(String::new, |keys| format!("  ({keys})"));
        self.notices.note(refusal.text + &keys);
    }

    /// Why the brush can't paint what is chosen; none when it can.
    pub(crate) fn refusal(&self) -> Option<Refusal> {
        let Some(material) = self.material() else {
            return Some(Refusal::new("There is no model to paint on: open one", None));
        };
        if !self.has_uvs(material.id) {
            let text = format!(
                "{} has no UVs, so there is no texture to paint: open a model that is laid out flat",
                material.name
            );
            return Some(Refusal::new(text, None));
        }
        if !self.shows_texels(material.id) {
            let text = format!(
                "The UVs of {} cover nothing, so its texture shows nowhere: open a model that is laid out flat",
                material.name
            );
            return Some(Refusal::new(text, None));
        }
        let Some(layer) = self.chosen_layer() else {
            let text = format!("{} has no layer to paint on: add a painted layer", material.name);
            return Some(Refusal::new(text, Some(ADD_PAINTED)));
        };
        self.cannot_take(&layer).or_else(|| self.would_not_show(&layer))
    }

    /// The layer has no place for paint.
    fn cannot_take(&self, layer: &Layer) -> Option<Refusal> {
        let name = &layer.name;
        if let Aim::Mask(at) = &self.chosen.aim {
            let mask = match at.owner {
                MaskOwner::Layer => &layer.mask,
                MaskOwner::Cell(channel) => &layer.cell(channel).mask,
            };
            let term = mask.terms.iter().find(|term| term.id == at.term);
            let is_painted = term.is_some_and(|term| matches!(term.source, MaskSource::Painted(_)));
            let text = format!("This mask of \"{name}\" is not painted: add a painted mask term");
            return (!is_painted).then(|| Refusal::new(text, None));
        }
        let (is_a, instead) = match layer.content {
            Content::Painted(_) => return None,
            Content::Solid(_) => ("is solid: it holds one value for each channel", "over it"),
            Content::Group { .. } => ("is a group: it holds layers, not paint", "in it"),
        };
        let text = format!("\"{name}\" {is_a}. Choose a painted layer, or add one {instead}");
        Some(Refusal::new(text, Some(ADD_PAINTED)))
    }

    /// The paint would not be seen.
    fn would_not_show(&self, layer: &Layer) -> Option<Refusal> {
        let name = &layer.name;
        let hidden = |layer: &Layer| !layer.visible || layer.opacity == Opacity::NONE;
        if !layer.visible {
            let text = format!("\"{name}\" is hidden: show it to paint on it");
            return Some(Refusal::new(text, Some(SHOW_LAYER)));
        }
        if layer.opacity == Opacity::NONE {
            let text =
                format!("\"{name}\" has no opacity, so paint on it would not show: raise it");
            return Some(Refusal::new(text, None));
        }
        let stack = &self.material()?.stack;
        let mut inside = layer.id;
        while let Some(group) = stack.place_of(inside).and_then(|place| place.parent) {
            let found = stack.find(group)?;
            if hidden(found) {
                let text = format!("\"{name}\" is in the hidden group \"{}\": show it", found.name);
                return Some(Refusal::new(text, None));
            }
            inside = group;
        }
        let Aim::Cells(cells) = &self.chosen.aim else { return None };
        let is_off = cells.iter().all(|channel| !layer.cell(*channel).on);
        let text = format!("What is chosen of \"{name}\" is switched off: switch it on to paint");
        is_off.then(|| Refusal::new(text, None))
    }

    /// Why the brush can't paint there: what the pen is over takes no paint of the chosen material.
    pub(crate) fn refusal_at(&self, part: PartId, material: MaterialId) -> Option<Refusal> {
        let name = |part: PartId| {
            let parts = self.document().model.as_ref().map(|model| model.mesh().parts());
            let found = parts.and_then(|parts| parts.get(part.0 as usize));
            found.map_or("this part", |part| part.name.as_str()).to_owned()
        };
        if material != self.chosen.material {
            let named = |id: MaterialId| {
                let found = self.document().materials.get(id.0 as usize);
                found.map_or("nothing", |material| material.name.as_str()).to_owned()
            };
            let text = format!(
                "{} is of {}, and {} is chosen: choose {} to paint it",
                name(part),
                named(material),
                named(self.chosen.material),
                named(material)
            );
            return Some(Refusal::new(text, Some(Command::View(ViewCommand::ChooseUnder))));
        }
        let locked = self.model_view.part(part).locked;
        let mend = Some(Command::View(ViewCommand::LockUnder));
        locked
            .then(|| Refusal::new(format!("{} is locked: unlock it to paint it", name(part)), mend))
    }

    fn has_uvs(&self, material: MaterialId) -> bool {
        self.has_island(material, |_| true)
    }

    /// False where all that is laid out has no area.
    fn shows_texels(&self, material: MaterialId) -> bool {
        self.has_island(material, |island| island.uv_area != 0.0)
    }

    fn has_island(&self, material: MaterialId, which: impl Fn(&Island) -> bool) -> bool {
        // Where the surface is not made yet, nobody knows.
        self.readiness.surface.as_ref().is_none_or(|surface| {
            let mut islands = surface.islands().list().iter();
            islands.any(|island| island.material == material.slot() && which(island))
        })
    }
}
