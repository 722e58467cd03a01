//! Parallel cuts along one direction: fewest slabs, then the shortest section, by dynamic
//! programming. The right plan for blades, hafts and other long things.
//!
//! How: slabs between evenly spaced offsets; a slab is allowed if its points fit a bed in some
//! rotation. If a slab fits, so does every slab inside it, so farthest reaches from both ends bound
//! where the cuts of a fewest plan can lie; within those windows the cheapest chain is found.
//! Not here: exact fit of the finished slabs (`partition.rs`), which decides.

use crate::cloud;
use crate::frames;
use crate::ground::Ground;
use crate::part::Part;
use crate::partition::Partition;
use crate::sweep;
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

/// Points at either end of a slab that are looked at beside its outermost ones (ours).
const N_ENDS: usize = 24;

/// A row's points are taken from so far beyond its cuts, since sections have points between a cloud's (ours).
const BEYOND_MM: f64 = 2.0;

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
        let Some(chain) = Cloud::of(part).chain(part, self.normal, MOST_SLABS, ground) else {
            self.partition = None;
            return Some(None);
        };
        self.planes = chain.planes.into_iter();
        self.rest = vec![index];
        None
    }
}

/// Parallel planes that leave only slabs which fit.
#[derive(Debug, Clone)]
pub struct Chain {
    /// The planes, lowest first; one fewer than slabs.
    pub planes: Vec<Plane>,
    /// First and last offset at which each may lie in some such chain.
    pub windows_mm: Vec<[f64; 2]>,
}

/// A part as points, to be asked in many directions.
pub struct Cloud {
    points_mm: Vec<[f64; 3]>,
    /// For each of an even spread of directions and those opposite the points that reach farthest, the farthest
    /// first.
    farthest: Vec<Vec<u32>>,
}

/// Directions in which a slab's outermost points are looked for, and as many opposite; and of the whole part's
/// points how many are kept for each (ours).
const N_WAYS: usize = 48;
const N_FARTHEST: usize = 400;

impl Cloud {
    /// Of a part.
    pub fn of(part: &Part) -> Self {
        Self::new(cloud::points_mm(part))
    }

    fn new(points_mm: Vec<[f64; 3]>) -> Self {
        let both = frames::half_sphere(N_WAYS).into_iter().flat_map(|way| [way, vec3::scale(way, -1.0)]);
        let farthest = both.map(|way| {
            let mut all: Vec<(f64, u32)> =
                (0_u32..).zip(&points_mm).map(|(i, &p)| (-vec3::dot(way, p), i)).collect();
            let order = |a: &(f64, u32), b: &(f64, u32)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
            if all.len() > N_FARTHEST {
                all.select_nth_unstable_by(N_FARTHEST, order);
                all.truncate(N_FARTHEST);
            }
            all.sort_unstable_by(order);
            all.into_iter().map(|(_, i)| i).collect()
        });
        Self { farthest: farthest.collect(), points_mm }
    }

    /// The fewest slabs across one of some directions that a row, what lies between two offsets along `normal`, can
    /// be cut into, each fitting with its row, its slab or what is square to both upward; `None` where those are
    /// more than `most`.
    pub fn n_across(
        &self,
        normal: [f64; 3],
        [from_mm, to_mm]: [f64; 2],
        ways: &[[f64; 3]],
        most: usize,
        beds: &[Bed],
    ) -> Option<usize> {
        let between = from_mm - BEYOND_MM..=to_mm + BEYOND_MM;
        let is_inside = |p: &&[f64; 3]| between.contains(&vec3::dot(normal, **p));
        let row = Self::new(self.points_mm.iter().filter(is_inside).copied().collect());
        let across = |&way: &[f64; 3]| {
            let ups = [normal, way, vec3::cross(normal, way)];
            let ends = Slots::new(&row, way, &ups, beds)?.earliest(most)?;
            Some(ends.len() - 1)
        };
        ways.iter().filter_map(across).min()
    }

