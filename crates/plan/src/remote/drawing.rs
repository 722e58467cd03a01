//! An item's plan as it is drawn: shapes, seam lines, how far pieces are pulled.
//!
//! Seams are measured only when a plan is finished; before that their lines alone are known, and
//! all are drawn alike.
//! Units: mm in item coordinates. Not here: stand-ins (`shapes.rs`), what the pointer is on (`finder.rs`).

use super::messages::{CutNote, ItemPlanNote, PieceNote, SeamNote};
use super::shapes::{MOST_TRIANGLES, PICTURE_TRIANGLES, Shape, shape_of};
use crate::item::SizedItem;
use crate::records::PlaneRecord;
use crate::session::Session;
use seamwright_mesh::{Plane, Solid, vec3};
use seamwright_seams::lines::{SeamLoops, SeamMeasure, seam_loops};
use seamwright_seams::part::place_on;
use seamwright_seams::partition::Partition;
use seamwright_seams::search::Search;

/// How far each seam opens with the pull slider at 1, as a share of the item's largest extent
/// (chosen by eye).
const PULL_SHARE: f64 = 0.14;

/// A seam with more of its visible line in hollows than this counts as hidden (ours).
const HOLLOW_SHARE: f64 = 0.6;

/// A seam with more of its visible line through detail than this is hard to hide (ours).
const DETAIL_SHARE: f64 = 0.1;

/// Weight of a seam of which nothing is measured yet.
const UNMEASURED: u32 = 2;

/// A plan of one item, ready to draw.
pub struct Drawing {
    /// What is said of its pieces and seams.
    pub note: ItemPlanNote,
    /// A shape a piece.
    pub shapes: Vec<Shape>,
    /// A line a seam: segments, pairs of points.
    pub lines: Vec<Vec<f32>>,
}

/// A seam by the positions of its pieces.
struct DrawnSeam {
    pieces: (usize, usize),
    weight: u32,
    at_mm: [f64; 3],
    loops: Vec<Vec<[f64; 3]>>,
}

/// The best plan of an item; `searches` are those begun so far.
pub fn of(session: &Session, searches: &[Search], item: usize) -> Option<Drawing> {
    let before = session.n_pieces_before(searches, item);
    let measured = session.sides().get(item).map(|side| &side.seaming.seams[..]);
    let search = searches.get(item)?;
    let how = How { before, measured, most_triangles: MOST_TRIANGLES };
    of_plan(session.items().get(item)?, search, search.best_or_grid(), &how)
}

/// One of the plans to choose beside the best, in few triangles.
pub fn of_other(session: &Session, item: usize, plan: &Partition) -> Option<Drawing> {
    let how = How { before: 0, measured: None, most_triangles: PICTURE_TRIANGLES };
    of_plan(session.items().get(item)?, session.searches().get(item)?, plan, &how)
}

/// How a plan is drawn.
struct How<'a> {
    /// Pieces of items before it.
    before: usize,
    /// Its seams, where they are measured.
    measured: Option<&'a [SeamMeasure]>,
    most_triangles: usize,
}

