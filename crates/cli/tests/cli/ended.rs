//! The program ended by Ctrl-C or killed, and what it leaves.

use super::{box_text, ends, files, place, write_box};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Killed at any moment, also while the folder is replaced, the program leaves the earlier plan or the new
/// one, whole; what it left beside is gone after the next run.
#[cfg(unix)]
#[test]
fn killed_at_any_moment_it_leaves_a_whole_plan() {
    let dir = place("killed");
    write_box(&dir.join("block.stl"), [450.0, 440.0, 300.0]);
    let small = ["plan", "block.stl", "--bed", "220x220x250", "--out", "out", "--effort", "0", "--quiet"];
    ends(&dir, &small, 0, &[]);
    let is_writing = || {
        let names =
            fs::read_dir(&dir).expect("a folder").filter_map(Result::ok).map(|entry| entry.file_name());
        names.into_iter().any(|name| name.to_string_lossy().contains(".new-"))
    };
    let (mut n_killed, mut n_writing) = (0, 0);
    for i in 0..24 {
        let mut child = Command::new(env!("CARGO_BIN_EXE_seamwright"))
            .args(small)
            .current_dir(&dir)
            .stderr(Stdio::null())
            .stdout(Stdio::null())
            .spawn()
            .expect("the program runs");
        // Some early, the others later and later while the folder is written and put in its place.
        if i < 6 {
            std::thread::sleep(Duration::from_millis(3 * i));
        } else {
            while !is_writing() && child.try_wait().expect("it can be asked").is_none() {
                std::thread::sleep(Duration::from_micros(100));
            }
            std::thread::sleep(Duration::from_micros(400 * (i - 6)));
        }
        n_writing += usize::from(is_writing());
        child.kill().expect("it can be killed");
        n_killed += usize::from(child.wait().expect("it ends").code().is_none());
        ends(&dir, &["audit", "out"], 0, &[]);
    }
    eprintln!("{n_killed} of 24 killed before their end, {n_writing} while writing");
    assert!(n_killed > 10 && n_writing > 0, "{n_killed} killed, {n_writing} while writing");
    ends(&dir, &small, 0, &[]);
    let mut left: Vec<_> =
        fs::read_dir(&dir).expect("a folder").map(|e| e.expect("an entry").file_name()).collect();
    left.sort();
    assert_eq!(left, ["block.stl", "out"]);
}

/// Set aside and not yet replaced: the moment between two renames, made by hand.
#[cfg(target_os = "linux")]
#[test]
fn a_plan_set_aside_by_a_process_that_is_gone_is_put_back() {
    let dir = place("set-aside");
    write_box(&dir.join("block.stl"), [30.0, 20.0, 10.0]);
    ends(&dir, &["plan", "block.stl", "--bed", "220x220x250", "--out", "out", "--effort", "0"], 0, &[]);
    let before = files(&dir.join("out"));
    // No process has so large a number.
    fs::rename(dir.join("out"), dir.join("out.old-4294967290")).expect("set aside");
    fs::create_dir_all(dir.join("out.new-4294967290/pieces")).expect("half written");
    fs::create_dir_all(dir.join("out.new-4294967291/mine")).expect("somebody's");
    ends(&dir, &["audit", "out"], 0, &[]);
    assert_eq!(files(&dir.join("out")), before);
    assert!(!dir.join("out.new-4294967290").exists() && dir.join("out.new-4294967291/mine").exists());
}