    /// Points of a slab that are outermost in some direction; those of directions in which none of the part's
    /// farthest points lies in the slab are left out.
    fn outermost(&self, is_inside: &dyn Fn(u32) -> bool) -> Vec<[f64; 3]> {
        let mut found: Vec<u32> =
            self.farthest.iter().filter_map(|way| way.iter().copied().find(|&i| is_inside(i))).collect();
        found.sort_unstable();
        found.dedup();
        found.into_iter().map(|i| self.points_mm[i as usize]).collect()
    }

    /// The planes across `normal` that leave the fewest slabs of the part, the cheapest in all; `None` where
    /// those are more than `most` or even one slot does not fit.
    pub fn chain(&self, part: &Part, normal: [f64; 3], most: usize, ground: &Ground) -> Option<Chain> {
        self.chain_upright(part, normal, &[], most, ground)
    }

    /// The same of slabs that fit with one of these directions upward; in any rotation where there are none.
    pub fn chain_upright(
        &self,
        part: &Part,
        normal: [f64; 3],
        ups: &[[f64; 3]],
        most: usize,
        ground: &Ground,
    ) -> Option<Chain> {
        let profile = || {
            let per_mm =
                |triangle: usize, along: [f64; 3]| ground.per_mm(&part.solid, triangle, along, normal);
            sweep::profile_along(&part.solid, normal, &per_mm)
        };
        chain(&Slots::new(self, normal, ups, &ground.beds)?, &profile, normal, most)
    }
}

/// A cloud along one direction, and which slabs between its slots fit a bed; each is judged once.
struct Slots<'a> {
    cloud: &'a Cloud,
    beds: &'a [Bed],
    /// Directions that may be upward; any where there are none.
    ups: &'a [[f64; 3]],
    along: Vec<f64>,
    /// Points, lowest first.
    order: Vec<usize>,
    ends_mm: [f64; 2],
    known: RefCell<BTreeMap<(usize, usize), bool>>,
}

impl<'a> Slots<'a> {
    /// `None` of no points.
    fn new(cloud: &'a Cloud, normal: [f64; 3], ups: &'a [[f64; 3]], beds: &'a [Bed]) -> Option<Self> {
        let along: Vec<f64> = cloud.points_mm.iter().map(|&p| vec3::dot(normal, p)).collect();
        let mut order: Vec<usize> = (0..along.len()).collect();
        order.sort_by(|&a, &b| along[a].total_cmp(&along[b]).then(a.cmp(&b)));
        let ends_mm = [along[*order.first()?], along[*order.last()?]];
        Some(Self { cloud, beds, ups, along, order, ends_mm, known: RefCell::default() })
    }

    fn slot_mm(&self) -> f64 {
        (self.ends_mm[1] - self.ends_mm[0]) / N_SLOTS as f64
    }

    /// Offset of a cut position; the first and the last are the ends of the part.
    fn offset(&self, slot: usize) -> f64 {
        self.ends_mm[0] + self.slot_mm() * slot as f64
    }

    /// Whether the slab between two positions fits.
    fn fits(&self, from: usize, to: usize) -> bool {
        let kept = self.known.borrow().get(&(from, to)).copied();
        kept.unwrap_or_else(|| {
            let answer = self.judge(from, to);
            self.known.borrow_mut().insert((from, to), answer);
            answer
        })
    }

    fn judge(&self, from: usize, to: usize) -> bool {
        // Section points lie between the cloud's points: half a slot more on cut sides.
        let low = if from == 0 { f64::MIN } else { self.offset(from) - self.slot_mm() / 2.0 };
        let high = if to == N_SLOTS { f64::MAX } else { self.offset(to) + self.slot_mm() / 2.0 };
        let first = self.order.partition_point(|&i| self.along[i] < low);
        let last = self.order.partition_point(|&i| self.along[i] <= high);
        let points_mm = &self.cloud.points_mm;
        let inside: Vec<[f64; 3]> = self.order[first..last].iter().map(|&i| points_mm[i]).collect();
        // Points at the slab's own ends may be outermost and among the farthest of the part in no direction.
        let ends = inside.iter().take(N_ENDS).chain(inside.iter().rev().take(N_ENDS)).copied();
        let mut few = self.cloud.outermost(&|i| (low..=high).contains(&self.along[i as usize]));
        few.extend(ends);
        let fits = |bed: &Bed| {
            if self.ups.is_empty() {
                return slab_fits(&inside, &few, bed);
            }
            let stands = |points: &[[f64; 3]], up: [f64; 3]| {
                upright::fits(upright::fit_upright(points, up, bed).margin_mm)
            };
            self.ups.iter().any(|&up| stands(&few, up) && stands(&inside, up))
        };
        inside.is_empty() || self.beds.iter().any(fits)
    }

