//! Turning triangles so that neighbours run their common edge opposite ways.
//!
//! How: neighbours are two triangles that alone share an edge; each connected sheet keeps the side
//! that most of its area has in the file. Where more triangles meet at an edge, sheets end.
//! Not here: which side is out (`outward.rs`).

use super::surface::{Surface, excess};
use crate::edges::{self, Joined};
use crate::flaws::Found;

/// Sheets of triangles connected across edges that only two of them use.
pub(super) fn sheets(surface: &Surface, uses: &[edges::EdgeUse]) -> (Vec<u32>, usize) {
    let mut joined = Joined::new(surface.triangles.len());
    for run in edges::runs(uses).filter(|run| run.len() == 2) {
        joined.join(run[0].triangle() as u32, run[1].triangle() as u32);
    }
    let mut names = vec![u32::MAX; surface.triangles.len()];
    let mut n_sheets = 0;
    let sheet_of = (0..surface.triangles.len() as u32)
        .map(|index| {
            let name = &mut names[joined.find(index) as usize];
            if *name == u32::MAX {
                *name = n_sheets;
                n_sheets += 1;
            }
            *name
        })
        .collect();
    (sheet_of, n_sheets as usize)
}

/// Turns triangles until each sheet is of one side, as far as it has two; gives those turned.
pub(super) fn orient(surface: &mut Surface) -> Found {
    let uses = surface.edge_uses();
    let (sheet_of, n_sheets) = sheets(surface, &uses);
    let n = surface.triangles.len();
    // Neighbours in rows: at most three a triangle.
    let mut neighbours = vec![[u32::MAX; 3]; n];
    for run in edges::runs(&uses).filter(|run| run.len() == 2) {
        let differs = excess(run, &surface.triangles) != 0;
        for (one, other) in [(run[0], run[1]), (run[1], run[0])] {
            neighbours[one.triangle()][one.corner()] = (other.triangle() as u32) << 1 | u32::from(differs);
        }
    }
    let mut side = vec![u8::MAX; n];
    let mut turned_mm2 = vec![0.0; n_sheets];
    let mut whole_mm2 = vec![0.0; n_sheets];
    let mut waiting = Vec::new();
    for start in 0..n {
        if side[start] != u8::MAX {
            continue;
        }
        side[start] = 0;
        waiting.push(start);
        while let Some(triangle) = waiting.pop() {
            let (sheet, area) = (sheet_of[triangle] as usize, surface.area_mm2(triangle));
            whole_mm2[sheet] += area;
            turned_mm2[sheet] += area * f64::from(side[triangle]);
            for &link in neighbours[triangle].iter().filter(|&&link| link != u32::MAX) {
                let other = (link >> 1) as usize;
                if side[other] == u8::MAX {
                    side[other] = side[triangle] ^ (link & 1) as u8;
                    waiting.push(other);
                }
            }
        }
    }
    let mut turned = Found::default();
    for (triangle, &side) in side.iter().enumerate() {
        let sheet = sheet_of[triangle] as usize;
        let most_are_turned = 2.0 * turned_mm2[sheet] > whole_mm2[sheet];
        if (side == 1) == most_are_turned {
            continue;
        }
        turned.add(|| surface.middle_mm(triangle));
        surface.turn_over(triangle);
    }
    turned
}