#[cfg(unix)]
#[test]
fn ctrl_c_while_a_file_is_read_ends_the_program_and_writes_nothing() {
    // Many bodies that are open, so that there is much to mend.
    let dir = place("ctrl-c-reading");
    let row = |i: usize| [i % 70, i / 70].map(|at| 9.0 * at as f64);
    let boxes = (0..4900).map(|i| box_text([row(i)[0], row(i)[1], 0.0], [8.0; 3]));
    let open: String =
        boxes.map(|text| text.replacen("facet normal 0 0 0", "facet normal 1 0 0", 1)).collect();
    let facets: Vec<&str> = open
        .split("facet normal 1 0 0")
        .map(|text| text.split_once("endfacet").map_or("", |(_, rest)| rest))
        .collect();
    fs::write(dir.join("block.stl"), facets.concat()).expect("a model can be written");
    let (status, told) = interrupted(&dir, "220x220x250", &["reading "]);
    assert_eq!(status, Some(1), "{told:?}");
    assert!(told.iter().any(|line| line.contains("nothing was written")), "{told:?}");
    assert!(!told.iter().any(|line| line.starts_with("block: ")), "it was read to its end: {told:?}");
    assert_eq!(files(&dir).into_keys().collect::<Vec<_>>(), ["block.stl"]);
}

#[cfg(unix)]
#[test]
fn ctrl_c_before_the_first_plan_ends_the_program_and_writes_nothing() {
    // 14 cells each way are cut and judged for some seconds.
    let dir = place("ctrl-c-early");
    write_box(&dir.join("block.stl"), [1000.0, 1000.0, 1000.0]);
    let (status, told) = interrupted(&dir, "82x82x77", &["block: "]);
    assert_eq!(status, Some(1), "{told:?}");
    assert!(told.iter().any(|line| line.contains("before the first plan")), "{told:?}");
    let left: Vec<String> = files(&dir).into_keys().collect();
    assert_eq!(left, ["block.stl"]);
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_the_search_and_the_best_plan_is_written() {
    let dir = place("ctrl-c");
    write_box(&dir.join("block.stl"), [500.0, 470.0, 430.0]);
    let (status, told) = interrupted(&dir, "220x220x250", &["round "]);
    assert_eq!(status, Some(0), "{told:?}");
    ends(&dir, &["audit", "out"], 0, &[]);
}

/// After the search the best plan is measured, laid, written and read again; that can be given up too.
/// (Of the last moments, too short to be sure to meet one, see the test above that kills.)
#[cfg(unix)]
#[test]
fn ctrl_c_a_second_time_gives_up_what_comes_after_the_search() {
    let dir = place("ctrl-c-twice");
    write_box(&dir.join("block.stl"), [500.0, 470.0, 430.0]);
    let small = ["plan", "block.stl", "--bed", "220x220x250", "--out", "out", "--effort", "0", "--quiet"];
    ends(&dir, &small, 0, &[]);
    let before = files(&dir);
    for stage in ["measuring ", "laying "] {
        let (status, told) = interrupted(&dir, "220x220x250", &["round ", stage]);
        assert_eq!(status, Some(1), "{stage}: {told:?}");
        assert!(told.iter().any(|line| line.contains("before the plan was written")), "{told:?}");
        assert_eq!(files(&dir), before, "after {stage}");
    }
}

/// Plans `block.stl`, sends Ctrl-C at the first line that starts with each of `at` in turn; exit code and
/// lines.
#[cfg(unix)]
fn interrupted(dir: &Path, bed: &str, at: &[&str]) -> (Option<i32>, Vec<String>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_seamwright"))
        .args(["plan", "block.stl", "--bed", bed, "--out", "out", "--effort", "100000"])
        .current_dir(dir)
        .stderr(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .expect("the program runs");
    let lines = BufReader::new(child.stderr.take().expect("stderr is piped"));
    let mut n_sent = 0;
    let mut told = Vec::new();
    // Read on to the end: a full pipe would stop the program.
    for line in lines.lines().map_while(Result::ok) {
        if at.get(n_sent).is_some_and(|at| line.starts_with(at)) {
            n_sent += 1;
            let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
            assert!(sent.expect("kill runs").success());
        }
        told.push(line);
    }
    assert_eq!(n_sent, at.len(), "{told:?}");
    (child.wait().expect("the program ends").code(), told)
}
