//! Holds the shape of the code: which crate may use which, what the core may touch, and what DEVELOPERS.md
//! says about it.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// What each crate may use of ours; crates that are not listed may use anything.
const ARROWS: [(&str, &[&str]); 11] = [
    ("raster", &[]),
    ("surface", &["raster"]),
    ("layers", &["raster"]),
    ("brush", &["raster", "surface"]),
    ("document", &["raster", "surface", "layers", "brush"]),
    ("editor", &["raster", "surface", "layers", "brush", "document", "store"]),
    ("store", &["raster", "surface", "layers", "brush", "document"]),
    ("exchange", &["raster", "surface", "layers", "brush", "document"]),
    ("viewport", &["raster", "surface", "brush"]),
    (
        "app",
        &[
            "raster", "surface", "layers", "brush", "document", "editor", "store", "exchange",
            "viewport",
        ],
    ),
    (
        "cli",
        &[
            "raster", "surface", "layers", "brush", "document", "editor", "store", "exchange",
            "viewport", "app",
        ],
    ),
];

/// Values only: no files, network, threads of their own, clocks, processes.
const CORE: [&str; 5] = ["raster", "surface", "layers", "brush", "document"];

/// Those of the core that may share work over rayon's threads.
const CORE_WITH_RAYON: [&str; 4] = ["raster", "surface", "layers", "brush"];

const KEPT_OUT_OF_THE_CORE: [&str; 5] = ["fs", "net", "thread", "time", "process"];

/// Names that say nothing about what a module holds.
const EMPTY_NAMES: [&str; 7] = ["utils", "util", "helpers", "helper", "manager", "common", "misc"];

const LONGEST_FILE: usize = 700;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn crates() -> BTreeSet<String> {
    let folders = fs::read_dir(root().join("crates")).unwrap().map(|entry| entry.unwrap());
    folders
        .filter(|entry| entry.path().join("Cargo.toml").is_file())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect()
}

/// Every dependency of a crate, those of its tests and build script too.
fn dependencies(name: &str) -> BTreeSet<String> {
    let manifest = root().join("crates").join(name).join("Cargo.toml");
    let manifest: toml::Table = fs::read_to_string(manifest).unwrap().parse().unwrap();
    ["dependencies", "dev-dependencies", "build-dependencies"]
        .iter()
        .filter_map(|kind| manifest.get(*kind)?.as_table())
        .flat_map(|table| table.keys().cloned())
        .collect()
}

/// All Rust files under a folder, in order.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// What a file has besides comments and the test module at its end.
fn code(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    let end = text.find("#[cfg(test)]\nmod tests {").unwrap_or(text.len());
    let lines = text[..end].lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

/// Modules with files of their own that a text declares for tests only.
fn test_modules(code: &str) -> BTreeSet<String> {
    let declared = code.split("#[cfg(test)]").skip(1).filter_map(|after| {
        let words = after.trim_start().trim_start_matches("pub(crate) ").strip_prefix("mod ")?;
        Some(words.split_once(';')?.0)
    });
    declared.filter(|name| !name.contains('{')).map(str::to_owned).collect()
}

/// The files that are built into a crate, those for tests left out.
fn built_sources(name: &str) -> Vec<PathBuf> {
    let folder = root().join("crates").join(name).join("src");
    let all = sources(&folder);
    let for_tests: BTreeSet<String> =
        all.iter().flat_map(|path| test_modules(&code(path))).collect();
    let is_built = |path: &PathBuf| {
        let inside = path.strip_prefix(&folder).unwrap().with_extension("");
        !inside.iter().any(|part| for_tests.contains(part.to_str().unwrap()))
    };
    all.into_iter().filter(is_built).collect()
}

/// Modules of the standard library that a text names, alone or in a group.
fn standard_modules(code: &str) -> BTreeSet<&str> {
    let is_name = |c: char| c.is_alphanumeric() || c == '_';
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices("std::") {
        let after = &code[at + 5..];
        if let Some(group) = after.strip_prefix('{') {
            let end = group.find(';').unwrap_or(group.len());
            found.extend(group[..end].split(|c| !is_name(c)).filter(|name| !name.is_empty()));
        } else {
            found.extend(after.split(|c| !is_name(c)).next());
        }
    }
    found
}

#[test]
fn crates_use_only_what_lies_below_them() {
    let ours = crates();
    for (name, allowed) in ARROWS {
        for used in dependencies(name).intersection(&ours) {
            assert!(allowed.contains(&used.as_str()), "{name} must not use {used}");
        }
    }
}

#[test]
fn every_crate_has_its_arrows_but_the_one_for_chores() {
    let listed: BTreeSet<String> = ARROWS.iter().map(|(name, _)| (*name).to_owned()).collect();
    let unlisted: Vec<String> = crates().difference(&listed).cloned().collect();
    assert_eq!(unlisted, ["xtask"]);
}

#[test]
fn the_core_touches_no_file_network_thread_clock_or_process() {
    for name in CORE {
        for path in built_sources(name) {
            let code = code(&path);
            let modules = standard_modules(&code);
            for kept_out in KEPT_OUT_OF_THE_CORE {
                assert!(!modules.contains(kept_out), "{} uses std::{kept_out}", path.display());
            }
            let rayon = code.contains("rayon::");
            assert!(!rayon || CORE_WITH_RAYON.contains(&name), "{} uses rayon", path.display());
        }
    }
}

#[test]
fn the_reader_of_std_modules_sees_single_and_grouped_uses() {
    let code = "use std::fs;\nuse std::{io, time::Instant};\nlet t = std::thread::current();";
    let found = standard_modules(code);
    assert!(["fs", "time", "thread", "io"].iter().all(|name| found.contains(name)), "{found:?}");
    assert!(!found.contains("net"));
}

#[test]
fn files_for_tests_are_told_from_those_that_are_built() {
    let found = test_modules(
        "mod mesh;\n#[cfg(test)]\nmod testing;\nmod seam;\n#[cfg(test)]\nmod tests {\n}",
    );
    assert_eq!(found.into_iter().collect::<Vec<_>>(), ["testing"]);
}

#[test]
fn developers_md_lists_every_crate_and_no_other() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let listed: BTreeSet<String> = text
        .lines()
        .skip_while(|line| *line != "## Crates")
        .skip(1)
        .take_while(|line| !line.starts_with("## "))
        .filter_map(|line| line.strip_prefix("| `")?.split('`').next())
        .map(str::to_owned)
        .collect();
    assert_eq!(listed, crates());
}

#[test]
fn no_source_file_is_too_long_to_hold_one_thing() {
    for path in sources(&root().join("crates")) {
        let lines = fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= LONGEST_FILE, "{} has {lines} lines", path.display());
    }
}

#[test]
fn every_module_says_in_its_name_what_it_holds() {
    for folder in ["crates", "tests"] {
        for path in sources(&root().join(folder)) {
            for part in path.strip_prefix(root()).unwrap().with_extension("").components() {
                let part = part.as_os_str().to_str().unwrap();
                assert!(!EMPTY_NAMES.contains(&part), "{} says nothing", path.display());
            }
            let code = code(&path);
            for name in EMPTY_NAMES {
                let declared = code.contains(&format!("mod {name} "))
                    || code.contains(&format!("mod {name};"));
                assert!(!declared, "{} declares a module {name}", path.display());
            }
        }
    }
}
