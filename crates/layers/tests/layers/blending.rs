//! Blend modes against `blend_vectors.csv`: W3C Compositing and Blending Level 1, evaluated in float64
//! outside of this project; the table's first line says how. And check values worked out by hand.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, ChannelKind, Composition, Content, Isolation,
    Layer, LayerId, NoFields, Opacity, Stack, Value, composite, standard_channels,
};
use raster::{TextureSize, Unobserved, to_unit};

struct Vector {
    line: String,
    mode: BlendMode,
    backdrop: [u8; 4],
    source: [u8; 4],
    opacity: f32,
    expected: [f32; 4],
}

fn vectors() -> Vec<Vector> {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/blend_vectors.csv");
    let text = std::fs::read_to_string(path).unwrap();
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(|line| {
        let fields: Vec<&str> = line.split(',').collect();
        let bytes = |from: usize| std::array::from_fn(|i| fields[from + i].parse().unwrap());
        Vector {
            line: line.to_owned(),
            mode: BlendMode::from_key(fields[0]).unwrap(),
            backdrop: bytes(1),
            source: bytes(5),
            opacity: fields[9].parse().unwrap(),
            expected: std::array::from_fn(|i| fields[10 + i].parse().unwrap()),
        }
    })
    .collect()
}

fn byte(byte: u8) -> f32 {
    f32::from(byte) / 255.0
}

#[test]
fn blend_functions_agree_with_the_vectors_within_1e_5() {
    let vectors = vectors();
    assert_eq!(vectors.len(), 2400);
    for Vector { line, mode, backdrop, source, opacity, expected } in vectors {
        let [br, bg, bb, ba] = backdrop.map(byte);
        let [sr, sg, sb, sa] = source.map(byte);
        let (cb, cs, a) = ([br, bg, bb], [sr, sg, sb], sa * opacity);
        let covered = a + ba * (1.0 - a);
        assert!((covered - expected[3]).abs() < 1e-5, "{line}");
        let mixed = mode.blend_colour(cb, cs);
        for i in 0..3 {
            let cr = (1.0 - ba) * cs[i] + ba * mixed[i];
            let co = a * cr + (1.0 - a) * ba * cb[i];
            let straight = if covered > 0.0 { co / covered } else { 0.0 };
            assert!((straight - expected[i]).abs() < 1e-5, "{straight}: {line}");
            if mode.is_separable() {
                assert_eq!(mode.blend_scalar(cb[i], cs[i]), mixed[i], "{line}");
            }
        }
    }
}

fn solid(id: u32, colour: [u8; 3], opacity: f32, blend: BlendMode) -> Arc<Layer> {
    let value = Value::Colour(colour.map(|byte| u16::from(byte) * 257));
    let mut layer = Layer::new(
        LayerId(id),
        "",
        Content::Solid(BTreeMap::from([(ChannelId::BASE_COLOUR, value)])),
    );
    layer.opacity = Opacity::new(opacity).unwrap();
    layer.cells.insert(ChannelId::BASE_COLOUR, CellSettings { blend, ..CellSettings::default() });
    Arc::new(layer)
}

/// The base colour of layers over black, and how much was painted.
fn over_black(layers: Vec<Arc<Layer>>, blend_space: BlendSpace) -> ([u16; 3], u16) {
    let channels = &standard_channels()[..1];
    let composition = Composition {
        stack: &Stack { layers },
        ground: &BTreeMap::from([(ChannelId::BASE_COLOUR, Value::Colour([0; 3]))]),
        channels,
        blend_space,
        size: TextureSize::new(64).unwrap(),
        fields: &NoFields,
    };
    let composite = composite(&composition, &Unobserved).unwrap();
    let channel = &composite.channels[&ChannelId::BASE_COLOUR];
    let at = |plane: &raster::Plane| plane.texel(7, 7).unwrap();
    (std::array::from_fn(|i| at(&channel.values[i])), at(&channel.painted))
}

/// Backdrop and source are solid layers in an isolated group, so that the backdrop's coverage counts;
/// over black the group shows its premultiplied colour. Half a stored step is 7.6e-6.
#[test]
fn a_stack_agrees_with_the_vectors_within_1e_5() {
    for Vector { line, mode, backdrop, source, opacity, expected } in vectors() {
        let [br, bg, bb, ba] = backdrop;
        let [sr, sg, sb, sa] = source;
        let children = vec![
            solid(1, [br, bg, bb], byte(ba), BlendMode::Normal),
            solid(2, [sr, sg, sb], byte(sa) * opacity, mode),
        ];
        let group = Content::Group { isolation: Isolation::Isolated, children };
        let group = Arc::new(Layer::new(LayerId(0), "", group));
        let (colour, painted) = over_black(vec![group], BlendSpace::Encoded);
        assert!((to_unit(painted) - expected[3]).abs() < 1e-5, "{line}");
        for i in 0..3 {
            let premultiplied = expected[i] * expected[3];
            assert!((to_unit(colour[i]) - premultiplied).abs() < 1e-5, "{colour:?}: {line}");
        }
    }
}

