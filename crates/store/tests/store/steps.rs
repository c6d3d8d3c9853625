//! A step of each kind that an edit can be.

use std::collections::BTreeMap;

use brush::{
    Adjustment, Anchor, Axis, BrushSettings, CloneFrom, Curve, Decal, Easing, Fade, FillScope,
    Gradient, GreyImage, Guide, Hold, Jitter, KernelVersion, LeftOut, Lies, Mirror, Path,
    PathPoint, Pattern, Relief, Stencil, Stroke, StrokeKind, SurfacePath, Symmetry, TexturePoint,
    Tiling, Tip, Tooth,
};
use document::{Deposit, MaskAt, MaskOwner, Shape, Step, Target};
use glam::{DVec3, DVec4, Vec2, Vec3};
use layers::{ChannelId, TermId, Value};
use raster::Extent;
use surface::{PartId, TriangleId};

use crate::documents::surface_stroke;

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGHNESS: ChannelId = ChannelId::ROUGHNESS;
const MASK: MaskAt = MaskAt { owner: MaskOwner::Layer, term: TermId(1) };

/// The step of a number: each kind in its turn, no two alike.
pub(crate) fn step(number: u32) -> Step {
    let share = (number % 97) as f32 / 97.0;
    let left_out = || LeftOut::new([PartId(number % 2)], []);
    let shape = match number % 16 {
        0 => return surface_stroke(number, 20),
        1 => Shape::Stroke(imaged(number)),
        2 => return moved(StrokeKind::Smudge { hold: share }, along_surface(), number),
        3 => return moved(StrokeKind::Soften { reach: 0.1 + share / 2.0 }, guided(number), number),
        4 => return moved(clone_on_surface(number), along_surface(), number),
        5 => {
            let from = CloneFrom::Texture(Vec2::new(share, -0.25));
            return moved(StrokeKind::Clone(from), along_texture(), number);
        }
        6 => Shape::Stroke(toothed(number)),
        7 => {
            let scope = FillScope::Crease { from: TriangleId(number % 3), angle: share };
            let relief = Relief::Image(image(number), Tiling::Structured);
            let tooth = (number % 32 == 7).then(|| Tooth { relief, ..Tooth::default() });
            Shape::Fill { scope, opacity: share, left_out: left_out(), tooth }
        }
        8 => {
            let fade = Fade::Radial { centre: Vec3::new(share, 0.0, -1.0), radius: 0.25 };
            let (easing, scope) = (Easing::Smooth, FillScope::Part(PartId(1)));
            Shape::Gradient(Gradient { fade, easing, opacity: share, scope, left_out: left_out() })
        }
        9 => Shape::Decal(decal(number)),
        10 | 11 => {
            let target = if number % 16 == 10 { Target::Mask(MASK) } else { cells() };
            let mirror = Mirror { axis: Axis::Y, at: share, moves: true, left_out: left_out() };
            return Step::Mirror { target, mirror };
        }
        12 | 13 => {
            let by = if number % 16 == 12 {
                Adjustment::Lighten(share)
            } else {
                Adjustment::Shift { hue: 90.0 * share, saturation: -share, value: 0.5 }
            };
            let stroke = stroke(StrokeKind::Deposit, along_texture(), number);
            let deposit = Deposit::Adjust(cells(), by);
            return Step::Deposit { deposit, shape: Shape::Stroke(stroke) };
        }
        14 => return Step::Clear(vec![COLOUR]),
        _ => {
            let value = number as u16;
            return Step::MaskStart { at: MASK, value };
        }
    };
    let values =
        BTreeMap::from([(COLOUR, Value::Colour([1, 2, 3])), (ROUGHNESS, Value::Scalar(9))]);
    let deposit = match number % 3 {
        0 => Deposit::Paint(values),
        1 => Deposit::Erase(vec![COLOUR, ROUGHNESS]),
        _ => Deposit::Mask { at: MASK, value: number as u16 },
    };
    Step::Deposit { deposit, shape }
}

fn cells() -> Target {
    Target::Cells(vec![COLOUR, ROUGHNESS])
}

/// One of a few images, so that some come again.
fn image(number: u32) -> GreyImage {
    let seed = number / 16 % 3;
    let values = (0..40 * 30).map(|n| (n * 2654 + seed) as u16).collect();
    GreyImage::new(Extent { width: 40, height: 30 }, values).unwrap()
}