fn of_plan(source: &SizedItem, search: &Search, best: &Partition, how: &How<'_>) -> Option<Drawing> {
    let &How { before, measured, most_triangles } = how;
    let pieces = best.pieces();
    let solids: Vec<&Solid> = pieces.iter().map(|&p| &best.parts[p].solid).collect();
    let id = |k: usize| format!("{}-{}", source.id, k + 1);
    let n_all: usize = solids.iter().map(|s| s.n_triangles()).sum();
    let granted = |solid: &Solid| {
        if n_all <= most_triangles {
            return usize::MAX;
        }
        (solid.n_triangles() as f64 / n_all as f64 * most_triangles as f64).floor().max(64.0) as usize
    };
    let shapes = solids.iter().map(|solid| shape_of(solid, granted(solid))).collect();
    let seams: Vec<DrawnSeam> = match measured {
        Some(seams) => {
            let drawn = |s: &SeamMeasure| DrawnSeam {
                pieces: s.pieces,
                weight: weight(s),
                at_mm: s.at_mm,
                loops: s.loops.clone(),
            };
            seams.iter().map(drawn).collect()
        }
        None => {
            let drawn = |s: SeamLoops| DrawnSeam {
                pieces: s.pieces,
                weight: UNMEASURED,
                at_mm: s.place_mm(),
                loops: s.loops,
            };
            seam_loops(&source.solid, &solids, &best.planes).into_iter().map(drawn).collect()
        }
    };
    let seam_id = |k: usize| format!("{}-s{}", source.id, k + 1);
    let cuts: Vec<(CutNote, Vec<usize>)> = (0..best.steps.len())
        .map(|index| {
            let step = &best.steps[index];
            let [below, above] = [&step.below, &step.above].map(|parts| places(best, &pieces, parts));
            let parted = |seam: &&DrawnSeam| {
                let (a, b) = seam.pieces;
                (below.contains(&a) && above.contains(&b)) || (below.contains(&b) && above.contains(&a))
            };
            let own: Vec<usize> = (0..seams.len()).filter(|&k| parted(&&seams[k])).collect();
            let Plane { normal, offset_mm } = best.planes[step.plane];
            let note = CutNote {
                plane: PlaneRecord { normal, offset_mm },
                inside_mm: best.inside_mm(step),
                is_kept: index < best.n_kept,
                pieces: below.iter().chain(&above).map(|&k| id(k)).collect(),
                seams: own.iter().map(|&k| seam_id(k)).collect(),
            };
            (note, own)
        })
        .collect();
    let is_kept = |k: usize| cuts.iter().any(|(cut, own)| cut.is_kept && own.contains(&k));
    let seam_note = |(k, seam): (usize, &DrawnSeam)| SeamNote {
        id: seam_id(k),
        pieces: [id(seam.pieces.0), id(seam.pieces.1)],
        weight: seam.weight,
        at_mm: seam.at_mm,
        is_kept: is_kept(k),
    };
    let note = ItemPlanNote {
        item: source.id.clone(),
        pieces: pieces
            .iter()
            .enumerate()
            .map(|(k, &p)| PieceNote {
                id: id(k),
                number: before + k + 1,
                pull_mm: pull_mm(best, p, &source.solid),
                size_mm: best.parts[p].solid.size_mm(),
                fits: best.parts[p].is_done(),
                is_printed: best.parts[p].is_printed,
                at_mm: place_on(&best.parts[p].solid),
            })
            .collect(),
        seam_mm: seams.iter().map(|seam| length_mm(&seam.loops)).sum(),
        seams: seams.iter().enumerate().map(seam_note).collect(),
        cuts: cuts.into_iter().map(|(cut, _)| cut).collect(),
        grid_pieces: search.grid().partition.n_pieces(),
    };
    Some(Drawing { note, shapes, lines: seams.iter().map(|seam| segments(&seam.loops)).collect() })
}

/// Positions of the pieces that some parts ended up in.
fn places(plan: &Partition, pieces: &[usize], parts: &[usize]) -> Vec<usize> {
    let ended = parts.iter().flat_map(|&part| plan.pieces_of(part));
    ended.filter_map(|piece| pieces.iter().position(|&p| p == piece)).collect()
}

/// How hard a measured seam is to hide.
fn weight(seam: &SeamMeasure) -> u32 {
    let hidden = seam.visible_mm - seam.in_hollow_mm < (1.0 - HOLLOW_SHARE) * seam.visible_mm.max(1e-9);
    if seam.visible_mm <= 0.0 || hidden {
        1
    } else if seam.through_detail_mm > DETAIL_SHARE * seam.visible_mm {
        3
    } else {
        2
    }
}

fn segments(loops: &[Vec<[f64; 3]>]) -> Vec<f32> {
    let mut line = Vec::new();
    for corners in loops {
        for (k, a) in corners.iter().enumerate() {
            let b = corners[(k + 1) % corners.len()];
            line.extend(a.iter().chain(&b).map(|&c| c as f32));
        }
    }
    line
}

fn length_mm(loops: &[Vec<[f64; 3]>]) -> f64 {
    let of = |corners: &Vec<[f64; 3]>| -> f64 {
        let next = |k: usize| corners[(k + 1) % corners.len()];
        corners.iter().enumerate().map(|(k, &a)| vec3::length(vec3::sub(next(k), a))).sum()
    };
    loops.iter().map(of).sum()
}

/// How far a piece moves when every seam opens: each cut moves what is above it one way and what
/// is below it the other, so later cuts carry earlier ones with them.
fn pull_mm(partition: &Partition, piece: usize, item: &Solid) -> [f64; 3] {
    let open_mm = PULL_SHARE * item.size_mm().into_iter().fold(0.0, f64::max);
    let is_in = |parts: &[usize]| parts.iter().any(|&part| partition.pieces_of(part).contains(&piece));
    partition.steps.iter().fold([0.0; 3], |sum, step| {
        let sign = f64::from(u8::from(is_in(&step.above))) - f64::from(u8::from(is_in(&step.below)));
        vec3::add(sum, vec3::scale(partition.direction(step), sign * open_mm / 2.0))
    })
}
