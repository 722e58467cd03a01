//! The least number of pieces an item can have on some beds, proved against any cut shape.
//!
//! How: every point of the item ends up in some piece, and the points of a piece fit a bed together.
//! So if some points cannot be dealt to `k` pieces such that each piece's points fit, no plan has `k`
//! pieces (`bound/dealing.rs`). Points start far apart; where a deal is found, points that its boxes
//! miss are added, until none can be found - a proof - or the boxes cover all: then `k` boxes hold the
//! item's surface, and no proof of this kind exists. Volume alone proves some numbers at once.
//! A lump is cut apart from other lumps anyway, so lumps add up.
//! Why no weights: points weighed so that none which fit together weigh more than 1 prove what they weigh in all -
//! the dual of a cover in shares. Dealing the same points proves at least as much, since every deal is a cover;
//! only where points are too many to deal could weights prove more, and there the volume is such a weight.
//! What is proved can be checked without this code: points, and sets of them that no bed holds.
//! Cost: counted in cells of the certified fit, about 5 microseconds each.
//! Not here: the fit itself (`bed::together`), the check (`plan::audit`).

mod dealing;
mod fitting;
mod footing;
mod sets;

use crate::ground::Ground;
use crate::part::Part;
use dealing::{Deal, Dealing};
use fitting::Fitting;
pub use footing::Footing;
use footing::Lump;
use seamwright_bed::bed::{Bed, BedShape};
use seamwright_bed::turn;
use seamwright_mesh::vec3;
use sets::{Group, Sets};
use std::sync::Arc;

/// Points a proof begins with (ours).
const FIRST_POINTS: usize = 12;

/// Points this far outside all boxes are worth adding, mm (ours).
const OUTSIDE_MM: f64 = 1.0;

/// Points added where a deal leaves some outside its boxes (ours).
const ADDED: usize = 2;

/// A step without a test of fit is worth so many cells.
const CELLS_A_STEP: u64 = 4;

/// Volumes below this share of a bed more than a whole number of beds prove nothing: rounding.
const VOLUME_SLACK: f64 = 1e-6;

/// Why a lump cannot have fewer pieces.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// It is there.
    One,
    /// Its volume over that of the largest bed.
    Volume,
    /// Points, and sets of them (by position) that no bed holds together, so that the points cannot be
    /// dealt to one piece fewer.
    Points {
        /// Points of the surface.
        points_mm: Vec<[f64; 3]>,
        /// Positions of points, ascending.
        sets: Vec<Vec<usize>>,
    },
}

/// What is proved of one lump.
#[derive(Debug, Clone, PartialEq)]
pub struct LumpProof {
    /// A point of its surface.
    pub at_mm: [f64; 3],
    /// It is cut into at least so many pieces.
    pub pieces_at_least: usize,
    /// Why.
    pub reason: Reason,
}

/// What is proved of an item, lump by lump in the order of [`Ground::whole`].
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// The lumps.
    pub lumps: Vec<LumpProof>,
}

impl Proof {
    /// What needs no search: each lump is a piece, and no piece is larger than a bed.
    pub fn plain(ground: &Ground) -> Self {
        Self { lumps: ground.whole.parts.iter().map(|part| plain(part, &ground.beds)).collect() }
    }

    /// No plan has fewer pieces.
    pub fn pieces_at_least(&self) -> usize {
        self.lumps.iter().map(|lump| lump.pieces_at_least).sum()
    }
}

/// What needs no search, of one lump.
fn plain(part: &Part, beds: &[Bed]) -> LumpProof {
    let most_mm3 = beds.iter().map(volume_mm3).fold(0.0, f64::max);
    // The volumes of several bodies may overlap.
    let volume_mm3 = if part.solid.n_bodies() == 1 { part.volume_mm3 } else { 0.0 };
    let n = ((volume_mm3 / most_mm3) * (1.0 - VOLUME_SLACK)).ceil();
    let pieces_at_least = if n > 1.0 { n as usize } else { 1 };
    let reason = if pieces_at_least > 1 { Reason::Volume } else { Reason::One };
    LumpProof { at_mm: part.solid.corners_mm(0)[0], pieces_at_least, reason }
}

/// Volume of a bed's usable room.
fn volume_mm3(bed: &Bed) -> f64 {
    let usable = bed.usable();
    match usable.shape {
        BedShape::Rect { width_mm, depth_mm } => width_mm * depth_mm * usable.height_mm,
        BedShape::Round { diameter_mm } => {
            std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm * usable.height_mm
        }
    }
}

