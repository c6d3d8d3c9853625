//! A step as it is stored. Points of a path are written column by column: neighbours differ little, so that
//! their bytes pack well. Images are objects of their own, which the step names.

use std::collections::BTreeMap;

use std::sync::LazyLock;

use brush::{
    Anchor, BrushSettings, CloneFrom, Curve, Fade, Gradient, GreyImage, Guide, KernelVersion, Path,
    PathPoint, Relief, Response, Responses, Stroke, StrokeKind, SurfacePath, TexturePoint,
};
use document::{Deposit, Shape, Step};
use glam::{DVec3, Vec2};
use layers::{ChannelId, Value};
use raster::Extent;

use super::Node;
use crate::Hash;
use crate::hash::Kind;
use crate::written::{Input, Malformed, Written, write_length};

/// What a stroke does, in one byte. What more there is to say stands with what came with the second kernel.
fn code(kind: StrokeKind) -> u8 {
    match kind {
        StrokeKind::Deposit => 0,
        StrokeKind::Smudge { .. } => 1,
        StrokeKind::Soften { .. } => 2,
        StrokeKind::Clone(CloneFrom::Surface { .. }) => 3,
        StrokeKind::Clone(CloneFrom::Texture(_)) => 4,
    }
}

fn kind_of(code: u8) -> Result<StrokeKind, Malformed> {
    let nowhere = Anchor { position: DVec3::ZERO, normal: DVec3::Y };
    Ok(match code {
        0 => StrokeKind::Deposit,
        1 => StrokeKind::Smudge { hold: 0.0 },
        2 => StrokeKind::Soften { reach: 0.0 },
        3 => StrokeKind::Clone(CloneFrom::Surface { source: nowhere, start: nowhere }),
        4 => StrokeKind::Clone(CloneFrom::Texture(Vec2::ZERO)),
        _ => return Err(Malformed::Content),
    })
}

fn write_kind(kind: StrokeKind, out: &mut Vec<u8>) {
    match kind {
        StrokeKind::Deposit => {}
        StrokeKind::Smudge { hold: number } | StrokeKind::Soften { reach: number } => {
            number.write(out);
        }
        StrokeKind::Clone(CloneFrom::Surface { source, start }) => (source, start).write(out),
        StrokeKind::Clone(CloneFrom::Texture(offset)) => offset.write(out),
    }
}

fn read_kind(kind: StrokeKind, input: &mut Input<'_>) -> Result<StrokeKind, Malformed> {
    Ok(match kind {
        StrokeKind::Deposit => kind,
        StrokeKind::Smudge { .. } => StrokeKind::Smudge { hold: Written::read(input)? },
        StrokeKind::Soften { .. } => StrokeKind::Soften { reach: Written::read(input)? },
        StrokeKind::Clone(CloneFrom::Surface { .. }) => {
            let (source, start) = Written::read(input)?;
            StrokeKind::Clone(CloneFrom::Surface { source, start })
        }
        StrokeKind::Clone(CloneFrom::Texture(_)) => {
            StrokeKind::Clone(CloneFrom::Texture(Written::read(input)?))
        }
    })
}

/// A step, and its images in the order of [`Stroke::images`]. In the step that was read, blank
/// ones stand in their places until they are there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepNode {
    pub(crate) step: Step,
    pub(crate) images: Vec<Hash>,
}

/// The images of a step that is a stroke, a fill or a decal.
pub(crate) fn images_of(step: &Step) -> impl Iterator<Item = &GreyImage> {
    let (stroke, image) = match step {
        Step::Deposit { shape: Shape::Stroke(stroke), .. } => (Some(stroke), None),
        Step::Deposit { shape: Shape::Decal(decal), .. } => (None, Some(&decal.image)),
        Step::Deposit { shape: Shape::Fill { tooth: Some(tooth), .. }, .. } => {
            (None, tooth.relief.image())
        }
        _ => (None, None),
    };
    stroke.into_iter().flat_map(Stroke::images).chain(image)
}

/// The same, to put others in their places.
pub(crate) fn images_of_mut(step: &mut Step) -> impl Iterator<Item = &mut GreyImage> {
    let (stroke, image) = match step {
        Step::Deposit { shape: Shape::Stroke(stroke), .. } => (Some(stroke), None),
        Step::Deposit { shape: Shape::Decal(decal), .. } => (None, Some(&mut decal.image)),
        Step::Deposit { shape: Shape::Fill { tooth: Some(tooth), .. }, .. } => {
            match &mut tooth.relief {
                Relief::Image(image, _) => (None, Some(image)),
                Relief::Pattern(_) => (None, None),
            }
        }
        _ => (None, None),
    };
    stroke.into_iter().flat_map(Stroke::images_mut).chain(image)
}

