//! The real executable, in a fresh folder: exit codes, messages, files.
#![cfg(test)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn bell() -> PathBuf {
    root().join("assets-demo/harbour-bell.obj")
}

fn scumble(arguments: &[&str], folder: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_scumble"));
    command.args(arguments).current_dir(folder).output().unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Applies a list to the demo model and gives what came of it.
fn apply(list: &str) -> (Output, TempDir) {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("edits.json"), list).unwrap();
    let model = bell();
    let output =
        scumble(&["apply", model.to_str().unwrap(), "edits.json", "--out", "out"], folder.path());
    (output, folder)
}

fn documented_list() -> String {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let from = text.split("```json\n").nth(1).unwrap();
    from.split("```").next().unwrap().to_owned()
}

#[test]
fn the_documented_list_paints_the_demo_model() {
    let (output, folder) = apply(&documented_list());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let map = folder.path().join("out/harbour-bell_bronze_base_colour.png");
    let header = &std::fs::read(map).unwrap()[16..26];
    assert_eq!(header[..8], [0, 0, 4, 0, 0, 0, 4, 0], "1024 x 1024");
    assert_eq!(header[8..], [16, 2], "16 bits, RGB");
    for file in ["harbour-bell.glb", "harbour-bell.obj", "harbour-bell.mtl"] {
        assert!(folder.path().join("out").join(file).is_file(), "{file}");
    }
}

#[test]
fn the_same_list_gives_the_same_bytes() {
    let files = |folder: &TempDir| {
        let mut files: Vec<_> = std::fs::read_dir(folder.path().join("out"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .map(|path| (path.file_name().unwrap().to_owned(), std::fs::read(&path).unwrap()))
            .collect();
        files.sort();
        files
    };
    let list = documented_list().replace("1024", "256");
    let (first, second) = (apply(&list).1, apply(&list).1);
    assert!(files(&first) == files(&second));
}

#[test]
fn usage_is_exit_code_two() {
    let folder = TempDir::new().unwrap();
    for arguments in [&["paint"][..], &["info"], &["demo", "--out", "x", "--size", "1000"]] {
        assert_eq!(scumble(arguments, folder.path()).status.code(), Some(2), "{arguments:?}");
    }
    assert!(!folder.path().join("x").exists());
}

#[test]
fn help_has_examples() {
    let folder = TempDir::new().unwrap();
    for arguments in
        [&["--help"][..], &["demo", "--help"], &["info", "--help"], &["apply", "--help"]]
    {
        let output = scumble(arguments, folder.path());
        assert_eq!(output.status.code(), Some(0));
        assert!(String::from_utf8(output.stdout).unwrap().contains("Example"), "{arguments:?}");
    }
}

#[test]
fn info_counts_the_demo_model() {
    let output = scumble(&["info", bell().to_str().unwrap(), "--json", "--check"], &root());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["parts"].as_array().unwrap().len(), 6);
    assert_eq!(report["materials"].as_array().unwrap().len(), 4);
    assert_eq!(report["overlaps"], 0);
    let memory = &report["memory"];
    let holdings = memory["holdings"].as_array().unwrap();
    let sum: u64 = holdings.iter().map(|holding| holding["bytes"].as_u64().unwrap()).sum();
    assert_eq!(memory["bytes"], sum);
    let of = |what| holdings.iter().find(|holding| holding["what"] == what).unwrap();
    // Four materials, each with a triangle number of four bytes for each of 2048 x 2048 texels of the
    // tiles that show anything: less than four full maps.
    let maps = of("texel maps")["bytes"].as_u64().unwrap();
    assert!((1 << 24..5 << 26).contains(&maps), "{maps}");
    assert!(sum < memory["budget_bytes"].as_u64().unwrap());
}

#[test]
fn a_model_without_uvs_fails_the_check_with_one() {
    let dense = root().join("assets-demo/harbour-bell-dense.obj");
    let output = scumble(&["info", dense.to_str().unwrap(), "--check"], &root());
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stdout).unwrap().contains("no UVs"));
}

