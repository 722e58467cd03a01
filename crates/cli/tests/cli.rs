//! The native program as a person runs it: real files, exit codes, what it says and what it leaves.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

#[path = "cli/ended.rs"]
mod ended;

/// A folder of its own for each test, empty at its start.
fn place(test: &str) -> PathBuf {
    let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if dir.exists() {
        fs::remove_dir_all(&dir).expect("the last run's folder can go");
    }
    fs::create_dir_all(&dir).expect("a folder can be made");
    dir
}

fn seamwright(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_seamwright"))
        .args(arguments)
        .current_dir(dir)
        .output()
        .expect("the program runs")
}

fn code(output: &Output) -> i32 {
    output.status.code().expect("the program ends by itself")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Must end with this exit code and say all of these on stderr.
fn ends(dir: &Path, arguments: &[&str], due: i32, words: &[&str]) -> Output {
    let output = seamwright(dir, arguments);
    assert_eq!(code(&output), due, "{arguments:?}: {}", said(&output));
    for word in words {
        assert!(said(&output).contains(word), "{arguments:?} does not say {word:?}: {}", said(&output));
    }
    output
}

/// A box as a text STL.
fn write_box(path: &Path, size: [f64; 3]) {
    fs::write(path, box_text([0.0; 3], size)).expect("a model can be written");
}

fn box_text(low: [f64; 3], size: [f64; 3]) -> String {
    let corner = |i: usize| [0, 1, 2].map(|k| low[k] + if i >> k & 1 == 1 { size[k] } else { 0.0 });
    let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let mut text = String::from("solid box\n");
    for [a, b, c, d] in quads {
        for t in [[a, b, c], [a, c, d]] {
            text += "facet normal 0 0 0\nouter loop\n";
            for [x, y, z] in t.map(corner) {
                text += &format!("vertex {x} {y} {z}\n");
            }
            text += "endloop\nendfacet\n";
        }
    }
    text + "endsolid box\n"
}

/// Every file below a folder.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![dir.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).expect("a folder of the test") {
            let path = entry.expect("an entry of the test").path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(dir).expect("it lies below").to_string_lossy().into_owned();
                found.insert(name, fs::read(&path).expect("a file of the test"));
            }
        }
    }
    found
}

const BED: [&str; 2] = ["--bed", "220x220x250"];

fn plan<'a>(models: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    [&["plan"], models, &BED, &["--out", "out", "--effort", "0", "--quiet"], more].concat()
}

#[test]
fn a_plan_is_written_and_audits_and_is_caught_when_tampered_with() {
    let dir = place("written");
    write_box(&dir.join("bar.stl"), [400.0, 40.0, 30.0]);
    let output = ends(
        &dir,
        &["plan", "bar.stl", "--bed", "220x220x250", "--out", "out", "--effort", "1"],
        0,
        &["round 1:"],
    );
    let table = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(table.contains("bar") && table.contains("pieces on"), "{table}");
    let made = files(&dir.join("out"));
    for name in [
        "plan.json",
        "run.json",
        "costume.seam.json",
        "items/bar.stl",
        "pieces/bar-1.stl",
        "loads/load-01.3mf",
        "loads/load-01.svg",
    ] {
        assert!(made.contains_key(name), "{name} is not in {:?}", made.keys());
    }
    assert!(!made.keys().any(|name| name.starts_with("posed/")));
    assert_eq!(fs::read_dir(&dir).expect("the test's folder").count(), 2, "nothing is left beside the plan");
    ends(&dir, &["audit", "out"], 0, &[]);
    // One piece is swapped for the whole item.
    fs::write(dir.join("out/pieces/bar-1.stl"), &made["items/bar.stl"]).expect("a file of the test");
    let caught = ends(&dir, &["audit", "out"], 1, &[]);
    let text = String::from_utf8_lossy(&caught.stdout).into_owned();
    assert!(text.contains("piece-volume bar-1:") && text.contains("does not hold"), "{text}");
    fs::remove_file(dir.join("out/plan.json")).expect("a file of the test");
    ends(&dir, &["audit", "out"], 1, &[]);
    ends(&dir, &["audit", "nowhere"], 2, &["nowhere cannot be read"]);
}

