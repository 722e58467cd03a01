//! Each piece's file by itself: closed, one lump, and as large as the plan says.
//!
//! Codes: `bad-stl`, `not-closed`, `nonmanifold`, `inside-out`, `lumps`, `piece-volume`,
//! `piece-area`, `piece-triangles`.

use crate::records::Plan;

use super::stl::{Edges, Mesh, parse};
use super::{Figures, Folder, Notes, lumps};

/// Volumes and areas in a plan may differ from the files by this fraction: both are sums of the
/// same f32 numbers, so only the order of adding is left.
pub(super) const RECORD_FRACTION: f64 = 1e-9;

/// One piece as its file has it.
pub(super) struct PieceFile {
    pub mesh: Mesh,
    pub volume_mm3: f64,
    pub centre_mm: [f64; 3],
    pub area_mm2: f64,
}

/// Reads a mesh from the folder; a file that is not there was reported by the listing.
pub(super) fn read_mesh(folder: &Folder, path: &str, notes: &mut Notes) -> Option<Mesh> {
    match parse(folder.files.get(path)?) {
        Ok(mesh) if !mesh.triangles.is_empty() => Some(mesh),
        Ok(_) => {
            notes.say("bad-stl", path, "the file holds no triangle");
            None
        }
        Err(text) => {
            notes.say("bad-stl", path, &text);
            None
        }
    }
}

/// Reads and checks every piece, in the plan's order.
pub(super) fn read_and_check(
    folder: &Folder,
    plan: &Plan,
    figures: &mut Figures,
    notes: &mut Notes,
) -> Vec<Option<PieceFile>> {
    plan.pieces
        .iter()
        .map(|record| {
            let mesh = read_mesh(folder, &record.file, notes)?;
            let edges = mesh.edges();
            figures.open_edges += edges.open;
            figures.nonmanifold_edges += edges.nonmanifold;
            check_edges(&record.id, &edges, notes);
            let (volume_mm3, centre_mm) = mesh.mass();
            let area_mm2 = mesh.area_mm2();
            let positive = volume_mm3 > 0.0;
            if !positive {
                notes.number(
                    "inside-out",
                    &record.id,
                    "the enclosed volume is not positive",
                    volume_mm3,
                    0.0,
                );
            }
            let lumps = lumps::count_lumps(&mesh, &edges);
            if edges.open == 0 && lumps != 1 {
                let text = format!("the file holds {lumps} lumps, a piece is one");
                notes.number("lumps", &record.id, &text, lumps as f64, 1.0);
            }
            let id = &record.id;
            notes.expect_close(
                "piece-volume",
                id,
                "volume_mm3",
                volume_mm3,
                record.volume_mm3,
                RECORD_FRACTION * volume_mm3.abs().max(1.0),
            );
            notes.expect_close(
                "piece-area",
                id,
                "area_mm2",
                area_mm2,
                record.area_mm2,
                RECORD_FRACTION * area_mm2.max(1.0),
            );
            notes.expect_count("piece-triangles", id, "triangles", mesh.triangles.len(), record.triangles);
            Some(PieceFile { mesh, volume_mm3, centre_mm, area_mm2 })
        })
        .collect()
}

/// Findings for open and crowded edges.
pub(super) fn check_edges(id: &str, edges: &Edges, notes: &mut Notes) {
    let place = edges.first_bad_mm.unwrap_or_default();
    if edges.open > 0 {
        let text = format!("{} edges are not used equally often both ways, one near {place:.3?}", edges.open);
        notes.number("not-closed", id, &text, edges.open as f64, 0.0);
    }
    if edges.nonmanifold > 0 {
        let text = format!("{} edges are used more than twice, one near {place:.3?}", edges.nonmanifold);
        notes.number("nonmanifold", id, &text, edges.nonmanifold as f64, 0.0);
    }
}
