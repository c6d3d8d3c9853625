//! Chores of the repository: makes the demo model, runs all checks and benches.

mod bench;
mod brush_images;
mod check;
mod demo_model;
mod demo_paint;
mod outside;
mod step;
mod torture;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

const USAGE: &str = "\
usage: cargo xtask test [--offline]   runs every check; offline, those by outside programs are left out
       cargo xtask bench [--quick] [--offline]
                                      runs every bench; offline, without the peers they are held against
       cargo xtask torture [--times N]
                                      kills a writer of a project file at N random moments (1000)
       cargo xtask demo-model         writes the demo model into assets-demo/
       cargo xtask brush-images       makes the images of the brushes in assets-demo/
       cargo xtask demo-edits         paints the demo and writes its edits into assets-demo/
";

const BENCH_FLAGS: [&str; 2] = ["--quick", "--offline"];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match arguments[..] {
        ["test"] => check::run(&root(), false),
        ["test", "--offline"] => check::run(&root(), true),
        ["bench", ref flags @ ..] if flags.iter().all(|flag| BENCH_FLAGS.contains(flag)) => {
            let [quick, offline] = BENCH_FLAGS.map(|flag| flags.contains(&flag));
            bench::run(&root(), bench::Options { quick, offline })
        }
        ["torture"] => torture::run(&root(), torture::TIMES),
        ["torture", "--times", times] => torture::run(&root(), times),
        ["demo-model"] => write_demo_model(),
        ["brush-images"] => write_brush_images(),
        ["demo-edits"] => write_demo_edits(),
        _ => {
            eprint!("{USAGE}");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::FAILURE
        }
    }
}

/// The repository's root.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn write_demo_model() -> Result<(), String> {
    for (name, text) in demo_model::files() {
        let path = root().join("assets-demo").join(name);
        std::fs::write(&path, &text).map_err(|error| format!("{}: {error}", path.display()))?;
        println!("{name}: {} bytes", text.len());
    }
    Ok(())
}

fn write_brush_images() -> Result<(), String> {
    for (name, png) in brush_images::files()? {
        let path = root().join("assets-demo/brushes").join(name);
        std::fs::write(&path, &png).map_err(|error| format!("{}: {error}", path.display()))?;
        println!("{name}: {} bytes", png.len());
    }
    Ok(())
}

fn write_demo_edits() -> Result<(), String> {
    let folder = root().join("assets-demo");
    let read =
        |name: &str| std::fs::read(folder.join(name)).map_err(|error| format!("{name}: {error}"));
    let list = demo_paint::edit_list(&read("harbour-bell.obj")?, &read("harbour-bell.mtl")?)?;
    let name = "harbour-bell.edits.json";
    std::fs::write(folder.join(name), &list).map_err(|error| format!("{name}: {error}"))?;
    println!("{name}: {} bytes", list.len());
    Ok(())
}
