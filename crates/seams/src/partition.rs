//! A partition: an item cut step by step into parts, with what is known of each part.
//!
//! A cut is a whole plane through one part, or only some of the regions in which it meets it
//! (`partial.rs`); both sides are taken apart into lumps. Reversed, the steps are a joining order in
//! which each step is pushed together along its direction, a whole plane's along its normal.
//! Not here: which planes (`grid.rs`, `slabs.rs`, `beam.rs`).

mod parted;
mod recut;

use crate::cuts::{Cut, Partial};
use crate::outline::Outline;
use crate::part::{Line, Look, Part};
pub use parted::NoCut;
pub(crate) use parted::Parted;
use seamwright_mesh::Plane;
use seamwright_mesh::solid::is_cut;
use seamwright_mesh::split::split;
use std::sync::Arc;

/// One cut: a part, the plane, and the parts it fell into.
#[derive(Clone)]
pub struct Step {
    /// Index of the part that was cut.
    pub whole: usize,
    /// Index of the plane.
    pub plane: usize,
    /// Parts on the lower side.
    pub below: Vec<usize>,
    /// Parts on the upper side.
    pub above: Vec<usize>,
    /// Where not all regions were cut, those that were.
    pub partial: Option<Partial>,
    /// Length of its section, skin and rims alike.
    pub section_mm: f64,
    /// What its line costs and the pieces it leaves cost beside that, in mm of plain line.
    pub cost_mm: f64,
    /// How much of its line leads through detail.
    pub detail_mm: f64,
    /// How much of its line leads through areas chalked off.
    pub chalked_mm: f64,
}

/// An item and the cuts made so far; cheap to copy, parts are shared.
#[derive(Clone)]
pub struct Partition {
    /// Every part that ever was; the first is the whole item where it is one lump.
    pub parts: Vec<Arc<Part>>,
    /// Cuts in the order made.
    pub steps: Vec<Step>,
    /// As many of them, the first, are to stay as they are.
    pub n_kept: usize,
    /// Distinct planes; a face of cut plane `i` has origin `i + 1`.
    pub planes: Vec<Plane>,
    /// Sum of the section lengths of all cuts, skin and rims alike.
    pub section_mm: f64,
    open: Vec<bool>,
    takes_crumbs: bool,
}

/// Cut face that may overlap itself before the plane is moved: smaller than the crossing of two
/// printed lines.
const ROUGH_MM2: f64 = 0.1;

/// Share of the volume that rounding may cost in a plan: on a needle points of a cut lie beside its long flat sides.
/// `contract.md` asks for 1e-6.
const MOST_DRIFT: f64 = 7e-7;

/// A lump smaller than a cube of 2 mm is no piece anyone could find on the bed or glue (common
/// practice, no source).
const CRUMB_MM3: f64 = 8.0;

/// What a cut may leave that is sound: rough mm2, least lump in mm3.
pub(crate) const SOUND: [f64; 2] = [ROUGH_MM2, CRUMB_MM3];

/// How far a plane is moved, in mm, to keep sound cut faces: far below a print's own error.
const NUDGES_MM: [f64; 3] = [0.0, 0.05, -0.05];

/// And to leave no crumb; five times that is still unseen and clears a film beside a flat face.
const FARTHER_MM: [f64; 5] = [0.0, 0.05, -0.05, 0.25, -0.25];

impl Partition {
    /// The item as it falls apart by itself, before any cut.
    pub fn of(lumps: Vec<Arc<Part>>) -> Self {
        let open = vec![true; lumps.len()];
        Self {
            parts: lumps,
            steps: Vec::new(),
            n_kept: 0,
            planes: Vec::new(),
            section_mm: 0.0,
            open,
            takes_crumbs: false,
        }
    }

    /// The same, but cut where the planes say even if that chips off crumbs: the plain grid is a rule
    /// to compare with, not a plan to improve.
    pub fn taking_crumbs(self) -> Self {
        Self { takes_crumbs: true, ..self }
    }

