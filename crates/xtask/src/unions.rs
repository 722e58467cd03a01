//! Unions of overlapping bodies as we make them, for a reference kernel to make again.
//!
//! `unions.json` in the folder of cases lists what `tests/reference/unions.py` reads: a mesh of several
//! bodies, and the same united.

use crate::{cut, place, shapes};
use anyhow::{Context, Result};
use seamwright_mesh::unite::unite;
use seamwright_mesh::{Solid, write};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Files of the reference data whose bodies overlap.
const FILES: [&str; 2] = ["nasty/overlapping_shells.stl", "nasty/mail_144_rings.ply"];

/// Writes all cases into `folder`; returns the folder.
///
/// # Errors
/// When a shape or a file cannot be made or united.
pub fn write_cases(folder: &Path) -> Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    let mut records = vec![
        write_case(folder, "three-balls", &balls(&[[0.0; 3], [60.1, 0.0, 0.0], [20.2, 57.3, 11.4]])?)?,
        // One within another, and one apart.
        write_case(folder, "ball-of-balls", &balls(&[[0.0; 3], [1.3, 0.7, 50.9], [160.0, 0.0, 0.0]])?)?,
    ];
    if let Some(data) = place::reference_data() {
        for file in FILES {
            let name = Path::new(file).file_stem().context("a file has a name")?.to_string_lossy();
            records.push(write_case(folder, &name, &cut::solid_of(&data.join(file))?)?);
        }
    }
    std::fs::write(folder.join("unions.json"), serde_json::to_string(&records)?)?;
    Ok(folder.to_path_buf())
}

/// Balls of 50 mm radius.
fn balls(middles_mm: &[[f64; 3]]) -> Result<Solid> {
    let ball = shapes::sphere(50.0, 8_000)?;
    let (mut points, mut triangles) = (Vec::new(), Vec::new());
    for middle in middles_mm {
        let first = points.len() as u32;
        let moved = |p: [f64; 3]| std::array::from_fn(|axis| p[axis] + middle[axis]);
        points.extend(ball.points_mm().into_iter().map(moved));
        triangles.extend(ball.triangles().iter().map(|t| t.map(|p| p + first)));
    }
    Ok(Solid::from_triangles(&points, &triangles)?.0)
}

fn write_case(folder: &Path, name: &str, bodies: &Solid) -> Result<Value> {
    let united = unite(bodies).solid;
    for (which, solid) in [("bodies", bodies), ("united", &united)] {
        std::fs::write(folder.join(format!("{name}-{which}.stl")), write::stl_bytes(solid))?;
    }
    Ok(json!({ "name": name, "area_mm2": united.area_mm2() }))
}
