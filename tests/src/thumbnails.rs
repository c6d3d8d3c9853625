//! Thumbnails show what is there, in the right averages, and are told to be out of date just when they are.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{Document, Edit, LayerEdit, MaskOwner, Material, MaterialEdit, MaterialId};
use editor::{EditorError, Settings, Thumbnail, ThumbnailKey, ThumbnailOf, thumbnail};
use layers::{ChannelId, Content, Layer, LayerId, PaintedCell, Stack, Value};
use proptest::prelude::*;
use raster::{Extent, Observer, Plane, TextureSize, Unobserved};

use crate::random_edits::{Desk, op, size};

const MATERIAL: MaterialId = MaterialId(0);

/// The desk's document with these layers alone.
fn with_layers(layers: Vec<Layer>, size: TextureSize) -> Document {
    let mut document = Desk::new().editor(Settings::default()).document().clone();
    let stack = Stack { layers: layers.into_iter().map(Arc::new).collect() };
    let material = Material { stack, size, ..Material::clone(&document.materials[0]) };
    document.materials[0] = Arc::new(material);
    document
}

fn painted(
    extent: Extent,
    value: impl Fn(u32, u32) -> u16,
    coverage: impl Fn(u32, u32) -> u16,
) -> Layer {
    let cell = |components: usize| PaintedCell {
        values: vec![Plane::from_fn(extent, &value); components],
        coverage: Plane::from_fn(extent, &coverage),
    };
    let cells = [(ChannelId::BASE_COLOUR, cell(3)), (ChannelId::ROUGHNESS, cell(1))];
    Layer::new(LayerId(0), "painted", Content::Painted(cells.into_iter().collect()))
}

fn cell(channel: ChannelId) -> ThumbnailOf {
    ThumbnailOf::Cell { material: MATERIAL, layer: LayerId(0), channel }
}

fn made(document: &Document, of: ThumbnailOf, edge: u32) -> Thumbnail {
    thumbnail(document, &of, edge, &Unobserved).unwrap()
}

fn pixel(picture: &Thumbnail, x: u32, y: u32) -> [u8; 4] {
    picture.rgba.as_chunks::<4>().0[(y * picture.width + x) as usize]
}

/// Half white, half black is 0.5 in linear light, which sRGB encodes as 187.516 / 255
/// (IEC 61966-2-1); scalars average as stored.
#[test]
fn colours_average_in_linear_light_and_scalars_as_stored() {
    let checks = |x: u32, y: u32| if (x + y).is_multiple_of(2) { u16::MAX } else { 0 };
    let layer = |edge| painted(size(edge).extent(), checks, |_, _| u16::MAX);
    let document = with_layers(vec![layer(64)], size(64));
    let colour = made(&document, cell(ChannelId::BASE_COLOUR), 16);
    assert_eq!(colour.uniform(), Some([188, 188, 188, 255]));
    let roughness = made(&document, cell(ChannelId::ROUGHNESS), 16);
    assert_eq!(roughness.uniform(), Some([128, 128, 128, 255]));
    // Where only some texels count, a fine pattern is nearly what it is.
    let document = with_layers(vec![layer(512)], size(512));
    let roughness = made(&document, cell(ChannelId::ROUGHNESS), 16);
    let worst = roughness.rgba.as_chunks::<4>().0.iter().map(|[grey, ..]| grey.abs_diff(128)).max();
    assert!(worst < Some(20), "{worst:?}");
}

/// Common practice, no source: what is not painted has no colour that could darken what is.
#[test]
fn what_is_not_covered_does_not_tint_what_is() {
    let left = |x: u32, _: u32| if x.is_multiple_of(2) { 60_000 } else { 0 };
    let layer =
        painted(size(64).extent(), left, |x, _| if x.is_multiple_of(2) { u16::MAX } else { 0 });
    let picture = made(&with_layers(vec![layer], size(64)), cell(ChannelId::ROUGHNESS), 8);
    let value = (60_000.0 / 65_535.0 * 255.0_f32).round() as u8;
    assert_eq!(picture.uniform(), Some([value, value, value, 128]));
}

#[test]
fn a_thumbnail_has_as_many_pixels_as_the_texture_at_most_and_puts_each_in_its_place() {
    let corner = |x: u32, y: u32| if x < 32 && y < 96 { u16::MAX } else { 0 };
    let layer = painted(size(128).extent(), |_, _| 50_000, corner);
    let document = with_layers(vec![layer], size(128));
    let picture = made(&document, cell(ChannelId::ROUGHNESS), 4);
    let alpha: Vec<u8> = (0..16).map(|at| pixel(&picture, at % 4, at / 4)[3]).collect();
    assert_eq!(alpha, [255, 0, 0, 0, 255, 0, 0, 0, 255, 0, 0, 0, 0, 0, 0, 0]);
    let large = made(&document, cell(ChannelId::ROUGHNESS), 500);
    assert_eq!((large.width, large.height, large.rgba.len()), (128, 128, 4 * 128 * 128));
    assert_eq!((pixel(&large, 31, 95)[3], pixel(&large, 32, 95)[3]), (255, 0));
}

