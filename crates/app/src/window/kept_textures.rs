//! The panels' textures as they are on the adapter, kept so that they can be sent to another one: egui tells what
//! changed, and tells it once.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::TextureId;
use egui::epaint::{ColorImage, ImageData, ImageDelta};

/// See the module.
#[derive(Default)]
pub(super) struct KeptTextures(BTreeMap<u64, ImageDelta>);

impl KeptTextures {
    /// Follows a change of a texture.
    pub(super) fn follow(&mut self, id: TextureId, change: &ImageDelta) {
        if let TextureId::Managed(number) = id {
            self.set(number, change);
        }
    }

    /// Forgets a texture.
    pub(super) fn forget(&mut self, id: TextureId) {
        if let TextureId::Managed(number) = id {
            self.0.remove(&number);
        }
    }

    fn set(&mut self, number: u64, change: &ImageDelta) {
        let Some(at) = change.pos else {
            self.0.insert(number, change.clone());
            return;
        };
        if let Some(kept) = self.0.get_mut(&number) {
            let ImageData::Color(image) = &mut kept.image;
            let ImageData::Color(patch) = &change.image;
            lay_over(Arc::make_mut(image), patch, at);
        }
    }

    /// All of them, as for an adapter that has none.
    pub(super) fn all(&self) -> impl Iterator<Item = (TextureId, &ImageDelta)> {
        self.0.iter().map(|(number, kept)| (TextureId::Managed(*number), kept))
    }
}

fn lay_over(image: &mut ColorImage, patch: &ColorImage, [left, top]: [usize; 2]) {
    let [width, height] = patch.size;
    if left + width > image.size[0] || top + height > image.size[1] {
        return;
    }
    for row in 0..height {
        let to = (top + row) * image.size[0] + left;
        image.pixels[to..to + width].copy_from_slice(&patch.pixels[row * width..][..width]);
    }
}

#[cfg(test)]
mod tests {
    use egui::{Color32, TextureOptions};

    use super::*;

    #[test]
    fn a_patched_texture_is_kept_whole_and_a_freed_one_is_not() {
        let (id, options) = (TextureId::Managed(7), TextureOptions::LINEAR);
        let whole = ColorImage::filled([4, 3], Color32::BLACK);
        let patch = ColorImage::filled([2, 1], Color32::WHITE);
        let mut kept = KeptTextures::default();
        kept.follow(id, &ImageDelta::full(whole, options));
        kept.follow(id, &ImageDelta::partial([1, 2], patch.clone(), options));
        kept.follow(id, &ImageDelta::partial([3, 0], patch, options));
        let (_, found) = kept.all().next().unwrap();
        let ImageData::Color(image) = &found.image;
        let white: Vec<usize> = (0..12).filter(|&at| image.pixels[at] == Color32::WHITE).collect();
        assert_eq!(white, [9, 10]);
        kept.forget(id);
        assert_eq!(kept.all().count(), 0);
    }
}
