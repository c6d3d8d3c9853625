//! The compositor on scenes small enough to be worked out by hand, and its errors.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, ChannelKind, Combine, Content, FieldExpr,
    FieldId, Fields, Isolation, Layer, LayerId, LayersError, Mask, MaskSource, MaskTerm, NoFields,
    Opacity, PaintedCell, Value, composite, standard_channels,
};
use raster::{Extent, Observer, Plane, TextureSize, Tile, TileAt, Unobserved};

use crate::bench::{Bench, HALF, extent, half, painted_term, rough, term};

#[test]
fn without_layers_the_ground_shows_and_nothing_is_painted() {
    let mut bench = Bench::new(Vec::new());
    bench.ground.insert(ChannelId::METALNESS, Value::Scalar(777));
    for blend_space in [BlendSpace::Encoded, BlendSpace::Linear] {
        bench.blend_space = blend_space;
        let composite = bench.composite().unwrap();
        for channel in &bench.channels {
            let shown = &composite.channels[&channel.id];
            let ground = bench.ground.get(&channel.id).unwrap_or(&channel.ground);
            for (plane, &value) in shown.values.iter().zip(ground.components()) {
                assert!(plane.tiles_other_than(value).is_empty());
            }
            assert!(shown.painted.tiles_other_than(0).is_empty());
        }
    }
}

#[test]
fn every_stored_colour_survives_blending_in_linear_light() {
    let edge = extent().width;
    for quarter in 0..4 {
        let plane = Plane::from_fn(extent(), |x, y| (quarter * edge * edge + y * edge + x) as u16);
        let full = Plane::uniform(extent(), u16::MAX);
        let cell = PaintedCell { values: vec![plane.clone(); 3], coverage: full };
        let content = Content::Painted(BTreeMap::from([(ChannelId::BASE_COLOUR, cell)]));
        let mut bench = Bench::new(vec![Layer::new(LayerId(0), "every", content)]);
        bench.blend_space = BlendSpace::Linear;
        let composite = bench.composite().unwrap();
        let shown = &composite.channels[&ChannelId::BASE_COLOUR].values[1];
        for y in 0..edge {
            for x in 0..edge {
                assert_eq!(shown.texel(x, y).unwrap(), plane.texel(x, y).unwrap());
            }
        }
    }
}

#[test]
fn tiles_of_uniform_inputs_are_uniform() {
    let mut layer = rough(0, 60_000);
    layer.opacity = half();
    layer.mask.terms.push(painted_term(Combine::Multiply, HALF));
    let composite = Bench::new(vec![layer]).composite().unwrap();
    let channel = &composite.channels[&ChannelId::ROUGHNESS];
    assert!(channel.values[0].tiles().all(|tile| matches!(tile, Tile::Uniform(_))));
    assert!(channel.painted.tiles().all(|tile| matches!(tile, Tile::Uniform(16_384))));
}

#[test]
fn opacities_and_masks_multiply() {
    let mut layer = rough(0, u16::MAX);
    layer.opacity = half();
    layer.mask.terms.push(painted_term(Combine::Multiply, HALF));
    let mask = Mask { terms: vec![painted_term(Combine::Multiply, HALF)] };
    let cell = CellSettings { opacity: half(), mask, ..CellSettings::default() };
    layer.cells.insert(ChannelId::ROUGHNESS, cell);
    let mut bench = Bench::new(vec![layer]);
    bench.ground.insert(ChannelId::ROUGHNESS, Value::Scalar(0));
    // 65535 / 16, twice half a step above it for each 32768.
    assert_eq!(bench.roughness(), (4096, 4096));
}

#[test]
fn coverage_of_two_layers_adds_up_as_paint_does() {
    let [mut below, mut above] = [rough(0, 0), rough(1, u16::MAX)];
    below.opacity = half();
    above.opacity = half();
    let mut bench = Bench::new(vec![below, above]);
    bench.ground.insert(ChannelId::ROUGHNESS, Value::Scalar(u16::MAX));
    assert_eq!(bench.roughness(), (49_151, 49_151));
}

/// A fifth of the sky is seen from everywhere; nothing else is baked.
struct FifthOpen;

impl Fields for FifthOpen {
    fn tile(&self, field: FieldId, _at: TileAt) -> Result<Option<Tile>, LayersError> {
        Ok((field == FieldId::Occlusion).then_some(Tile::Uniform(13_107)))
    }
}