    /// Indices of the parts not cut further, ascending.
    pub fn pieces(&self) -> Vec<usize> {
        (0..self.parts.len()).filter(|&i| self.open[i]).collect()
    }

    /// How many pieces there are.
    pub fn n_pieces(&self) -> usize {
        self.open.iter().filter(|&&open| open).count()
    }

    /// How many pieces stand only with supports.
    pub fn n_held(&self) -> usize {
        self.pieces().iter().filter(|&&i| self.parts[i].is_held()).count()
    }

    /// Whether every piece fits a bed or is printed already.
    pub fn all_fit(&self) -> bool {
        self.pieces().iter().all(|&i| self.parts[i].is_done())
    }

    /// The room its held pieces lack to stand, in all.
    fn short_mm(&self) -> f64 {
        let of = |&i: &usize| self.parts[i].posed.as_ref().map_or(0.0, |posed| posed.short_mm);
        self.pieces().iter().filter(|&&i| !self.parts[i].is_printed).map(of).sum()
    }

    /// What the lines of all cuts cost, in mm of plain line.
    pub fn cost_mm(&self) -> f64 {
        self.steps.iter().map(|step| step.cost_mm).sum()
    }

    /// Share of the volume that rounding added or took in all its cuts.
    fn drift(&self) -> f64 {
        let n_made: usize = self.steps.iter().map(|step| step.below.len() + step.above.len()).sum();
        let sum_mm3 = |parts: &[usize]| parts.iter().map(|&i| self.parts[i].volume_mm3).sum::<f64>();
        let lumps: Vec<usize> = (0..self.parts.len() - n_made).collect();
        let whole_mm3 = sum_mm3(&lumps);
        ((sum_mm3(&self.pieces()) - whole_mm3) / whole_mm3).abs()
    }

    /// What decides between it and another.
    pub fn outline(&self) -> Outline {
        Outline {
            all_fit: self.all_fit() && self.drift() < MOST_DRIFT,
            n_pieces: self.n_pieces(),
            n_held: self.n_held(),
            short_mm: self.short_mm(),
            cost_mm: self.cost_mm(),
            detail_mm: self.steps.iter().map(|step| step.detail_mm).sum(),
            // What stays was chosen by the maker, chalk or not.
            chalked_mm: self.steps[self.n_kept..].iter().map(|step| step.chalked_mm).sum(),
        }
    }

    /// Marks a part as printed: it is not cut any more.
    pub(crate) fn print(&mut self, index: usize) {
        let part = &self.parts[index];
        let (solid, hull, posed) = (part.solid.clone(), part.hull.clone(), part.posed.clone());
        self.parts[index] = Arc::new(Part { solid, hull, posed, is_printed: true, ..**part });
    }

    /// Its cuts in the order made. [`Partition::replay`] makes the same partition of them again, to the
    /// bit.
    pub fn cuts(&self) -> Vec<Cut> {
        let cut = |step: &Step| Cut {
            whole: step.whole,
            plane: self.planes[step.plane],
            partial: step.partial.clone(),
            cost_mm: step.cost_mm,
            detail_mm: step.detail_mm,
            chalked_mm: step.chalked_mm,
        };
        self.steps.iter().map(cut).collect()
    }

    /// Makes one cut of [`Partition::cuts`] again, its line costing what it did; whether it could be made.
    pub fn replay(&mut self, cut: &Cut, look: &dyn Look) -> bool {
        let whole = cut.whole;
        let is_made = whole < self.parts.len()
            && self.open[whole]
            && match &cut.partial {
                None => self.cut(whole, cut.plane, [f64::INFINITY, 0.0], look),
                Some(partial) => self.cut_again(whole, cut.plane, partial, look),
            }
            .is_ok();
        if let Some(step) = self.steps.last_mut().filter(|_| is_made) {
            (step.cost_mm, step.detail_mm, step.chalked_mm) = (cut.cost_mm, cut.detail_mm, cut.chalked_mm);
        }
        is_made
    }

