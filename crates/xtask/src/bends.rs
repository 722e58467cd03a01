//! The bend of surfaces as we find it, for a reference library to find it again.
//!
//! `bends.json` in the folder of cases lists what `tests/reference/bends.py` reads: meshes, and the
//! bend at some of our samples. Smooth shapes must agree; demo items can only be alike.

use crate::{cut, rows, shapes};
use anyhow::{Context, Result};
use seamwright_mesh::curvature::{Curvature, SCALES_MM};
use seamwright_mesh::{Solid, write};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Samples written of each mesh, about.
const N_PLACES: usize = 2_000;

/// How near our bend must come to the other.
struct Limits {
    /// Median difference of the tensors, as a share of their median size.
    apart: f64,
    /// Cosine between all our tensors and all of theirs.
    alike: f64,
}

/// Smooth shapes: measured at most 0.023 and at least 0.9995; what is left is the facets.
const SMOOTH: Limits = Limits { apart: 0.03, alike: 0.999 };

/// Items with edges and relief, where every method weighs what it sees in its own way: at most 0.24, at least
/// 0.72.
const DETAILED: Limits = Limits { apart: 0.3, alike: 0.7 };

/// Writes all cases into `folder`; returns the folder.
///
/// # Errors
/// When a shape, a demo mesh or a file cannot be made.
pub fn write_cases(folder: &Path) -> Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    let mut records = vec![
        write_case(folder, "ball", &shapes::sphere(50.0, 30_000)?, &SMOOTH)?,
        write_case(folder, "torus", &shapes::torus(60.0, 25.0, 40_000)?, &SMOOTH)?,
        write_case(folder, "wavy-ball", &shapes::wavy(70.0, 6.0, 40_000)?, &SMOOTH)?,
    ];
    for name in ["vambrace", "pauldron"] {
        let file = rows::demo_file(name).with_context(|| format!("demo-meshes/{name} is missing"))?;
        records.push(write_case(folder, name, &cut::solid_of(&file)?, &DETAILED)?);
    }
    std::fs::write(folder.join("bends.json"), serde_json::to_string(&records)?)?;
    Ok(folder.to_path_buf())
}

fn write_case(folder: &Path, name: &str, solid: &Solid, limits: &Limits) -> Result<Value> {
    let file = format!("{name}.stl");
    std::fs::write(folder.join(&file), write::stl_bytes(solid))?;
    let curvature = Curvature::new(solid);
    let every = (curvature.samples.len() / N_PLACES).max(1);
    let samples: Vec<_> = curvature.samples.iter().step_by(every).collect();
    let scales: Vec<Value> = [0, 1]
        .map(|scale| {
            let bends = || samples.iter().map(|s| &s.bends[scale]);
            json!({
                "radius_mm": SCALES_MM[scale],
                "normals": bends().map(|b| b.normal).collect::<Vec<_>>(),
                "along": bends().map(|b| b.along).collect::<Vec<_>>(),
                "per_mm": bends().map(|b| b.per_mm).collect::<Vec<_>>(),
            })
        })
        .into();
    Ok(json!({
        "name": name, "mesh": file, "apart": limits.apart, "alike": limits.alike,
        "near_mm": curvature.side_mm, "scales": scales,
        "places_mm": samples.iter().map(|s| s.place_mm).collect::<Vec<_>>(),
    }))
}
