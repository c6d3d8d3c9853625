//! The names of what is stored: hashes of kind and content.

use std::fmt;

/// The BLAKE3-256 hash of an object's kind and content. Names it, and tells whether it is whole.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hash(pub [u8; 32]);

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Hash({self})")
    }
}

/// What an object is. Numbers are never given to another kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Kind {
    Tile = 1,
    Page = 2,
    Plane = 3,
    Piece = 4,
    Mesh = 5,
    Image = 6,
    PassMap = 7,
    Model = 8,
    Step = 9,
    Steps = 10,
    Base = 11,
    Recipe = 12,
    Layer = 13,
    Material = 14,
    Document = 15,
}

impl Kind {
    /// The number in files.
    pub(crate) const fn code(self) -> u8 {
        self as u8
    }

    /// What it is, for a person.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Tile => "tile",
            Self::Page => "page of tiles",
            Self::Plane => "plane",
            Self::Piece => "piece of data",
            Self::Mesh => "mesh",
            Self::Image => "image",
            Self::PassMap => "map",
            Self::Model => "model",
            Self::Step => "stroke",
            Self::Steps => "list of strokes",
            Self::Base => "base of a recipe",
            Self::Recipe => "recipe",
            Self::Layer => "layer",
            Self::Material => "material",
            Self::Document => "document",
        }
    }

    /// The hash of a content of this kind.
    pub(crate) fn hash(self, content: &[u8]) -> Hash {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&[self.code()]);
        hasher.update(content);
        Hash(*hasher.finalize().as_bytes())
    }
}

/// The hash of a row of a table other than that of objects: over its columns, each behind its length.
pub(crate) fn checksum(columns: &[&[u8]]) -> Hash {
    let mut hasher = blake3::Hasher::new();
    hasher.update(b"row");
    for column in columns {
        hasher.update(&(column.len() as u64).to_le_bytes());
        hasher.update(column);
    }
    Hash(*hasher.finalize().as_bytes())
}