#[test]
fn wrong_use_ends_with_2_and_says_what_is_wrong() {
    let dir = place("wrong-use");
    write_box(&dir.join("bar.stl"), [90.0, 40.0, 30.0]);
    ends(&dir, &[], 2, &["Usage"]);
    ends(&dir, &["plan", "bar.stl", "--bed", "220x220x250"], 2, &["--out"]);
    ends(&dir, &["plan", "bar.stl", "--out", "out"], 2, &["no bed given"]);
    for (bed, why) in [
        ("220x220", "is not a bed"),
        ("0x220x250", "more than 0"),
        ("220x220x250@0", "after @"),
        ("9x220x250", "leaves nothing"),
    ] {
        ends(
            &dir,
            &["plan", "bar.stl", "--bed", bed, "--out", "out"],
            2,
            &["bed", bed.split('@').next().unwrap_or(bed), why],
        );
    }
    ends(&dir, &plan(&["bar.stl"], &["--keep-out", "1,2,3"]), 2, &["--keep-out 1,2,3", "not an area"]);
    ends(&dir, &plan(&["bar.stl"], &["--scale", "-2"]), 2, &["--scale"]);
    ends(&dir, &plan(&["bar.stl"], &["--margin", "-1"]), 2, &["0 mm or more, not -1"]);
    ends(&dir, &plan(&["bar.stl"], &["--gap", "nan"]), 2, &["0 mm or more, not NaN"]);
    let timed = ["plan", "bar.stl", "--bed", "220x220x250", "--out", "out", "--seconds", "-1"];
    ends(&dir, &timed, 2, &["--seconds -1"]);
    ends(&dir, &plan(&["bar.stl:role=king"], &[]), 2, &["bar.stl:role=king", "a role is one of"]);
    ends(&dir, &plan(&["bar.stl"], &["--prefer", "most"]), 2, &["most", "fewest"]);
    ends(&dir, &plan(&["bar.stl"], &["--seconds", "3"]), 2, &["--seconds", "--effort"]);
    ends(&dir, &plan(&["bar.stl"], &["--wearer", "w.json"]), 2, &["--wearer is not built yet"]);
    for command in ["compare", "rings"] {
        ends(
            &dir,
            &[command, "bar.stl", "--bed", "180x180x180", "--out", "out"],
            2,
            &[command, "is not built yet"],
        );
    }
    assert!(!dir.join("out").exists());
    let help = ends(&dir, &["plan", "--help"], 0, &[]);
    assert!(String::from_utf8_lossy(&help.stdout).contains("--keep-out"));
}

#[test]
fn unreadable_models_leave_the_earlier_plan_and_name_file_place_and_reason() {
    let dir = place("unreadable");
    write_box(&dir.join("bar.stl"), [90.0, 40.0, 30.0]);
    ends(&dir, &plan(&["bar.stl"], &[]), 0, &[]);
    let before = files(&dir.join("out"));
    let box_text = fs::read_to_string(dir.join("bar.stl")).expect("a file of the test");
    fs::write(dir.join("odd.stl"), box_text.replacen("vertex 90", "vertex ninety", 1)).expect("a file");
    let open: String = box_text.split_inclusive("endfacet\n").skip(1).collect();
    fs::write(dir.join("open.stl"), format!("solid open\n{open}")).expect("a file of the test");
    fs::write(dir.join("empty.stl"), "").expect("a file of the test");
    for (name, words) in [
        ("gone.stl", &["gone.stl cannot be read", "No such file"][..]),
        ("odd.stl", &["odd.stl", "line"][..]),
        ("open.stl:mend=no", &["open.stl", "edge"][..]),
        ("empty.stl", &["empty.stl"][..]),
    ] {
        // Also where a sound model stands before it.
        ends(&dir, &plan(&["bar.stl", name], &[]), 2, words);
        assert_eq!(files(&dir.join("out")), before, "{name} touched the earlier plan");
    }
    // Of several, each is told, and the sound one between them is no fault.
    let all = ["odd.stl: ", "open.stl: ", "empty.stl: "];
    ends(&dir, &plan(&["odd.stl", "bar.stl", "open.stl:mend=no", "empty.stl"], &[]), 2, &all);
    assert_eq!(files(&dir.join("out")), before);
    // Unless it is said not to, what is open is mended, and the plan says so.
    ends(&dir, &plan(&["open.stl"], &[]), 0, &[]);
    let plan = String::from_utf8(files(&dir.join("out"))["plan.json"].clone()).expect("text");
    assert!(plan.contains("mended-holes"), "{plan}");
    assert!(fs::read_dir(&dir).expect("the test's folder").count() == 5, "nothing is left beside the plan");
}

