//! What can be typed.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Paints physically based materials, in layers, on a 3D model.
#[derive(Debug, Parser)]
#[command(name = "scumble", version, args_conflicts_with_subcommands = true, after_help = EXAMPLES)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
    /// Model to open in the window: OBJ, glTF or GLB. Without one the harbour bell is opened
    #[arg(value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  scumble                                     open the window with the harbour bell
  scumble bell.glb                            open the window with a model
  scumble demo --out out                      paint the harbour bell, write maps and models
  scumble info bell.obj                       what a model holds, and what is wrong with its UVs
  scumble apply bell.glb edits.json --out out paint a model by a recorded list of edits
  scumble show bell.glb --out bell.png        draw a picture of a model
  scumble history bell.scumble                what was done in a project
  scumble verify bell.scumble                 whether all of a project can be read

Exit codes: 0 done, 1 a check failed, 2 usage, 3 bad input, 4 no graphics adapter or no display";

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Paint the harbour bell by its recorded edits and write everything that can be written
    #[command(after_help = "Example:\n  scumble demo --out out --size 1024")]
    Demo(Demo),
    /// Say what a model holds: parts, triangles, islands, overlaps, materials
    #[command(
        after_help = "Examples:\n  scumble info bell.obj\n  scumble info bell.glb --json\n  scumble info bell.obj --check   (exit 1 where UVs are missing, overlap or leave the square)"
    )]
    Info(Info),
    /// Apply a recorded list of edits to a model and write its maps
    #[command(
        after_help = "Examples:\n  scumble apply bell.obj edits.json --out out\n  scumble apply bell.glb edits.json --out out --depth 8 --size 4096\n  scumble apply bell.scumble edits.json"
    )]
    Apply(Apply),
    /// List what was done in a project, oldest first, and its named points
    #[command(
        after_help = "Examples:\n  scumble history bell.scumble\n  scumble history bell.scumble --edits"
    )]
    History(History),
    /// Read everything in a project, and name what is damaged (exit 1)
    #[command(after_help = "Example:\n  scumble verify bell.scumble")]
    Verify(OfProject),
    /// Copy a project without its history, as small as it gets
    #[command(after_help = "Example:\n  scumble pack bell.scumble --out bell-small.scumble")]
    Pack(Pack),
    /// Draw a picture of a model, as the model view shows it
    #[command(
        after_help = "Examples:\n  scumble show bell.glb --out bell.png\n  scumble show bell.obj --edits edits.json --out bell.png --size 1600x1200 --view roughness --from left\n\nWithout a graphics card, Mesa's software driver draws (Debian: mesa-vulkan-drivers)."
    )]
    Show(Show),
    /// Draw a plate of the brushes that come with the program, or hand brushes on
    #[command(after_help = "Examples:\n  scumble brushes --out brushes.png\n  \
                            scumble brushes --share \"Sea sponge\" --out sponge.scumble-brush.toml\n  \
                            scumble brushes --bring-in sponge.scumble-brush.toml")]
    Brushes(Brushes),
}

#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Folder to write into; made where it is missing
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Edge of the textures in texels: a power of two from 64 to 8192
    #[arg(long, default_value_t = 2048, value_name = "TEXELS")]
    pub(crate) size: u32,
    /// Bits a channel in the maps
    #[arg(long, value_enum, default_value_t = Depth::Sixteen)]
    pub(crate) depth: Depth,
}

#[derive(Debug, Args)]
pub(crate) struct Info {
    /// Model: OBJ, glTF or GLB; or a project
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Write JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Exit with 1 where something keeps the model from being painted as it is
    #[arg(long)]
    pub(crate) check: bool,
    /// Edge of the texture at which overlaps are looked for
    #[arg(long, default_value_t = 2048, value_name = "TEXELS")]
    pub(crate) size: u32,
}

