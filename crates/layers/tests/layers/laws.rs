//! Laws of the compositor on random stacks: painted, solid, nested groups, masks, both spaces.

use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, Composite, Content, Isolation, Layer, LayerId,
    LayersError, Mask, MaskSource, Opacity, Place, Stack, Value, changed_tiles, composite,
    recomposite,
};
use proptest::prelude::*;
use proptest::sample::Index;
use raster::{Extent, Plane, TextureSize, TileAt, TileSet, Unobserved, to_unit};

use crate::scene::{EDGE, OneField, STEADY, Scene, scene, scenes, texels};
use crate::twin;

fn composited(scene: &Scene) -> Composite {
    composite(&scene.composition(), &Unobserved).unwrap()
}

fn planes(composite: &Composite, channel: ChannelId) -> impl Iterator<Item = &Plane> {
    let channel = &composite.channels[&channel];
    channel.values.iter().chain([&channel.painted])
}

fn pairs<'a>(a: &'a Composite, b: &'a Composite) -> impl Iterator<Item = (&'a Plane, &'a Plane)> {
    assert!(a.channels.keys().eq(b.channels.keys()));
    a.channels.keys().flat_map(|&id| planes(a, id).zip(planes(b, id)))
}

/// The greatest difference of any texel, in stored steps.
fn furthest(a: &Composite, b: &Composite) -> u16 {
    let mut furthest = 0;
    for (a, b) in pairs(a, b) {
        for (x, y) in (0..EDGE * EDGE).map(|index| (index % EDGE, index / EDGE)) {
            furthest = furthest.max(a.texel(x, y).unwrap().abs_diff(b.texel(x, y).unwrap()));
        }
    }
    furthest
}

/// Every layer of a list as `change` makes it, children first.
fn each_layer(layers: &[Arc<Layer>], change: &impl Fn(&mut Layer)) -> Vec<Arc<Layer>> {
    let of = |layer: &Arc<Layer>| {
        let mut layer = Layer::clone(layer);
        if let Content::Group { children, .. } = &mut layer.content {
            *children = each_layer(children, change);
        }
        change(&mut layer);
        Arc::new(layer)
    };
    layers.iter().map(of).collect()
}

/// A plane of one tile of another.
fn cut(plane: &Plane, at: TileAt) -> Plane {
    let mut one = Plane::uniform(Extent { width: 64, height: 64 }, 0);
    one.set_tile(TileAt { x: 0, y: 0 }, plane.tile(at).clone());
    one
}

fn cut_mask(mask: &mut Mask, at: TileAt) {
    for term in &mut mask.terms {
        if let MaskSource::Painted(plane) = &mut term.source {
            *plane = cut(plane, at);
        }
    }
}

/// The scene of one tile, as a texture of its own.
fn cut_scene(scene: &Scene, at: TileAt) -> Scene {
    let change = |layer: &mut Layer| {
        cut_mask(&mut layer.mask, at);
        layer.cells.values_mut().for_each(|cell| cut_mask(&mut cell.mask, at));
        if let Content::Painted(cells) = &mut layer.content {
            for cell in cells.values_mut() {
                cell.values.iter_mut().for_each(|plane| *plane = cut(plane, at));
                cell.coverage = cut(&cell.coverage, at);
            }
        }
    };
    Scene {
        stack: Stack { layers: each_layer(&scene.stack.layers, &change) },
        size: TextureSize::new(64).unwrap(),
        fields: OneField(cut(&scene.fields.0, at)),
        ..scene.clone()
    }
}

/// A change to a scene as an artist may make it; what can't be done to the layer it falls on is left out.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Change {
    Visible(Index),
    Opacity(Index, f32),
    Blend(Index, BlendMode),
    CellOff(Index),
    Paint(Index, u8, u32),
    Solid(Index, u16),
    Isolation(Index),
    MaskPaint(Index, u8, u32),
    MaskStrength(Index, f32),
    Remove(Index),
    Move(Index, Index, Index),
    Insert(Index, Index),
    Group(Index),
    Field(u8, u32),
    Ground(u16),
    Space,
    Nothing,
}