#[test]
fn a_solid_cell_is_one_colour_and_an_empty_one_nothing() {
    let colour = Value::Colour([65_535, 0, 32_896]);
    let values = BTreeMap::from([(ChannelId::BASE_COLOUR, colour)]);
    let layer = Layer::new(LayerId(0), "solid", Content::Solid(values));
    let document = with_layers(vec![layer], size(256));
    let solid = made(&document, cell(ChannelId::BASE_COLOUR), 96);
    assert_eq!(solid.uniform(), Some([255, 0, 128, 255]));
    assert_eq!(made(&document, cell(ChannelId::METALNESS), 96).uniform(), Some([0; 4]));
}

/// Every thumbnail that a document has.
fn all_of(document: &Document) -> Vec<ThumbnailOf> {
    let mut all = Vec::new();
    for material in &document.materials {
        let (id, channels) = (material.id, document.channels.iter().map(|channel| channel.id));
        for channel in channels {
            all.push(ThumbnailOf::Channel { material: id, channel });
            for layer in material.stack.ids() {
                all.push(ThumbnailOf::Cell { material: id, layer, channel });
                let owner = MaskOwner::Cell(channel);
                all.push(ThumbnailOf::Mask { material: id, layer, owner });
            }
        }
        let layers = material.stack.ids();
        all.extend(layers.map(|layer| ThumbnailOf::Mask {
            material: id,
            layer,
            owner: MaskOwner::Layer,
        }));
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_thumbnail_is_told_to_be_out_of_date_whenever_it_is(ops in prop::collection::vec(op(), 6..14)) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        let mut kept: BTreeMap<ThumbnailOf, (ThumbnailKey, Thumbnail)> = BTreeMap::new();
        for op in &ops {
            let _refused = editor.apply(&desk.edit(op, editor.document()), &Unobserved);
            if op.kind == 28 {
                editor.undo();
            }
            let document = editor.document();
            for of in all_of(document) {
                let key = ThumbnailKey::of(document, &of).unwrap();
                let now = made(document, of, 16);
                if let Some((known, before)) = kept.get(&of) && *known == key {
                    prop_assert_eq!(before, &now, "{:?}", of);
                }
                kept.insert(of, (key, now));
            }
        }
    }

    /// A channel is the average of its exact composite; all texels count at this size.
    #[test]
    fn a_channel_is_the_mean_of_its_composite(ops in prop::collection::vec(op(), 6..14)) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let _refused = editor.apply(&desk.edit(op, editor.document()), &Unobserved);
        }
        let document = editor.document();
        let exact = crate::compared::whole_composite(document, MATERIAL);
        let edge = document.materials[0].size.edge();
        for (&channel, made_of) in &exact.channels {
            let picture = made(document, ThumbnailOf::Channel { material: MATERIAL, channel }, edge / 8);
            for at in 0..picture.width * picture.height {
                let (column, row) = (at % picture.width, at / picture.width);
                for (component, plane) in made_of.values.iter().enumerate() {
                    let texels = (0..64).map(|n| plane.texel(column * 8 + n % 8, row * 8 + n / 8).unwrap());
                    let colour = channel == ChannelId::BASE_COLOUR;
                    let light = |value| if colour { raster::decode_stored(value) } else { raster::to_unit(value) };
                    let mean = texels.map(light).sum::<f32>() / 64.0;
                    let mean = 255.0 * if colour { raster::encode_srgb(mean) } else { mean };
                    let shown = f32::from(pixel(&picture, column, row)[component]);
                    prop_assert!((shown - mean).abs() < 0.51, "{} {}", shown, mean);
                }
            }
        }
    }
}

#[test]
fn what_does_not_show_leaves_a_thumbnail_up_to_date() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let keys = |document: &Document| -> Vec<ThumbnailKey> {
        all_of(document).iter().map(|of| ThumbnailKey::of(document, of).unwrap()).collect()
    };
    let before = keys(editor.document());
    let rename = LayerEdit::Rename("another".to_owned());
    let rename = Edit::Material(MATERIAL, MaterialEdit::Layer(LayerId(2), rename));
    editor.apply(&rename, &Unobserved).unwrap();
    assert!(keys(editor.document()) == before);
    let hide = Edit::Material(MATERIAL, MaterialEdit::Layer(LayerId(0), LayerEdit::Visible(false)));
    editor.apply(&hide, &Unobserved).unwrap();
    let differ = |of: &&ThumbnailOf| !matches!(of, ThumbnailOf::Channel { material: MATERIAL, .. });
    let now = keys(editor.document());
    for ((of, before), now) in all_of(editor.document()).iter().zip(&before).zip(&now) {
        assert_eq!(before == now, differ(&of), "{of:?}");
    }
}

#[test]
fn a_thumbnail_that_nobody_wants_any_more_is_given_up() {
    struct Stop;
    impl Observer for Stop {
        fn progress(&self, _done: u64, _total: u64) {}
        fn stopped(&self) -> bool {
            true
        }
    }
    let document = Desk::new().editor(Settings::default()).document().clone();
    let refused = thumbnail(&document, &cell(ChannelId::ROUGHNESS), 96, &Stop).unwrap_err();
    assert!(matches!(refused, EditorError::Cancelled(_)));
}
