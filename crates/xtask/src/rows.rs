//! The rows of the tables: which model on which bed, with the settings that give it its true size.
//!
//! Reference models stand in a folder outside the project; its `MANIFEST.tsv` says which are closed
//! and in which unit. Demo items are the files of `demo-meshes/`.
//! Not here: planning them (`folders.rs`).

use crate::place;
use anyhow::{Context, Result};
use std::path::{Path, PathBuf};

/// The beds every table uses (contract: the standard beds of the checks, margin 5).
pub const STANDARD_BEDS: [&str; 4] = ["180x180x180", "220x220x250", "256x256x256", "d260x300"];

/// The demo costume: file in `demo-meshes/`, settings on the command line.
pub const COSTUME: [(&str, &str); 5] = [
    ("helm", "role=helm"),
    ("breastplate", "role=breastplate"),
    ("vambrace", "role=vambrace,pair"),
    ("pauldron", "role=pauldron,pair"),
    ("glaive", "role=blade"),
];

/// The plate with the letter F and its mirrored side: what a mirrored pose cannot hide on.
pub const LETTER: &str = "demo-meshes/checks/letter-f.obj:pair";

/// Files that the list calls closed although a fifth of their faces is turned over: refused by right.
const TWISTED: [&str; 1] = ["nasty/sphere_fifth_flipped.stl"];

/// One plan to make and check.
#[derive(Debug, Clone)]
pub struct Row {
    /// Name of the row and of its folder.
    pub id: String,
    /// Arguments of `plan` that name the model: `path:setting,...`.
    pub models: Vec<String>,
    /// The bed as typed.
    pub bed: &'static str,
    /// Further arguments, e.g. `--margin 0`.
    pub more: Vec<&'static str>,
    /// A limit on the pieces that the row must keep, where one is known from outside.
    pub pieces_at_most: Option<usize>,
    /// Whether it is a thing makers print, not a shape of the geometry book or a broken file.
    pub is_prop: bool,
}

impl Row {
    /// A row with nothing special about it.
    pub fn new(name: &str, model: String, bed: &'static str) -> Self {
        Self {
            id: format!("{name}--{bed}"),
            models: vec![model],
            bed,
            more: Vec::new(),
            pieces_at_most: None,
            is_prop: true,
        }
    }

    /// The same with a limit on its pieces.
    pub fn at_most(mut self, pieces: usize) -> Self {
        self.pieces_at_most = Some(pieces);
        self
    }

    /// The same with further arguments.
    pub fn with(mut self, more: &[&'static str]) -> Self {
        self.more.extend(more);
        self
    }
}

/// The row of the plate with the letter F.
pub fn letter(bed: &'static str) -> Row {
    Row::new("letter-f", LETTER.to_string(), bed)
}

/// A closed model of the reference data.
#[derive(Debug, Clone)]
pub struct ReferenceModel {
    /// File name without its ending.
    pub name: String,
    /// `path:settings` for the command line.
    pub argument: String,
    /// Whether it is a thing makers print, not a shape of the geometry book or a broken file.
    pub is_prop: bool,
}

/// Every closed model of the reference data's folders for models, exact shapes and nasty files,
/// in the order of its list.
///
/// # Errors
/// When the list cannot be read.
pub fn reference_models(data: &Path) -> Result<Vec<ReferenceModel>> {
    let list = data.join("MANIFEST.tsv");
    let text =
        std::fs::read_to_string(&list).with_context(|| format!("{} cannot be read", list.display()))?;
    let mut lines = text.lines();
    let titles: Vec<&str> = lines.next().unwrap_or_default().split('\t').collect();
    let column = |name: &str| titles.iter().position(|title| *title == name);
    let (Some(closed), Some(units), Some(volume)) =
        (column("watertight"), column("units"), column("signed_volume"))
    else {
        anyhow::bail!("{} lacks one of the columns watertight, units, signed_volume", list.display());
    };
    let mut models = Vec::new();
    for line in lines {
        let cells: Vec<&str> = line.split('\t').collect();
        let file = cells[0];
        let cell = |i: usize| cells.get(i).copied().unwrap_or_default();
        let wanted = ["models/", "analytic/", "nasty/"].iter().any(|folder| file.starts_with(folder));
        if !wanted
            || TWISTED.contains(&file)
            || cell(closed) != "yes"
            || cell(volume).parse::<f64>().is_ok_and(|v| v <= 0.0)
        {
            continue;
        }
        let name = Path::new(file).file_stem().unwrap_or_default().to_string_lossy().to_lowercase();
        let settings = if cell(units).starts_with("x100") { ":units=mm,scale=100" } else { "" };
        models.push(ReferenceModel {
            name: name.replace(['_', '.'], "-"),
            argument: format!("{}{settings}", data.join(file).display()),
            is_prop: file.starts_with("models/"),
        });
    }
    Ok(models)
}

/// One reference model by the name of its row.
///
/// # Errors
/// When the data has no such closed model.
pub fn reference_model(data: &Path, name: &str) -> Result<ReferenceModel> {
    let found = reference_models(data)?.into_iter().find(|model| model.name == name);
    found.with_context(|| format!("the reference data has no closed model {name}"))
}

/// The file of a demo item, whatever its format.
pub fn demo_file(name: &str) -> Option<PathBuf> {
    let folder = place::root().join("demo-meshes");
    ["stl", "ply", "obj", "3mf"].iter().map(|e| folder.join(format!("{name}.{e}"))).find(|p| p.is_file())
}

/// `path:settings` of every demo item, in the order of the costume.
///
/// # Errors
/// When a file is missing.
pub fn costume() -> Result<Vec<(&'static str, String)>> {
    COSTUME
        .iter()
        .map(|&(name, settings)| {
            let file = demo_file(name).with_context(|| format!("demo-meshes/{name} is missing"))?;
            Ok((name, format!("{}:{settings}", file.display())))
        })
        .collect()
}
