//! Hostile and broken files: every corner and broken file looked at within 2 s and 500 MiB, real models that do
//! not close mended and planned, random mutants counted.

use crate::folders::{self, Work};
use crate::place;
use crate::rows::Row;
use anyhow::{Context, Result};
use std::fmt::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// What a file may take: address space, so memory and a little more.
const MOST_KB: u64 = 500 * 1024;
const MOST_S: f64 = 2.0;

/// Real models that are open, of many bodies, or both; all that is said of one is how large it is to be.
const MODELS: [(&str, &str); 6] = [
    ("flying helmet, 85 bodies", "FlightHelmet_merged.ply:height=450"),
    ("the same, united", "FlightHelmet_merged.ply:height=450,unite"),
    ("hat", "fedora.obj"),
    ("shield with spikes", "kk_shield_spikes.stl"),
    ("two-handed sword", "kk_sword_2handed.stl"),
    ("staff", "kk_staff.stl"),
];

/// How far a mended surface may lie from the file's away from repaired places.
const MOST_OFF_MM: f64 = 0.3;

/// The text in Markdown, and whether all holds.
///
/// # Errors
/// When the reference data is missing or the program cannot be run.
pub fn table(program: &Path, folder: &Path, n_mutants: u64) -> Result<(String, bool)> {
    let data = place::reference_data().context("SEAMWRIGHT_REFERENCE is not set")?;
    let mut text = String::from("## Hostile and broken files\n\n");
    let looked = looked_at(program, &data, &mut text)?;
    let mended = mended(program, &data, folder, &mut text)?;
    let _ = writeln!(
        text,
        "Random mutants of all these files (`cargo xtask fuzz`), each read leniently and strictly, one in fifty also looked over and mended.\n"
    );
    let mut fuzz = Command::new(std::env::current_exe()?);
    let heard = place::quiet(fuzz.args(["fuzz", "--mutants", &n_mutants.to_string()]))?;
    let _ = writeln!(text, "```\n{}\n```", heard.out.trim());
    Ok((text, looked && mended && heard.code == 0))
}

fn looked_at(program: &Path, data: &Path, text: &mut String) -> Result<bool> {
    let mut files = Vec::new();
    for name in ["corner", "nasty"] {
        crate::fuzz::collect(&data.join(name), &mut files)?;
    }
    files.retain(|file| {
        file.extension().is_some_and(|ending| ending != "json" && ending != "tsv" && ending != "md")
    });
    files.sort();
    let (mut n_read, mut n_refused, mut slowest) = (0, 0, (0.0, String::new()));
    let mut beyond = Vec::new();
    for file in &files {
        let begun = Instant::now();
        let limited = format!("ulimit -v {MOST_KB}; exec \"$0\" inspect --json \"$1\"");
        let mut shell = Command::new("sh");
        shell.args(["-c", &limited]).arg(program).arg(file).stdout(Stdio::null()).stderr(Stdio::null());
        let code = shell.status()?.code();
        let took_s = begun.elapsed().as_secs_f64();
        let name = file.strip_prefix(data).unwrap_or(file).display().to_string();
        match code {
            Some(0 | 1) => n_read += 1,
            Some(2) => n_refused += 1,
            _ => beyond.push(format!("{name} ended by {code:?}")),
        }
        if took_s > MOST_S {
            beyond.push(format!("{name} took {took_s:.1} s"));
        }
        if took_s > slowest.0 {
            slowest = (took_s, name);
        }
    }
    let (s, name) = slowest;
    let _ = writeln!(
        text,
        "{} files looked at (`inspect`) with 500 MiB of address space each: {n_read} read, {n_refused} refused with the reason; the slowest took {s:.2} s ({name}).\n",
        files.len()
    );
    beyond.iter().for_each(|line| {
        let _ = writeln!(text, "FAILED: {line}\n");
    });
    Ok(beyond.is_empty())
}

fn mended(program: &Path, data: &Path, folder: &Path, text: &mut String) -> Result<bool> {
    let _ = writeln!(
        text,
        "Real models that do not close or have many bodies, mended and planned on a bed of 180 x 180 x 180 mm, 1 round; every piece is closed and the audit holds, unless a row says otherwise.\n\n\
         | model | what was done | pieces |\n|---|---|---|"
    );
    let mut all_hold = true;
    for (name, argument) in MODELS {
        let row = Row::new("mended", data.join("models").join(argument).display().to_string(), "180x180x180");
        let to = folder.join("mended");
        let planned = folders::plan(program, &row, Work { effort: 1, threads: 2 }, &to)?;
        let verdict = folders::audit(program, &planned.folder)?;
        let notices = planned.list("items")[0]["notices"].as_array().cloned().unwrap_or_default();
        let said: Vec<&str> = notices
            .iter()
            .filter(|notice| notice["code"] != "units-guess")
            .filter_map(|notice| notice["text"].as_str())
            .collect();
        let off_mm = said.iter().find_map(|text| {
            let rest = text.split("elsewhere the surface is within ").nth(1)?;
            rest.split(' ').next()?.parse::<f64>().ok()
        });
        let holds = verdict.is_none() && off_mm.is_none_or(|mm| mm < MOST_OFF_MM);
        all_hold &= holds;
        let end = verdict.map(|why| format!("; FAILED: {why}")).unwrap_or_default();
        let _ = writeln!(text, "| {name} | {} | {}{end} |", said.join("; "), planned.n_pieces());
        println!("{name}: {} pieces, {holds}", planned.n_pieces());
    }
    text.push('\n');
    Ok(all_hold)
}
