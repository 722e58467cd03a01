//! Items in every format we write, for other libraries to read and to write again.
//!
//! `formats.json` in the folder of cases lists what `tests/reference/formats.py` reads: an item's name,
//! volume and area. The files are `NAME.stl`, `.ply` and `.3mf`.

use crate::{cut, place, rows};
use anyhow::{Context, Result};
use seamwright_mesh::write::{self, JobObject};
use seamwright_mesh::{Placement, Solid};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Items of the demo: few, since a library reads large packages point by point.
const DEMO: [&str; 2] = ["pauldron", "glaive"];
/// Models of the reference data.
const FILES: [&str; 2] = ["vambrace_shell.ply", "sword_1100mm.stl"];

/// Writes all cases into `folder`; returns the folder.
///
/// # Errors
/// When an item cannot be read or written.
pub fn write_cases(folder: &Path) -> Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    let demo: Vec<PathBuf> = DEMO
        .into_iter()
        .map(|name| rows::demo_file(name).with_context(|| format!("demo-meshes/{name} is missing")))
        .collect::<Result<_>>()?;
    let given =
        place::reference_data().into_iter().flat_map(|data| FILES.map(|file| data.join("models").join(file)));
    let mut records = Vec::new();
    for path in demo.into_iter().chain(given) {
        let name = path.file_stem().context("a file has a name")?.to_string_lossy();
        records.push(write_case(folder, &name, &cut::solid_of(&path)?)?);
    }
    std::fs::write(folder.join("formats.json"), serde_json::to_string(&records)?)?;
    Ok(folder.to_path_buf())
}

fn write_case(folder: &Path, name: &str, solid: &Solid) -> Result<Value> {
    let (points_mm, triangles) = (solid.points_mm(), solid.triangles());
    let placement = Placement::IDENTITY;
    let object = JobObject { name, part_number: name, points_mm: &points_mm, triangles, placement };
    std::fs::write(folder.join(format!("{name}.stl")), write::stl_bytes(solid))?;
    std::fs::write(folder.join(format!("{name}.ply")), write::ply_bytes(&points_mm, triangles))?;
    std::fs::write(folder.join(format!("{name}.3mf")), write::threemf_bytes(&[object]))?;
    Ok(json!({ "name": name, "volume_mm3": solid.volume_mm3(), "area_mm2": solid.area_mm2() }))
}
