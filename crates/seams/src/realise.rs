//! A plan's cuts made once more: on the item itself after a search on its stand-in, or with one plane
//! changed.
//!
//! How: cut by cut in the same order. The lumps a cut leaves here are matched with those it left there
//! by where their boxes lie; what matches none of its own goes with the nearest. What fits by now is
//! not cut, and on the very part it was made on a cut is not made again. One cut a step: on a fine mesh
//! each takes tens of ms.
//! Of a cut through some regions of a plane only, those regions are cut that hold points well inside them.
//! Seams that stay are cut in both beforehand. The result is judged by itself: it may have more lumps than the
//! plan had, or a piece that misses the bed by a little, and is no plan then.

use crate::ground::Ground;
use crate::part::{Look, Part};
use crate::partition::Partition;
use seamwright_mesh::Plane;
use std::sync::Arc;

/// Cuts being made again.
pub struct Realising {
    plan: Partition,
    /// A step of the plan whose plane is another here.
    changed: Option<(usize, Plane)>,
    /// Whether lines cost what they do in the plan.
    keeps_costs: bool,
    made: Partition,
    /// Per part of the plan, the parts it is here.
    same: Vec<Vec<usize>>,
    /// The cut at work, and parts that wait for it.
    n_done: usize,
    waiting: Vec<usize>,
    /// What the cut at work left, below and above.
    left: [Vec<usize>; 2],
}

impl Realising {
    /// Nothing is cut yet. `plan` was made on the stand-in of `ground`.
    pub fn new(ground: &Ground, plan: Partition) -> Self {
        Self::begin(ground.start().clone(), plan, None)
    }

    /// A plan's cuts on a partition whose pieces lie as the plan's lumps do.
    pub fn onto(start: Partition, plan: Partition) -> Self {
        Self::begin(start, plan, None)
    }

    /// The same plan on the same ground, but for the plane of one step.
    pub fn changed(ground: &Ground, plan: Partition, step: usize, plane: Plane) -> Self {
        let mut made = ground.start().clone();
        // Faces of parts that are kept name planes by their place.
        made.planes.clone_from(&plan.planes);
        Self::begin(made, plan, Some((step, plane)))
    }

    /// A plan made on the copy of an item that is searched in its place, on the item: its lines cost what they did.
    pub fn weighed(item: &Ground, plan: Partition) -> Self {
        Self { keeps_costs: true, ..Self::begin(item.start().clone(), plan, None) }
    }

    fn begin(made: Partition, plan: Partition, changed: Option<(usize, Plane)>) -> Self {
        let mut same = vec![Vec::new(); plan.parts.len()];
        // What stays is cut on both.
        let (kept, later) = plan.steps.split_at(plan.n_kept);
        let n_left = later.iter().map(|step| step.below.len() + step.above.len()).sum::<usize>();
        let is_cut = |part: &usize| kept.iter().any(|step| step.whole == *part);
        let all: Vec<usize> = (0..plan.parts.len() - n_left).filter(|part| !is_cut(part)).collect();
        match_lumps(&plan, &all, &made, &made.pieces(), &mut same);
        let (waiting, left, n_done) = (Vec::new(), Default::default(), plan.n_kept);
        let mut new = Self { plan, changed, keeps_costs: false, made, same, n_done, waiting, left };
        new.wait();
        new
    }

