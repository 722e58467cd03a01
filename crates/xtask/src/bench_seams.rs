//! `cargo xtask bench seams`: what the search reaches in a given time, row by row, and its curve as a drawing.
//!
//! Each row is planned by the program with a clock, fewest pieces first, margin 5 where the row does not say
//! otherwise: pieces beside those asked for and the least proved, seams beside the plain grid's, seconds until
//! the first plan and the last better one, planes looked at a second. Published figures stand beside the row
//! they are of. The curve is that of the demo costume, finishing time and pieces by seconds.
//! Then the same rows in the page's workers (`page/search.rs`).
//! Not here: fixed amounts of work and the reference libraries (`prove.rs`).

use crate::rows::{self, Row};
use crate::{page, place, reference, test};
use anyhow::{Context, Result};
use serde_json::Value;
use std::fmt::Write;
use std::path::Path;
use std::process::Command;

/// Models of the reference data, the bed, and the pieces asked for at most.
const ASKED: [(&str, &str, usize); 7] = [
    ("helmet-crested", "180x180x180", 5),
    ("helmet-crested", "220x220x250", 2),
    ("shield-600mm", "180x180x180", 11),
    ("shield-600mm", "220x220x250", 7),
    ("sword-1100mm", "180x180x180", 6),
    ("sword-1100mm", "220x220x250", 5),
    ("bust-museum", "220x220x250", 4),
];

/// Of the bunny: "Interactive partitioning into printable parts" (2018), as quoted in the study of cutting.
const PUBLISHED: &str =
    "published for the bunny: 10 pieces automatic in 287 s, 8 by level sets in 365 s, 7 with help in 119 s";

/// Prints the table and writes `target/bench/search.svg`.
///
/// # Errors
/// When a plan cannot be made.
pub fn run(seconds: u32) -> Result<bool> {
    let program = place::built_program(true)?;
    let folder = place::target().join("bench");
    std::fs::create_dir_all(&folder)?;
    println!(
        "{:<30} {:>6} {:>5} {:>5} {:>4} {:>5} {:>11} {:>11} {:>6} {:>6} {:>6} {:>6} {:>6} {:>7}",
        "",
        "pieces",
        "asked",
        "least",
        "grid",
        "held",
        "shows mm",
        "detail mm",
        "hollow",
        "min",
        "room",
        "first",
        "best",
        "a second"
    );
    let all = rows(&folder)?;
    for (row, asked) in &all {
        let made = plan(&program, row, "fewest", seconds, &folder)?;
        println!("{}", line(row, *asked, &made));
    }
    println!("{PUBLISHED}");
    let rows: Vec<&Row> = all.iter().map(|(row, _)| row).collect();
    page::search::print(&rows, &program, &folder)?;
    let mut curves = Vec::new();
    for (name, argument) in rows::costume()? {
        let row = Row::new(name, argument, "220x220x250");
        let made = plan(&program, &row, "balanced", seconds, &folder)?;
        println!("{}", line(&row, None, &made));
        curves.push((name, made.run));
    }
    let file = folder.join("search.svg");
    std::fs::write(&file, drawing(&curves, f64::from(seconds)))?;
    println!("{}", file.display());
    Ok(true)
}

fn rows(folder: &Path) -> Result<Vec<(Row, Option<usize>)>> {
    let mut all = Vec::new();
    match place::reference_data() {
        Some(data) => {
            let models = rows::reference_models(&data)?;
            for (name, bed, pieces) in ASKED {
                let model = models.iter().find(|model| model.name == name);
                let model = model.with_context(|| format!("{name} is not in the reference data"))?;
                all.push((Row::new(name, model.argument.clone(), bed), Some(pieces)));
            }
        }
        None => println!("reference models left out: SEAMWRIGHT_REFERENCE is not set"),
    }
    match reference::npm() {
        Ok(_) => {
            let bunny = test::bunny_row(folder)?;
            let more = Row { id: "bunny--margin-5".into(), more: vec!["--margin", "5"], ..bunny.clone() };
            all.extend([(bunny, Some(5)), (more, Some(6))]);
        }
        Err(reason) => println!("bunny left out: {reason}"),
    }
    Ok(all)
}

struct Made {
    plan: Value,
    run: Value,
}

fn plan(program: &Path, row: &Row, prefer: &str, seconds: u32, folder: &Path) -> Result<Made> {
    let out = folder.join("plan");
    let mut command = Command::new(program);
    command.current_dir(place::root()).arg("plan").args(&row.models).args(["--bed", row.bed]).args(&row.more);
    command.args(["--seconds", &seconds.to_string(), "--threads", "2", "--quiet", "--force"]);
    if prefer != "balanced" {
        command.args(["--prefer", prefer]);
    }
    place::run(command.arg("--out").arg(&out))?;
    let read = |name: &str| -> Result<Value> {
        let text =
            std::fs::read_to_string(out.join(name)).with_context(|| format!("{name} of {}", row.id))?;
        Ok(serde_json::from_str(&text)?)
    };
    Ok(Made { plan: read("plan.json")?, run: read("run.json")? })
}