#[test]
fn mask_terms_combine_in_order() {
    let field =
        |low, high| MaskSource::Field(FieldExpr::new(FieldId::Occlusion, low, high).unwrap());
    let painted = |combine, value| painted_term(combine, value);
    let cases: Vec<(Vec<MaskTerm>, u16)> = vec![
        (vec![], u16::MAX),
        (vec![painted(Combine::Multiply, 20_000)], 20_000),
        (vec![MaskTerm { invert: true, ..painted(Combine::Multiply, 20_000) }], 45_535),
        (vec![MaskTerm { on: false, ..painted(Combine::Multiply, 20_000) }], u16::MAX),
        (vec![MaskTerm { strength: Opacity::NONE, ..painted(Combine::Replace, 7) }], u16::MAX),
        (vec![MaskTerm { strength: half(), ..painted(Combine::Multiply, 0) }], HALF),
        (vec![painted(Combine::Subtract, 20_000)], 45_535),
        (vec![painted(Combine::Replace, 100), painted(Combine::Add, 50)], 150),
        (vec![painted(Combine::Replace, 100), painted(Combine::Subtract, 300)], 0),
        (vec![painted(Combine::Replace, 100), painted(Combine::Lighten, 300)], 300),
        (vec![painted(Combine::Replace, 100), painted(Combine::Darken, 30)], 30),
        (vec![painted(Combine::Add, 50)], u16::MAX),
        (vec![term(Combine::Multiply, field(0.0, 1.0))], 13_107),
        (vec![term(Combine::Multiply, field(0.1, 0.3))], HALF),
        (vec![term(Combine::Multiply, field(0.5, 0.1))], 49_151),
        (vec![term(Combine::Multiply, field(0.5, 1.0))], 0),
    ];
    for (terms, expected) in cases {
        let described = format!("{terms:?}");
        let mut layer = rough(0, 0);
        layer.mask = Mask { terms };
        let bench = Bench::new(vec![layer]);
        let composite = composite(&bench.composition(&FifthOpen), &Unobserved).unwrap();
        let painted = composite.channels[&ChannelId::ROUGHNESS].painted.texel(0, 0).unwrap();
        assert!(painted.abs_diff(expected) <= 1, "{painted} for {expected}: {described}");
    }
}

#[test]
fn an_isolated_group_does_not_see_what_is_below_and_a_pass_through_group_does() {
    let mut child = rough(2, HALF);
    let cell = CellSettings { blend: BlendMode::Multiply, ..CellSettings::default() };
    child.cells.insert(ChannelId::ROUGHNESS, cell);
    for (isolation, expected) in [(Isolation::Isolated, HALF), (Isolation::PassThrough, 16_384)] {
        let children = vec![Arc::new(child.clone())];
        let group = Layer::new(LayerId(1), "group", Content::Group { isolation, children });
        assert_eq!(Bench::new(vec![rough(0, HALF), group]).roughness().0, expected);
    }
}

#[test]
fn a_pass_through_group_at_half_goes_half_the_way() {
    let children = vec![Arc::new(rough(2, 10_000))];
    let content = Content::Group { isolation: Isolation::PassThrough, children };
    let mut group = Layer::new(LayerId(1), "group", content);
    group.opacity = half();
    assert_eq!(Bench::new(vec![rough(0, 20_000), group]).roughness().0, 15_000);
}

#[test]
fn groups_as_deep_as_they_may_be_give_what_their_layer_gives() {
    for isolation in [Isolation::Isolated, Isolation::PassThrough] {
        let deep = (1..layers::MAX_DEPTH as u32).fold(rough(0, 777), |inner, id| {
            let content = Content::Group { isolation, children: vec![Arc::new(inner)] };
            Layer::new(LayerId(id), "group", content)
        });
        assert_eq!(Bench::new(vec![deep]).roughness(), (777, u16::MAX));
    }
}

#[test]
fn a_field_that_is_not_baked_is_an_error_unless_its_term_is_off() {
    let expr = FieldExpr::new(FieldId::Curvature, 0.0, 1.0).unwrap();
    let mut layer = rough(0, 9);
    layer.mask.terms.push(term(Combine::Multiply, MaskSource::Field(expr)));
    let error = Bench::new(vec![layer.clone()]).composite().unwrap_err();
    assert_eq!(error, LayersError::FieldMissing(FieldId::Curvature));
    layer.mask.terms[0].on = false;
    assert_eq!(Bench::new(vec![layer]).roughness(), (9, u16::MAX));
}

