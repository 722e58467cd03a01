//! Seams, join order and grid figures of one item, measured on its finished pieces.

use crate::records::{GridRow, JoinStep, PlaneRecord, Seam, SeamShape};
use seamwright_mesh::Solid;
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::partition::Partition;
use seamwright_seams::patches::SkinMap;

/// Finished pieces of an item and how they meet, by numbers; ids come later, so that copies and
/// mirrored sides can share it.
pub struct Seaming {
    /// Pieces in the order they are numbered.
    pub pieces: Vec<usize>,
    /// Seams with positions in `pieces`.
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
    /// The plane's normal.
    direction: [f64; 3],
}

/// Measures a finished partition.
pub fn seaming(item: &Solid, skin: &SkinMap, partition: &Partition) -> Seaming {
    let pieces = partition.pieces();
    let seams = measured(item, skin, partition);
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
            let closed: Vec<usize> = (0..seams.len())
                .filter(|&s| {
                    let (a, b) = seams[s].pieces;
                    (from.contains(&a) && to.contains(&b)) || (from.contains(&b) && to.contains(&a))
                })
                .collect();
            Step { seams: closed, from, to, direction: partition.planes[step.plane].normal }
        })
        .collect();
    Seaming { pieces, seams, steps }
}

fn measured(item: &Solid, skin: &SkinMap, partition: &Partition) -> Vec<SeamMeasure> {
    let solids: Vec<&Solid> = partition.pieces().iter().map(|&p| &partition.parts[p].solid).collect();
    measure_seams(item, skin, &solids, &partition.planes)
}

/// The figures of the plain grid.
pub fn grid_row(id: &str, item: &Solid, skin: &SkinMap, grid: &Partition) -> GridRow {
    let seams = measured(item, skin, grid);
    GridRow {
        item: id.into(),
        pieces: grid.n_pieces(),
        line_mm: seams.iter().map(|s| s.line_mm).sum(),
        visible_mm: seams.iter().map(|s| s.visible_mm).sum(),
        through_detail_mm: seams.iter().map(|s| s.through_detail_mm).sum(),
    }
}

/// The records of one item's seams and steps. `plane` maps planes into the item's frame (a mirrored
/// side has mirrored planes); `first_step` numbers on.
pub fn records(
    item_id: &str,
    piece_ids: &[String],
    seaming: &Seaming,
    planes: &[PlaneRecord],
    direction: impl Fn([f64; 3]) -> [f64; 3],
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
    });
    let steps = seaming.steps.iter().enumerate().map(|(k, step)| JoinStep {
        step: first_step + k,
        seams: step.seams.iter().map(|&s| seam_id(s)).collect(),
        from: ids(&step.from),
        to: ids(&step.to),
        direction: direction(step.direction),
    });
    (seams.collect(), steps.collect())
}
