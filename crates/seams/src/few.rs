//! A part cut into very few pieces: two by one cut, three or four by a cut whose sides are cut once more.
//!
//! How: what fits of a part fits of all that lies inside it, so along one direction the side below a cut can be
//! made of so many pieces up to some offset and the side above from some offset on. Halving finds an offset at
//! which both can, or an offset at which neither can and hence none; the sides are judged by `slabs.rs`.
//! Estimates by boxes know nothing of pieces that fit slanted and lead beams elsewhere. The directions are those of
//! the part's own frame, so that it hardly matters how the item lies.
//! One step judges one lump. Not here: what becomes of the plan (`improve.rs`).

use crate::estimate;
use crate::frames::{self, AXES};
use crate::ground::Ground;
use crate::outline::Prefer;
use crate::part::Part;
use crate::partition::Partition;
use crate::seek::Seek;
use crate::slabs::Cloud;
use seamwright_mesh::Plane;

/// The most pieces that are looked for.
pub const MOST: usize = 4;

/// Directions of first and of later cuts, beside the axes of the item and those of the part (ours).
const N_WAYS: [usize; 2] = [9, 21];

/// Places along a direction at which a first cut is looked for (ours).
const N_PLACES: usize = 24;

/// Plans of the fewest pieces that are found before it ends (ours).
const N_FOUND: usize = 3;

/// Where the cheapest cut in two leaves a piece that must be held, it is made there between the first and the last
/// that do (ours).
const SHARES: [f64; 3] = [0.5, 0.1, 0.9];

/// A first cut to be looked for.
struct Ask {
    /// Pieces that the sides below and above may become.
    most: [usize; 2],
    normal: [f64; 3],
}

/// The search for one part.
pub struct Few {
    start: Partition,
    asks: std::vec::IntoIter<Ask>,
    at_work: Option<Halving>,
    prefer: Prefer,
    n_found: usize,
    best: Option<Partition>,
    candidates: u64,
}

/// A direction being halved.
struct Halving {
    ask: Ask,
    ends_mm: [f64; 2],
    /// First and last place that may do.
    low: usize,
    high: usize,
    /// The cut at the middle place, once made.
    cut: Option<Sides>,
    /// Its sides being cut, once both can be.
    ending: Option<Ending>,
}

/// Both sides of a cut being judged.
struct Sides {
    made: Partition,
    /// Lumps to be judged, each with the side it lies on.
    lumps: std::vec::IntoIter<(usize, usize)>,
    /// Pieces of the sides so far.
    n_pieces: [usize; 2],
    /// Lumps that one cut parts into two that fit.
    twos: Vec<usize>,
}

/// Lumps of both sides being cut in two, each along the direction that lets most stand and costs least.
struct Ending {
    made: Partition,
    lumps: Vec<usize>,
    at_work: Option<Two>,
}

/// A lump being cut in two along one direction after the other.
struct Two {
    lump: usize,
    cloud: Cloud,
    ways: std::vec::IntoIter<[f64; 3]>,
    best: Option<Partition>,
}

impl Few {
    /// Will look for a plan with at most `most` pieces for what is one part so far; nothing where it is more. Some
    /// pieces of what it finds may have to be held.
    pub fn new(start: Partition, most: usize, prefer: Prefer) -> Self {
        let mut asks = Vec::new();
        if let ([part], true) = (&start.parts[..], start.steps.is_empty()) {
            let all: [&[[usize; 2]]; 3] = [&[[1, 1]], &[[1, 2], [2, 1]], &[[2, 2]]];
            for pairs in all.iter().take(most.clamp(1, MOST) - 1) {
                for normal in ways(part, N_WAYS[usize::from(pairs[0] == [1, 1])]) {
                    asks.extend(pairs.iter().map(|&most| Ask { most, normal }));
                }
            }
        }
        Self { start, asks: asks.into_iter(), at_work: None, prefer, n_found: 0, best: None, candidates: 0 }
    }

    /// The best found.
    pub fn take_best(&mut self) -> Option<Partition> {
        self.best.take()
    }
}

