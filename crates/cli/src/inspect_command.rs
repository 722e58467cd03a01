//! `seamwright inspect MODEL`.

use crate::model_argument;
use anyhow::{Context, Result};
use clap::ArgMatches;
use seamwright_mesh::read::ReadOptions;
use seamwright_plan::inspect::{InspectRecord, inspect};
use seamwright_plan::job::ItemSettings;
use seamwright_plan::records::NoticeRecord;
use std::path::PathBuf;

/// Inspects a model.
///
/// # Errors
/// When it cannot be read: which file, where and why.
#[allow(clippy::print_stdout)]
pub fn run(matches: &ArgMatches) -> Result<bool> {
    let Some(path) = matches.get_one::<PathBuf>("model") else { anyhow::bail!("no model given") };
    let bytes = std::fs::read(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let name = path.display().to_string();
    let mut settings = ItemSettings::default();
    for name in ["mend", "leave-out", "wall"] {
        if let Some(value) = matches.get_one::<String>(name) {
            model_argument::apply(&mut settings, name, value).with_context(|| format!("--{name}"))?;
        }
    }
    let options = ReadOptions { strict: matches.get_flag("strict") };
    let found = inspect(&bytes, &name, &settings, options).map_err(anyhow::Error::msg);
    let found = found.with_context(|| name.clone())?;
    if matches.get_flag("json") {
        println!("{}", serde_json::to_string_pretty(&found)?);
    } else {
        print!("{}", text_of(&found, &name));
    }
    Ok(true)
}

/// The report for people.
fn text_of(found: &InspectRecord, name: &str) -> String {
    let [x, y, z] = found.size;
    let guess = &found.units_guess;
    let mut lines = vec![
        format!(
            "{name}: {} triangles, {} vertices, {} bodies",
            found.triangles, found.vertices, found.bodies
        ),
        format!("size {x:.1} x {y:.1} x {z:.1} mm, taken as {}: {}", guess.unit, guess.reason),
    ];
    if found.closed {
        let (volume, area) = (found.volume_mm3 / 1000.0, found.area_mm2 / 100.0);
        let wall = found.thinnest_wall_mm.map(|mm| format!(", thinnest wall {mm:.2} mm")).unwrap_or_default();
        lines.push(format!("closed: {volume:.2} cm3, {area:.1} cm2{wall}"));
    } else {
        lines.push("not closed".into());
    }
    lines.extend(found.notices.iter().map(line_of));
    if let Some(mending) = &found.mending {
        match &mending.fails {
            Some(why) => lines.push(format!("it cannot be mended: {why}")),
            None => lines.push("planning mends it (a copy; the file stays as it is):".into()),
        }
        lines.extend(mending.steps.iter().map(line_of));
        if let (Some(triangles), Some(volume_mm3)) = (mending.triangles, mending.volume_mm3) {
            lines.push(format!("mended: {triangles} triangles, {:.2} cm3", volume_mm3 / 1000.0));
        }
    }
    lines.join("\n") + "\n"
}

fn line_of(notice: &NoticeRecord) -> String {
    let places: Vec<String> =
        notice.at_mm.iter().map(|p| format!("({:.1}, {:.1}, {:.1})", p[0], p[1], p[2])).collect();
    let at = if places.is_empty() { String::new() } else { format!(" at {}", places.join(" ")) };
    format!("  {}: {} x {}{at}", notice.code, notice.count, notice.text)
}