/// The search for a proof, a machine of small steps.
pub struct Bounding {
    ground: Arc<Ground>,
    /// As many pieces as the best plan has: more cannot be proved.
    enough: usize,
    n_cells_left: u64,
    proof: Proof,
    /// Lumps that may still be proved to need more, the one at work last.
    lumps: Vec<usize>,
    at_work: Option<AtWork>,
}

/// A lump being looked at.
struct AtWork {
    cloud_mm: Vec<[f64; 3]>,
    fitting: Fitting,
    sets: Sets,
    deal: Deal,
    n_pieces: usize,
}

impl Bounding {
    /// Looks for a proof of at most `enough` pieces, worth about `n_cells` cells.
    pub fn new(ground: Arc<Ground>, enough: usize, n_cells: u64) -> Self {
        let all = &ground.footing().lumps;
        let lumps = (0..all.len()).rev().filter(|&i| !all[i].fits).collect();
        let proof = Proof { lumps: all.iter().map(|lump| lump.plain.clone()).collect() };
        Self { ground, enough, n_cells_left: n_cells, proof, lumps, at_work: None }
    }

    /// What is proved so far.
    pub fn proof(&self) -> &Proof {
        &self.proof
    }

    /// One step; whether there is more to do.
    pub fn step(&mut self) -> bool {
        if self.proof.pieces_at_least() >= self.enough || self.n_cells_left == 0 {
            return false;
        }
        let Some(&lump) = self.lumps.last() else { return false };
        let mut at_work = match self.at_work.take() {
            Some(at_work) => at_work,
            None => {
                let footing = self.ground.footing();
                let n_pieces = self.proof.lumps[lump].pieces_at_least;
                AtWork::new(&footing.lumps[lump], footing.beds.clone(), n_pieces)
            }
        };
        let before = at_work.fitting.n_cells;
        let told = at_work.step();
        let spent = at_work.fitting.n_cells - before + CELLS_A_STEP;
        self.n_cells_left = self.n_cells_left.saturating_sub(spent);
        match told {
            Told::Going => self.at_work = Some(at_work),
            Told::Proved(proof) => {
                self.proof.lumps[lump] = proof;
                self.at_work = Some(at_work);
            }
            Told::Covered => {
                self.lumps.pop();
            }
        }
        true
    }
}

enum Told {
    Going,
    Proved(LumpProof),
    /// As many boxes as pieces cover the lump, or there is no room for more points.
    Covered,
}

impl AtWork {
    fn new(lump: &Lump, beds: Vec<Bed>, n_pieces: usize) -> Self {
        let cloud_mm = lump.cloud_mm.clone();
        let mut fitting = Fitting::new(beds);
        for point in far_apart(&cloud_mm, FIRST_POINTS) {
            fitting.take(point);
        }
        Self { cloud_mm, fitting, sets: Sets::default(), deal: Deal::new(n_pieces), n_pieces }
    }

    fn step(&mut self) -> Told {
        match self.deal.step(&mut self.fitting, &mut self.sets) {
            Dealing::Going => Told::Going,
            Dealing::Complete => {
                let outside = self.outside();
                let mut took = false;
                for point in outside {
                    took |= self.fitting.take(point);
                }
                self.begin(self.n_pieces);
                if took { Told::Going } else { Told::Covered }
            }
            Dealing::Impossible => {
                let proof = self.written();
                self.begin(self.n_pieces + 1);
                Told::Proved(proof)
            }
        }
    }

    fn begin(&mut self, n_pieces: usize) {
        self.sets.forget_use();
        self.n_pieces = n_pieces;
        self.deal = Deal::new(n_pieces);
    }

    /// The points and sets the last deal failed by.
    fn written(&self) -> LumpProof {
        let used = self.sets.used();
        let kept: Vec<usize> =
            used.iter().fold(Group::default(), |all, &set| all.and(set)).points().collect();
        let place = |point: usize| kept.partition_point(|&other| other < point);
        LumpProof {
            at_mm: self.cloud_mm[0],
            pieces_at_least: self.n_pieces + 1,
            reason: Reason::Points {
                points_mm: kept.iter().map(|&point| self.fitting.points_mm()[point]).collect(),
                sets: used.iter().map(|set| set.points().map(place).collect()).collect(),
            },
        }
    }