impl Seek for Few {
    fn step(&mut self, ground: &Ground) -> bool {
        let Some(halving) = &mut self.at_work else {
            // More pieces than those of a plan that is found are not looked for.
            let found = self.best.as_ref().map_or(MOST, Partition::n_pieces);
            let next = self.asks.find(|ask| ask.most.iter().sum::<usize>() <= found);
            let Some(ask) = next.filter(|_| self.n_found < N_FOUND) else { return false };
            let ends_mm = estimate::ends_mm(&self.start.parts[0].hull.points_mm, ask.normal);
            self.at_work =
                Some(Halving { ask, ends_mm, low: 1, high: N_PLACES - 1, cut: None, ending: None });
            return true;
        };
        if let Some(ending) = &mut halving.ending {
            self.candidates += 1;
            let Some(plan) = ending.step(ground, self.prefer) else { return true };
            if let Some(plan) = plan.filter(Partition::all_fit) {
                self.n_found += 1;
                let is_better =
                    |best: &Partition| plan.outline().is_better_than(&best.outline(), self.prefer);
                if self.best.as_ref().is_none_or(is_better) {
                    self.best = Some(plan);
                }
            }
            self.at_work = None;
            return true;
        }
        if halving.low > halving.high {
            self.at_work = None;
            return true;
        }
        let place = usize::midpoint(halving.low, halving.high);
        let Some(sides) = &mut halving.cut else {
            let [low_mm, high_mm] = halving.ends_mm;
            let offset_mm = low_mm + (high_mm - low_mm) * place as f64 / N_PLACES as f64;
            let plane = Plane { normal: halving.ask.normal, offset_mm };
            self.candidates += 1;
            match Sides::new(&self.start, plane, ground) {
                Some(sides) => halving.cut = Some(sides),
                None => self.at_work = None,
            }
            return true;
        };
        if let Some((side, lump)) = sides.lumps.next() {
            self.candidates += sides.judge(side, lump, halving.ask.most, ground);
            return true;
        }
        let can = [0, 1].map(|side| sides.n_pieces[side] <= halving.ask.most[side]);
        match can {
            [true, true] => {
                let lumps = std::mem::take(&mut sides.twos);
                halving.ending = Some(Ending { made: sides.made.clone(), lumps, at_work: None });
                return true;
            }
            [true, false] => halving.low = place + 1,
            [false, true] => halving.high = place - 1,
            [false, false] => halving.low = halving.high + 1,
        }
        halving.cut = None;
        true
    }

    fn take_found(&mut self) -> Vec<Partition> {
        self.take_best().into_iter().collect()
    }

    fn candidates(&self) -> u64 {
        self.candidates
    }
}

impl Sides {
    fn new(start: &Partition, plane: Plane, ground: &Ground) -> Option<Self> {
        let mut made = start.clone();
        made.cut_near(0, plane, ground).ok()?;
        let step = &made.steps[0];
        let lumps: Vec<(usize, usize)> = step
            .below
            .iter()
            .map(|&lump| (0, lump))
            .chain(step.above.iter().map(|&lump| (1, lump)))
            .collect();
        Some(Self { made, lumps: lumps.into_iter(), n_pieces: [0, 0], twos: Vec::new() })
    }

    /// Counts the pieces of a lump, where it can be known to need too many as more than any plan has. Returns
    /// how many planes were looked at.
    fn judge(&mut self, side: usize, lump: usize, most: [usize; 2], ground: &Ground) -> u64 {
        let part = &self.made.parts[lump];
        if part.is_done() {
            self.n_pieces[side] += 1;
            return 0;
        }
        if self.n_pieces[side] + 2 > most[side] {
            self.n_pieces[side] += MOST;
            return 0;
        }
        let cloud = Cloud::of(part);
        let mut n_asked = 0;
        for normal in ways(part, N_WAYS[1]) {
            n_asked += 1;
            if cloud.chain(part, normal, 2, ground).is_some() {
                self.n_pieces[side] += 2;
                self.twos.push(lump);
                return n_asked;
            }
        }
        self.n_pieces[side] += MOST;
        n_asked
    }
}

