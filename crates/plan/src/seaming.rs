//! Seams, join order and grid figures of one item, measured on its finished pieces.

use crate::mirror;
use crate::records::marks::SeamMark;
use crate::records::{GridRow, JoinStep, PlaneRecord, Seam, SeamShape};
use seamwright_mesh::{Plane, Solid};
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::partition::{self, Partition};
use seamwright_seams::patches::SkinMap;

/// Finished pieces of an item and how they meet, by numbers; ids come later, so that copies and
/// mirrored sides can share it.
pub struct Seaming {
    /// Seams with positions in the list of pieces.
    pub seams: Vec<SeamMeasure>,
    /// Steps in joining order.
    pub steps: Vec<Step>,
}

/// One step of joining: what is below a plane is pushed against what is above it.
pub struct Step {
    /// Positions of the seams it closes.
    seams: Vec<usize>,
    /// Positions of the pieces below.
    from: Vec<usize>,
    /// Positions of the pieces above.
    to: Vec<usize>,
    /// The way of what is below: the plane's normal, or where the cut is a partial one the direction
    /// proven for it.
    direction: [f64; 3],
}

/// Measures a finished partition.
pub fn seaming(item: &Solid, skin: &SkinMap, partition: &Partition) -> Seaming {
    let pieces = partition.pieces();
    let solids: Vec<&Solid> = pieces.iter().map(|&p| &partition.parts[p].solid).collect();
    let seams = measure_seams(item, skin, &solids, &partition.planes);
    let place = |part: usize| pieces.iter().position(|&p| p == part);
    let places = |parts: &[usize]| -> Vec<usize> {
        let mut found: Vec<usize> =
            parts.iter().flat_map(|&part| partition.pieces_of(part)).filter_map(place).collect();
        found.sort_unstable();
        found
    };
    // Undone in reverse, each cut is a step: what was below is pushed against what was above.
    let steps = partition
        .steps
        .iter()
        .rev()
        .map(|step| {
            let (from, to) = (places(&step.below), places(&step.above));
            let direction = partition.direction(step);
            Step { seams: closed(&seams, &from, &to), from, to, direction }
        })
        .collect();
    Seaming { seams, steps }
}

impl Seaming {
    /// The cuts it is made of, but for those that stay, each with a place on its line.
    pub fn cuts(&self, partition: &Partition) -> Vec<SeamMark> {
        let cut = |(step, made): (&Step, &partition::Step)| {
            let at_mm = self.seams[*step.seams.first()?].at_mm;
            let Plane { normal, offset_mm } = partition.planes[made.plane];
            let inside_mm = partition.inside_mm(made);
            Some(SeamMark { plane: PlaneRecord { normal, offset_mm }, at_mm, inside_mm })
        };
        let all = self.steps.iter().rev().zip(&partition.steps);
        all.skip(partition.n_kept).filter_map(cut).collect()
    }

    /// The same steps on mirrored pieces, given in the same order, their seams measured anew.
    pub fn mirrored(&self, item: &Solid, skin: &SkinMap, pieces: &[&Solid], planes: &[Plane]) -> Self {
        let seams = measure_seams(item, skin, pieces, planes);
        let step = |step: &Step| Step {
            seams: closed(&seams, &step.from, &step.to),
            from: step.from.clone(),
            to: step.to.clone(),
            direction: mirror::direction(step.direction),
        };
        Self { steps: self.steps.iter().map(step).collect(), seams }
    }
}

/// Seams between two sides, by position.
fn closed(seams: &[SeamMeasure], from: &[usize], to: &[usize]) -> Vec<usize> {
    let between = |&s: &usize| {
        let (a, b) = seams[s].pieces;
        (from.contains(&a) && to.contains(&b)) || (from.contains(&b) && to.contains(&a))
    };
    (0..seams.len()).filter(between).collect()
}

/// The figures of the plain grid; the item's id comes later.
pub fn grid_row(item: &Solid, skin: &SkinMap, cells: &[&Solid], planes: &[Plane]) -> GridRow {
    let seams = measure_seams(item, skin, cells, planes);
    GridRow {
        item: String::new(),
        pieces: cells.len(),
        line_mm: seams.iter().map(|s| s.line_mm).sum(),
        visible_mm: seams.iter().map(|s| s.visible_mm).sum(),
        through_detail_mm: seams.iter().map(|s| s.through_detail_mm).sum(),
    }
}

/// The records of one item's seams and steps; `first_step` numbers on.
pub fn records(
    item_id: &str,
    piece_ids: &[String],
    seaming: &Seaming,
    planes: &[PlaneRecord],
    first_step: usize,
) -> (Vec<Seam>, Vec<JoinStep>) {
    let ids = |list: &[usize]| -> Vec<String> { list.iter().map(|&p| piece_ids[p].clone()).collect() };
    let seam_id = |s: usize| format!("{item_id}-s{}", s + 1);
    let seams = seaming.seams.iter().enumerate().map(|(s, measure)| Seam {
        id: seam_id(s),
        item: item_id.into(),
        pieces: [piece_ids[measure.pieces.0].clone(), piece_ids[measure.pieces.1].clone()],
        shape: SeamShape::Flat,
        plane: planes[measure.plane_index],
        line_mm: measure.line_mm,
        visible_mm: measure.visible_mm,
        through_detail_mm: measure.through_detail_mm,
        in_hollow_mm: measure.in_hollow_mm,
        cost_min: None,
        bond_area_mm2: measure.bond_area_mm2,
        min_wall_mm: measure.min_wall_mm,
        joints: None,
        bond: None,
        strength: None,
        at_mm: Some(measure.at_mm),
    });
    let steps = seaming.steps.iter().enumerate().map(|(k, step)| JoinStep {
        step: first_step + k,
        seams: step.seams.iter().map(|&s| seam_id(s)).collect(),
        from: ids(&step.from),
        to: ids(&step.to),
        direction: step.direction,
    });
    (seams.collect(), steps.collect())
}
