//! A finished item, as it lies or mirrored: solid, pieces in their poses, planes, seams, grid row.
//!
//! How: the mirrored side has the original's planes, pieces and poses reflected. Its seams and grid
//! are measured anew: detail is sampled from one end of a line, and reflected lines start elsewhere.
//! Not here: ids, copies and records (`make.rs`).

use crate::item::SizedItem;
use crate::pool::Pool;
use crate::records::marks::SeamMark;
use crate::records::{self, PlaneRecord};
use crate::seaming::{self, Seaming};
use crate::{PlanError, mirror, proof};
use seamwright_bed::{Bed, FitOptions, Goal, PoseKind, fit_any, prepare};
use seamwright_mesh::{Placement, Plane, Solid};
use seamwright_seams::partition::Partition;
use seamwright_seams::patches::{InnerRule, SkinMap, SkinProbe};
use seamwright_seams::search::Search;

/// An item with its plan.
pub struct Side {
    /// The item.
    pub solid: Solid,
    /// From file coordinates to its own.
    pub placement: Placement,
    /// Its pieces, in the order they are numbered.
    pub pieces: Vec<FinalPiece>,
    /// The planes it is cut by.
    pub planes: Vec<PlaneRecord>,
    /// The cuts it is made of, but for those that stay; a mirrored side is told none.
    pub cuts: Vec<SeamMark>,
    /// How its pieces meet.
    pub seaming: Seaming,
    /// The plain grid on it.
    pub grid: records::GridRow,
    /// Why it cannot have fewer pieces than so many.
    pub proof: records::Proof,
}

/// A piece as it will be written.
pub struct FinalPiece {
    /// Where it sits in its item.
    pub solid: Solid,
    /// Points of its hull.
    pub hull_mm: Vec<[f64; 3]>,
    /// How it stands on the bed.
    pub pose: Placement,
    /// The bed.
    pub bed_index: usize,
    /// How it rests.
    pub kind: PoseKind,
    /// Room left in the best rotation, by bed.
    pub margin_any_mm: Vec<f64>,
}

/// Cells of the certified fit for the margins written down: about 0.1 s a piece.
const FINAL_CELLS: u32 = 8_000;

impl Side {
    /// The item as it lies, cut as the search found best.
    ///
    /// # Errors
    /// [`PlanError::NoFit`] where the search found nothing.
    pub fn new(item: &SizedItem, search: &Search, beds: &[Bed], pool: &Pool) -> Result<Self, PlanError> {
        let no_fit = || PlanError::NoFit { item: item.id.clone() };
        let best = search.best().ok_or_else(no_fit)?;
        let skin = skin_of(&item.solid, item.role.as_deref(), pool);
        let seaming = seaming::seaming(&item.solid, &skin, best);
        let pieces = pool.map(&best.pieces(), |&index| {
            let part = &best.parts[index];
            let posed = part.posed.as_ref()?;
            let prepared = prepare(&part.hull);
            let first = [posed.placement.rows()];
            let goal = FitOptions { goal: Goal::Best, n_cells: FINAL_CELLS, first: &first };
            Some(FinalPiece {
                solid: part.solid.clone(),
                hull_mm: part.hull.points_mm.clone(),
                pose: posed.placement,
                bed_index: posed.bed_index,
                kind: posed.kind,
                margin_any_mm: beds.iter().map(|bed| fit_any(&prepared, bed, &goal).margin_mm).collect(),
            })
        });
        let pieces: Option<Vec<FinalPiece>> = pieces.into_iter().collect();
        let grid = &search.grid().partition;
        Ok(Self {
            solid: item.solid.clone(),
            placement: item.placement,
            pieces: pieces.ok_or_else(no_fit)?,
            planes: best.planes.iter().map(plane_record).collect(),
            cuts: seaming.cuts(best),
            grid: seaming::grid_row(&item.solid, &skin, &solids_of(grid), &grid.planes),
            proof: proof::record(search.proof()),
            seaming,
        })
    }

    /// The other side, with the same pieces in the same order.
    pub fn mirrored(&self, item: &SizedItem, search: &Search, beds: &[Bed], pool: &Pool) -> Self {
        let width_mm = self.solid.size_mm()[0];
        let flip = mirror::flip(width_mm);
        let solid = mirror::solid(&self.solid, width_mm);
        let skin = skin_of(&solid, item.role.as_deref(), pool);
        let pieces: Vec<FinalPiece> = self
            .pieces
            .iter()
            .map(|piece| FinalPiece {
                solid: mirror::solid(&piece.solid, width_mm),
                hull_mm: piece.hull_mm.iter().map(|&p| flip.apply(p)).collect(),
                pose: mirror::pose(&piece.pose, width_mm, beds[piece.bed_index].size_mm()[0]),
                bed_index: piece.bed_index,
                kind: piece.kind,
                margin_any_mm: piece.margin_any_mm.clone(),
            })
            .collect();
        let reflect = |p: PlaneRecord| mirror::plane(p, width_mm);
        let plane = |p: PlaneRecord| Plane { normal: p.normal, offset_mm: p.offset_mm };
        let planes: Vec<PlaneRecord> = self.planes.iter().copied().map(reflect).collect();
        let cut_by: Vec<Plane> = planes.iter().copied().map(plane).collect();
        let solids: Vec<&Solid> = pieces.iter().map(|piece| &piece.solid).collect();
        let seaming = self.seaming.mirrored(&solid, &skin, &solids, &cut_by);
        let grid = &search.grid().partition;
        let cells: Vec<Solid> = solids_of(grid).iter().map(|cell| mirror::solid(cell, width_mm)).collect();
        let between: Vec<Plane> = grid.planes.iter().map(|p| plane(reflect(plane_record(p)))).collect();
        Self {
            cuts: Vec::new(),
            grid: seaming::grid_row(&solid, &skin, &cells.iter().collect::<Vec<_>>(), &between),
            proof: proof::mirrored(&self.proof, width_mm),
            placement: self.placement.then(&flip),
            solid,
            pieces,
            planes,
            seaming,
        }
    }
}

fn plane_record(plane: &Plane) -> PlaneRecord {
    PlaneRecord { normal: plane.normal, offset_mm: plane.offset_mm }
}

fn solids_of(partition: &Partition) -> Vec<&Solid> {
    partition.pieces().iter().map(|&piece| &partition.parts[piece].solid).collect()
}

/// The skin map of an item, its rays cast on all threads.
fn skin_of(solid: &Solid, role: Option<&str>, pool: &Pool) -> SkinMap {
    const CHUNK: usize = 20_000;
    let probe = SkinProbe::new(solid);
    let starts: Vec<usize> = (0..solid.n_triangles()).step_by(CHUNK).collect();
    let seen = pool.map(&starts, |&start| probe.seen(start..(start + CHUNK).min(solid.n_triangles())));
    SkinMap::from_seen(probe, &seen.concat(), &InnerRule::of_role(role, solid))
}