    /// The unit vector along which what is below a step is pushed against what is above.
    pub fn direction(&self, step: &Step) -> [f64; 3] {
        step.partial.as_ref().map_or(self.planes[step.plane].normal, |partial| partial.direction)
    }

    /// Cuts part `whole` by `plane`, if no more than `rough_mm2` of the cut face overlaps itself and no
    /// lump is smaller than `crumb_mm3`.
    ///
    /// # Errors
    /// [`NoCut`]; the partition is unchanged then.
    pub fn cut(
        &mut self,
        whole: usize,
        plane: Plane,
        limits: [f64; 2],
        look: &dyn Look,
    ) -> Result<(), NoCut> {
        let part = &self.parts[whole];
        if part.is_passed_by(&plane) {
            return Err(NoCut::Misses);
        }
        if look.forbids(part, &plane) {
            return Err(NoCut::Forbidden);
        }
        let halves = split(&part.solid, &plane, self.tag_of(&plane));
        let parted = Parted::of(halves, plane, limits)?;
        let line = look.line(&part.solid, &plane);
        self.take(whole, parted, line, None, look);
        Ok(())
    }

    /// Origin of faces cut by a plane.
    pub(crate) fn tag_of(&self, plane: &Plane) -> u32 {
        let known = self.planes.iter().position(|p| p == plane);
        known.unwrap_or(self.planes.len()) as u32 + 1
    }

    /// Makes a cut.
    pub(crate) fn take(
        &mut self,
        whole: usize,
        parted: Parted,
        line: Line,
        partial: Option<Partial>,
        look: &dyn Look,
    ) {
        let plane = self.tag_of(&parted.plane) as usize - 1;
        if plane == self.planes.len() {
            self.planes.push(parted.plane);
        }
        let Line { section_mm, mut cost_mm, detail_mm, chalked_mm } = line;
        let tag = plane as u32 + 1;
        self.section_mm += section_mm;
        let [below, above] = parted.sides.map(|side| -> Vec<usize> {
            side.into_iter()
                .map(|lump| {
                    let part = look.look(lump);
                    cost_mm += look.burden_mm(&part, tag);
                    self.parts.push(Arc::new(part));
                    self.open.push(true);
                    self.parts.len() - 1
                })
                .collect()
        });
        self.open[whole] = false;
        self.steps.push(Step {
            whole,
            plane,
            below,
            above,
            partial,
            section_mm,
            cost_mm,
            detail_mm,
            chalked_mm,
        });
    }

    /// The same with its planes as [`Partition::replay`] lists them: those a cut was made along, by first use.
    /// Cuts made again elsewhere leave planes that no cut is made along any more.
    pub fn with_planes_by_use(mut self) -> Self {
        let mut used: Vec<usize> = Vec::new();
        for step in &self.steps {
            if !used.contains(&step.plane) {
                used.push(step.plane);
            }
        }
        if used.iter().copied().eq(0..self.planes.len()) {
            return self;
        }
        let place = |plane: usize| used.iter().position(|&other| other == plane);
        let renamed = |tag: u32| match place(tag.wrapping_sub(1) as usize) {
            Some(place) if is_cut(tag) => place as u32 + 1,
            _ => tag,
        };
        for part in &mut self.parts {
            if part.solid.origins().iter().any(|&tag| renamed(tag) != tag) {
                let solid = part.solid.with_origins(&renamed);
                let (hull, posed) = (part.hull.clone(), part.posed.clone());
                *part = Arc::new(Part { solid, hull, posed, ..**part });
            }
        }
        for step in &mut self.steps {
            step.plane = place(step.plane).unwrap_or(step.plane);
        }
        self.planes = used.iter().map(|&plane| self.planes[plane]).collect();
        self
    }

    /// How far to move a plane, one try after the other, and what each may leave: rough mm2 and least
    /// lump in mm3. Crumbs are avoided first (unless they are taken as they fall).
    pub(crate) fn nudges(&self) -> impl Iterator<Item = (f64, [f64; 2])> + use<> {
        let takes_crumbs = self.takes_crumbs;
        let clean = FARTHER_MM.into_iter().filter(move |_| !takes_crumbs);
        let clean = clean.map(|nudge_mm| (nudge_mm, SOUND));
        clean.chain(NUDGES_MM.into_iter().map(|nudge_mm| (nudge_mm, [ROUGH_MM2, 0.0])))
    }