    /// Points of the surface that the boxes of a complete deal do not reach, the farthest first;
    /// none where they cover it, as far as the points tell.
    fn outside(&self) -> Vec<[f64; 3]> {
        let mut boxes: Vec<Reached> = self
            .deal
            .pieces()
            .map(|(group, held)| {
                let points = group.points().map(|point| self.fitting.points_mm()[point]);
                Reached::new(self.fitting.bed(held.bed), held.rows, points)
            })
            .collect();
        let lack = |boxes: &[Reached], p: [f64; 3]| {
            let lacks = boxes.iter().enumerate().map(|(index, reached)| (reached.lack_mm(p), index));
            lacks.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::INFINITY, 0))
        };
        let mut lacking: Vec<(f64, [f64; 3])> =
            self.cloud_mm.iter().map(|&p| (lack(&boxes, p).0, p)).collect();
        lacking.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut found: Vec<[f64; 3]> = Vec::new();
        for &(lack_mm, p) in &lacking {
            // A second point near the first would say the same again.
            let is_near = |&q: &[f64; 3]| vec3::length(vec3::sub(p, q)) < 0.25 * boxes[0].sizes_mm[0];
            if found.len() == ADDED || lack_mm < OUTSIDE_MM {
                break;
            }
            if !found.iter().any(is_near) {
                found.push(p);
            }
        }
        if !found.is_empty() {
            return found;
        }
        // Each fits some box, but not all at once: boxes grow as points are put into them.
        for (_, p) in lacking {
            let (lack_mm, index) = lack(&boxes, p);
            if lack_mm > OUTSIDE_MM {
                return vec![p];
            }
            boxes[index].take(p);
        }
        Vec::new()
    }
}

/// How far the points of a piece reach along the axes of the box that holds them.
struct Reached {
    rows: turn::Rows,
    /// The box; that round a round bed.
    sizes_mm: [f64; 3],
    low: [f64; 3],
    high: [f64; 3],
}

impl Reached {
    fn new(bed: &Bed, rows: turn::Rows, points: impl Iterator<Item = [f64; 3]>) -> Self {
        let usable = bed.usable();
        let sizes_mm = match usable.shape {
            BedShape::Rect { width_mm, depth_mm } => [width_mm, depth_mm, usable.height_mm],
            BedShape::Round { diameter_mm } => [diameter_mm, diameter_mm, usable.height_mm],
        };
        let mut made = Self { rows, sizes_mm, low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };
        points.for_each(|p| made.take(p));
        made
    }

    /// By how much the box is too small for a point beside what it holds; 0 where it is not.
    fn lack_mm(&self, p: [f64; 3]) -> f64 {
        let at = turn::apply(&self.rows, p);
        let lack = |k: usize| self.high[k].max(at[k]) - self.low[k].min(at[k]) - self.sizes_mm[k];
        (0..3).map(lack).fold(0.0, f64::max)
    }

    fn take(&mut self, p: [f64; 3]) {
        let at = turn::apply(&self.rows, p);
        self.low = [0, 1, 2].map(|k| self.low[k].min(at[k]));
        self.high = [0, 1, 2].map(|k| self.high[k].max(at[k]));
    }
}

/// Points each as far as can be from those before it, beginning with the one farthest from the middle.
fn far_apart(points_mm: &[[f64; 3]], n: usize) -> Vec<[f64; 3]> {
    let n_all = points_mm.len().max(1) as f64;
    let middle = vec3::scale(points_mm.iter().fold([0.0; 3], |sum, &p| vec3::add(sum, p)), 1.0 / n_all);
    let square = |p: [f64; 3], q: [f64; 3]| vec3::dot(vec3::sub(p, q), vec3::sub(p, q));
    let mut nearest: Vec<f64> = points_mm.iter().map(|&p| square(p, middle)).collect();
    let mut found: Vec<[f64; 3]> = Vec::new();
    while found.len() < n.min(points_mm.len()) {
        let farthest = (0..points_mm.len()).max_by(|&a, &b| nearest[a].total_cmp(&nearest[b])).unwrap_or(0);
        let chosen = points_mm[farthest];
        for (near, &p) in nearest.iter_mut().zip(points_mm) {
            let distance = square(p, chosen);
            *near = if found.is_empty() { distance } else { near.min(distance) };
        }
        found.push(chosen);
    }
    found
}

#[cfg(test)]
pub(crate) mod tests;
