//! The costume a new visitor sees being planned: a project of stand-ins, small enough to travel in
//! the page.
//!
//! How: every demo mesh is brought to a few thousand triangles by collapsing edges, rounded to
//! hundredths of a millimetre, proved closed, and packed as a 3MF inside a project file. Made again
//! only when a demo mesh or a count has changed.

use crate::demo::{self, Mesh};
use crate::{place, rows};
use anyhow::{Context, Result};
use seamwright_bed::Bed;
use seamwright_mesh::{Placement, placement, read};
use seamwright_plan::job::{Budget, ItemSettings, ModelInput, Options};
use seamwright_plan::project;
use seamwright_seams::outline::Prefer;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

/// Triangles of each stand-in, in the order of the costume: enough to know the item by.
const TRIANGLES: [usize; 5] = [11_000, 7_000, 5_000, 6_000, 4_500];

/// The bed the demo is planned for.
const BED: &str = "220x220x250";

/// Writes the demo project to `file`, where it is not there already.
///
/// # Errors
/// When a demo mesh is missing or its stand-in is no solid.
pub fn write(file: &Path) -> Result<()> {
    let mut sources = Vec::new();
    for (name, _) in rows::COSTUME {
        let path = rows::demo_file(name).with_context(|| format!("demo-meshes/{name} is missing"))?;
        sources.push(std::fs::read(&path).with_context(|| place::shown(&path))?);
    }
    let mut hasher = DefaultHasher::new();
    (&sources, TRIANGLES, BED, include_str!("demo.rs")).hash(&mut hasher);
    let (key, key_file) = (format!("{:016x}", hasher.finish()), file.with_extension("key"));
    if file.is_file() && std::fs::read_to_string(&key_file).is_ok_and(|kept| kept == key) {
        return Ok(());
    }
    let mut models = Vec::new();
    for (((name, settings), bytes), n_triangles) in rows::COSTUME.iter().zip(&sources).zip(TRIANGLES) {
        let (title, mesh) = stand_in(name, bytes, n_triangles)?;
        let settings = ItemSettings {
            role: settings.split(',').find_map(|s| s.strip_prefix("role=")).map(String::from),
            pair: settings.split(',').any(|s| s == "pair"),
            ..ItemSettings::default()
        };
        let bytes = demo::three_mf(&mesh, &title);
        // Beside the project too: the page's tests plan one of them natively.
        let beside = file.with_file_name("demo");
        std::fs::create_dir_all(&beside)?;
        std::fs::write(beside.join(format!("{name}.3mf")), &bytes)?;
        models.push(ModelInput { name: format!("{name}.3mf"), bytes, settings });
    }
    let options = Options {
        beds: vec![Bed::parse(BED)?],
        prefer: Prefer::Balanced,
        budget: Budget::Watch,
        seed: 1,
        n_threads: 1,
        posed: false,
        no_models: false,
    };
    std::fs::write(file, project::project_bytes(&models, &options, &[], Vec::new())?)?;
    std::fs::write(key_file, key)?;
    Ok(())
}

fn stand_in(name: &str, bytes: &[u8], n_triangles: usize) -> Result<(String, Mesh)> {
    let model = read::read_model(bytes, name).with_context(|| name.to_string())?;
    let (points, triangles) = placement::placed(&model, &Placement::IDENTITY);
    let fewer = demo::fewer(Mesh { points, triangles }, n_triangles).with_context(|| name.to_string())?;
    Ok((model.parts.first().map_or_else(String::new, |part| part.name.clone()), fewer))
}
