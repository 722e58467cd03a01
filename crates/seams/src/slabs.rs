//! Parallel cuts along one direction: fewest slabs, then the shortest section, by dynamic
//! programming. The right plan for blades, hafts and other long things.
//!
//! How: slabs between evenly spaced offsets; a slab is allowed if its points fit a bed in some
//! rotation. If a slab fits, so does every slab inside it, so farthest reaches from both ends bound
//! where the cuts of a fewest plan can lie; within those windows the cheapest chain is found.
//! Not here: exact fit of the finished slabs (`partition.rs`), which decides.

use crate::cloud;
use crate::ground::Ground;
use crate::partition::Partition;
use crate::sweep::Ready;
use crate::sweep::profile::Profile;
use seamwright_bed::fit::{self, FitOptions, fit_any, prepare};
use seamwright_bed::{Bed, upright};
use seamwright_mesh::{Plane, hull, vec3};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Cells of the certified search a slab is worth: a close call costs at most one slab.
const CELLS: u32 = 200;

/// No more slabs than this are worth a look.
const MOST_SLABS: usize = 40;

/// Slots along a direction: finer than a beam's, since there is one direction.
const N_SLOTS: usize = 96;

/// Parallel cuts being made across every lump that does not fit.
pub struct Slabs {
    normal: [f64; 3],
    partition: Option<Partition>,
    /// Lumps still to be looked at.
    lumps: std::vec::IntoIter<usize>,
    /// Planes of the lump looked at last, and the one being cut.
    planes: std::vec::IntoIter<Plane>,
    plane: Option<Plane>,
    /// Pieces that wait for that plane, and pieces that the next one can meet.
    waiting: std::vec::IntoIter<usize>,
    rest: Vec<usize>,
}

impl Slabs {
    /// Nothing is cut yet.
    pub fn new(ground: &Ground, normal: [f64; 3]) -> Self {
        Self {
            normal,
            partition: Some(ground.start().clone()),
            lumps: ground.start().pieces().into_iter(),
            planes: Vec::new().into_iter(),
            plane: None,
            waiting: Vec::new().into_iter(),
            rest: Vec::new(),
        }
    }

    /// Makes one cut or looks at one lump. `None` while there is more to do, then what all cuts
    /// made, or `None` where a lump cannot be cut so.
    pub fn step(&mut self, ground: &Ground) -> Option<Option<Partition>> {
        let Some(partition) = &mut self.partition else { return Some(None) };
        if self.waiting.as_slice().is_empty()
            && let Some(plane) = self.planes.next()
        {
            self.plane = Some(plane);
            self.waiting = std::mem::take(&mut self.rest).into_iter();
        }
        if let (Some(piece), Some(plane)) = (self.waiting.next(), self.plane) {
            let before = partition.parts.len();
            match partition.cut_near(piece, plane, ground) {
                // Only what lies above can meet the next plane.
                Ok(()) => {
                    let above = partition.steps.last().map(|step| step.above.iter().copied());
                    self.rest.extend(above.into_iter().flatten().filter(|&i| i >= before));
                }
                Err(_) => self.rest.push(piece),
            }
            return None;
        }
        let Some(index) = self.lumps.next() else { return Some(self.partition.take()) };
        let part = &ground.start().parts[index];
        if part.is_done() {
            return None;
        }
        let planes = Ready::new(&part.solid, &[]).and_then(|ready| {
            let sweep =
                ready.along(self.normal, &|triangle, along| ground.per_mm(&part.solid, triangle, along));
            planes(&cloud::points_mm(part), &sweep.profile(), sweep.ends_mm(), self.normal, &ground.beds)
        });
        let Some(planes) = planes else {
            self.partition = None;
            return Some(None);
        };
        self.planes = planes.into_iter();
        self.rest = vec![index];
        None
    }
}

