//! A stroke as an edit records it: everything that replay needs, and nothing of screen or clock.

use crate::{BrushError, BrushSettings, LeftOut, Path};

/// Which arithmetic turns a stroke into texels. Raised whenever the same stroke would give other bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KernelVersion(pub u16);

impl KernelVersion {
    /// Round dabs that are all alike.
    pub const PLAIN: Self = Self(1);
    /// The arithmetic of this program: with tooth, jitter and ovals. A brush that has none of them gives what
    /// [`KernelVersion::PLAIN`] gives.
    pub const CURRENT: Self = Self(2);

    /// True when this program can replay strokes of that version.
    pub fn is_known(self) -> bool {
        self == Self::PLAIN || self == Self::CURRENT
    }
}

/// What a stroke does to texels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrokeKind {
    /// Coverage builds up in a buffer and is composited once: paint, erase.
    Deposit,
    /// Each dab reads texels, then writes them, in order: smudge, soften, clone.
    Transport,
}

/// Pen down to pen up, resolved.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// The arithmetic that made it.
    pub kernel: KernelVersion,
    /// What it does.
    pub kind: StrokeKind,
    /// Where it goes.
    pub path: Path,
    /// The brush.
    pub brush: BrushSettings,
    /// Seed of everything random in it; random numbers depend on the seed and a dab's number only.
    pub seed: u64,
    /// Parts that it does not paint.
    pub left_out: LeftOut,
}

impl Stroke {
    /// # Errors
    /// [`BrushError`] where the kernel is unknown, a setting is out of range, or the path is not valid on
    /// a surface of `triangle_count` triangles.
    pub fn check(&self, triangle_count: usize) -> Result<(), BrushError> {
        if !self.kernel.is_known() {
            return Err(BrushError::UnknownKernel { version: self.kernel.0 });
        }
        if self.kind == StrokeKind::Transport {
            return Err(BrushError::Transport);
        }
        if self.kernel == KernelVersion::PLAIN && !self.brush.is_plain() {
            return Err(BrushError::NotInKernel { version: self.kernel.0 });
        }
        self.brush.check()?;
        self.path.check(triangle_count)
    }
}