pub(crate) fn changes() -> impl Strategy<Value = Change> {
    let layer = any::<Index>();
    let tile = 0_u8..4;
    prop_oneof![
        layer.clone().prop_map(Change::Visible),
        (layer.clone(), 0.0_f32..=1.0).prop_map(|(layer, to)| Change::Opacity(layer, to)),
        (layer.clone(), prop::sample::select(&STEADY[..]))
            .prop_map(|(layer, mode)| Change::Blend(layer, mode)),
        layer.clone().prop_map(Change::CellOff),
        (layer.clone(), tile.clone(), any::<u32>()).prop_map(|(l, t, s)| Change::Paint(l, t, s)),
        (layer.clone(), any::<u16>()).prop_map(|(layer, value)| Change::Solid(layer, value)),
        layer.clone().prop_map(Change::Isolation),
        (layer.clone(), tile.clone(), any::<u32>())
            .prop_map(|(l, t, s)| Change::MaskPaint(l, t, s)),
        (layer.clone(), 0.0_f32..=1.0).prop_map(|(layer, to)| Change::MaskStrength(layer, to)),
        layer.clone().prop_map(Change::Remove),
        (layer.clone(), any::<Index>(), any::<Index>()).prop_map(|(l, p, i)| Change::Move(l, p, i)),
        (any::<Index>(), any::<Index>()).prop_map(|(p, i)| Change::Insert(p, i)),
        layer.prop_map(Change::Group),
        (tile, any::<u32>()).prop_map(|(tile, seed)| Change::Field(tile, seed)),
        any::<u16>().prop_map(Change::Ground),
        Just(Change::Space),
        Just(Change::Nothing),
    ]
}

fn place(tile: u8) -> TileAt {
    TileAt { x: u32::from(tile % 2), y: u32::from(tile / 2) }
}

pub(crate) fn pick(stack: &Stack, index: Index) -> Option<LayerId> {
    let ids: Vec<LayerId> = stack.ids().collect();
    (!ids.is_empty()).then(|| *index.get(&ids))
}

/// A place in the root or in a group that is there.
fn pick_place(stack: &Stack, parent: Index, index: Index) -> Place {
    let groups = stack.walk().filter(|layer| matches!(layer.content, Content::Group { .. }));
    let lists: Vec<(Option<LayerId>, usize)> = groups
        .map(|group| (Some(group.id), group.children().len()))
        .chain([(None, stack.layers.len())])
        .collect();
    let (parent, len) = *parent.get(&lists);
    Place { parent, index: index.index(len + 1) }
}

fn changed_layer(stack: &Stack, index: Index, change: impl FnOnce(&mut Layer)) -> Option<Stack> {
    let changed = stack.replaced(pick(stack, index)?, |layer| {
        let mut layer = layer.clone();
        change(&mut layer);
        Ok::<_, LayersError>(layer)
    });
    Some(changed.unwrap())
}

pub(crate) fn apply(change: Change, before: &Scene) -> Scene {
    let mut now = before.clone();
    match change {
        Change::Field(tile, seed) => now.fields.0.set_tile(place(tile), texels(seed)),
        Change::Ground(value) => {
            now.ground.insert(ChannelId::ROUGHNESS, Value::Scalar(value));
        }
        Change::Space => {
            now.blend_space = match before.blend_space {
                BlendSpace::Encoded => BlendSpace::Linear,
                BlendSpace::Linear => BlendSpace::Encoded,
            };
        }
        Change::Nothing => {}
        Change::Remove(_) | Change::Move(..) | Change::Insert(..) | Change::Group(_) => {
            now.stack = apply_to_tree(change, &before.stack).unwrap_or(now.stack);
        }
        _ => now.stack = apply_to_layer(change, &before.stack).unwrap_or(now.stack),
    }
    now
}

fn apply_to_tree(change: Change, stack: &Stack) -> Option<Stack> {
    let free = LayerId(stack.ids().map(|id| id.0 + 1).max().unwrap_or(0));
    match change {
        Change::Remove(at) => Some(stack.removed(pick(stack, at)?).unwrap()),
        Change::Move(at, parent, index) => {
            let id = pick(stack, at)?;
            let there = pick_place(&stack.removed(id).unwrap(), parent, index);
            Some(stack.moved(id, there).unwrap())
        }
        Change::Insert(parent, index) => {
            let value = Value::Colour([60_000, 1_000, 30_000]);
            let content = Content::Solid([(ChannelId::BASE_COLOUR, value)].into());
            let layer = Layer::new(free, "new", content);
            Some(stack.inserted(layer, pick_place(stack, parent, index)).unwrap())
        }
        Change::Group(at) => {
            let id = pick(stack, at)?;
            let place = stack.place_of(id).unwrap();
            let children = vec![Arc::clone(stack.find(id).unwrap())];
            let content = Content::Group { isolation: Isolation::Isolated, children };
            let group = Layer::new(free, "new", content);
            Some(stack.removed(id).unwrap().inserted(group, place).unwrap())
        }
        _ => None,
    }
}