#[test]
fn what_can_not_be_composited_is_refused_before_a_texel_is_read() {
    let bad_blend = CellSettings { blend: BlendMode::Hue, ..CellSettings::default() };
    let small = Extent { width: 64, height: 64 };
    let painted = |cell| {
        let cells = BTreeMap::from([(ChannelId::ROUGHNESS, cell)]);
        Layer::new(LayerId(5), "painted", Content::Painted(cells))
    };
    let mut wrong_mask = rough(5, 0);
    let plane = Plane::uniform(small, 0);
    wrong_mask.mask.terms.push(term(Combine::Multiply, MaskSource::Painted(plane)));
    let mut wrong_cell_mask = rough(5, 0);
    let cell = CellSettings { mask: wrong_mask.mask.clone(), ..CellSettings::default() };
    wrong_cell_mask.cells.insert(ChannelId::ROUGHNESS, cell);
    let mut wrong_levels = rough(5, 0);
    let expr = FieldExpr { field: FieldId::Slope, low: 0.5, high: 0.5 };
    wrong_levels.mask.terms.push(term(Combine::Multiply, MaskSource::Field(expr)));
    let mut hue = rough(5, 0);
    hue.cells.insert(ChannelId::ROUGHNESS, bad_blend);
    let colour = BTreeMap::from([(ChannelId::ROUGHNESS, Value::Colour([0; 3]))]);
    let (layer, channel) = (LayerId(5), ChannelId::ROUGHNESS);
    let wrong_extent = LayersError::WrongExtent { layer, found: small, expected: extent() };
    let wrong_kind = LayersError::WrongKind { layer, channel, expected: ChannelKind::Scalar };
    let cases = [
        (hue, LayersError::BlendNotAllowed { layer, channel, mode: BlendMode::Hue }),
        (painted(PaintedCell::empty(ChannelKind::Scalar, small)), wrong_extent.clone()),
        (painted(PaintedCell::empty(ChannelKind::Colour, extent())), wrong_kind.clone()),
        (Layer::new(layer, "solid", Content::Solid(colour)), wrong_kind),
        (wrong_mask, wrong_extent.clone()),
        (wrong_cell_mask, wrong_extent),
        (wrong_levels, LayersError::Levels { low: 0.5, high: 0.5 }),
    ];
    for (wrong, expected) in cases {
        let checked = wrong.check(&standard_channels(), TextureSize::new(128).unwrap());
        assert_eq!(checked, Err(expected.clone()));
        let children = vec![Arc::new(wrong)];
        let content = Content::Group { isolation: Isolation::Isolated, children };
        let bench = Bench::new(vec![Layer::new(LayerId(1), "group", content)]);
        assert_eq!(bench.composite().unwrap_err(), expected);
    }
}

#[test]
fn a_cell_of_an_unknown_channel_fails_the_check_but_is_passed_over_when_composited() {
    let channel = ChannelId(40);
    let content = Content::Solid(BTreeMap::from([(channel, Value::Scalar(3))]));
    let layer = Layer::new(LayerId(5), "later", content);
    let checked = layer.check(&standard_channels(), TextureSize::new(128).unwrap());
    assert_eq!(checked, Err(LayersError::UnknownChannel { layer: LayerId(5), channel }));
    assert!(Bench::new(vec![layer]).composite().is_ok());
}

#[test]
fn a_ground_of_the_wrong_kind_is_refused() {
    let mut bench = Bench::new(Vec::new());
    bench.ground.insert(ChannelId::METALNESS, Value::Colour([0; 3]));
    let (channel, expected) = (ChannelId::METALNESS, ChannelKind::Scalar);
    assert_eq!(bench.composite().unwrap_err(), LayersError::WrongGround { channel, expected });
}

#[test]
fn levels_that_do_not_rise_or_fall_are_refused() {
    for (low, high) in [(0.5, 0.5), (f32::NAN, 1.0), (0.0, f32::INFINITY), (f32::MIN, f32::MAX)] {
        assert!(FieldExpr::new(FieldId::Noise, low, high).is_err(), "{low} {high}");
    }
}

/// Counts, and stops after so many tiles.
struct Count {
    furthest: AtomicU64,
    total: AtomicU64,
    stop_after: u64,
}

impl Count {
    fn stopping_after(stop_after: u64) -> Self {
        Self { furthest: AtomicU64::new(0), total: AtomicU64::new(0), stop_after }
    }
}

impl Observer for Count {
    fn progress(&self, done: u64, total: u64) {
        self.furthest.fetch_max(done, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
    }

    fn stopped(&self) -> bool {
        self.furthest.load(Ordering::Relaxed) >= self.stop_after
    }
}

#[test]
fn progress_counts_tiles_and_a_stop_is_obeyed() {
    let bench = Bench::new(vec![rough(0, 5)]);
    let all = Count::stopping_after(u64::MAX);
    composite(&bench.composition(&NoFields), &all).unwrap();
    assert_eq!(all.furthest.into_inner(), 3 * 4);
    assert_eq!(all.total.into_inner(), 3 * 4);
    let stopping = Count::stopping_after(2);
    let error = composite(&bench.composition(&NoFields), &stopping).unwrap_err();
    assert!(matches!(error, LayersError::Cancelled(_)));
}