fn line(row: &Row, asked: Option<usize>, Made { plan, run }: &Made) -> String {
    let list = |name: &str| plan[name].as_array().cloned().unwrap_or_default();
    let sum = |rows: &[Value], field: &str| {
        rows.iter().filter_map(|row| row[field].as_f64()).fold(0.0, |a, b| a + b)
    };
    let (seams, grid, totals) = (list("seams"), list("grid"), &plan["totals"]);
    let beside = |field: &str| format!("{:.0}/{:.0}", sum(&seams, field), sum(&grid, field));
    let visible_mm = sum(&seams, "visible_mm");
    let hollow = if visible_mm > 0.0 { 100.0 * sum(&seams, "in_hollow_mm") / visible_mm } else { 0.0 };
    let history = run["history"].as_array().cloned().unwrap_or_default();
    let first_s = history.first().map_or(0.0, |row| row["seconds"].as_f64().unwrap_or(0.0));
    let best = |row: &Value| (row["pieces"].as_u64(), row["cost_min"].as_f64());
    let last = history.last().map(best);
    let best_s = history
        .iter()
        .find(|row| Some(best(row)) == last)
        .map_or(0.0, |r| r["seconds"].as_f64().unwrap_or(0.0));
    format!(
        "{:<30} {:>6} {:>5} {:>5} {:>4} {:>5} {:>11} {:>11} {:>5.0}% {:>6.0} {:>6.2} {:>5.2}s {:>5.1}s {:>7.0}",
        row.id,
        totals["pieces"].as_u64().unwrap_or(0),
        asked.map_or(String::new(), |n| n.to_string()),
        sum(&list("bounds"), "pieces_at_least"),
        sum(&grid, "pieces"),
        totals["held"].as_u64().unwrap_or(0),
        beside("visible_mm"),
        beside("through_detail_mm"),
        hollow,
        totals["finishing_min"].as_f64().unwrap_or(0.0),
        plan["audit"]["worst_fit_margin_mm"].as_f64().unwrap_or(0.0),
        first_s,
        best_s,
        run["candidates_per_second"].as_f64().unwrap_or(0.0),
    )
}

/// Seconds, hours, pieces.
type Moments = Vec<(f64, f64, u64)>;

/// Width, height, and the field of the curves in it.
const SIZE: [f64; 2] = [720.0, 300.0];
const FIELD: [[f64; 2]; 2] = [[46.0, 520.0], [16.0, 268.0]];

/// Finishing hours of each item as the search went on; pieces stand where they change.
fn drawing(curves: &[(&str, Value)], span_s: f64) -> String {
    let rows = |run: &Value| -> Moments {
        let of = |row: &Value| {
            Some((
                row["seconds"].as_f64()?.min(span_s),
                row["cost_min"].as_f64()? / 60.0,
                row["pieces"].as_u64()?,
            ))
        };
        run["history"].as_array().into_iter().flatten().filter_map(of).collect()
    };
    let all: Vec<(&str, Moments)> = curves.iter().map(|(name, run)| (*name, rows(run))).collect();
    let most = all.iter().flat_map(|(_, rows)| rows).map(|row| row.1).fold(1.0, f64::max).ceil();
    let [[left, right], [top, bottom]] = FIELD;
    let x = |seconds: f64| left + (right - left) * seconds / span_s;
    let y = |hours: f64| bottom - (bottom - top) * hours / most;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n\
         <path d=\"M{left} {top}V{bottom}H{right}\" fill=\"none\" stroke=\"#333\"/>\n",
        SIZE[0], SIZE[1]
    );
    for (at, text) in [(y(most), format!("{most} h")), (y(0.0), "0 h".into())] {
        let _ = writeln!(
            svg,
            "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{text}</text>",
            left - 6.0,
            at + 4.0
        );
    }
    for (at, text) in [(left, "0 s".to_string()), (right, format!("{span_s} s"))] {
        let _ =
            writeln!(svg, "<text x=\"{at}\" y=\"{}\" text-anchor=\"middle\">{text}</text>", bottom + 18.0);
    }
    // Names at the right, lowest curve first, no two closer than a line.
    let mut ends: Vec<(f64, String)> = Vec::new();
    for (name, rows) in &all {
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { continue };
        let mut path = format!("M{:.1} {:.1}", x(first.0), y(first.1));
        for row in rows {
            let _ = write!(path, "H{:.1}V{:.1}", x(row.0), y(row.1));
        }
        let _ = writeln!(
            svg,
            "<path d=\"{path}H{right}\" fill=\"none\" stroke=\"#1f5c99\" stroke-width=\"1.6\"/>"
        );
        let mut pieces = 0;
        for row in rows {
            if row.2 != pieces {
                pieces = row.2;
                let _ = writeln!(
                    svg,
                    "<text x=\"{:.1}\" y=\"{:.1}\">{pieces}</text>",
                    x(row.0) + 3.0,
                    y(row.1) - 4.0
                );
            }
        }
        ends.push((y(last.1), format!("{name}, {} pieces, {:.1} h", last.2, last.1)));
    }
    ends.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut below = f64::MAX;
    for (at, text) in ends {
        below = (below - 15.0).min(at + 4.0);
        let _ = writeln!(svg, "<text x=\"{}\" y=\"{below:.1}\">{text}</text>", right + 8.0);
    }
    svg + "</svg>\n"
}
