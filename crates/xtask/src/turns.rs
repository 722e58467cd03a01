//! How much a plan depends on how its model lies in the file: the same item turned at random, planned anew.
//!
//! A turned item has other planes to begin with and another plain grid; a search that finds what can be found
//! needs as many pieces however it lies.

use crate::folders::{self, Work};
use crate::rows::{self, Row};
use anyhow::{Context, Result};
use seamwright_mesh::{Solid, read, write};
use seamwright_seams::draw::Draw;
use std::fmt::Write;
use std::path::Path;

/// Items of the demo costume, each on a bed that it needs some pieces on.
const ITEMS: [(&str, &str); 2] = [("pauldron", "180x180x180"), ("breastplate", "220x220x250")];

/// Turns of each item.
const N_TURNS: usize = 20;

/// Rounds of each plan.
const EFFORT: u32 = 3;

/// The table in Markdown.
///
/// # Errors
/// When an item cannot be read, turned or planned.
pub fn table(program: &Path, folder: &Path) -> Result<String> {
    let mut text = format!(
        "## Turned items\n\nPieces of a demo item, fewest first, {EFFORT} rounds, as it lies in its file and in {N_TURNS} turns drawn at random.\n\n\
         | item | bed | as it lies | turned | turns with another number |\n|---|---|---|---|---|\n"
    );
    for (name, bed) in ITEMS {
        let costume = rows::costume()?;
        let (_, argument) =
            costume.iter().find(|(item, _)| *item == name).context("an item of the costume")?;
        let (file, settings) = argument.rsplit_once(':').context("the costume's items have settings")?;
        let role = settings.split(',').next().unwrap_or(settings);
        let bytes = std::fs::read(file).with_context(|| format!("{file} cannot be read"))?;
        let model = read::read_model(&bytes, file)?;
        let part = model.parts.first().context("the file has no part")?;
        let mut counts = Vec::new();
        for turn in 0..=N_TURNS {
            let matrix = if turn == 0 { IDENTITY } else { drawn(&mut Draw::new(1, turn as u64)) };
            let points: Vec<[f64; 3]> = part.points.iter().map(|&p| turned(&matrix, p)).collect();
            let solid = Solid::from_triangles(&points, &part.triangles)?.0;
            let to = folder.join("turned.stl");
            std::fs::write(&to, write::stl_bytes(&solid))?;
            let row = Row::new("turned", format!("{}:units=mm,up=z,{role}", to.display()), bed);
            let row = row.with(&["--prefer", "fewest"]);
            let planned =
                folders::plan(program, &row, Work { effort: EFFORT, threads: 2 }, &folder.join("turned"))?;
            counts.push(planned.n_pieces());
        }
        let others = counts[1..].iter().filter(|&&n| n != counts[0]).count();
        let list: Vec<String> = counts[1..].iter().map(usize::to_string).collect();
        let _ =
            writeln!(text, "| {name} | {bed} | {} | {} | {others} of {N_TURNS} |", counts[0], list.join(" "));
        println!("{name} on {bed}: {} pieces, {others} of {N_TURNS} turns need another number", counts[0]);
    }
    Ok(text)
}

const IDENTITY: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// A rotation, all equally likely: of a quaternion drawn from the ball and made a unit.
fn drawn(draw: &mut Draw) -> [[f64; 3]; 3] {
    loop {
        let q: [f64; 4] = std::array::from_fn(|_| 2.0 * draw.unit() - 1.0);
        let square: f64 = q.iter().map(|c| c * c).sum();
        if !(0.01..=1.0).contains(&square) {
            continue;
        }
        let [w, x, y, z] = q.map(|c| c / square.sqrt());
        return [
            [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y - z * w), 2.0 * (x * z + y * w)],
            [2.0 * (x * y + z * w), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z - x * w)],
            [2.0 * (x * z - y * w), 2.0 * (y * z + x * w), 1.0 - 2.0 * (x * x + y * y)],
        ];
    }
}

fn turned(matrix: &[[f64; 3]; 3], p: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row[0] * p[0] + row[1] * p[1] + row[2] * p[2])
}
