//! A decal that is being placed: an image or words, moved over the model until they are kept, and afterwards again.

use std::sync::Arc;

use brush::{Decal, GreyImage, LeftOut};
use document::{Deposit, MaterialId, Shape, Step};
use egui::Pos2;
use layers::LayerId;

use super::in_hand::KeptStep;
use super::{Desk, Motion};

/// Half of a decal's longer edge at first, as a share of the model's size.
const FIRST_HALF: f64 = 0.08;

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct DecalInHand {
    pub(super) material: MaterialId,
    layer: LayerId,
    deposit: Deposit,
    opacity: f32,
    left_out: LeftOut,
    image: GreyImage,
    /// None before it was set down.
    pub(crate) decal: Option<Decal>,
    /// Half of its longer edge, in model units.
    pub(crate) half: f64,
    /// In radians.
    pub(crate) turn: f64,
    /// The step of the layer that it is; none for a new one.
    pub(crate) kept: Option<KeptStep>,
}

impl DecalInHand {
    fn painted(&self) -> Option<Arc<Step>> {
        let shape = Shape::Decal(Decal { half: self.half, turn: self.turn, ..self.decal.clone()? });
        Some(Arc::new(Step::Deposit { deposit: self.deposit.clone(), shape }))
    }
}

impl Desk {
    /// Takes an image in hand, to be set down on the model with the brush's values.
    pub(crate) fn take_decal(&mut self, image: GreyImage) {
        self.put_down();
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        let does = self.brush.does;
        let target = self.stroke_target(does);
        let Some(target) = target.filter(|target| !matches!(target.deposit, Deposit::Move(_)))
        else {
            self.notices.note(
                "A decal is painted, erased, lightened, darkened or shifted: choose one of these",
            );
            return;
        };
        let size = self.model_box().map_or(1.0, |(low, high)| low.distance(high));
        self.decal = Some(DecalInHand {
            material: target.material,
            layer: target.layer,
            deposit: target.deposit,
            opacity: self.brush.settings.opacity,
            left_out: self.model_view.left_out(),
            image,
            decal: None,
            half: size * FIRST_HALF,
            turn: 0.0,
            kept: None,
        });
    }

    /// Takes a decal that was kept in hand again.
    pub(crate) fn take_kept_decal(&mut self, layer: LayerId, number: usize) {
        self.put_down();
        let Some(material) = self.material() else { return };
        let recipe = material.recipe(layer);
        let Some(painted) = recipe.steps.get(number) else { return };
        if let Step::Deposit { deposit, shape: Shape::Decal(decal) } = &*painted.step {
            self.decal = Some(DecalInHand {
                material: material.id,
                layer,
                deposit: deposit.clone(),
                opacity: decal.opacity,
                left_out: decal.left_out.clone(),
                image: decal.image.clone(),
                half: decal.half,
                turn: decal.turn,
                decal: Some(decal.clone()),
                kept: Some(KeptStep { number, was: Arc::clone(&painted.step), wanted: None }),
            });
        }
    }

    /// The steps of the chosen layer that are decals.
    pub(crate) fn kept_decals(&self) -> Vec<usize> {
        let (Some(material), Some(layer)) = (self.material(), self.chosen.layer) else {
            return Vec::new();
        };
        let recipe = material.recipe(layer);
        let is_decal = |painted: &document::RecipeStep| {
            matches!(&*painted.step, Step::Deposit { shape: Shape::Decal(_), .. })
        };
        let numbered = recipe.steps.iter().enumerate();
        numbered.filter(|(_, step)| is_decal(step)).map(|(number, _)| number).collect()
    }

    /// A press on the model while a decal is in hand: it goes there.
    pub(super) fn press_decal(&mut self, at: Pos2) -> Option<Motion> {
        self.drag_decal(at).then_some(Motion::MoveDecal)
    }

    /// Moves the decal to what is seen at a place, upright as it is seen; false where nothing is.
    pub(super) fn drag_decal(&mut self, at: Pos2) -> bool {
        let Some(middle) = self.met(at).and_then(|met| self.anchor(&met)) else { return false };
        let camera = &self.model_view.camera;
        let forward = (camera.target - camera.eye).normalize_or_zero();
        let up = (camera.up - forward * camera.up.dot(forward)).normalize_or_zero();
        if let Some(held) = &mut self.decal {
            let (image, left_out) = (held.image.clone(), held.left_out.clone());
            let (half, turn, opacity) = (held.half, held.turn, held.opacity);
            held.decal = Some(Decal { image, middle, up, half, turn, opacity, left_out });
        }
        self.try_decal();
        true
    }

    /// Shows a new decal as it would be painted.
    pub(crate) fn try_decal(&mut self) {
        let Some(held) = self.decal.as_ref().filter(|held| held.kept.is_none()) else { return };
        let Some(step) = held.painted() else { return };
        self.try_out(held.layer, step);
    }

    /// Paints the layer of a decal that was kept before again, where it is another one now.
    pub(crate) fn repaint_decal(&mut self) {
        let Some(held) = &self.decal else { return };
        let (Some(kept), Some(step)) = (held.kept.clone(), held.painted()) else { return };
        let kept = self.repaint_kept(held.layer, kept, step);
        match &mut self.decal {
            Some(held) if kept.is_some() => held.kept = kept,
            held => *held = None,
        }
    }

    /// Takes a kept decal away.
    pub(crate) fn remove_decal(&mut self, layer: LayerId, number: usize) {
        self.put_down();
        self.repaint(layer, number, None);
    }

    /// Makes the decal an edit.
    pub(crate) fn keep_decal(&mut self) {
        let Some(held) = self.decal.take() else { return };
        if held.kept.is_none() {
            self.keep_tried();
        }
    }

    /// Gives a new decal up, or lets a kept one be; false where none is in hand.
    pub(crate) fn drop_decal(&mut self) -> bool {
        let Some(held) = self.decal.take() else { return false };
        if held.kept.is_none() {
            self.drop_tried();
        }
        true
    }
}