    /// Makes one cut; the partition once all are made.
    pub fn step(&mut self, ground: &Ground) -> Option<Partition> {
        let Some(step) = self.plan.steps.get(self.n_done) else { return Some(self.made.clone()) };
        let changed = self.changed.filter(|&(index, _)| index == self.n_done);
        let plane = changed.map_or(self.plan.planes[step.plane], |(_, plane)| plane);
        if let Some(part) = self.waiting.pop() {
            let is_known = Arc::ptr_eq(&self.made.parts[part], &self.plan.parts[step.whole]);
            let before = self.made.steps.len();
            if is_known && changed.is_none() {
                self.made.take_known(part, &self.plan, step);
            } else {
                let solid = &self.made.parts[part];
                let needs_none = !is_known && solid.is_done() && !solid.is_held();
                if !needs_none {
                    let unweighed = |solid| ground.look(solid);
                    let look: &dyn Look = if self.keeps_costs { &unweighed } else { ground };
                    // Where it misses, what follows is judged by itself.
                    let _ = self.made.cut_inside_near(part, plane, &self.plan.inside_mm(step), look);
                }
            }
            match self.made.steps.get_mut(before) {
                Some(made) => {
                    if self.keeps_costs {
                        // Where there are more lumps of it here, all of it is counted once.
                        let is_first = self.left.iter().all(Vec::is_empty);
                        let weighed = [step.cost_mm, step.detail_mm, step.chalked_mm];
                        [made.cost_mm, made.detail_mm, made.chalked_mm] =
                            if is_first { weighed } else { [0.0; 3] };
                    }
                    self.left[0].extend(&made.below);
                    self.left[1].extend(&made.above);
                }
                None => {
                    let (low, high) = self.made.parts[part].box_mm;
                    let middle = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
                    self.left[usize::from(plane.distance_mm(middle) > 0.0)].push(part);
                }
            }
        }
        if self.waiting.is_empty() {
            let [below, above] = std::mem::take(&mut self.left);
            match_lumps(&self.plan, &step.below, &self.made, &below, &mut self.same);
            match_lumps(&self.plan, &step.above, &self.made, &above, &mut self.same);
            self.n_done += 1;
            self.wait();
        }
        None
    }

    fn wait(&mut self) {
        if let Some(step) = self.plan.steps.get(self.n_done) {
            self.waiting = self.same[step.whole].clone();
        }
    }
}

/// Gives each of `parts` to the part of `lumps` whose box is most like its own.
fn match_lumps(
    plan: &Partition,
    lumps: &[usize],
    made: &Partition,
    parts: &[usize],
    same: &mut [Vec<usize>],
) {
    for &part in parts {
        let apart = |&&lump: &&usize| apart_mm(&plan.parts[lump], &made.parts[part]);
        if let Some(&lump) = lumps.iter().min_by(|a, b| apart(a).total_cmp(&apart(b))) {
            same[lump].push(part);
        }
    }
}

/// Sum of how far the sides of two boxes lie apart.
fn apart_mm(a: &Part, b: &Part) -> f64 {
    let corners = [(a.box_mm.0, b.box_mm.0), (a.box_mm.1, b.box_mm.1)];
    corners.iter().map(|(a, b)| (0..3).map(|k| (a[k] - b[k]).abs()).sum::<f64>()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::tests::wish;
    use crate::part::Look;
    use crate::proxy::tests::hollow_ball;
    use seamwright_mesh::Plane;

    #[test]
    fn each_cut_is_made_on_the_lumps_it_was_made_on() {
        let ball = hollow_ball(100);
        let ground = Ground::new(&ball, &wish("180x180x180"));
        let stand_in = ground.stand_in().expect("80k triangles have a stand-in");
        let look = |solid| stand_in.look(solid);
        let mut plan = stand_in.whole.clone();
        // Across the whole, then each half by a plane of its own.
        for (whole, normal, offset_mm) in
            [(0, [0.0, 0.0, 1.0], 20.0), (1, [1.0, 0.0, 0.0], -15.0), (2, [0.0, 1.0, 0.0], 30.0)]
        {
            plan.cut_near(whole, Plane { normal, offset_mm }, &look).expect("it meets the ball");
        }
        let mut realising = Realising::new(&ground, plan.clone());
        let made = std::iter::from_fn(|| Some(realising.step(&ground))).flatten().next().expect("it ends");
        assert_eq!(made.n_pieces(), 4);
        let volume_mm3: f64 = made.pieces().iter().map(|&i| made.parts[i].volume_mm3).sum();
        assert!((volume_mm3 / ball.volume_mm3() - 1.0).abs() < 1e-6);
        for (a, b) in made.pieces().into_iter().zip(plan.pieces()) {
            let apart_mm = apart_mm(&made.parts[a], &plan.parts[b]);
            assert!(apart_mm < 6.0, "sides of the boxes lie {apart_mm} mm apart in all");
        }
    }
}
