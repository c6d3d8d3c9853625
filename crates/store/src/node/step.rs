//! A step as it is stored. Points of a path are written column by column: neighbours differ little, so that
//! their bytes pack well.

use std::collections::BTreeMap;

use brush::{
    Anchor, BrushSettings, CloneFrom, Curve, Fade, Gradient, Guide, KernelVersion, Path, PathPoint,
    Stroke, StrokeKind, SurfacePath, TexturePoint,
};
use document::{Deposit, Shape, Step};
use glam::{DVec3, Vec2};
use layers::{ChannelId, Value};

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

/// Jitter, tooth, tip and symmetry came with the second kernel; strokes of others stand without.
impl Written for Stroke {
    fn write(&self, out: &mut Vec<u8>) {
        (self.kernel, code(self.kind)).write(out);
        self.path.write(out);
        write_brush(&self.brush, out);
        (self.seed, self.left_out.clone()).write(out);
        if self.kernel == KernelVersion::CURRENT {
            (self.brush.jitter, self.brush.tooth).write(out);
            (self.brush.tip, self.symmetry).write(out);
            write_kind(self.kind, out);
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let (kernel, kind) = Written::read(input)?;
        let kind = kind_of(kind)?;
        let path = Written::read(input)?;
        let brush = read_brush(input)?;
        let (seed, left_out) = Written::read(input)?;
        let mut stroke = Self { kernel, kind, path, brush, seed, left_out, symmetry: None };
        if kernel == KernelVersion::CURRENT {
            (stroke.brush.jitter, stroke.brush.tooth) = Written::read(input)?;
            (stroke.brush.tip, stroke.symmetry) = Written::read(input)?;
            stroke.kind = read_kind(kind, input)?;
        }
        Ok(stroke)
    }
}

/// What strokes of every kernel have.
fn write_brush(brush: &BrushSettings, out: &mut Vec<u8>) {
    [brush.hardness, brush.opacity, brush.flow, brush.spacing].write(out);
    (brush.build_up, brush.reach).write(out);
    brush.pressure.write(out);
}

fn read_brush(input: &mut Input<'_>) -> Result<BrushSettings, Malformed> {
    let [hardness, opacity, flow, spacing] = Written::read(input)?;
    let (build_up, reach) = Written::read(input)?;
    let pressure = Written::read(input)?;
    let plain = BrushSettings::default();
    Ok(BrushSettings { hardness, opacity, flow, spacing, build_up, reach, pressure, ..plain })
}

/// Words of four bytes that a point takes.
trait Columns: Sized {
    const COUNT: usize;
    fn words(&self) -> Vec<u32>;
    fn of_words(words: &[u32]) -> Option<Self>;
}

impl Columns for PathPoint {
    const COUNT: usize = 13;

    fn words(&self) -> Vec<u32> {
        let floats = self.barycentric.into_iter().chain(self.position.to_array());
        let floats = floats.chain(self.normal.to_array()).chain([self.radius, self.pressure]);
        [self.part.0, self.triangle.0].into_iter().chain(floats.map(f32::to_bits)).collect()
    }

    fn of_words(words: &[u32]) -> Option<Self> {
        let [part, triangle, floats @ ..] = words else { return None };
        let floats: Vec<f32> = floats.iter().map(|bits| f32::from_bits(*bits)).collect();
        let [a, b, c, x, y, z, nx, ny, nz, radius, pressure] = floats[..] else { return None };
        Some(Self {
            part: surface::PartId(*part),
            triangle: surface::TriangleId(*triangle),
            barycentric: [a, b, c],
            position: [x, y, z].into(),
            normal: [nx, ny, nz].into(),
            radius,
            pressure,
        })
    }
}

impl Columns for TexturePoint {
    const COUNT: usize = 4;

    fn words(&self) -> Vec<u32> {
        [self.uv.x, self.uv.y, self.radius, self.pressure].map(f32::to_bits).to_vec()
    }