fn apply_to_layer(change: Change, stack: &Stack) -> Option<Stack> {
    match change {
        Change::Visible(at) => changed_layer(stack, at, |layer| layer.visible = !layer.visible),
        Change::Opacity(at, to) => {
            changed_layer(stack, at, |layer| layer.opacity = Opacity::new(to).unwrap())
        }
        Change::Blend(at, mode) => changed_layer(stack, at, |layer| {
            let cell = CellSettings { blend: mode, ..layer.cell(ChannelId::BASE_COLOUR).clone() };
            layer.cells.insert(ChannelId::BASE_COLOUR, cell);
        }),
        Change::CellOff(at) => changed_layer(stack, at, |layer| {
            let cell = layer.cell(ChannelId::ROUGHNESS).clone();
            layer.cells.insert(ChannelId::ROUGHNESS, CellSettings { on: !cell.on, ..cell });
        }),
        Change::Paint(at, tile, seed) => changed_layer(stack, at, |layer| {
            let Content::Painted(cells) = &mut layer.content else { return };
            for cell in cells.values_mut() {
                cell.coverage.set_tile(place(tile), texels(seed));
                cell.values[0].set_tile(place(tile), texels(!seed));
            }
        }),
        Change::Solid(at, value) => changed_layer(stack, at, |layer| {
            let Content::Solid(values) = &mut layer.content else { return };
            values.insert(ChannelId::ROUGHNESS, Value::Scalar(value));
        }),
        Change::Isolation(at) => changed_layer(stack, at, |layer| {
            let Content::Group { isolation, .. } = &mut layer.content else { return };
            *isolation = match isolation {
                Isolation::Isolated => Isolation::PassThrough,
                Isolation::PassThrough => Isolation::Isolated,
            };
        }),
        Change::MaskPaint(at, tile, seed) => changed_layer(stack, at, |layer| {
            for term in &mut layer.mask.terms {
                if let MaskSource::Painted(plane) = &mut term.source {
                    plane.set_tile(place(tile), texels(seed));
                }
            }
        }),
        Change::MaskStrength(at, to) => changed_layer(stack, at, |layer| {
            for term in &mut layer.mask.terms {
                term.strength = Opacity::new(to).unwrap();
            }
        }),
        _ => None,
    }
}