/// Worked out from W3C's formulas.
#[test]
fn half_over_half_gives_three_quarters() {
    let cases = [
        (BlendMode::Normal, 0.5, 0.666_67),
        (BlendMode::Multiply, 0.38, 0.506_67),
        (BlendMode::Screen, 0.52, 0.693_33),
    ];
    for (mode, premultiplied, straight) in cases {
        let layers =
            vec![solid(1, [102; 3], 0.5, BlendMode::Normal), solid(2, [204; 3], 0.5, mode)];
        let group = Content::Group { isolation: Isolation::Isolated, children: layers };
        let group = Arc::new(Layer::new(LayerId(0), "", group));
        let (colour, painted) = over_black(vec![group], BlendSpace::Encoded);
        assert!((to_unit(painted) - 0.75).abs() < 1e-5);
        assert!((to_unit(colour[0]) - premultiplied).abs() < 1e-5, "{}", mode.key());
        assert!((to_unit(colour[0]) / to_unit(painted) - straight).abs() < 2e-5, "{}", mode.key());
    }
}

/// Worked out from W3C's formula.
#[test]
fn soft_light_darkens_and_lightens_by_its_four_branches() {
    let cases = [(0.25, 0.75, 0.375), (0.5, 0.25, 0.375), (0.2, 0.8, 0.3488), (0.64, 1.0, 0.8)];
    for (backdrop, source, expected) in cases {
        let blended = BlendMode::SoftLight.blend_scalar(backdrop, source);
        assert!((blended - expected).abs() < 1e-6, "{blended} for {expected}");
    }
}

/// W3C 10.1.7 and 10.1.8 test the backdrop first.
#[test]
fn black_stays_black_when_dodged_and_white_stays_white_when_burnt() {
    assert_eq!(BlendMode::ColorDodge.blend_scalar(0.0, 1.0), 0.0);
    assert_eq!(BlendMode::ColorDodge.blend_scalar(0.1, 1.0), 1.0);
    assert_eq!(BlendMode::ColorBurn.blend_scalar(1.0, 0.0), 1.0);
    assert_eq!(BlendMode::ColorBurn.blend_scalar(0.9, 0.0), 0.0);
}

#[test]
fn add_and_subtract_stop_at_1_and_0() {
    assert_eq!(BlendMode::Add.blend_scalar(0.25, 0.5), 0.75);
    assert_eq!(BlendMode::Add.blend_scalar(0.75, 0.5), 1.0);
    assert_eq!(BlendMode::Subtract.blend_scalar(0.75, 0.5), 0.25);
    assert_eq!(BlendMode::Subtract.blend_scalar(0.25, 0.5), 0.0);
}

/// IEC 61966-2-1: linear 0.5 encodes to 187.5 of 255.
#[test]
fn half_white_over_black_is_188_in_linear_light_and_128_encoded() {
    for (space, expected) in [(BlendSpace::Linear, 188), (BlendSpace::Encoded, 128)] {
        let (colour, _) = over_black(vec![solid(1, [255; 3], 0.5, BlendMode::Normal)], space);
        let byte = (to_unit(colour[0]) * 255.0).round() as u8;
        assert_eq!(byte, expected, "{space:?}");
    }
}

#[test]
fn keys_name_their_modes_and_are_all_different() {
    let mut keys: Vec<&str> = BlendMode::ALL.iter().map(|mode| mode.key()).collect();
    for mode in BlendMode::ALL {
        assert_eq!(BlendMode::from_key(mode.key()), Some(mode));
        assert!(mode.allowed_for(ChannelKind::Colour));
        assert_eq!(mode.allowed_for(ChannelKind::Scalar), mode.is_separable());
    }
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), 18);
    assert_eq!(BlendMode::from_key("colour-dodge"), None);
}

/// Greys and corners make W3C's divisions 0 / 0; a result outside of 0..1 would spread upwards.
#[test]
fn every_mode_stays_within_0_and_1_on_a_grid() {
    let grid = [0.0, 1e-7, 0.1, 0.25, 0.5, 0.500_000_06, 0.999_999_94, 1.0];
    let colours = || {
        grid.iter()
            .flat_map(|&r| grid.iter().map(move |&b| [r, 0.5, b]))
            .chain(grid.map(|c| [c; 3]))
    };
    for mode in BlendMode::ALL {
        for backdrop in colours() {
            for source in colours() {
                let blended = mode.blend_colour(backdrop, source);
                assert!(
                    blended.iter().all(|c| (0.0..=1.0).contains(c)),
                    "{mode:?} {backdrop:?} {source:?} {blended:?}"
                );
            }
        }
    }
}

/// The luminosity of a grey is not the grey in f32: moved to 0 or 1 it leaves the range by an ulp.
#[test]
fn every_grey_takes_black_and_white_without_a_division_by_zero() {
    for stored in 0..=u16::MAX {
        let grey = [to_unit(stored); 3];
        for target in [0.0, 1.0] {
            let blended = BlendMode::Luminosity.blend_colour(grey, [target; 3]);
            assert!(blended.iter().all(|c| (c - target).abs() < 1e-6), "{stored}: {blended:?}");
        }
    }
}