#[test]
fn an_earlier_plan_is_replaced_as_a_whole_and_anything_else_needs_force() {
    let dir = place("replaced");
    write_box(&dir.join("long.stl"), [700.0, 40.0, 30.0]);
    write_box(&dir.join("short.stl"), [60.0, 40.0, 30.0]);
    ends(&dir, &plan(&["long.stl"], &["--posed"]), 0, &[]);
    let first = files(&dir.join("out"));
    assert!(first.keys().filter(|name| name.starts_with("pieces/long-")).count() >= 3);
    assert!(first.contains_key("posed/long-1.stl"));
    ends(&dir, &plan(&["short.stl"], &[]), 0, &[]);
    let second = files(&dir.join("out"));
    assert!(
        !second.keys().any(|name| name.contains("long") || name.starts_with("posed/")),
        "{:?}",
        second.keys()
    );
    assert!(second.contains_key("pieces/short-1.stl"));
    // Something of the person's own stands in the folder.
    fs::write(dir.join("out/notes.txt"), "mine").expect("a file of the test");
    ends(&dir, &plan(&["long.stl"], &[]), 2, &["out holds notes.txt", "--force"]);
    let kept = files(&dir.join("out"));
    assert_eq!(kept["notes.txt"], b"mine");
    assert!(second.iter().all(|(name, bytes)| kept[name] == *bytes));
    ends(&dir, &plan(&["long.stl"], &["--force"]), 0, &[]);
    assert!(!dir.join("out/notes.txt").exists());
    ends(&dir, &["audit", "out"], 0, &[]);
    // Also among the pieces, and in place of the folder.
    fs::write(dir.join("out/pieces/own.stl"), "mine").expect("a file of the test");
    ends(&dir, &plan(&["short.stl"], &[]), 2, &["own.stl", "--force"]);
    assert!(dir.join("out/pieces/own.stl").exists());
    fs::write(dir.join("file"), "mine").expect("a file of the test");
    ends(
        &dir,
        &["plan", "short.stl", "--bed", "220x220x250", "--out", "file", "--effort", "0"],
        2,
        &["file is not a folder"],
    );
    assert_eq!(fs::read(dir.join("file")).expect("a file of the test"), b"mine");
}