#[derive(Debug, Args)]
pub(crate) struct Apply {
    /// Model: OBJ, glTF or GLB; or a project, which is painted in place
    #[arg(value_name = "MODEL")]
    pub(crate) model: PathBuf,
    /// Recorded list of edits (JSON; its format is in DEVELOPERS.md)
    #[arg(value_name = "EDITS")]
    pub(crate) edits: PathBuf,
    /// Folder to write into; made where it is missing. A project needs none
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Edge of the textures in texels, in place of what the list says: each stroke is painted again at it
    #[arg(long, value_name = "TEXELS")]
    pub(crate) size: Option<u32>,
    /// Bits a channel in the maps
    #[arg(long, value_enum, default_value_t = Depth::Sixteen)]
    pub(crate) depth: Depth,
}

#[derive(Debug, Args)]
pub(crate) struct OfProject {
    /// Project: NAME.scumble
    #[arg(value_name = "PROJECT")]
    pub(crate) project: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct History {
    /// Project: NAME.scumble
    #[arg(value_name = "PROJECT")]
    pub(crate) project: PathBuf,
    /// Below each entry the edit that made it, as in a list of edits
    #[arg(long)]
    pub(crate) edits: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Pack {
    /// Project: NAME.scumble
    #[arg(value_name = "PROJECT")]
    pub(crate) project: PathBuf,
    /// Project to write; no file may be there yet
    #[arg(long, value_name = "FILE")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct Show {
    /// Model: OBJ, glTF or GLB; or a project
    #[arg(value_name = "MODEL")]
    pub(crate) model: PathBuf,
    /// PNG to write, in a folder that is there
    #[arg(long, value_name = "FILE")]
    pub(crate) out: PathBuf,
    /// Recorded list of edits to paint it by first
    #[arg(long, value_name = "EDITS")]
    pub(crate) edits: Option<PathBuf>,
    /// Width and height in pixels
    #[arg(long, default_value = "1600x1200", value_name = "WxH", value_parser = picture_size)]
    pub(crate) size: [u32; 2],
    /// What to show on the surface
    #[arg(long, value_enum, default_value_t = View::Lit)]
    pub(crate) view: View,
    /// From where
    #[arg(long, value_enum, default_value_t = Side::Corner)]
    pub(crate) from: Side,
}

#[derive(Debug, Args)]
pub(crate) struct Brushes {
    /// File to write, in a folder that is there: a PNG with all brushes, or the brush that is shared
    #[arg(long, value_name = "FILE", required_unless_present = "bring_in")]
    pub(crate) out: Option<PathBuf>,
    /// Write one brush as a file, its images inside
    #[arg(long, value_name = "NAME", requires = "out")]
    pub(crate) share: Option<String>,
    /// Keep a brush that somebody shared among those of the window
    #[arg(long, value_name = "FILE", conflicts_with_all = ["out", "share"])]
    pub(crate) bring_in: Option<PathBuf>,
}

/// Width and height, parted by an x.
fn picture_size(text: &str) -> Result<[u32; 2], String> {
    let edge = |text: &str| text.trim().parse::<u32>().ok().filter(|edge| *edge > 0);
    text.split_once(['x', 'X'])
        .and_then(|(width, height)| Some([edge(width)?, edge(height)?]))
        .ok_or_else(|| "give width and height in pixels, as in 1600x1200".to_owned())
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum View {
    /// The material under light
    Lit,
    /// Base colour alone, unlit
    Colour,
    /// Roughness alone: white is rough
    Roughness,
    /// Metalness alone: white is metal
    Metal,
    /// Numbered squares of 64 texels
    Checker,
    /// Lit, with the edges of all polygons
    Wire,
    /// Each UV island in a colour of its own
    Islands,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Side {
    /// In front, a little to the right and above
    Corner,
    Front,
    Back,
    Left,
    Right,
    Top,
    Bottom,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Depth {
    /// 8 bits
    #[value(name = "8")]
    Eight,
    /// 16 bits
    #[value(name = "16")]
    Sixteen,
}
