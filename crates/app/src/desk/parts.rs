//! Parts hidden, isolated and locked by commands at the pointer, and the material that lies there.

use surface::PartId;

use super::Desk;
use crate::chosen::Chosen;
use crate::commands::ViewCommand;

impl Desk {
    /// Does one of the commands on the part under the pointer.
    pub(crate) fn perform_on_parts(&mut self, command: ViewCommand) {
        if command == ViewCommand::ShowAll {
            self.model_view.parts.iter_mut().for_each(|state| state.hidden = false);
            return;
        }
        if command == ViewCommand::ChooseUnder {
            return self.choose_under();
        }
        let Some(part) = self.under_pointer.as_ref().and_then(|at| at.part) else {
            return self.notices.note("Hold the pointer over a part, then press the key");
        };
        match command {
            ViewCommand::HideUnder => self.model_view.part_mut(part).hidden = true,
            ViewCommand::LockUnder => {
                let state = self.model_view.part_mut(part);
                state.locked = !state.locked;
            }
            ViewCommand::IsolateUnder => self.isolate(part),
            _ => {}
        }
    }

    /// Hides all parts but one; where they are hidden already, shows all.
    pub(crate) fn isolate(&mut self, part: PartId) {
        let count = self.document().model.as_ref().map_or(0, |model| model.mesh().parts().len());
        let parts = (0..count as u32).map(PartId);
        let others: Vec<PartId> = parts.filter(|other| *other != part).collect();
        let is_alone = others.iter().all(|other| self.model_view.part(*other).hidden);
        for other in others {
            self.model_view.part_mut(other).hidden = !is_alone;
        }
        self.model_view.part_mut(part).hidden = false;
    }

    fn choose_under(&mut self) {
        let Some(material) = self.under_pointer.as_ref().map(|at| at.material) else {
            return self.notices.note("Point at the material first: then it is chosen");
        };
        if material != self.chosen.material {
            self.chosen = Chosen::of(self.document(), material);
        }
    }
}