#[test]
fn a_project_opens_in_place_of_its_models() {
    let dir = place("project");
    write_box(&dir.join("bar.stl"), [400.0, 40.0, 30.0]);
    write_box(&dir.join("cap.stl"), [60.0, 40.0, 30.0]);
    ends(&dir, &plan(&["bar.stl:role=haft", "cap.stl:copies=2"], &["--gap", "8", "--seed", "3"]), 0, &[]);
    let first = files(&dir.join("out"));
    fs::create_dir(dir.join("elsewhere")).expect("a folder can be made");
    fs::rename(dir.join("out/costume.seam.json"), dir.join("elsewhere/my.seam.json")).expect("it was made");
    ends(&dir, &["plan", "elsewhere/my.seam.json", "--out", "again", "--quiet"], 0, &[]);
    let again = files(&dir.join("again"));
    assert_eq!(first.keys().collect::<Vec<_>>(), again.keys().collect::<Vec<_>>());
    for (name, bytes) in first.iter().filter(|(name, _)| *name != "run.json") {
        assert!(again[name] == *bytes, "{name} differs");
    }
    // What the command line says holds.
    let project = "elsewhere/my.seam.json:scale=0.5";
    ends(&dir, &["plan", project, "--bed", "180x180x180", "--out", "small", "--quiet"], 0, &[]);
    let small = fs::read_to_string(dir.join("small/plan.json")).expect("a plan was written");
    let small: serde_json::Value = serde_json::from_str(&small).expect("plan.json is JSON");
    assert_eq!(small["beds"][0]["id"], "180x180x180");
    assert_eq!(small["items"][0]["size_mm"][0], 200.0);
    assert_eq!(small["items"][0]["role"], "haft");
    // Without models in it they are found beside it, by name and hash.
    ends(&dir, &plan(&["bar.stl"], &["--no-models"]), 0, &[]);
    fs::copy(dir.join("out/costume.seam.json"), dir.join("bare.seam.json")).expect("it was made");
    ends(&dir, &["plan", "bare.seam.json", "--out", "bare", "--quiet"], 0, &[]);
    write_box(&dir.join("bar.stl"), [401.0, 40.0, 30.0]);
    ends(&dir, &["plan", "bare.seam.json", "--out", "bare"], 2, &["bare.seam.json", "bar.stl", "SHA-256"]);
    fs::remove_file(dir.join("bar.stl")).expect("a file of the test");
    ends(
        &dir,
        &["plan", "bare.seam.json", "--out", "bare"],
        2,
        &["bare.seam.json", "bar.stl cannot be read"],
    );
    ends(&dir, &["plan", "bare.seam.json", "cap.stl", "--out", "bare"], 2, &["stands alone"]);
    fs::write(dir.join("bad.seam.json"), "{\"format\":\"seamwright-plan\",\"version\":1}").expect("a file");
    ends(&dir, &["plan", "bad.seam.json", "--out", "bad"], 2, &["bad.seam.json", "seamwright-plan"]);
}

#[test]
fn inspect_tells_all_the_contract_names() {
    let dir = place("inspect");
    write_box(&dir.join("bar.stl"), [90.0, 40.0, 30.0]);
    let output = ends(&dir, &["inspect", "bar.stl", "--json"], 0, &[]);
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).expect("stdout is JSON alone");
    for (key, due) in [
        ("triangles", 12),
        ("vertices", 8),
        ("bodies", 1),
        ("open_edges", 0),
        ("boundary_loops", 0),
        ("nonmanifold_edges", 0),
        ("nonmanifold_vertices", 0),
        ("flipped_triangles", 0),
        ("duplicate_triangles", 0),
        ("degenerate_triangles", 0),
    ] {
        assert_eq!(report[key], due, "{key}");
    }
    assert_eq!(report["closed"], true);
    assert_eq!(
        (report["volume_mm3"].as_f64(), report["area_mm2"].as_f64()),
        (Some(108_000.0), Some(15_000.0))
    );
    assert_eq!(report["size"], serde_json::json!([90.0, 40.0, 30.0]));
    for key in ["units_guess", "notices"] {
        assert!(!report[key].is_null(), "{key}");
    }
    let plain = ends(&dir, &["inspect", "bar.stl"], 0, &[]);
    assert!(String::from_utf8_lossy(&plain.stdout).contains("12 triangles, 8 vertices, 1 bodies"));
    ends(&dir, &["inspect", "gone.stl"], 2, &["gone.stl cannot be read"]);
    fs::write(dir.join("odd.obj"), "v 0 0 zero\n").expect("a file of the test");
    ends(&dir, &["inspect", "odd.obj"], 2, &["odd.obj", "line 1"]);
}

