//! The demo model: a harbour bell on an oak board, made from nothing but the figures in these files.
//!
//! One unit is a metre, +Y up, the front towards +Z. The same bytes come out on every machine: sine and
//! cosine are `libm`'s. Three files show one model: laid out, laid out another way (same faces in the same
//! order), and as a dense sculpt of loose parts without UVs.

mod assemble;
mod bell;
mod board;
mod bolts;
mod bracket;
mod clapper;
mod dense;
mod lathe;
mod layout;
mod obj;
mod path;
mod profile;
mod rope;
mod shell;
mod slab;
#[cfg(test)]
mod tests;
mod tube;

use glam::DVec3;
use surface::MeshData;

use assemble::PartShells;
use dense::Worked;
use obj::Stuff;
use shell::{Cut, Island, Plan};

/// What `assets-demo/` holds of the model: names and contents.
pub(crate) fn files() -> Vec<(&'static str, String)> {
    let library = Some("harbour-bell.mtl");
    let heading = "Harbour bell. Made by `cargo xtask demo-model`; do not edit.";
    vec![
        ("harbour-bell.obj", obj::obj(&painted(Cut::First), heading, library)),
        ("harbour-bell-second-layout.obj", obj::obj(&painted(Cut::Second), heading, library)),
        ("harbour-bell-dense.obj", obj::obj(&dense(), heading, None)),
        ("harbour-bell.mtl", obj::mtl(&MATERIALS, heading)),
    ]
}

/// How the materials look before anybody paints them.
const MATERIALS: [Stuff; 4] = [
    Stuff { name: "bronze", colour: [0.72, 0.52, 0.30], roughness: 0.35, metalness: 1.0 },
    Stuff { name: "iron", colour: [0.36, 0.35, 0.34], roughness: 0.55, metalness: 1.0 },
    Stuff { name: "oak", colour: [0.50, 0.36, 0.22], roughness: 0.70, metalness: 0.0 },
    Stuff { name: "hemp", colour: [0.68, 0.58, 0.42], roughness: 0.90, metalness: 0.0 },
];

/// The model with UVs and split normals.
fn painted(cut: Cut) -> MeshData {
    let mut parts = parts(Plan { cut, detail: 1.0 });
    if cut == Cut::Second {
        let shells = parts.iter_mut().flat_map(|part| &mut part.shells);
        shells.flat_map(|shell| &mut shell.islands).for_each(Island::turn);
    }
    assemble::laid_out(&parts)
}

/// The sculpt.
fn dense() -> MeshData {
    let parts = parts(Plan { cut: Cut::First, detail: 1.75 });
    let parts: Vec<_> = parts
        .iter()
        .map(|part| {
            let relief = relief(part.material);
            let shells = part.shells.iter().map(|shell| dense::worked(shell, relief));
            (part.name, shells.collect())
        })
        .collect();
    assemble::bare(&parts)
}

fn relief(material: &str) -> Worked {
    let (depth, waves) = match material {
        "bronze" => (0.0016, DVec3::splat(38.0)),
        "oak" => (0.0022, DVec3::new(48.0, 5.0, 48.0)),
        "hemp" => (0.0006, DVec3::splat(160.0)),
        _ => (0.0007, DVec3::splat(110.0)),
    };
    Worked { depth, waves }
}

fn parts(plan: Plan) -> Vec<PartShells> {
    let part = |name, material, shells| PartShells { name, material, shells };
    vec![
        part("bell", "bronze", bell::bell(plan)),
        part("clapper", "iron", clapper::clapper(plan)),
        part("bracket", "iron", bracket::bracket(plan)),
        part("bolts", "iron", bolts::bolts(plan)),
        part("board", "oak", board::board(plan)),
        part("rope", "hemp", rope::rope(plan)),
    ]
}
