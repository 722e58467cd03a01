//! `cargo xtask cut`: one mesh, one plane, both sides as files; and the cuts that the reference
//! libraries make beside ours.
//!
//! Planes are `normal . p = offset_mm` in the coordinates of the file as read (no units, no turning).
//! `cuts.json` in the folder of cases lists what `tests/reference/cuts.py` and `cuts.mjs` read.

use crate::{letter, place, rows, shapes};
use anyhow::{Context, Result, bail};
use seamwright_mesh::{Plane, Solid, read, split::split, write};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Options of `cut`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// The mesh, taken as mm
    mesh: PathBuf,
    /// Normal (any length) and offset along the unit normal in mm
    #[arg(long, value_name = "NX,NY,NZ,D", allow_hyphen_values = true)]
    plane: String,
    /// Folder for whole.stl, above.stl and below.stl
    #[arg(long)]
    out: PathBuf,
}

/// Cuts and says the volumes.
///
/// # Errors
/// When the mesh or the plane cannot be used.
pub fn run(options: &Options) -> Result<bool> {
    let numbers: Vec<f64> = options.plane.split(',').map(str::parse).collect::<Result<_, _>>()?;
    let [x, y, z, offset_mm] = numbers[..] else { bail!("--plane needs four numbers: NX,NY,NZ,D") };
    let whole = solid_of(&options.mesh)?;
    let case = Case { name: "cut", plane: ([x, y, z], offset_mm), general_position: false };
    let record = write_case(&options.out, "", &whole, &case)?;
    for side in ["whole", "above", "below"] {
        println!("{side}: {} mm3", record[format!("{side}_mm3")]);
    }
    Ok(true)
}

struct Case {
    name: &'static str,
    plane: ([f64; 3], f64),
    /// Whether the plane avoids vertices.
    general_position: bool,
}

/// A plane in general position, and three that run through vertices, edges and faces.
const OBLIQUE: Case = Case { name: "oblique", plane: ([0.36, 0.48, 0.8], 3.1), general_position: true };
const RINGS: Case = Case { name: "through-rings", plane: ([0.0, 0.0, 1.0], 0.0), general_position: false };
const SADDLE: Case = Case { name: "through-saddle", plane: ([1.0, 0.0, 0.0], 45.0), general_position: false };
const STEP: Case =
    Case { name: "along-step", plane: ([0.0, 0.0, 1.0], letter::PLATE_MM as f64), general_position: false };
const EDGES: Case = Case {
    name: "along-edges",
    plane: ([1.0, 0.0, 0.0], 4.0 * letter::CELL_MM as f64),
    general_position: false,
};
const TILTED: Case = Case { name: "tilted", plane: ([0.6, -0.64, 0.48], 17.3), general_position: true };

/// Writes all cases into `folder`; returns the folder.
///
/// # Errors
/// When a shape, a demo mesh or a file cannot be made.
pub fn write_cases(folder: &Path) -> Result<PathBuf> {
    let plate = place::root().join("demo-meshes/checks/letter-f.obj");
    let mut wholes: Vec<(&str, Solid, Vec<Case>)> = vec![
        ("torus", shapes::torus(60.0, 15.0, 20_000)?, vec![OBLIQUE, RINGS, SADDLE]),
        ("shell", shapes::shell(100.0, 96.0, 40_000)?, vec![OBLIQUE, RINGS]),
        ("letter-f", solid_of(&plate)?, vec![TILTED, STEP, EDGES]),
    ];
    for name in ["vambrace", "pauldron"] {
        let file = rows::demo_file(name).with_context(|| format!("demo-meshes/{name} is missing"))?;
        let whole = solid_of(&file)?;
        let (low, high) = whole.box_mm();
        let normal = [0.36, 0.48, 0.8];
        let middle: f64 = (0..3).map(|k| normal[k] * (low[k] + high[k]) / 2.0).sum();
        let case = Case { name: "through-middle", plane: (normal, middle), general_position: true };
        wholes.push((name, whole, vec![case]));
    }
    let mut records = Vec::new();
    for (name, whole, cases) in &wholes {
        for case in cases {
            records.push(write_case(folder, &format!("{name}-{}-", case.name), whole, case)?);
        }
    }
    std::fs::write(folder.join("cuts.json"), serde_json::to_string_pretty(&records)?)?;
    Ok(folder.to_path_buf())
}

fn write_case(folder: &Path, before: &str, whole: &Solid, case: &Case) -> Result<Value> {
    std::fs::create_dir_all(folder)?;
    let (direction, offset_mm) = case.plane;
    let mut plane = Plane::through([0.0; 3], direction).context("the normal has no length")?;
    plane.offset_mm = offset_mm;
    let sides = split(whole, &plane, 1);
    let (Some(above), Some(below)) = (sides.above, sides.below) else { bail!("the plane misses the mesh") };
    let mut record = json!({
        "name": before.trim_end_matches('-'), "normal": plane.normal, "offset_mm": offset_mm,
        "general_position": case.general_position,
    });
    for (side, solid) in [("whole", whole), ("above", &above), ("below", &below)] {
        let file = format!("{before}{side}.stl");
        std::fs::write(folder.join(&file), write::stl_bytes(solid))?;
        record[side] = json!(file);
        record[format!("{side}_mm3")] = json!(solid.volume_mm3());
    }
    Ok(record)
}

/// Reads a file as mm and proves it a solid.
///
/// # Errors
/// When it cannot be read or is not closed.
pub fn solid_of(file: &Path) -> Result<Solid> {
    let bytes = std::fs::read(file).with_context(|| format!("{} cannot be read", file.display()))?;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let model = read::read_model(&bytes, &name).with_context(|| format!("{}", file.display()))?;
    joined(&model).with_context(|| format!("{}", file.display()))
}

/// All parts of a model as one solid.
fn joined(model: &seamwright_mesh::Model) -> Result<Solid> {
    let (mut points, mut triangles) = (Vec::new(), Vec::new());
    for part in &model.parts {
        let first = points.len() as u32;
        points.extend(&part.points);
        triangles.extend(part.triangles.iter().map(|t| t.map(|i| first + i)));
    }
    Ok(Solid::from_triangles(&points, &triangles)?.0)
}
