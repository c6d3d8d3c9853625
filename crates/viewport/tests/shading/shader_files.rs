//! Each file of `shaders/` is valid together with the pieces that its first lines say it needs.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use naga::valid::{Capabilities, ValidationFlags, Validator};
use viewport::shading::SHADER_LIBRARY;

/// Names without the ending, with `lib/` before those of the library, and texts.
type Files = BTreeMap<String, String>;

fn collect(folder: &Path, before: &str, files: &mut Files) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = format!("{before}{}", path.file_stem().unwrap().to_str().unwrap());
        if path.is_dir() {
            collect(&path, &format!("{name}/"), files);
        } else {
            assert_eq!(path.extension().unwrap(), "wgsl", "{} is no shader", path.display());
            files.insert(name, fs::read_to_string(path).unwrap());
        }
    }
}

fn all() -> Files {
    let mut files = Files::new();
    let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shaders");
    collect(&folder, "", &mut files);
    files
}

/// What a file's first lines say that it needs: "Needs a, lib/b and all of lib." or "Needs nothing."; names are
/// of the same folder.
fn needs(name: &str, files: &Files) -> Vec<String> {
    let head = files[name].lines().take_while(|line| line.starts_with("//"));
    let head: String = head.map(|line| line.trim_start_matches('/')).collect();
    let (_, list) = head
        .split_once("Needs ")
        .unwrap_or_else(|| panic!("{name}.wgsl: say in its first lines what it needs"));
    let (list, _) = list.split_once('.').unwrap();
    let folder = name.rsplit_once('/').map_or(String::new(), |(folder, _)| format!("{folder}/"));
    let library = || SHADER_LIBRARY.iter().map(|piece| format!("lib/{}", piece.name));
    let list = list.replace(" and ", ", ");
    let words = list.split(',').map(str::trim).filter(|word| !word.is_empty());
    words
        .flat_map(|word| match word {
            "nothing" => Vec::new(),
            "all of lib" => library().collect(),
            _ => vec![format!("{folder}{word}")],
        })
        .collect()
}

/// Names in the order in which they must stand, each once.
fn in_order(name: &str, files: &Files, order: &mut Vec<String>) {
    assert!(files.contains_key(name), "there is no {name}.wgsl");
    for needed in needs(name, files) {
        in_order(&needed, files, order);
    }
    if !order.iter().any(|known| known == name) {
        order.push(name.to_owned());
    }
}

fn check(source: &str) -> Result<(), String> {
    let module = naga::front::wgsl::parse_str(source).map_err(|e| e.emit_to_string(source))?;
    let mut validator = Validator::new(ValidationFlags::all(), Capabilities::default());
    let checked = validator.validate(&module);
    checked.map(|_| ()).map_err(|error| error.emit_to_string(source))
}

#[test]
fn each_file_is_valid_with_what_it_says_it_needs() {
    let files = all();
    assert!(files.len() >= SHADER_LIBRARY.len());
    for name in files.keys() {
        let mut order = Vec::new();
        in_order(name, &files, &mut order);
        let source: String = order.iter().map(|name| files[name].as_str()).collect();
        if let Err(problem) = check(&source) {
            panic!("{name}.wgsl with {order:?}: {problem}");
        }
    }
}

#[test]
fn the_library_is_complete_and_its_order_is_that_of_its_needs() {
    let files = all();
    let listed: Vec<String> =
        SHADER_LIBRARY.iter().map(|piece| format!("lib/{}", piece.name)).collect();
    assert_eq!(files.keys().filter(|name| name.starts_with("lib/")).count(), listed.len());
    for (at, name) in listed.iter().enumerate() {
        assert_eq!(files[name], SHADER_LIBRARY[at].source);
        for needed in needs(name, &files) {
            assert!(listed[..at].contains(&needed), "{name} stands before {needed}");
        }
    }
    assert!(check(&SHADER_LIBRARY.map(|piece| piece.source).concat()).is_ok());
}

#[test]
fn the_library_binds_nothing() {
    for piece in SHADER_LIBRARY {
        let binds = ["@group", "var<", "@fragment", "@vertex", "@compute"];
        let found = binds.into_iter().find(|word| piece.source.contains(word));
        assert_eq!(found, None, "{}", piece.name);
    }
}

#[test]
fn a_fault_in_a_shader_is_found() {
    assert!(check("fn f() -> f32 { return 1u; }").is_err());
    assert!(check("fn f() -> f32 { return missing(1.0); }").is_err());
}