impl Ending {
    /// Asks one direction of one lump; the plan once all are cut, `None` in it where one cannot be.
    fn step(&mut self, ground: &Ground, prefer: Prefer) -> Option<Option<Partition>> {
        let Some(two) = &mut self.at_work else {
            let Some(lump) = self.lumps.pop() else { return Some(Some(self.made.clone())) };
            let part = &self.made.parts[lump];
            let ways = ways(part, N_WAYS[1]).into_iter();
            self.at_work = Some(Two { lump, cloud: Cloud::of(part), ways, best: None });
            return None;
        };
        let part = &self.made.parts[two.lump];
        if let Some(normal) = two.ways.next() {
            let chain = two.cloud.chain(part, normal, 2, ground)?;
            let [plane] = chain.planes[..] else { return None };
            let [from_mm, to_mm] = chain.windows_mm[0];
            let shares = SHARES.map(|share| from_mm + share * (to_mm - from_mm));
            for offset_mm in [plane.offset_mm].into_iter().chain(shares) {
                let mut cut = self.made.alone(two.lump);
                if cut.cut_near(0, Plane { normal, offset_mm }, ground).is_err() || !cut.all_fit() {
                    continue;
                }
                let is_better = |best: &Partition| cut.outline().is_better_than(&best.outline(), prefer);
                let stands = cut.n_held() == 0;
                if two.best.as_ref().is_none_or(is_better) {
                    two.best = Some(cut);
                }
                if stands {
                    break;
                }
            }
            return None;
        }
        let Some(best) = two.best.take() else { return Some(None) };
        let lump = two.lump;
        // Parts that were there keep their places.
        self.made = self.made.with_part_cut(lump, &best);
        self.at_work = None;
        None
    }
}

/// Directions along which a part is cut: its own axes, those of the item and an even spread in its own frame.
fn ways(part: &Part, n: usize) -> Vec<[f64; 3]> {
    let own = frames::principal(&part.solid);
    let mut ways = own.to_vec();
    ways.extend(AXES);
    ways.extend(frames::half_sphere(n).into_iter().map(|way| frames::within(own, way)));
    ways
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bound::tests::cuboid;
    use crate::draw::Draw;
    use crate::ground::tests::wish;
    use seamwright_mesh::{Solid, vec3};

    /// A block turned anyhow.
    fn turned(size_mm: [f64; 3], draw: &mut Draw) -> Solid {
        let block = cuboid(size_mm);
        let (u, v) = vec3::frame_of(frames::drawn(draw));
        let frame = [u, v, vec3::cross(u, v)];
        let points: Vec<[f64; 3]> = block.points_mm().into_iter().map(|p| frames::within(frame, p)).collect();
        Solid::from_triangles(&points, block.triangles()).expect("a turned block").0
    }

    #[test]
    fn a_block_is_cut_into_as_few_as_can_be_however_it_lies() {
        let mut draw = Draw::new(3, 0);
        // Cells of at most 170 x 170 x 175 mm.
        for (size_mm, fewest) in
            [([335.0, 160.0, 85.0], 2), ([500.0, 160.0, 85.0], 3), ([335.0, 330.0, 160.0], 4)]
        {
            for _ in 0..4 {
                let ground = Ground::new(&turned(size_mm, &mut draw), &wish("180x180x180"));
                let find = |most: usize| {
                    let mut few = Few::new(ground.whole.clone(), most, Prefer::Fewest);
                    while few.step(&ground) {}
                    few.take_best()
                };
                let found = find(MOST).expect("it can be cut so");
                assert_eq!((found.n_pieces(), found.n_held()), (fewest, 0), "{size_mm:?}");
                assert!(found.all_fit());
                assert!(
                    find(fewest - 1).is_none(),
                    "no fewer: the volume does not allow it or an edge is too long"
                );
            }
        }
    }
}