fn on_threads(count: usize, scene: &Scene) -> Composite {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(count).build().unwrap();
    pool.install(|| composited(scene))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn by_tile_equals_whole(spec in scenes(&BlendMode::ALL)) {
        let scene = scene(&spec);
        let whole = composited(&scene);
        for at in scene.size.extent().tile_places() {
            let one = composited(&cut_scene(&scene, at));
            for (whole, one) in pairs(&whole, &one) {
                let (whole, one) = (whole.tile(at), one.tile(TileAt { x: 0, y: 0 }));
                let (whole, one) = (whole.read().unwrap(), one.read().unwrap());
                prop_assert!((0..64 * 64).all(|index| whole.at(index) == one.at(index)));
            }
        }
    }

    #[test]
    fn one_thread_equals_many_bit_for_bit(spec in scenes(&BlendMode::ALL)) {
        let scene = scene(&spec);
        prop_assert_eq!(furthest(&on_threads(1, &scene), &on_threads(4, &scene)), 0);
    }

    #[test]
    fn recomposite_equals_composite_and_keeps_tiles_that_did_not_change(
        spec in scenes(&BlendMode::ALL),
        changes in prop::collection::vec(changes(), 1..3),
    ) {
        let before = scene(&spec);
        let now = changes.into_iter().fold(before.clone(), |scene, change| apply(change, &scene));
        let (before_of, now_of) = (before.composition(), now.composition());
        let old = composited(&before);
        let new = recomposite(&old, &before_of, &now_of, &Unobserved).unwrap();
        prop_assert_eq!(furthest(&new, &composited(&now)), 0);
        for &channel in new.channels.keys() {
            let changed = changed_tiles(&before_of, &now_of, channel);
            for (old, new) in planes(&old, channel).zip(planes(&new, channel)) {
                let kept = |&at: &TileAt| changed.contains(at) || new.tile(at).same(old.tile(at));
                prop_assert!(now.size.extent().tile_places().all(|at| kept(&at)));
            }
        }
    }

    #[test]
    fn painting_one_tile_touches_no_other(
        spec in scenes(&BlendMode::ALL), layer in any::<Index>(), tile in 0_u8..4, seed in any::<u32>(),
    ) {
        let before = scene(&spec);
        for change in [Change::Paint(layer, tile, seed), Change::MaskPaint(layer, tile, seed), Change::Field(tile, seed)] {
            let now = apply(change, &before);
            for channel in [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS] {
                let changed = changed_tiles(&before.composition(), &now.composition(), channel);
                prop_assert!(changed.iter().all(|at| at == place(tile)));
            }
        }
    }

    #[test]
    fn what_does_not_change_the_picture_touches_no_tile(spec in scenes(&BlendMode::ALL)) {
        let before = scene(&spec);
        let renamed = each_layer(&before.stack.layers, &|layer| layer.name.push('!'));
        let now = before.with_stack(Stack { layers: renamed });
        for channel in [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS] {
            let changed = changed_tiles(&before.composition(), &now.composition(), channel);
            prop_assert!(changed.is_empty());
        }
    }

    #[test]
    fn a_layer_of_opacity_0_or_not_visible_changes_nothing(
        spec in scenes(&BlendMode::ALL), layer in any::<Index>(), hide in any::<bool>(),
    ) {
        let all = scene(&spec);
        let Some(id) = pick(&all.stack, layer) else { return Ok(()) };
        let without = all.with_stack(all.stack.removed(id).unwrap());
        let hidden = changed_layer(&all.stack, layer, |layer| {
            if hide { layer.visible = false } else { layer.opacity = Opacity::NONE }
        });
        let hidden = all.with_stack(hidden.unwrap());
        prop_assert_eq!(furthest(&composited(&hidden), &composited(&without)), 0);
        let changed =
            changed_tiles(&hidden.composition(), &without.composition(), ChannelId::BASE_COLOUR);
        prop_assert_eq!(changed, TileSet::none(all.size.extent()));
    }

    /// Group invariance of W3C Compositing and Blending Level 1, section 3.
    #[test]
    fn a_pass_through_group_of_default_settings_changes_no_bit(spec in scenes(&BlendMode::ALL)) {
        let plain = scene(&spec);
        let grouped = grouped(&plain, Isolation::PassThrough);
        prop_assert_eq!(furthest(&composited(&plain), &composited(&grouped)), 0);
    }

    /// Exact in exact arithmetic; a stored step for rounding in f32.
    #[test]
    fn an_isolated_group_of_normal_layers_changes_at_most_a_stored_step(
        spec in scenes(&[BlendMode::Normal]),
    ) {
        let plain = scene(&spec);
        let grouped = grouped(&plain, Isolation::Isolated);
        prop_assert!(furthest(&composited(&plain), &composited(&grouped)) <= 1);
    }

    /// f32 against f64. Half a stored step is rounding; the rest is what f32 loses on its way through
    /// the stack, which steep modes and the encoding of dark values multiply.
    #[test]
    fn the_plain_f64_twin_agrees(spec in scenes(&STEADY)) {
        let scene = scene(&spec);
        let ours = composited(&scene);
        for index in 0..256_u32 {
            let (x, y) = (index * 53 % EDGE, index * 31 % EDGE);
            for &channel in ours.channels.keys() {
                let (values, painted) = twin::texel(&scene, channel, x, y);
                for (plane, twin) in planes(&ours, channel).zip(values.iter().chain([&painted])) {
                    let ours = f64::from(to_unit(plane.texel(x, y).unwrap()));
                    prop_assert!((ours - twin).abs() < TWIN_TOLERANCE, "{ours} {twin} at {x}, {y}");
                }
            }
        }
    }
}

const TWIN_TOLERANCE: f64 = 1.0 / 65_535.0;

/// All layers of a scene in one group of default settings.
fn grouped(scene: &Scene, isolation: Isolation) -> Scene {
    let content = Content::Group { isolation, children: scene.stack.layers.clone() };
    let group = Layer::new(LayerId(1_000), "group", content);
    scene.with_stack(Stack { layers: vec![Arc::new(group)] })
}