    fn of_words(words: &[u32]) -> Option<Self> {
        let [u, v, radius, pressure] = words else { return None };
        let [u, v, radius, pressure] = [u, v, radius, pressure].map(|bits| f32::from_bits(*bits));
        Some(Self { uv: [u, v].into(), radius, pressure })
    }
}

fn write_runs<P: Columns>(runs: &[Vec<P>], out: &mut Vec<u8>) {
    write_length(runs.len(), out);
    for run in runs {
        write_length(run.len(), out);
        let words: Vec<Vec<u32>> = run.iter().map(Columns::words).collect();
        for column in 0..P::COUNT {
            for words in &words {
                words[column].write(out);
            }
        }
    }
}

fn read_runs<P: Columns>(input: &mut Input<'_>) -> Result<Vec<Vec<P>>, Malformed> {
    let runs = input.length(4)?;
    (0..runs).map(|_| read_run(input)).collect()
}

fn read_run<P: Columns>(input: &mut Input<'_>) -> Result<Vec<P>, Malformed> {
    let count = input.length(4 * P::COUNT)?;
    let columns: Vec<&[[u8; 4]]> = (0..P::COUNT)
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

impl Written for Path {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Surface(path) => {
                (0_u8, path.eye).write(out);
                write_runs(&path.runs, out);
            }
            Self::Texture(runs) => {
                1_u8.write(out);
                write_runs(runs, out);
            }
            Self::Guided(guide) => {
                2_u8.write(out);
                (guide.curve == Curve::Smooth, guide.closed).write(out);
                write_runs(std::slice::from_ref(&guide.knots), out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => {
                let eye = Written::read(input)?;
                Ok(Self::Surface(SurfacePath { runs: read_runs(input)?, eye }))
            }
            1 => Ok(Self::Texture(read_runs(input)?)),
            2 => {
                let (smooth, closed) = Written::read(input)?;
                let curve = if smooth { Curve::Smooth } else { Curve::Straight };
                let knots = read_runs(input)?.into_iter().flatten().collect();
                Ok(Self::Guided(Guide { knots, curve, closed }))
            }
            _ => Err(Malformed::Content),
        }
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
            Self::Fill { scope, opacity, left_out } => {
                1_u8.write(out);
                scope.write(out);
                (*opacity, left_out.clone()).write(out);
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
            1 => Ok(Self::Fill {
                scope: Written::read(input)?,
                opacity: Written::read(input)?,
                left_out: Written::read(input)?,
            }),
            2 => Ok(Self::Gradient(Written::read(input)?)),
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
            Self::Mirror { channels, mirror } => {
                3_u8.write(out);
                channels.write(out);
                mirror.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Deposit { deposit: Written::read(input)?, shape: Written::read(input)? }),
            1 => Ok(Self::Clear(Written::read(input)?)),
            2 => Ok(Self::MaskStart { at: Written::read(input)?, value: Written::read(input)? }),
            3 => {
                Ok(Self::Mirror { channels: Written::read(input)?, mirror: Written::read(input)? })
            }
            _ => Err(Malformed::Content),
        }
    }
}

impl Node for Step {
    const KIND: Kind = Kind::Step;

    fn references(&self, _visit: &mut dyn FnMut(Kind, Hash)) {}
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tooth_and_jitter_stand_in_strokes_of_the_kernel_that_has_them() {
        let plain = Stroke {
            kernel: KernelVersion::PLAIN,
            kind: StrokeKind::Deposit,
            path: Path::Texture(Vec::new()),
            brush: BrushSettings::default(),
            seed: 7,
            left_out: brush::LeftOut::default(),
            symmetry: None,
        };
        let jitter = brush::Jitter { size: 0.1, opacity: 0.2, position: 0.3 };
        let tooth = Some(brush::Tooth { seed: 99, ..brush::Tooth::default() });
        let tip = brush::Tip { aspect: 0.5, lies: brush::Lies::Stroke, turn: 0.25 };
        let brush = BrushSettings { jitter, tooth, tip, ..BrushSettings::default() };
        let toothed = Stroke { kernel: KernelVersion::CURRENT, brush, ..plain.clone() };
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
            let moving = Stroke { kind, symmetry: Some(symmetry), ..toothed.clone() };
            let content = crate::written::content_of(1, &moving);
            assert_eq!(crate::written::read_content::<Stroke>(1, &content), Ok(moving));
        }
        let later = Stroke { kernel: KernelVersion(77), ..plain.clone() };
        let written = [&plain, &toothed, &later].map(|stroke| {
            let content = crate::written::content_of(1, stroke);
            let back: Stroke = crate::written::read_content(1, &content).unwrap();
            assert_eq!(back, *stroke);
            content.len()
        });
        assert!(written[0] == written[2] && written[1] > written[0]);
    }
}
