//! What of a file is lost, named so that the person finds the place.

use std::fmt;

use layers::{ChannelId, FieldId, TermId, standard_channels};
use raster::TileAt;

/// Which plane of a material.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlaneOf {
    /// A component of what is painted in a channel.
    Values(ChannelId, u8),
    /// The coverage of what is painted in a channel.
    Coverage(ChannelId),
    /// A term of the layer's mask.
    LayerMask(TermId),
    /// A term of the mask of a channel's cell.
    CellMask(ChannelId, TermId),
    /// A baked field.
    Field(FieldId),
    /// What may be painted, or could be when a stroke was.
    Selection,
}

impl fmt::Display for PlaneOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Values(channel, component) => {
                write!(f, "{}, component {component}", name(*channel))
            }
            Self::Coverage(channel) => write!(f, "{}, coverage", name(*channel)),
            Self::LayerMask(term) => write!(f, "mask, term {}", term.0),
            Self::CellMask(channel, term) => {
                write!(f, "mask of {}, term {}", name(*channel), term.0)
            }
            Self::Field(field) => write!(f, "field {}", field.key()),
            Self::Selection => f.write_str("selection"),
        }
    }
}

/// A channel by the name that it has on screen, where it has one.
fn name(channel: ChannelId) -> String {
    let known = standard_channels().into_iter().find(|known| known.id == channel);
    known.map_or_else(|| format!("channel {channel}"), |known| known.label.to_lowercase())
}

/// What is lost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lost {
    /// Tiles of a plane, from one corner to the other, both included: all their texels are 0 now.
    Tiles {
        /// The plane.
        plane: PlaneOf,
        /// The first of them.
        first: TileAt,
        /// The last of them.
        last: TileAt,
    },
    /// A whole plane: it is bare now.
    Plane(PlaneOf),
    /// A layer with all that it holds, by its place in its list, counted from the bottom from 0.
    Layer(usize),
    /// Strokes of a layer's recipe: its texels are there, but another size is resampled, not painted anew.
    Strokes,
    /// An image of a brush, with the same consequence for the strokes that have it.
    BrushImage,
    /// The texels that a layer's recipe starts from, with the same consequence.
    RecipeBase,
    /// A map that the material kept unpainted.
    PassMap,
    /// A map that the model came with; the layer that was made of it is not touched by this.
    ModelMap,
    /// A material: it is bare now.
    Material,
    /// The model, and with it the whole revision.
    Model,
    /// A whole revision.
    Revision,
    /// A named point.
    Point(String),
    /// Something else that was kept beside the document: `history`, `view`, `thumbnail`.
    State(String),
    /// What the database says of itself.
    Database(String),
}

impl fmt::Display for Lost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tiles { plane, first, last } if first == last => {
                write!(f, "{plane}, tile {}, {} is lost and empty now", first.x, first.y)
            }
            Self::Tiles { plane, first, last } => write!(
                f,
                "{plane}, tiles {}, {} to {}, {} are lost and empty now",
                first.x, first.y, last.x, last.y
            ),
            Self::Plane(plane) => write!(f, "{plane} is lost and bare now"),
            Self::Layer(place) => write!(f, "layer {place}, counted from the bottom, is lost"),
            Self::Strokes => f.write_str("strokes are lost; their texels are kept"),
            Self::BrushImage => {
                f.write_str("an image of a brush is lost; what was painted with it is kept")
            }
            Self::RecipeBase => f.write_str("what its strokes began with is lost; texels are kept"),
            Self::PassMap => f.write_str("a map that was kept unpainted is lost"),
            Self::ModelMap => f.write_str("a map that the model came with is lost"),
            Self::Material => f.write_str("the material is lost and bare now"),
            Self::Model => f.write_str("the model is lost, and this revision with it"),
            Self::Revision => f.write_str("the revision is lost"),
            Self::Point(name) => write!(f, "the point \"{name}\" is lost"),
            Self::State(key) => write!(f, "the {key} that was kept is lost"),
            Self::Database(problem) => write!(f, "the database says: {problem}"),
        }
    }
}

/// One thing that is lost, and where. It is named once, though other revisions may share it: for the
/// present one where that has it, else for the oldest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The revision; none where it belongs to no single one.
    pub revision: Option<u64>,
    /// The material's name.
    pub material: Option<String>,
    /// The layer's name.
    pub layer: Option<String>,
    /// What is lost.
    pub lost: Lost,
}

impl Damage {
    /// Lost, and of no revision.
    pub(crate) fn beside(lost: Lost) -> Self {
        Self { revision: None, material: None, layer: None, lost }
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(revision) = self.revision {
            write!(f, "revision {revision}: ")?;
        }
        if let Some(material) = &self.material {
            write!(f, "material \"{material}\", ")?;
        }
        if let Some(layer) = &self.layer {
            write!(f, "layer \"{layer}\", ")?;
        }
        self.lost.fmt(f)
    }
}

/// All of a list, in one line.
pub(crate) fn listed(damage: &[Damage]) -> String {
    let all: Vec<String> = damage.iter().map(Damage::to_string).collect();
    all.join("; ")
}
