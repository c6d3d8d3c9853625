//! What the fast compositor keeps between calls: right, never stale, and within its budget.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, Combine, Content, DisplayTile, FastCompositor,
    FieldExpr, FieldId, Isolation, Layer, LayerId, MaskSource, MaskTerm, Opacity, PaintedCell,
    Stack, TermId, composite,
};
use proptest::prelude::*;
use proptest::sample::Index;
use raster::{PageError, PagedTexels, Plane, Texels, Tile, TileAt, Unobserved};

use crate::fast::{BOTH, Dice, ROUNDED, STACK, off};
use crate::laws::{Change, apply, changes, pick};
use crate::scene::{Scene, scene, scenes, size, texels};

const AMPLE: usize = 1 << 30;

fn all_tiles() -> Vec<TileAt> {
    size().extent().tile_places().collect()
}

type Values = BTreeMap<(ChannelId, usize, TileAt), Box<Texels>>;

/// Every tile's values, as the compositor gives them.
fn values(compositor: &FastCompositor, scene: &Scene, active: Option<LayerId>) -> Values {
    let values = Mutex::new(BTreeMap::new());
    let sink = |at: TileAt, tile: &DisplayTile| {
        for channel in tile.channels() {
            for component in 0..3 {
                if let Some(texels) = tile.component(channel, component) {
                    let key = (channel, component, at);
                    values.lock().unwrap().insert(key, Box::new(*texels));
                }
            }
        }
    };
    compositor.tiles(&scene.composition(), active, &BOTH, &all_tiles(), &sink).unwrap();
    values.into_inner().unwrap()
}