    /// The farthest end of a slab that begins at a position; `None` where not even one slot fits.
    fn reach_up(&self, from: usize) -> Option<usize> {
        farthest(from + 1, N_SLOTS, |to| self.fits(from, to))
    }

    /// The farthest beginning of a slab that ends at a position.
    fn reach_down(&self, to: usize) -> usize {
        to - farthest(1, to, |back| self.fits(to - back, to)).unwrap_or(0)
    }

    /// The farthest ends of fewest slabs, each beginning where the one before ends, from the first position on;
    /// `None` where those are more than `most`.
    fn earliest(&self, most: usize) -> Option<Vec<usize>> {
        let mut earliest = vec![0];
        while *earliest.last()? < N_SLOTS {
            let next = self.reach_up(*earliest.last()?)?;
            earliest.push(next);
            if earliest.len() > most + 1 {
                return None;
            }
        }
        Some(earliest)
    }
}

fn chain(slots: &Slots, profile: &dyn Fn() -> Profile, normal: [f64; 3], most: usize) -> Option<Chain> {
    let n = N_SLOTS;
    let fits = |from: usize, to: usize| slots.fits(from, to);
    let offset = |slot: usize| slots.offset(slot);
    if most == 2 && !may_be_two(n, &fits) {
        return None;
    }
    let earliest = slots.earliest(most)?;
    let n_slabs = earliest.len() - 1;
    let profile = profile();
    let mut latest = vec![n];
    for _ in 0..n_slabs {
        latest.push(slots.reach_down(*latest.last()?));
    }
    latest.reverse();
    // Cut t of a fewest plan lies between the latest start from the end and the farthest reach.
    let mut rows: Vec<Vec<(usize, f64, usize)>> = vec![vec![(0, 0.0, 0)]];
    for cut in 1..n_slabs {
        let window = latest[cut].max(1)..=earliest[cut].min(n - 1);
        let before = rows.last()?;
        let reaches: Vec<usize> = before.iter().map(|entry| slots.reach_up(entry.0).unwrap_or(0)).collect();
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
    let windows_mm =
        (1..n_slabs).map(|cut| [latest[cut].max(1), earliest[cut].min(n - 1)].map(offset)).collect();
    let mut planes = Vec::new();
    for row in rows.iter().skip(1).rev() {
        planes.push(Plane { normal, offset_mm: offset(row[at].0) });
        at = row[at].2;
    }
    planes.reverse();
    Some(Chain { planes, windows_mm })
}

/// Whether some rotation is found in which the points fit, some of which lie outermost.
fn slab_fits(points_mm: &[[f64; 3]], few: &[[f64; 3]], bed: &Bed) -> bool {
    let options = FitOptions { n_cells: CELLS, ..FitOptions::decide() };
    // Some outermost points nearly always decide: where they do not fit, nor do all, and the
    // rotation found for them mostly serves all. A hull of all costs a hundred times as much.
    let few = prepare(&hull::convex_hull(few));
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

/// Whether one cut may leave two slabs that fit: the farther a cut, the more is left on one side, so most
/// directions are ruled out by a look at one cut.
fn may_be_two(n: usize, fits: &dyn Fn(usize, usize) -> bool) -> bool {
    let (mut low, mut high) = (1, n - 1);
    while low <= high {
        let middle = usize::midpoint(low, high);
        match (fits(0, middle), fits(middle, n)) {
            (true, true) => return true,
            (false, false) => return false,
            (true, false) => low = middle + 1,
            (false, true) => high = middle - 1,
        }
    }
    false
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