/// A step of mending is undone by itself: seen before planning, planned without, and carried by the project.
#[test]
fn steps_of_mending_can_be_left_out_one_by_one() {
    let dir = place("left-out");
    // A box without one facet, and a speck beside it.
    let facets = |low, size| box_text(low, size).replace("endsolid box\n", "").replace("solid box\n", "");
    let whole = facets([0.0; 3], [90.0, 60.0, 400.0]);
    let (_, open) = whole.split_once("endfacet\n").expect("a facet");
    let text = format!("solid\n{open}{}endsolid\n", facets([200.0, 0.0, 0.0], [0.01; 3]));
    fs::write(dir.join("open.stl"), text).expect("a model");
    let told = |more: &[&str]| {
        let output = ends(&dir, &[&["inspect", "open.stl"], more].concat(), 0, &[]);
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let all = told(&[]);
    assert!(all.contains("mended-holes: 1") && all.contains("mended-dust: 1"), "{all}");
    let without = told(&["--leave-out", "dust"]);
    assert!(without.contains("mended-holes: 1") && without.contains("steps-left-out"), "{without}");
    assert!(!without.contains("mended-dust"), "{without}");
    let open = ["open edges", "steps of mending were left out as asked: holes"];
    let holed = told(&["--leave-out", "holes"]);
    assert!(open.iter().all(|word| holed.contains(word)), "{holed}");
    ends(&dir, &plan(&["open.stl:leave-out=holes"], &[]), 2, &open);
    ends(&dir, &plan(&["open.stl"], &["--leave-out", "nothing"]), 2, &["a step of mending is weld,"]);
    ends(&dir, &plan(&["open.stl"], &["--leave-out", "dust+weld"]), 0, &[]);
    let project = fs::read_to_string(dir.join("out/costume.seam.json")).expect("a project");
    let project: serde_json::Value = serde_json::from_str(&project).expect("JSON");
    assert_eq!(project["models"][0]["settings"]["leave_out"], serde_json::json!(["weld", "dust"]));
    ends(&dir, &["audit", "out"], 0, &[]);
}

#[test]
fn parts_that_stand_apart_in_one_file_can_be_items_of_their_own() {
    let dir = place("parts");
    let facets = |low, size| {
        box_text(low, size).lines().filter(|l| !l.contains("solid")).collect::<Vec<_>>().join("\n")
    };
    let (first, second) =
        (facets([0.0; 3], [60.0, 40.0, 20.0]), facets([62.0, 0.0, 0.0], [90.0, 40.0, 20.0]));
    fs::write(dir.join("tray.stl"), format!("solid tray\n{first}\n{second}\nendsolid tray\n"))
        .expect("a tray");
    let listed = seamwright(&dir, &["inspect", "tray.stl"]);
    assert!(String::from_utf8_lossy(&listed.stdout).contains("parts-apart: 2 x"), "inspect offers them");
    let items = |models: &[&str]| {
        ends(&dir, &plan(models, &["--force"]), 0, &[]);
        let text = fs::read_to_string(dir.join("out/plan.json")).expect("a plan");
        let plan: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let sizes = plan["items"].as_array().expect("items").iter();
        sizes.map(|item| (item["id"].to_string(), item["size_mm"][0].as_f64())).collect::<Vec<_>>()
    };
    assert_eq!(items(&["tray.stl"]), [("\"tray\"".into(), Some(152.0))], "one item where nothing is said");
    assert_eq!(
        items(&["tray.stl:part=2", "tray.stl:part=1"]),
        [("\"tray-part-2\"".into(), Some(90.0)), ("\"tray-part-1\"".into(), Some(60.0))]
    );
    ends(&dir, &plan(&["tray.stl:part=3"], &[]), 2, &["tray.stl", "part 3 is asked for; 2 stand apart"]);
}

#[test]
fn beds_far_too_small_for_the_model_are_refused_with_the_number_of_cells() {
    let dir = place("cells");
    write_box(&dir.join("block.stl"), [1000.0, 1000.0, 1000.0]);
    // Two of 12 mm are left beside the margins, and seven above: 500 x 500 x 143 cells.
    let words = ["block", "35750000 cells", "4000", "margin"];
    ends(&dir, &["plan", "block.stl", "--bed", "12x12x12", "--out", "out"], 2, &words);
    assert!(!dir.join("out").exists());
}
