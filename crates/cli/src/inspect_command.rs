//! `seamwright inspect MODEL`.

use anyhow::{Context, Result};
use clap::ArgMatches;
use seamwright_mesh::flaws::{Found, flaws};
use seamwright_mesh::parts;
use seamwright_mesh::read::{ReadOptions, read_model_with};
use seamwright_mesh::units;
use seamwright_plan::item::place;
use seamwright_plan::job::ItemSettings;
use serde_json::json;
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
    let options = ReadOptions { strict: matches.get_flag("strict") };
    let model = read_model_with(&bytes, &name, options).with_context(|| name.clone())?;
    let guess = units::guess_unit(units::largest_extent(&model), model.unit);
    let (placement, mut notices, _) =
        place(&model, &ItemSettings::default()).with_context(|| name.clone())?;
    notices.splice(0..0, model.notices.iter().cloned());
    let found = flaws(&model, &placement);
    for (code, text, flaw) in [
        ("open-edges", "edges with a triangle on one side only", &found.open_edges),
        ("boundary-loops", "holes", &found.boundary_loops),
        ("nonmanifold-edges", "edges with more than two triangles", &found.nonmanifold_edges),
        ("nonmanifold-vertices", "points where the surface only touches itself", &found.nonmanifold_vertices),
        ("flipped-triangles", "triangles that face the wrong way", &found.flipped_triangles),
        ("duplicate-triangles", "triangles that lie on another", &found.duplicate_triangles),
        ("degenerate-triangles", "triangles without area", &found.degenerate_triangles),
    ] {
        if flaw.count > 0 {
            let Found { count, at_mm } = flaw.clone();
            notices.push(seamwright_mesh::Notice { code, text: text.into(), count, at_mm });
        }
    }
    let n_parts = parts::standing_apart(&model, guess.unit.mm()).len();
    if n_parts > 1 {
        let (code, at_mm) = ("parts-apart", Vec::new());
        let text = "parts that stand apart; each can be an item of its own: MODEL:part=1 and so on".into();
        notices.push(seamwright_mesh::Notice { code, text, count: n_parts, at_mm });
    }
    let [x, y, z] = found.size_mm;
    if matches.get_flag("json") {
        let listed: Vec<_> = notices
            .iter()
            .map(|n| json!({"code": n.code, "text": n.text, "count": n.count, "at_mm": n.at_mm}))
            .collect();
        let report = json!({
            "triangles": found.n_triangles,
            "vertices": found.n_vertices,
            "bodies": found.n_bodies,
            "closed": found.closed,
            "open_edges": found.open_edges.count,
            "boundary_loops": found.boundary_loops.count,
            "nonmanifold_edges": found.nonmanifold_edges.count,
            "nonmanifold_vertices": found.nonmanifold_vertices.count,
            "flipped_triangles": found.flipped_triangles.count,
            "duplicate_triangles": found.duplicate_triangles.count,
            "degenerate_triangles": found.degenerate_triangles.count,
            "volume_mm3": found.volume_mm3,
            "area_mm2": found.area_mm2,
            "size": [x, y, z],
            "units_guess": {"unit": guess.unit.name(), "sure": guess.sure, "reason": guess.reason},
            "notices": listed,
        });
        println!("{}", serde_json::to_string_pretty(&report)?);
        return Ok(true);
    }
    println!(
        "{name}: {} triangles, {} vertices, {} bodies",
        found.n_triangles, found.n_vertices, found.n_bodies
    );
    println!("size {x:.1} x {y:.1} x {z:.1} mm, taken as {}: {}", guess.unit.name(), guess.reason);
    if found.closed {
        println!("closed: {:.2} cm3, {:.1} cm2", found.volume_mm3 / 1000.0, found.area_mm2 / 100.0);
    } else {
        println!("not closed, so it cannot be planned before it is mended");
    }
    for notice in &notices {
        let places: Vec<String> =
            notice.at_mm.iter().map(|p| format!("({:.1}, {:.1}, {:.1})", p[0], p[1], p[2])).collect();
        let at = if places.is_empty() { String::new() } else { format!(" at {}", places.join(" ")) };
        println!("  {}: {} x {}{at}", notice.code, notice.count, notice.text);
    }
    Ok(true)
}