impl Written for StepNode {
    fn write(&self, out: &mut Vec<u8>) {
        self.step.write(out);
        self.images.iter().for_each(|image| image.write(out));
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let step = Step::read(input)?;
        let count = images_of(&step).count();
        let images = (0..count).map(|_| Written::read(input)).collect::<Result<_, _>>()?;
        Ok(Self { step, images })
    }
}

/// That there is an image; which one stands behind the step.
impl Written for GreyImage {
    fn write(&self, _out: &mut Vec<u8>) {}

    fn read(_input: &mut Input<'_>) -> Result<Self, Malformed> {
        static BLANK: LazyLock<Option<GreyImage>> =
            LazyLock::new(|| GreyImage::new(Extent { width: 1, height: 1 }, vec![u16::MAX]).ok());
        BLANK.clone().ok_or(Malformed::Content)
    }
}

/// Strokes of the first kernel have neither jitter nor tooth nor tip, and of the pen the pressure only.
impl Written for Stroke {
    fn write(&self, out: &mut Vec<u8>) {
        (self.kernel, code(self.kind)).write(out);
        write_path(&self.path, self.kernel, out);
        write_brush(&self.brush, out);
        (self.seed, self.left_out.clone()).write(out);
        if self.kernel == KernelVersion::CURRENT {
            let brush = &self.brush;
            let by_pressure = brush.pressure;
            (brush.jitter, brush.tooth.clone()).write(out);
            (brush.tip.clone(), by_pressure.angle).write(out);
            [by_pressure.size, by_pressure.opacity, by_pressure.flow]
                .map(|response| response.at_full)
                .write(out);
            (brush.tilt, brush.speed).write(out);
            (self.symmetry, self.stencil.clone()).write(out);
            (by_pressure.scatter, by_pressure.tones).write(out);
            write_kind(self.kind, out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let (kernel, kind): (KernelVersion, _) = Written::read(input)?;
        let kind = kind_of(kind)?;
        let path = read_path(input, kernel)?;
        let brush = read_brush(input)?;
        let (seed, left_out) = Written::read(input)?;
        let mut stroke =
            Self { kernel, kind, path, brush, seed, left_out, symmetry: None, stencil: None };
        if kernel == KernelVersion::CURRENT {
            let brush = &mut stroke.brush;
            (brush.jitter, brush.tooth) = Written::read(input)?;
            (brush.tip, brush.pressure.angle) = Written::read(input)?;
            let by_pressure = &mut brush.pressure;
            let of = [&mut by_pressure.size, &mut by_pressure.opacity, &mut by_pressure.flow];
            for (response, at_full) in of.into_iter().zip(<[f32; 3]>::read(input)?) {
                response.at_full = at_full;
            }
            (brush.tilt, brush.speed) = Written::read(input)?;
            (stroke.symmetry, stroke.stencil) = Written::read(input)?;
            let by_pressure = &mut stroke.brush.pressure;
            (by_pressure.scatter, by_pressure.tones) = Written::read(input)?;
            stroke.kind = read_kind(kind, input)?;
        }
        Ok(stroke)
    }
}

/// What strokes of every kernel have.
fn write_brush(brush: &BrushSettings, out: &mut Vec<u8>) {
    [brush.hardness, brush.opacity, brush.flow, brush.spacing].write(out);
    (brush.build_up, brush.reach).write(out);
    let Responses { size, opacity, flow, .. } = brush.pressure;
    [size, opacity, flow].map(|response| [response.at_zero, response.gamma]).write(out);
}

fn read_brush(input: &mut Input<'_>) -> Result<BrushSettings, Malformed> {
    let [hardness, opacity, flow, spacing] = Written::read(input)?;
    let (build_up, reach) = Written::read(input)?;
    let [size, of_opacity, of_flow] = <[[f32; 2]; 3]>::read(input)?
        .map(|[at_zero, gamma]| Response { at_zero, gamma, ..Response::NONE });
    let pressure = Responses { size, opacity: of_opacity, flow: of_flow, ..Responses::NONE };
    let plain = BrushSettings::default();
    Ok(BrushSettings { hardness, opacity, flow, spacing, build_up, reach, pressure, ..plain })
}

/// Words of four bytes that a point takes, those of the first kernel first.
trait Columns: Sized {
    const PLAIN: usize;
    const COUNT: usize;
    fn words(&self) -> Vec<u32>;
    fn of_words(words: &[u32]) -> Option<Self>;
}

impl Columns for PathPoint {
    const PLAIN: usize = 13;
    const COUNT: usize = 17;

    fn words(&self) -> Vec<u32> {
        let floats = self.barycentric.into_iter().chain(self.position.to_array());
        let floats = floats.chain(self.normal.to_array()).chain([self.radius, self.pressure]);
        let floats = floats.chain(self.lean.to_array()).chain([self.speed]);
        [self.part.0, self.triangle.0].into_iter().chain(floats.map(f32::to_bits)).collect()
    }

    fn of_words(words: &[u32]) -> Option<Self> {
        let [part, triangle, floats @ ..] = words else { return None };
        let floats: Vec<f32> = floats.iter().map(|bits| f32::from_bits(*bits)).collect();
        let [a, b, c, x, y, z, nx, ny, nz, radius, pressure, ref pen @ ..] = floats[..] else {
            return None;
        };
        let [lx, ly, lz, speed] = if pen.is_empty() { [0.0; 4] } else { pen.try_into().ok()? };
        Some(Self {
            part: surface::PartId(*part),
            triangle: surface::TriangleId(*triangle),
            barycentric: [a, b, c],
            position: [x, y, z].into(),
            normal: [nx, ny, nz].into(),
            radius,
            pressure,
            lean: [lx, ly, lz].into(),
            speed,
        })
    }
}

impl Columns for TexturePoint {
    const PLAIN: usize = 4;
    const COUNT: usize = 7;

    fn words(&self) -> Vec<u32> {
        let plain = [self.uv.x, self.uv.y, self.radius, self.pressure];
        let pen = [self.lean.x, self.lean.y, self.speed];
        plain.into_iter().chain(pen).map(f32::to_bits).collect()
    }

    fn of_words(words: &[u32]) -> Option<Self> {
        let floats: Vec<f32> = words.iter().map(|bits| f32::from_bits(*bits)).collect();
        let [u, v, radius, pressure, ref pen @ ..] = floats[..] else { return None };
        let [x, y, speed] = if pen.is_empty() { [0.0; 3] } else { pen.try_into().ok()? };
        Some(Self { uv: [u, v].into(), radius, pressure, lean: [x, y].into(), speed })
    }
}

/// How many columns the points of a kernel have.
fn columns<P: Columns>(kernel: KernelVersion) -> usize {
    if kernel == KernelVersion::CURRENT { P::COUNT } else { P::PLAIN }
}

fn write_runs<P: Columns>(runs: &[Vec<P>], kernel: KernelVersion, out: &mut Vec<u8>) {
    write_length(runs.len(), out);
    for run in runs {
        write_length(run.len(), out);
        let words: Vec<Vec<u32>> = run.iter().map(Columns::words).collect();
        for column in 0..columns::<P>(kernel) {
            for words in &words {
                words[column].write(out);
            }
        }
    }
}

fn read_runs<P: Columns>(
    input: &mut Input<'_>,
    kernel: KernelVersion,
) -> Result<Vec<Vec<P>>, Malformed> {
    let runs = input.length(4)?;
    (0..runs).map(|_| read_run(input, columns::<P>(kernel))).collect()
}

fn read_run<P: Columns>(input: &mut Input<'_>, columns: usize) -> Result<Vec<P>, Malformed> {
    let count = input.length(4 * columns)?;
    let columns: Vec<&[[u8; 4]]> = (0..columns)
        .map(|_| Ok(input.bytes(4 * count)?.as_chunks().0))
        .collect::<Result<_, Malformed>>()?;
    let mut words = Vec::with_capacity(P::COUNT);
    let point = |index: usize| {
        words.clear();
        words.extend(columns.iter().map(|column| u32::from_le_bytes(column[index])));
        P::of_words(&words).ok_or(Malformed::Content)
    };
    (0..count).map(point).collect()
}

fn write_path(path: &Path, kernel: KernelVersion, out: &mut Vec<u8>) {
    match path {
        Path::Surface(path) => {
            (0_u8, path.eye).write(out);
            write_runs(&path.runs, kernel, out);
        }
        Path::Texture(runs) => {
            1_u8.write(out);
            write_runs(runs, kernel, out);
        }
        Path::Guided(guide) => {
            2_u8.write(out);
            (guide.curve == Curve::Smooth, guide.closed).write(out);
            write_runs(std::slice::from_ref(&guide.knots), kernel, out);
        }
    }
}

fn read_path(input: &mut Input<'_>, kernel: KernelVersion) -> Result<Path, Malformed> {
    match u8::read(input)? {
        0 => {
            let eye = Written::read(input)?;
            Ok(Path::Surface(SurfacePath { runs: read_runs(input, kernel)?, eye }))
        }
        1 => Ok(Path::Texture(read_runs(input, kernel)?)),
        2 => {
            let (smooth, closed) = Written::read(input)?;
            let curve = if smooth { Curve::Smooth } else { Curve::Straight };
            let knots = read_runs(input, kernel)?.into_iter().flatten().collect();
            Ok(Path::Guided(Guide { knots, curve, closed }))
        }
        _ => Err(Malformed::Content),
    }
}

impl Written for Deposit {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Paint(values) => {
                0_u8.write(out);
                values.write(out);
            }
            Self::Erase(channels) => {
                1_u8.write(out);
                channels.write(out);
            }
            Self::Mask { at, value } => {
                2_u8.write(out);
                (*at, *value).write(out);
            }
            Self::Adjust(target, by) => {
                3_u8.write(out);
                target.write(out);
                by.write(out);
            }
            Self::Move(target) => {
                4_u8.write(out);
                target.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Paint(BTreeMap::<ChannelId, Value>::read(input)?)),
            1 => Ok(Self::Erase(Written::read(input)?)),
            2 => Ok(Self::Mask { at: Written::read(input)?, value: Written::read(input)? }),
            3 => Ok(Self::Adjust(Written::read(input)?, Written::read(input)?)),
            4 => Ok(Self::Move(Written::read(input)?)),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for Shape {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Stroke(stroke) => {
                0_u8.write(out);
                stroke.write(out);
            }
            Self::Fill { scope, opacity, left_out, tooth } => {
                let code: u8 = if tooth.is_some() { 4 } else { 1 };
                code.write(out);
                scope.write(out);
                (*opacity, left_out.clone()).write(out);
                if tooth.is_some() {
                    tooth.write(out);
                }
            }
            Self::Decal(decal) => {
                3_u8.write(out);
                decal.write(out);
            }
            Self::Gradient(gradient) => {
                2_u8.write(out);
                gradient.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Stroke(Written::read(input)?)),
            code @ (1 | 4) => Ok(Self::Fill {
                scope: Written::read(input)?,
                opacity: Written::read(input)?,
                left_out: Written::read(input)?,
                // One that is all alike says nothing of it.
                tooth: if code == 4 { Written::read(input)? } else { None },
            }),
            2 => Ok(Self::Gradient(Written::read(input)?)),
            3 => Ok(Self::Decal(Written::read(input)?)),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for Gradient {
    fn write(&self, out: &mut Vec<u8>) {
        match self.fade {
            Fade::Linear { from, to } => {
                (0_u8, from).write(out);
                to.write(out);
            }
            Fade::Radial { centre, radius } => {
                (1_u8, centre).write(out);
                radius.write(out);
            }
            Fade::Axis { axis, from, to } => {
                (2_u8, axis).write(out);
                (from, to).write(out);
            }
        }
        (self.easing, self.opacity).write(out);
        self.scope.write(out);
        self.left_out.write(out);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let fade = match u8::read(input)? {
            0 => Fade::Linear { from: Written::read(input)?, to: Written::read(input)? },
            1 => Fade::Radial { centre: Written::read(input)?, radius: Written::read(input)? },
            2 => Fade::Axis {
                axis: Written::read(input)?,
                from: Written::read(input)?,
                to: Written::read(input)?,
            },
            _ => return Err(Malformed::Content),
        };
        let (easing, opacity) = Written::read(input)?;
        let (scope, left_out) = (Written::read(input)?, Written::read(input)?);
        Ok(Self { fade, easing, opacity, scope, left_out })
    }
}

impl Written for Step {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Deposit { deposit, shape } => {
                0_u8.write(out);
                deposit.write(out);
                shape.write(out);
            }
            Self::Clear(channels) => {
                1_u8.write(out);
                channels.write(out);
            }
            Self::MaskStart { at, value } => {
                2_u8.write(out);
                (*at, *value).write(out);
            }
            Self::Mirror { target, mirror } => {
                3_u8.write(out);
                target.write(out);
                mirror.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Deposit { deposit: Written::read(input)?, shape: Written::read(input)? }),
            1 => Ok(Self::Clear(Written::read(input)?)),
            2 => Ok(Self::MaskStart { at: Written::read(input)?, value: Written::read(input)? }),
            3 => Ok(Self::Mirror { target: Written::read(input)?, mirror: Written::read(input)? }),
            _ => Err(Malformed::Content),
        }
    }
}

impl Node for StepNode {
    const KIND: Kind = Kind::Step;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.images.iter().for_each(|image| visit(Kind::Image, *image));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stroke(kernel: KernelVersion, brush: BrushSettings) -> Stroke {
        let (kind, left_out) = (StrokeKind::Deposit, brush::LeftOut::default());
        let (lean, speed) = ([0.25, -0.5].into(), 0.75);
        let point = TexturePoint { uv: [1.0, 2.0].into(), radius: 3.0, pressure: 0.5, lean, speed };
        let path = Path::Texture(vec![vec![point; 2]]);
        Stroke { kernel, kind, path, brush, seed: 7, left_out, symmetry: None, stencil: None }
    }

    fn back(stroke: &Stroke) -> Stroke {
        let content = crate::written::content_of(1, stroke);
        crate::written::read_content(1, &content).unwrap()
    }

    #[test]
    fn what_came_later_stands_in_strokes_of_the_kernel_that_has_it() {
        let response = |at_full| Response { at_zero: 0.125, at_full, gamma: 2.0 };
        let by = |at_full| Responses {
            size: response(at_full),
            opacity: response(1.0),
            flow: response(at_full),
            angle: response(0.25),
            scatter: response(0.75),
            tones: response(at_full),
        };
        let brush = BrushSettings {
            pressure: by(0.5),
            tilt: by(0.75),
            speed: by(0.875),
            jitter: brush::Jitter {
                size: 0.1,
                opacity: 0.2,
                position: 0.3,
                angle: 0.4,
                hue: 50.0,
                shade: 0.6,
                value: 0.7,
            },
            tooth: Some(brush::Tooth { seed: 99, ..brush::Tooth::default() }),
            tip: brush::Tip { aspect: 0.5, lies: brush::Lies::Tilt, ..brush::Tip::ROUND },
            ..BrushSettings::default()
        };
        let full = stroke(KernelVersion::CURRENT, brush.clone());
        assert_eq!(back(&full), full);
        let anchor = Anchor { position: DVec3::new(1.0, 2.0, 3.0), normal: DVec3::Z };
        for kind in [
            StrokeKind::Smudge { hold: 0.4 },
            StrokeKind::Soften { reach: 0.3 },
            StrokeKind::Clone(CloneFrom::Surface { source: anchor, start: anchor }),
            StrokeKind::Clone(CloneFrom::Texture(Vec2::new(0.1, -0.2))),
        ] {
            let centre = DVec3::new(0.5, 0.0, 1.0);
            let turns = Some((brush::Axis::Z, 5));
            let symmetry = brush::Symmetry { centre, mirrors: [true, false, true], turns };
            let moving = Stroke { kind, symmetry: Some(symmetry), ..full.clone() };
            assert_eq!(back(&moving), moving);
        }
        for kernel in [KernelVersion::PLAIN, KernelVersion(77)] {
            let plain = back(&stroke(kernel, brush.clone()));
            let pressed = |full: Response| Response { at_full: 1.0, ..full };
            let Responses { size, opacity, flow, .. } = brush.pressure;
            assert_eq!(plain.brush.pressure.size, pressed(size));
            assert_eq!(plain.brush.pressure.opacity, pressed(opacity));
            assert_eq!(plain.brush.pressure.flow, pressed(flow));
            assert_eq!((plain.brush.tooth, plain.brush.speed), (None, Responses::NONE));
            let Path::Texture(runs) = plain.path else { panic!("it was on the texture") };
            assert_eq!((runs[0][1].pressure, runs[0][1].speed), (0.5, 0.0));
        }
    }
}
