//! What a piece costs beside its lines: one too small to hold while it is sanded, and one bonded by too little.
//!
//! No source gives times or limits; they are ours, from what makers tell. They weigh in the search alone, as mm of
//! plain line; the minutes of a finished plan count its seams and pieces.
//! Not here: thin edges along a line (`field.rs`), poses that need supports (`outline.rs`).

use crate::estimate;
use crate::frames;
use crate::outline::VISIBLE_MIN_PER_MM;
use crate::part::Part;

/// A piece that is no longer than this cannot be held in a hand or a clamp, mm.
const SMALL_MM: f64 = 50.0;

/// What that takes more, in minutes.
const SMALL_MIN: f64 = 20.0;

/// A cut face smaller than this has no room for two stubs of 4 mm with a wall round them, mm2.
const WEAK_MM2: f64 = 150.0;

/// A rod let in instead, in minutes; less bond takes as much more in proportion.
const WEAK_MIN: f64 = 30.0;

/// Directions in which a piece's length is looked for.
const N_LENGTHS: usize = 20;

/// What a piece that a cut leaves costs beside its line, in mm of plain line; `tag` is the origin of its cut face.
pub fn burden_mm(piece: &Part, tag: u32) -> f64 {
    let mut sum_min = 0.0;
    if length_mm(piece) < SMALL_MM {
        sum_min += SMALL_MIN;
    }
    sum_min += WEAK_MIN * (1.0 - bond_mm2(piece, tag) / WEAK_MM2).max(0.0);
    sum_min / VISIBLE_MIN_PER_MM
}

fn length_mm(piece: &Part) -> f64 {
    let (low, high) = piece.box_mm;
    // Most pieces are far longer, by their boxes alone.
    let longest_mm = (0..3).map(|k| high[k] - low[k]).fold(0.0, f64::max);
    if longest_mm >= SMALL_MM {
        return longest_mm;
    }
    let widths = frames::half_sphere(N_LENGTHS);
    widths.into_iter().map(|way| estimate::width_mm(&piece.hull.points_mm, way)).fold(0.0, f64::max)
}

/// Area of the faces a cut left.
fn bond_mm2(piece: &Part, tag: u32) -> f64 {
    let solid = &piece.solid;
    let cut = (0..solid.n_triangles()).filter(|&triangle| solid.origins()[triangle] == tag);
    cut.map(|triangle| solid.triangle_area_mm2(triangle)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bound::tests::cuboid;
    use crate::ground::Ground;
    use crate::ground::tests::wish;
    use crate::part::Look;
    use seamwright_mesh::Plane;

    #[test]
    fn a_tip_and_a_thin_neck_cost_more_than_a_cut_through_the_middle() {
        let burden_mm = |size_mm: [f64; 3], offset_mm: f64| {
            let ground = Ground::new(&cuboid(size_mm), &wish("180x180x180"));
            let plane = Plane { normal: [1.0, 0.0, 0.0], offset_mm };
            let line = ground.line(&ground.whole.parts[0].solid, &plane);
            let mut cut = ground.whole.clone();
            cut.cut(0, plane, [0.0, 0.0], &ground).expect("it meets it");
            cut.cost_mm() - line.cost_mm
        };
        let (bar, rod) = ([300.0, 30.0, 30.0], [300.0, 10.0, 9.0]);
        assert!(burden_mm(bar, 150.0).abs() < 1e-6, "halves of a bar are no burden");
        let tip_mm = burden_mm(bar, 20.0);
        assert!((tip_mm - SMALL_MIN / VISIBLE_MIN_PER_MM).abs() < 5.0, "{tip_mm} mm for a tip");
        // Both sides of the rod's cut are asked for.
        let asked_mm = 2.0 * WEAK_MIN * (1.0 - 90.0 / WEAK_MM2) / VISIBLE_MIN_PER_MM;
        let thin_mm = burden_mm(rod, 150.0);
        assert!((thin_mm - asked_mm).abs() < 15.0, "{thin_mm} mm for a thin rod, {asked_mm} mm asked");
    }
}
