//! Checks by programs that are not ours: what they need, how it is installed, and how they are run.
//!
//! Debian's packages come in the versions of the release; Python's and Node's are pinned by
//! `tests/outside/requirements.txt` and `tests/outside/package-lock.json`. All but Debian's packages go
//! into `target/outside/`.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::step::{Step, answers};

/// Where Python's and Node's packages go.
const PYTHON: &str = "target/outside/python";
const NODE: &str = "target/outside/node";

/// A package of Debian, and a command that works where it is there.
const PACKAGES: [(&str, &str, &[&str]); 9] = [
    ("chromium", "chromium", &["--version"]),
    ("nodejs", "node", &["--version"]),
    ("npm", "npm", &["--version"]),
    ("python3-venv", "python3", &["-c", "import ensurepip, venv"]),
    ("xvfb", "Xvfb", &["-help"]),
    // Says nothing without a display.
    ("xdotool", "dpkg", &["--status", "xdotool"]),
    ("imagemagick", "import", &["-version"]),
    // A window needs these; they have no program of their own.
    ("mesa-vulkan-drivers", "dpkg", &["--status", "mesa-vulkan-drivers"]),
    (WINDOW_LIBRARIES, "dpkg", &WINDOW_LIBRARIES_ARE_THERE),
];

/// Libraries that a window on X11 is made with.
const WINDOW_LIBRARIES: &str = "libxkbcommon-x11-0 libx11-xcb1 libxcursor1 libxi6 libxrandr2";
const WINDOW_LIBRARIES_ARE_THERE: [&str; 6] =
    ["--status", "libxkbcommon-x11-0", "libx11-xcb1", "libxcursor1", "libxi6", "libxrandr2"];

/// The checks, in order.
pub(crate) fn steps() -> Vec<Step> {
    let python = format!("{PYTHON}/bin/python");
    let script = |name| format!("tests/outside/{name}");
    let maps = |folder, depth| {
        let arguments = format!("{} target/outside/{folder} {depth}", script("read_maps.py"));
        Step::new("maps read by others", &python, &arguments)
    };
    let on_demo = |name, file| {
        let arguments = format!("{} {NODE} target/outside/demo", script(file));
        Step::new(name, "node", &arguments)
    };
    let built = std::env::var("CARGO_TARGET_DIR").unwrap_or_else(|_unset| "target".to_owned());
    // As the tests built it: an optimised build of everything takes longer than it saves here.
    let program = format!("{built}/debug/scumble");
    let window = format!(
        "{} {program} assets-demo/harbour-bell.obj target/outside/window",
        script("window.py")
    );
    let demo = |rest| {
        let arguments = format!("demo {rest}");
        Step::new("demo", &program, &arguments)
    };
    // Where there is no Vulkan the window draws by OpenGL; the tests themselves take what comes first.
    let pictures = "nextest run --workspace --test drawing --test pictures";
    vec![
        Step::new("pictures by OpenGL", "cargo", pictures).with("WGPU_BACKEND", "gl"),
        demo("--out target/outside/demo"),
        demo("--depth 8 --out target/outside/demo-8"),
        on_demo("GLB held to its validator", "validate_glb.mjs"),
        on_demo("models shown in a browser", "show_models.mjs"),
        maps("demo", 16),
        maps("demo-8", 8),
        Step::new("the window, driven", &format!("{PYTHON}/bin/python"), &window),
    ]
}

/// Installs what the checks need and is not there yet.
///
/// # Errors
/// Says what could not be installed, or, where the user may not, the line to run.
pub(crate) fn install(root: &Path) -> Result<(), String> {
    install_packages(root)?;
    fs::create_dir_all(root.join("target/outside")).map_err(|error| error.to_string())?;
    let requirements = "tests/outside/requirements.txt";
    once(root, PYTHON, &[requirements], || {
        let pip = format!("{PYTHON}/bin/pip");
        let arguments = format!("install --disable-pip-version-check --requirement {requirements}");
        Step::new("Python environment", "python3", &format!("-m venv --clear {PYTHON}"))
            .run(root)?;
        Step::new("Python packages", &pip, &arguments).run(root)
    })?;
    let lists = ["tests/outside/package.json", "tests/outside/package-lock.json"];
    once(root, NODE, &lists, || {
        fs::create_dir_all(root.join(NODE)).map_err(|error| error.to_string())?;
        for list in lists {
            let name = Path::new(list).file_name().unwrap_or_default();
            fs::copy(root.join(list), root.join(NODE).join(name))
                .map_err(|error| format!("{list}: {error}"))?;
        }
        let arguments = format!("ci --prefix {NODE} --ignore-scripts --no-audit --no-fund");
        Step::new("Node packages", "npm", &arguments).run(root)
    })
}

fn install_packages(root: &Path) -> Result<(), String> {
    let missing: Vec<&str> = PACKAGES
        .iter()
        .filter(|(_, program, arguments)| !answers(program, arguments))
        .map(|(package, _, _)| *package)
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    let update = Step::new("Debian's lists", "apt-get", "update");
    let arguments = format!("install --yes --no-install-recommends {}", missing.join(" "));
    let install = Step::new("Debian's packages", "apt-get", &arguments)
        .with("DEBIAN_FRONTEND", "noninteractive");
    if !is_root() {
        return Err(format!(
            "the outside checks need packages that only root can install. Run as root:\n\
             {update} && {install}\n\
             or leave these checks out: cargo xtask test --offline"
        ));
    }
    update.run(root)?;
    install.run(root)
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|said| said.stdout.trim_ascii() == b"0")
}

/// Does the work unless it was done before with lists of the same content.
pub(crate) fn once(
    root: &Path,
    folder: &str,
    lists: &[&str],
    work: impl FnOnce() -> Result<(), String>,
) -> Result<(), String> {
    let mut wanted = String::new();
    for list in lists {
        let text = fs::read_to_string(root.join(list));
        wanted += &text.map_err(|error| format!("{list}: {error}"))?;
    }
    let stamp = root.join(folder).join("installed");
    if fs::read_to_string(&stamp).is_ok_and(|done| done == wanted) {
        return Ok(());
    }
    work()?;
    fs::write(&stamp, wanted).map_err(|error| format!("{}: {error}", stamp.display()))
}