/// Each list must be refused with exit code 3, one line that names the file, the line and the fault, and
/// nothing written.
#[test]
#[expect(clippy::too_many_lines, reason = "a table")]
fn bad_lists_are_refused_in_one_line_and_nothing_is_written() {
    let layer =
        r#"{"edit":"add_layer","material":"bronze","layer":1,"name":"a","content":"painted"}"#;
    let paint = |rest: &str| format!(r#"{{"edit":"paint","material":"bronze","layer":1,{rest}}}"#);
    let select =
        |region: &str| format!(r#"{{"edit":"select","material":"bronze","region":{region}}}"#);
    let listed = |edits: &[&str]| {
        let head = r#"{"edit":"import","texture_size":64}"#;
        format!("{{\"scumble_edits\":1,\"edits\":[\n{head},\n{}\n]}}", edits.join(",\n"))
    };
    let value = r#""values":{"roughness":0.5}"#;
    let spot = r#""stroke":{"radius":0.1,"runs":[[{"position":[0,0.2,0.4]}]]}"#;
    let cases: Vec<(String, usize, &str)> = vec![
        (String::new(), 1, "empty"),
        ("{".to_owned(), 1, "EOF"),
        ("[]".to_owned(), 1, "an edit list"),
        (r#"{"scumble_edits":2,"edits":[]}"#.to_owned(), 1, "version 2"),
        (r#"{"edits":[]}"#.to_owned(), 1, "scumble_edits"),
        (
            "{\"scumble_edits\":1,\"model\":\"00\",\"edits\":[]}".to_owned(),
            1,
            "recorded on model 00",
        ),
        (listed(&[r#"{"edit":"remove_layer","material":"bronze","layer":9}"#]), 3, "no layer 9"),
        (listed(&[layer, layer]), 4, "layer 1"),
        (listed(&[r#"{"edit":"shine","material":"bronze"}"#]), 3, "shine"),
        (listed(&[r#"{"edit":"texture_size","material":"brass","size":64}"#]), 3, "'brass'"),
        (listed(&[r#"{"edit":"texture_size","material":17,"size":128}"#]), 3, "material 17"),
        (listed(&[r#"{"edit":"texture_size","material":0,"size":100}"#]), 3, "100"),
        (listed(&[r#"{"edit":"import","texture_size":64}"#]), 3, "model already"),
        (listed(&[r#"{"edit":"ground","material":0,"channel":"gloss","value":1}"#]), 3, "'gloss'"),
        (
            listed(&[r#"{"edit":"ground","material":0,"channel":"roughness","value":1.5}"#]),
            3,
            "1.5",
        ),
        (
            listed(&[
                r##"{"edit":"ground","material":0,"channel":"roughness","value":"#fff000"}"##,
            ]),
            3,
            "one number",
        ),
        (
            listed(&[r#"{"edit":"ground","material":0,"channel":"base_colour","value":"red"}"#]),
            3,
            "'red'",
        ),
        (listed(&[layer, &paint(value)]), 4, "give one of"),
        (
            listed(&[layer, &paint(&format!(r#"{value},{spot},"fill":{{"scope":"material"}}"#))]),
            4,
            "give one of",
        ),
        (listed(&[layer, &paint(&format!(r#""values":{{}},{spot}"#))]), 4, "no channel"),
        (
            listed(&[
                layer,
                &paint(&format!(r#"{value},"stroke":{{"runs":[[{{"position":[0,0,0]}}]]}}"#)),
            ]),
            4,
            "radius",
        ),
        (listed(&[layer, &paint(&format!(r#"{value},"stroke":{{"radius":1}}"#))]), 4, "runs"),
        (
            listed(&[layer, &paint(&format!(r#"{value},"stroke":{{"radius":1,"runs":[[]]}}"#))]),
            4,
            "no points",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":-1,"runs":[[{{"position":[0,0,0]}}]]}}"#
                )),
            ]),
            4,
            "radius is -1",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":1,"runs":[[{{"position":[1e39,0,0]}}]]}}"#
                )),
            ]),
            4,
            "",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":1,"runs":[[{{"triangle":99999999,"barycentric":[1,0,0]}}]]}}"#
                )),
            ]),
            4,
            "99999999",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"kernel":99,"radius":1,"runs":[[{{"position":[0,0,0]}}]]}}"#
                )),
            ]),
            4,
            "kernel 99",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"kind":"transport","radius":1,"runs":[[{{"position":[0,0,0]}}]]}}"#
                )),
            ]),
            4,
            "transport",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":1,"brush":{{"spacing":0}},"runs":[[{{"position":[0,0,0]}}]]}}"#
                )),
            ]),
            4,
            "spacing",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":1e-9,"runs":[[{{"position":[0,0,0]}},{{"position":[0,1,0]}}]]}}"#
                )),
            ]),
            4,
            "dabs",
        ),
        (
            listed(&[layer, &paint(&format!(r#"{value},"fill":{{"scope":{{"part":"mast"}}}}"#))]),
            4,
            "'mast'",
        ),
        (
            listed(&[layer, &paint(&format!(r#"{value},"fill":{{"scope":{{"part":77}}}}"#))]),
            4,
            "77",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(r#"{value},"fill":{{"scope":"material","opacity":2}}"#)),
            ]),
            4,
            "opacity 2",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"fill":{{"scope":"material","left_out":{{"hidden":["mast"]}}}}"#
                )),
            ]),
            4,
            "'mast'",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"stroke":{{"radius":1,"left_out":{{"locked":[77]}},"runs":[[{{"position":[0,0,0]}}]]}}"#
                )),
            ]),
            4,
            "77",
        ),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"fill":{{"scope":"material","left_out":{{"gone":[1]}}}}"#
                )),
            ]),
            4,
            "gone",
        ),
        (
            listed(&[layer, r#"{"edit":"cell_blend","material":0,"layer":1,"blend":"shiny"}"#]),
            4,
            "'shiny'",
        ),
        (
            listed(&[layer, r#"{"edit":"cell_blend","material":0,"layer":1,"blend":"hue"}"#]),
            4,
            "hue",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"group_isolation","material":0,"layer":1,"isolation":"isolated"}"#,
            ]),
            4,
            "group",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"move_layer","material":0,"layer":1,"place":{"parent":1}}"#,
            ]),
            4,
            "itself",
        ),
        (
            listed(&[layer, r#"{"edit":"move_layer","material":0,"layer":1,"place":{"index":8}}"#]),
            4,
            "8",
        ),
        (
            listed(&[layer, r#"{"edit":"rename_layer","material":0,"layer":1,"name":" "}"#]),
            4,
            "empty",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"paint_mask","material":0,"layer":1,"term":3,"value":1,"fill":{"scope":"material"}}"#,
            ]),
            4,
            "term 3",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"add_mask_term","material":0,"layer":1,"term":3,"source":{"field":{"field":"occlusion","low":0,"high":1}}}"#,
            ]),
            4,
            "bake",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"add_mask_term","material":0,"layer":1,"term":3,"source":{"field":{"field":"mood","low":0,"high":1}}}"#,
            ]),
            4,
            "'mood'",
        ),
        (
            listed(&[
                layer,
                r#"{"edit":"mask_term","material":0,"layer":1,"term":3,"on":true,"invert":true}"#,
            ]),
            4,
            "exactly one",
        ),
        (listed(&[&select(r#"{"wool":3}"#)]), 3, "wool"),
        (listed(&[&select(r#"{"part":"gong"}"#)]), 3, "'gong'"),
        (
            listed(&[&select(
                r#"{"lasso":{"eye":[0,0,9],"target":[0,0,0],"viewport":[9,9],"outline":[]}}"#,
            )]),
            3,
            "fov_y",
        ),
        (listed(&[&select(r#"{"flat_lasso":[[0,0],[1,1]]}"#)]), 3, "points of the lasso"),
        (
            listed(&[&select(r#"{"alike":{"channel":"roughness","uv":[0.5,9]}}"#)]),
            3,
            "nothing of the surface",
        ),
        (listed(&[r#"{"edit":"invert_selection","material":0}"#]), 3, "nothing would be selected"),
        (
            listed(&[r#"{"edit":"grow_selection","material":0,"texels":3}"#]),
            3,
            "select something first",
        ),
        (listed(&[layer, &paint(&format!(r#"{value},"gradient":{{}}"#))]), 4, "radial"),
        (
            listed(&[
                layer,
                &paint(&format!(
                    r#"{value},"gradient":{{"radial":{{"centre":[0,0,0],"radius":0}}}}"#
                )),
            ]),
            4,
            "length of the gradient",
        ),
    ];
    assert!(cases.len() >= 40);
    for (list, line, says) in cases {
        let (output, folder) = apply(&list);
        let told = stderr(&output);
        assert_eq!(output.status.code(), Some(3), "{list}: {told}");
        assert_eq!(told.trim_end().lines().count(), 1, "{list}: {told}");
        assert!(told.contains(&format!("edits.json:{line}:")), "{list}: {told}");
        assert!(told.contains(says), "{list}: {told}");
        assert!(!folder.path().join("out").exists(), "{list}");
    }
}

#[test]
fn a_material_without_area_on_the_texture_is_noted() {
    let folder = TempDir::new().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    let faces = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.1 0.9\n\
                 usemtl flat\nf 1/1 2/1 3/1\nusemtl laid\nf 1/1 2/2 3/3\n";
    write("sheet.obj", faces);
    write("edits.json", r#"{"scumble_edits":1,"edits":[{"edit":"import","texture_size":64}]}"#);
    let output = scumble(&["apply", "sheet.obj", "edits.json", "--out", "out"], folder.path());
    let told = stderr(&output);
    assert_eq!(output.status.code(), Some(0), "{told}");
    let notes: Vec<&str> = told.lines().filter(|line| line.contains("no triangle of")).collect();
    assert_eq!(notes.len(), 1, "{told}");
    assert!(notes[0].starts_with("note: no triangle of flat has an area"), "{told}");
}

#[test]
fn bad_files_are_refused_with_three_and_their_name() {
    let folder = TempDir::new().unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).unwrap();
    write("empty.obj", b"");
    write("wide.obj", b"\xff\xfev\0 \0");
    write("far.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n");
    write("not.glb", b"glTF");
    write("latin.json", b"\xe9");
    for name in ["empty.obj", "wide.obj", "far.obj", "not.glb", "missing.obj"] {
        let output = scumble(&["info", name], folder.path());
        assert_eq!(output.status.code(), Some(3), "{name}");
        let told = stderr(&output);
        assert!(told.contains(name) && told.trim_end().lines().count() == 1, "{told}");
    }
    let far = stderr(&scumble(&["info", "far.obj"], folder.path()));
    assert!(far.contains("far.obj:4:"), "{far}");
    let model = bell();
    let arguments = ["apply", model.to_str().unwrap(), "latin.json", "--out", "out"];
    let told = stderr(&scumble(&arguments, folder.path()));
    assert!(told.contains("latin.json") && told.contains("UTF-8"), "{told}");
}

/// The demo, small, in a fresh folder.
fn demo() -> TempDir {
    let folder = TempDir::new().unwrap();
    let output = scumble(&["demo", "--out", ".", "--size", "64"], folder.path());
    // At this size some texels show no paint, which the demo tells by its exit code.
    assert!(output.status.code() < Some(2), "{}", stderr(&output));
    folder
}

const ONE_MORE: &str = r##"{ "scumble_edits": 1, "edits": [
    { "edit": "add_layer", "material": "oak", "layer": 70, "name": "tar",
      "content": { "solid": { "base_colour": "#101010" } } } ] }"##;

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

#[test]
fn a_project_is_told_of_painted_on_in_place_verified_and_packed() {
    let folder = demo();
    let run = |arguments: &[&str]| {
        let output = scumble(arguments, folder.path());
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", stderr(&output));
        stdout(&output)
    };
    let project = "harbour-bell.scumble";
    let before = run(&["history", project]);
    assert!(before.lines().count() > 300, "{before}");
    std::fs::write(folder.path().join("more.json"), ONE_MORE).unwrap();
    run(&["apply", project, "more.json"]);
    let after = run(&["history", project]);
    let told = run(&["history", project, "--edits"]);
    assert!(told.lines().count() > after.lines().count() && told.contains("{\"edit\":"), "{told}");
    assert_eq!(after.lines().count(), before.lines().count() + 1);
    assert!(after.lines().last().unwrap().starts_with('>'), "{after}");
    assert!(after.trim_end().ends_with("New layer: tar"), "{after}");
    assert!(run(&["verify", project]).contains("all of it can be read"));
    run(&["pack", project, "--out", "small.scumble"]);
    assert_eq!(run(&["history", "small.scumble"]).lines().count(), 1);
    let info = run(&["info", "small.scumble", "--json"]);
    let told: serde_json::Value = serde_json::from_str(&info).unwrap();
    assert_eq!(told["materials"][2]["name"], "oak");
    let layers = |info: &str| {
        let told: serde_json::Value = serde_json::from_str(info).unwrap();
        told["materials"][2]["layers"].as_u64().unwrap()
    };
    assert_eq!(layers(&info), layers(&run(&["info", project, "--json"])));
    let files = std::fs::read_dir(folder.path()).unwrap();
    let beside: Vec<String> = files
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains(".scumble"))
        .filter(|name| name != project && name != "small.scumble")
        .collect();
    assert!(beside.is_empty(), "a project is one file: {beside:?}");
}

#[test]
fn a_list_that_is_refused_leaves_the_project_as_it_was() {
    let folder = demo();
    let project = folder.path().join("harbour-bell.scumble");
    let history = stdout(&scumble(&["history", "harbour-bell.scumble"], folder.path()));
    let list = ONE_MORE.replace(
        "} ] }",
        "},\n{ \"edit\": \"remove_layer\", \"material\": \"oak\", \"layer\": 999 } ] }",
    );
    std::fs::write(folder.path().join("more.json"), list).unwrap();
    let output = scumble(&["apply", project.to_str().unwrap(), "more.json"], folder.path());
    assert_eq!(output.status.code(), Some(3));
    assert!(stderr(&output).contains("more.json:4: "), "{}", stderr(&output));
    let after = stdout(&scumble(&["history", "harbour-bell.scumble"], folder.path()));
    assert_eq!(after, history);
}

#[test]
fn damage_is_named_and_a_file_that_is_no_project_is_told_in_one_line() {
    let folder = demo();
    let path = folder.path().join("harbour-bell.scumble");
    let mut bytes = std::fs::read(&path).unwrap();
    // All through the file, but for the head that says what it is.
    for at in (40_000..bytes.len()).step_by(50_021) {
        bytes[at] ^= 0x5a;
    }
    std::fs::write(&path, bytes).unwrap();
    let output = scumble(&["verify", "harbour-bell.scumble"], folder.path());
    let code = output.status.code();
    assert!(code == Some(1) || code == Some(3), "{code:?} {}", stderr(&output));
    assert_eq!(stderr(&output).trim_end().lines().count(), 1, "{}", stderr(&output));
    let one = r#"{ "edits": [
        { "edit": "add_layer", "material": "bronze", "layer": 900, "name": "x", "content": "painted" } ] }"#;
    std::fs::write(folder.path().join("one.json"), one).unwrap();
    let before = std::fs::read(&path).unwrap();
    let output = scumble(&["apply", "harbour-bell.scumble", "one.json"], folder.path());
    assert!(!output.status.success(), "{}", stdout(&output));
    assert!(std::fs::read(&path).unwrap()[100..] == before[100..], "a damaged file is not written");
    for (name, text) in [("empty.scumble", ""), ("text.scumble", "a letter, not a project")] {
        std::fs::write(folder.path().join(name), text).unwrap();
        for command in ["info", "history", "verify"] {
            let output = scumble(&[command, name], folder.path());
            assert_eq!(output.status.code(), Some(3));
            assert!(stderr(&output).contains("no Scumble project"), "{}", stderr(&output));
        }
    }
    let output = scumble(&["apply", bell().to_str().unwrap(), "none.json"], folder.path());
    assert_eq!(output.status.code(), Some(3), "the list is looked for first");
}

#[test]
fn a_plate_shows_every_brush() {
    let folder = tempfile::tempdir().unwrap();
    let output = scumble(&["brushes", "--out", "plate.png"], folder.path());
    assert!(output.status.success(), "{}", stderr(&output));
    let file = std::fs::File::open(folder.path().join("plate.png")).unwrap();
    let mut reader = png::Decoder::new(std::io::BufReader::new(file)).read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    assert!(info.width > 1000 && info.height > 1000 && info.color_type == png::ColorType::Rgb);
    let red = |x: u32, y: u32| bytes[(y * info.width + x) as usize * 3];
    // Each of 26 strokes has something lighter than its ground, in its own place.
    for number in 0..26 {
        let (left, top) = (32 + number % 4 * 440, 32 + number / 4 * 212);
        let paints = |n: u32| {
            let (x, y) = (left + n % 420, top + n / 420);
            red(x, y) > red(x, top).saturating_add(12)
        };
        assert!((0..420 * 150).any(paints), "brush {number}");
    }
    let output = scumble(&["brushes", "--out", "no/such/plate.png"], folder.path());
    assert_eq!(output.status.code(), Some(3));
}
