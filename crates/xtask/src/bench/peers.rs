//! The peers: Skia and tiny-skia, `OpenCV`. Those in Python have an environment of their own.

use std::path::Path;

use crate::outside::once;
use crate::step::{Step, answers};

const ENVIRONMENT: &str = "target/outside/peers";
const REQUIREMENTS: &str = "tests/outside/peers.requirements.txt";
const TINY_SKIA: &str = "--release --locked --manifest-path tests/outside/tiny_skia/Cargo.toml \
                         --target-dir target/outside/tiny_skia";

/// Installs and builds what they need and is not there yet. Returns the steps that measure them, given
/// `flag`, or why one can't be measured.
pub(crate) fn prepare(root: &Path, flag: &str) -> [Result<Step, String>; 2] {
    let python = python(root).map(|python| {
        Step::new("Skia and OpenCV", &python, &format!("tests/outside/peers.py {flag}"))
    });
    let for_this_processor = |step: Step| step.with("RUSTFLAGS", "-C target-cpu=native");
    let built = for_this_processor(Step::new("build", "cargo", &format!("build {TINY_SKIA}")));
    let tiny_skia = built.run(root).map(|()| {
        for_this_processor(Step::new("tiny-skia", "cargo", &format!("run {TINY_SKIA} -- {flag}")))
    });
    [python, tiny_skia]
}

/// The Python to run peers with.
fn python(root: &Path) -> Result<String, String> {
    if !answers("python3", &["-c", "import ensurepip, venv"]) {
        return Err("there is no python3 with venv".to_owned());
    }
    let python = format!("{ENVIRONMENT}/bin/python");
    once(root, ENVIRONMENT, &[REQUIREMENTS], || {
        let packages =
            format!("-m pip install --disable-pip-version-check --requirement {REQUIREMENTS}");
        Step::new("Python environment", "python3", &format!("-m venv --clear {ENVIRONMENT}"))
            .run(root)?;
        Step::new("Python packages", &python, &packages).run(root)
    })?;
    if answers(&root.join(&python).to_string_lossy(), &["-c", "import cv2, numpy, skia"]) {
        Ok(python)
    } else {
        Err("the packages of Skia and OpenCV can't be loaded here".to_owned())
    }
}