fn furthest(a: &Values, b: &Values) -> u16 {
    assert!(a.keys().eq(b.keys()));
    let texels = a.values().zip(b.values()).flat_map(|(a, b)| a.iter().zip(b.iter()));
    texels.map(|(a, b)| a.abs_diff(*b)).max().unwrap_or(0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn what_is_kept_gives_the_same_tiles_after_any_changes(
        spec in scenes(&BlendMode::ALL),
        steps in prop::collection::vec((changes(), any::<Index>(), 1_usize..4), 1..6),
    ) {
        let kept = FastCompositor::new(AMPLE);
        let mut scene = scene(&spec);
        for (change, active, times) in steps {
            scene = apply(change, &scene);
            let active = pick(&scene.stack, active);
            let plain = values(&FastCompositor::new(0), &scene, None);
            for time in 0..times {
                let off = furthest(&values(&kept, &scene, active), &plain);
                prop_assert!(off <= 3, "{change:?}, time {time}: {off} steps");
            }
        }
    }

    #[test]
    fn changes_while_one_layer_stays_active_are_all_seen(
        spec in scenes(&BlendMode::ALL),
        active in any::<Index>(),
        steps in prop::collection::vec(changes(), 1..8),
    ) {
        let kept = FastCompositor::new(AMPLE);
        let mut scene = scene(&spec);
        let active = pick(&scene.stack, active);
        for change in std::iter::once(Change::Nothing).chain(steps) {
            scene = apply(change, &scene);
            let plain = values(&FastCompositor::new(0), &scene, None);
            let off = furthest(&values(&kept, &scene, active), &plain);
            prop_assert!(off <= 3, "{change:?}: {off} steps");
        }
    }
}

#[test]
fn runs_above_in_one_step_stay_within_a_4096th_of_exact() {
    for seed in 0..6 {
        let mut scene = Dice::new(seed).scene(40, BlendSpace::Encoded);
        let affine =
            [BlendMode::Normal, BlendMode::Multiply, BlendMode::Screen, BlendMode::Exclusion];
        for (index, layer) in scene.stack.layers.iter_mut().enumerate() {
            let layer = Arc::make_mut(layer);
            for cell in layer.cells.values_mut() {
                cell.blend = affine[index % 4];
            }
        }
        let active = scene.stack.layers[scene.stack.layers.len() / 4].id;
        let exact = composite(&scene.composition(), &Unobserved).unwrap();
        let kept = FastCompositor::new(AMPLE);
        for _ in 0..3 {
            let sink = |at: TileAt, tile: &DisplayTile| {
                let off = off(&exact, at, tile);
                assert!(off <= STACK + ROUNDED, "seed {seed}: {} 4096ths", off * 4096.0);
            };
            let tiles = all_tiles();
            kept.tiles(&scene.composition(), Some(active), &BOTH, &tiles, &sink).unwrap();
        }
    }
}

#[derive(Debug)]
struct Lost;

impl PagedTexels for Lost {
    fn read(&self) -> Result<Arc<Texels>, PageError> {
        Err(PageError { reason: "read again".to_owned() })
    }

    fn resident_bytes(&self) -> usize {
        0
    }
}

fn painted(id: u32, blend: BlendMode) -> Layer {
    let mut dice = Dice::new(id);
    let mut cell = |components| PaintedCell {
        values: (0..components).map(|_| dice.plane(0)).collect(),
        coverage: dice.plane(0),
    };
    let cells = [(ChannelId::BASE_COLOUR, cell(3)), (ChannelId::ROUGHNESS, cell(1))];
    let mut layer = Layer::new(LayerId(id), format!("layer {id}"), Content::Painted(cells.into()));
    let cell = CellSettings { blend, ..CellSettings::default() };
    layer.cells = BOTH.map(|channel| (channel, cell.clone())).into();
    layer
}

/// Three layers on each side of the active one, layer 3.
fn seven(blend: BlendMode) -> Scene {
    let mut scene = Dice::new(3).scene(0, BlendSpace::Encoded);
    let layers = (0..7).map(|id| Arc::new(painted(id, blend)));
    scene.stack = Stack { layers: layers.collect() };
    scene
}

/// Takes away the texels of every layer but one.
fn lose_all_but(scene: &Scene, active: LayerId) {
    let others = scene.stack.walk().filter(|layer| layer.id != active);
    for layer in others {
        let Content::Painted(cells) = &layer.content else { continue };
        for plane in cells.values().flat_map(|cell| cell.values.iter().chain([&cell.coverage])) {
            for tile in plane.tiles() {
                if let Tile::Texels(body) = tile {
                    body.set_home(Arc::new(Lost));
                    assert!(body.let_go() > 0);
                }
            }
        }
    }
}

fn repainted(scene: &Scene, active: LayerId, seed: u32) -> Scene {
    let stack = scene.stack.replaced(active, |layer| {
        let mut layer = layer.clone();
        if let Content::Painted(cells) = &mut layer.content {
            let planes = cells.values_mut().flat_map(|cell| &mut cell.values);
            planes.for_each(|plane: &mut Plane| {
                plane.set_tile(TileAt { x: 0, y: 1 }, texels(seed));
            });
        }
        Ok::<_, layers::LayersError>(layer)
    });
    scene.with_stack(stack.unwrap())
}

#[test]
fn a_dab_reads_no_layer_but_the_active_one() {
    for blend in [BlendMode::Normal, BlendMode::Multiply, BlendMode::Exclusion] {
        let (before, active) = (seven(blend), LayerId(3));
        let kept = FastCompositor::new(AMPLE);
        values(&kept, &before, Some(active));
        values(&kept, &before, Some(active));
        let now = repainted(&before, active, 77);
        let plain = values(&FastCompositor::new(0), &now, None);
        lose_all_but(&now, active);
        assert!(furthest(&values(&kept, &now, Some(active)), &plain) <= 3, "{blend:?}");
    }
}

#[test]
fn a_dab_at_the_top_of_an_isolated_group_reads_no_other_layer() {
    let active = LayerId(3);
    let mut before = seven(BlendMode::Screen);
    let below = [10, 11].map(|id| Arc::new(painted(id, BlendMode::SoftLight)));
    let children = below.into_iter().chain([Arc::clone(&before.stack.layers[3])]).collect();
    let content = Content::Group { isolation: Isolation::Isolated, children };
    before.stack.layers[3] = Arc::new(Layer::new(LayerId(20), "group", content));
    let kept = FastCompositor::new(AMPLE);
    values(&kept, &before, Some(active));
    values(&kept, &before, Some(active));
    let now = repainted(&before, active, 77);
    let plain = values(&FastCompositor::new(0), &now, None);
    lose_all_but(&now, active);
    assert!(furthest(&values(&kept, &now, Some(active)), &plain) <= 3);
}

#[test]
fn a_field_that_changed_under_a_mask_below_or_above_is_seen() {
    let mut scene = seven(BlendMode::Multiply);
    for place in [1, 4] {
        let layer = Arc::make_mut(&mut scene.stack.layers[place]);
        layer.mask.terms.push(MaskTerm {
            id: TermId(0),
            on: true,
            invert: false,
            strength: Opacity::FULL,
            combine: Combine::Multiply,
            source: MaskSource::Field(FieldExpr::new(FieldId::Occlusion, 0.0, 1.0).unwrap()),
        });
    }
    let kept = FastCompositor::new(AMPLE);
    let mut before = values(&FastCompositor::new(0), &scene, None);
    for seed in 0..3 {
        scene.fields.0.set_tile(TileAt { x: 1, y: 1 }, texels(seed));
        let plain = values(&FastCompositor::new(0), &scene, None);
        assert!(furthest(&plain, &before) > 3, "the field matters");
        for _ in 0..3 {
            assert!(furthest(&values(&kept, &scene, Some(LayerId(3))), &plain) <= 3);
        }
        before = plain;
    }
}

#[test]
fn the_budget_holds_and_bytes_can_be_had_back() {
    let (scene, active) = (seven(BlendMode::Normal), LayerId(3));
    let ample = FastCompositor::new(AMPLE);
    values(&ample, &scene, Some(active));
    let below = ample.bytes();
    assert!(below > 4 * 4 * 8192, "{below}");
    values(&ample, &scene, Some(active));
    assert!(ample.bytes() > 2 * below);
    ample.evict_to(below);
    assert!(ample.bytes() <= below && ample.bytes() > 0);
    let plain = values(&FastCompositor::new(0), &scene, None);
    assert!(furthest(&values(&ample, &scene, Some(active)), &plain) <= 3);
    ample.evict_to(0);
    assert_eq!(ample.bytes(), 0);

    let tight = FastCompositor::new(below / 2);
    for _ in 0..3 {
        assert!(furthest(&values(&tight, &scene, Some(active)), &plain) <= 3);
        assert!(tight.bytes() <= below / 2);
    }
}