    /// Cuts, moving the plane a little where its section crosses itself or it chips off a crumb (unless
    /// crumbs are taken as they fall); where it does so on all tries, the plane as given is taken.
    ///
    /// # Errors
    /// [`NoCut::Misses`], [`NoCut::Forbidden`].
    pub fn cut_near(&mut self, whole: usize, plane: Plane, look: &dyn Look) -> Result<(), NoCut> {
        for (nudge_mm, limits) in self.nudges() {
            let moved = Plane { offset_mm: plane.offset_mm + nudge_mm, ..plane };
            match self.cut(whole, moved, limits, look) {
                Err(NoCut::Rough | NoCut::Crumb) => {}
                other => return other,
            }
        }
        self.cut(whole, plane, [f64::INFINITY, 0.0], look)
    }

    /// The pieces that part `index` ended up in.
    pub fn pieces_of(&self, index: usize) -> Vec<usize> {
        if self.open[index] {
            return vec![index];
        }
        let step = self.steps.iter().find(|step| step.whole == index);
        let below_above = step.map(|step| step.below.iter().chain(&step.above)).into_iter().flatten();
        below_above.flat_map(|&child| self.pieces_of(child)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::Solid;

    /// A block with a pin of 1 mm on top: one body, the pin let in by half a millimetre.
    fn block_with_pin() -> Solid {
        let (mut points, mut triangles) = (Vec::new(), Vec::new());
        for (low, high) in [([0.0; 3], [40.0, 30.0, 20.0]), ([10.0, 10.0, 19.5], [11.0, 11.0, 20.5])] {
            let first = points.len() as u32;
            points.extend((0..8).map(|i| -> [f64; 3] {
                std::array::from_fn(|k| if i >> k & 1 == 1 { high[k] } else { low[k] })
            }));
            let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
            triangles.extend(
                sides.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).map(|t| t.map(|i| first + i)),
            );
        }
        Solid::from_triangles(&points, &triangles).expect("two closed boxes").0
    }

    #[test]
    fn a_plane_that_would_chip_off_a_crumb_is_moved_unless_it_is_the_plain_grid() {
        let plane = Plane { normal: [0.0, 0.0, 1.0], offset_mm: 20.05 };
        let least_mm3 = |mut partition: Partition| {
            partition.cut_near(0, plane, &Part::uncared).expect("it meets the block");
            let volumes = partition.pieces().into_iter().map(|i| partition.parts[i].volume_mm3);
            volumes.fold(f64::MAX, f64::min)
        };
        let whole = || Partition::of(vec![Arc::new(Part::uncared(block_with_pin()))]);
        assert!(least_mm3(whole()) > CRUMB_MM3);
        let pin_mm3 = least_mm3(whole().taking_crumbs());
        assert!((pin_mm3 - 0.45).abs() < 1e-3, "the pin's top of 1 x 1 x 0.45 mm, not {pin_mm3}");
    }

    #[test]
    fn a_plan_that_loses_volume_to_rounding_is_none() {
        let bar = crate::bound::tests::cuboid([300.0, 30.0, 30.0]);
        let ground = crate::ground::Ground::new(&bar, &crate::ground::tests::wish("220x220x250"));
        let mut plan = ground.whole.clone();
        let plane = Plane { normal: [1.0, 0.0, 0.0], offset_mm: 150.0 };
        plan.cut_near(0, plane, &ground).expect("it meets the bar");
        assert!(plan.all_fit() && plan.outline().all_fit);
        let half = ground.look(plan.parts[1].solid.clone());
        plan.parts[1] = Arc::new(Part { volume_mm3: half.volume_mm3 * (1.0 + 2e-6), ..half });
        assert!(plan.all_fit() && !plan.outline().all_fit);
    }
}