fn point(index: usize) -> PathPoint {
    let t = index as f32 / 5.0;
    PathPoint {
        part: PartId(0),
        triangle: TriangleId(1),
        barycentric: [0.5, 0.25, 0.25],
        position: Vec3::new(t, 0.5, -t),
        normal: Vec3::Z,
        radius: 0.2,
        pressure: 0.75,
        lean: Vec3::new(0.1, 0.2, 0.0),
        speed: 3.0 * t,
    }
}

fn along_surface() -> Path {
    let runs = vec![(0..6).map(point).collect()];
    Path::Surface(SurfacePath { runs, eye: Some(DVec3::new(1.0, 2.0, 3.0)) })
}

fn guided(number: u32) -> Path {
    let curve = if number.is_multiple_of(2) { Curve::Straight } else { Curve::Smooth };
    let knots = (0..4).map(|index| point(3 * index)).collect();
    Path::Guided(Guide { knots, curve, closed: true })
}

fn along_texture() -> Path {
    Path::Texture(vec![vec![TexturePoint::of(Vec2::new(0.25, 0.5), 0.1); 3]])
}

fn stroke(kind: StrokeKind, path: Path, number: u32) -> Stroke {
    Stroke {
        kernel: KernelVersion::CURRENT,
        kind,
        path,
        brush: BrushSettings::default(),
        seed: u64::from(number),
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    }
}

/// With an image as its tip and one as its tooth, through a stencil, mirrored; its dabs differ in all that they can.
fn imaged(number: u32) -> Stroke {
    let relief = Relief::Image(image(number), Tiling::Unstructured);
    let jitter = Jitter {
        size: 0.1,
        opacity: 0.2,
        position: 0.3,
        angle: 0.4,
        hue: 50.0,
        shade: 0.5,
        value: 0.6,
    };
    let tip = Tip { image: Some(image(number + 16)), lies: Lies::Stroke, ..Tip::ROUND };
    let places = [
        DVec4::new(0.8, 0.1, 0.0, -0.5),
        DVec4::new(0.0, 0.2, 0.9, 0.1),
        DVec4::new(0.05, 0.0, 0.0, 1.0),
    ];
    let mirrors = [true, false, true];
    Stroke {
        brush: BrushSettings {
            tip,
            tooth: Some(Tooth { relief, ..Tooth::default() }),
            jitter,
            ..BrushSettings::default()
        },
        symmetry: Some(Symmetry { centre: DVec3::ONE, mirrors, turns: None }),
        stencil: Some(Stencil { image: image(number + 32), inverted: true, places }),
        ..stroke(StrokeKind::Deposit, along_surface(), number)
    }
}

/// Along points that can be moved, with a tooth of its dabs.
fn toothed(number: u32) -> Stroke {
    let relief = Relief::Pattern(Pattern::Fibres);
    let tooth = Tooth { relief, hold: Hold::Stamped, ..Tooth::default() };
    let brush = BrushSettings { tooth: Some(tooth), ..BrushSettings::default() };
    Stroke { brush, ..stroke(StrokeKind::Deposit, guided(number), number) }
}

fn anchor(number: u32) -> Anchor {
    let position = DVec3::new(0.1, 0.2, f64::from(number % 7));
    Anchor { position, normal: DVec3::Z }
}

fn clone_on_surface(number: u32) -> StrokeKind {
    StrokeKind::Clone(CloneFrom::Surface { source: anchor(number), start: anchor(number + 1) })
}

/// A stroke that moves paint: of cells, or of a mask.
fn moved(kind: StrokeKind, path: Path, number: u32) -> Step {
    let target = if number.is_multiple_of(5) { Target::Mask(MASK) } else { cells() };
    let shape = Shape::Stroke(stroke(kind, path, number));
    Step::Deposit { deposit: Deposit::Move(target), shape }
}

fn decal(number: u32) -> Decal {
    Decal {
        image: image(number),
        middle: anchor(number),
        up: DVec3::new(0.0, 1.0, 0.5),
        half: 0.25,
        turn: -0.5,
        opacity: 0.75,
        left_out: LeftOut::default(),
    }
}