/// Planes across `normal` that leave the fewest slabs, shortest in all; `None` where even one
/// slot does not fit.
fn planes(
    points_mm: &[[f64; 3]],
    profile: &Profile,
    ends_mm: [f64; 2],
    normal: [f64; 3],
    beds: &[Bed],
) -> Option<Vec<Plane>> {
    let along: Vec<f64> = points_mm.iter().map(|&p| vec3::dot(normal, p)).collect();
    let mut order: Vec<usize> = (0..along.len()).collect();
    order.sort_by(|&a, &b| along[a].total_cmp(&along[b]).then(a.cmp(&b)));
    let slot_mm = (ends_mm[1] - ends_mm[0]) / N_SLOTS as f64;
    // Offset of cut position k; 0 and the last are the ends of the part.
    let n = N_SLOTS;
    let offset = |k: usize| ends_mm[0] + slot_mm * k as f64;
    let fits = |from: usize, to: usize| {
        // Section points lie between the cloud's points: half a slot more on cut sides.
        let low = if from == 0 { f64::MIN } else { offset(from) - slot_mm / 2.0 };
        let high = if to == n { f64::MAX } else { offset(to) + slot_mm / 2.0 };
        let first = order.partition_point(|&i| along[i] < low);
        let last = order.partition_point(|&i| along[i] <= high);
        let inside: Vec<[f64; 3]> = order[first..last].iter().map(|&i| points_mm[i]).collect();
        inside.is_empty() || beds.iter().any(|bed| slab_fits(&inside, bed))
    };
    // The same slab is asked for again and again; its answer is kept.
    let known: RefCell<BTreeMap<(usize, usize), bool>> = RefCell::default();
    let fits = |from: usize, to: usize| {
        let kept = known.borrow().get(&(from, to)).copied();
        kept.unwrap_or_else(|| {
            let answer = fits(from, to);
            known.borrow_mut().insert((from, to), answer);
            answer
        })
    };
    let reach_up = |from: usize| farthest(from + 1, n, |to| fits(from, to));
    let reach_down = |to: usize| to - farthest(1, to, |back| fits(to - back, to)).unwrap_or(0);
    let mut earliest = vec![0];
    while *earliest.last()? < n {
        let next = reach_up(*earliest.last()?)?;
        earliest.push(next);
        if earliest.len() > MOST_SLABS {
            return None;
        }
    }
    let n_slabs = earliest.len() - 1;
    let mut latest = vec![n];
    for _ in 0..n_slabs {
        latest.push(reach_down(*latest.last()?));
    }
    latest.reverse();
    // Cut t of a fewest plan lies between the latest start from the end and the farthest reach.
    let mut rows: Vec<Vec<(usize, f64, usize)>> = vec![vec![(0, 0.0, 0)]];
    for cut in 1..n_slabs {
        let window = latest[cut].max(1)..=earliest[cut].min(n - 1);
        let before = rows.last()?;
        let reaches: Vec<usize> = before.iter().map(|entry| reach_up(entry.0).unwrap_or(0)).collect();
        let row: Vec<(usize, f64, usize)> = window
            .filter_map(|k| {
                let best = before
                    .iter()
                    .enumerate()
                    .filter(|(i, entry)| entry.0 < k && k <= reaches[*i])
                    .min_by(|a, b| a.1.1.total_cmp(&b.1.1))?;
                Some((k, best.1.1 + profile.at(offset(k))[1], best.0))
            })
            .collect();
        rows.push(row);
    }
    let last = rows.last()?;
    let (mut at, _) = last
        .iter()
        .enumerate()
        .filter(|(_, entry)| n_slabs == 1 || fits(entry.0, n))
        .min_by(|a, b| a.1.1.total_cmp(&b.1.1))?;
    let mut cuts = Vec::new();
    for row in rows.iter().skip(1).rev() {
        cuts.push(Plane { normal, offset_mm: offset(row[at].0) });
        at = row[at].2;
    }
    cuts.reverse();
    Some(cuts)
}

/// Whether some rotation is found in which the points fit.
fn slab_fits(points_mm: &[[f64; 3]], bed: &Bed) -> bool {
    let options = FitOptions { n_cells: CELLS, ..FitOptions::decide() };
    // Some outermost points nearly always decide: where they do not fit, nor do all, and the
    // rotation found for them mostly serves all. A hull of all costs a hundred times as much.
    let few = prepare(&hull::convex_hull(&fit::outermost(points_mm)));
    let found = fit_any(&few, bed, &options);
    if !upright::fits(found.margin_mm) {
        return false;
    }
    if upright::fits(fit::margin_mm(points_mm, &found.rotation, bed)) {
        return true;
    }
    let all = prepare(&hull::convex_hull(points_mm));
    upright::fits(fit_any(&all, bed, &options).margin_mm)
}

/// The last value from `first` to `last` for which `good` holds, if it holds for the first and,
/// once it fails, fails for all after.
fn farthest(first: usize, last: usize, good: impl Fn(usize) -> bool) -> Option<usize> {
    if first > last || !good(first) {
        return None;
    }
    let (mut yes, mut no) = (first, last + 1);
    while no - yes > 1 {
        let middle = (yes + no) / 2;
        if good(middle) { yes = middle } else { no = middle }
    }
    Some(yes)
}
