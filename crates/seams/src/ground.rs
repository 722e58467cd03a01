//! What every task of a search stands on: the item before any cut, the beds, the seed.
//!
//! A task depends on nothing but this, its own settings and the limit on pieces, so it can run on
//! another thread or in another worker, which makes its own [`Ground`] from the same solid.
//! Not here: what was found so far (`search.rs`), how a task runs (`task.rs`).

use crate::bound::Footing;
use crate::burden;
use crate::estimate;
use crate::field::Field;
use crate::field::per_mm::PerMm;
use crate::frames::{self, Frame};
use crate::marks::{self, Locked, Marks};
use crate::outline::Prefer;
use crate::part::{Line, Look, Part};
use crate::partition::{Partition, Step};
use crate::patches::InnerRule;
use crate::proxy::Proxy;
use crate::trial::Trial;
use seamwright_bed::Bed;
use seamwright_bed::bed::BedShape;
use seamwright_mesh::split::regions::Regions;
use seamwright_mesh::{Plane, Solid, lumps};
use std::sync::{Arc, OnceLock};

/// Skin of finer meshes is not numbered by triangle: cuts are hardly ever tried on them, and numbers take memory.
const NUMBERED: usize = 10_000;

/// What is asked of a plan for one item.
#[derive(Debug, Clone, Default)]
pub struct Wish {
    /// Beds a piece may be printed on.
    pub beds: Vec<Bed>,
    /// Seed of everything drawn.
    pub seed: u64,
    /// What the maker prefers.
    pub prefer: Prefer,
    /// What the item is worn as; tells which side of its walls is hidden.
    pub role: Option<String>,
    /// What the maker marked on it.
    pub marks: Marks,
    /// Cuts of a plan made before, but for those that stay: the search begins with it where it holds.
    pub begun: Vec<Locked>,
}

/// The state no task changes.
pub struct Ground {
    /// Beds a piece may be printed on.
    pub beds: Vec<Bed>,
    /// Box sizes they offer, for estimates.
    pub boxes: Vec<[f64; 3]>,
    /// The item as it falls apart by itself.
    pub whole: Partition,
    /// Its principal frame.
    pub own_frame: Frame,
    /// Seed of everything drawn.
    pub seed: u64,
    /// What the maker prefers.
    pub prefer: Prefer,
    /// What the maker marked.
    pub marks: Marks,
    /// Cuts of a plan made before, but for those that stay.
    pub begun: Vec<Locked>,
    /// Which of the seams that are to stay do not meet it.
    pub missed: Vec<usize>,
    item: Solid,
    role: Option<String>,
    rule: InnerRule,
    /// Whether it is a stand-in, on which corners cannot be measured.
    stands_in: bool,
    /// The item with the seams that are to stay, their lines not weighed.
    kept: Partition,
    start: OnceLock<Partition>,
    footing: OnceLock<Footing>,
    trial: OnceLock<Option<(Trial, Arc<Self>)>>,
    stand_in: OnceLock<Option<Arc<Self>>>,
    field: OnceLock<Arc<Field>>,
    faces: OnceLock<Vec<PerMm>>,
}

impl Ground {
    /// Looks at an item and its lumps.
    pub fn new(item: &Solid, wish: &Wish) -> Self {
        let rule = InnerRule::of_role(wish.role.as_deref(), item);
        Self::of(item, wish, rule)
    }

    /// Looks at the copy of an item that is searched in its place; the wish is for the item.
    pub fn on_trial(trial: &Trial, wish: &Wish) -> Self {
        let rule = InnerRule::of_role(wish.role.as_deref(), &trial.solid);
        let wish = Wish { beds: smaller(&wish.beds, trial.short_mm), begun: Vec::new(), ..wish.clone() };
        Self { footing: OnceLock::from(trial.footing.clone()), ..Self::of(&trial.solid, &wish, rule) }
    }

    fn of(item: &Solid, wish: &Wish, rule: InnerRule) -> Self {
        let Wish { beds, seed, prefer, role, marks, begun } = wish.clone();
        let numbered = item.n_triangles() <= NUMBERED;
        let item = if numbered { item.with_numbered_skin() } else { item.clone() };
        let look = |lump| Arc::new(Part::new(lump, &beds));
        let whole = Partition::of(lumps::lumps(item.clone()).into_iter().map(look).collect());
        let (kept, missed) = keep(&whole, &marks, &beds);
        Self {
            whole,
            boxes: estimate::boxes_of(&beds),
            own_frame: frames::principal(&item),
            beds,
            seed,
            prefer,
            marks,
            begun,
            missed,
            item,
            role,
            rule,
            stands_in: false,
            kept,
            start: OnceLock::new(),
            footing: OnceLock::new(),
            trial: OnceLock::new(),
            stand_in: OnceLock::new(),
            field: OnceLock::new(),
            faces: OnceLock::new(),
        }
    }

    /// What was asked of it, but for the plan made before.
    fn wish(&self) -> Wish {
        let (beds, marks) = (self.beds.clone(), self.marks.clone());
        Wish { beds, seed: self.seed, prefer: self.prefer, role: self.role.clone(), marks, begun: Vec::new() }
    }

    /// The copy that is searched in its place, made when first asked for; `None` where the item is searched itself.
    pub fn trial(&self) -> Option<&Trial> {
        self.on_its_trial().map(|(trial, _)| trial)
    }

    /// What its search works on: the same, or the item's copy.
    pub fn searched(self: &Arc<Self>) -> &Arc<Self> {
        self.on_its_trial().map_or(self, |(_, ground)| ground)
    }

    fn on_its_trial(&self) -> Option<&(Trial, Arc<Self>)> {
        let make = || {
            let trial = Trial::of(&self.item, || self.footing().clone())?;
            let made = Self::on_trial(&trial, &self.wish());
            // What stays must cut it as it cuts the item.
            (made.kept.n_pieces() == self.kept.n_pieces()).then(|| (trial, Arc::new(made)))
        };
        self.trial.get_or_init(make).as_ref()
    }

    /// What proofs of the item stand on.
    pub fn footing(&self) -> &Footing {
        self.footing.get_or_init(|| Footing::of(self))
    }

    /// The same for a stand-in of few triangles, made when first asked for; `None` where the item
    /// stands for itself. Its beds are smaller by what it is narrower.
    pub fn stand_in(&self) -> Option<&Arc<Self>> {
        let make = || {
            let proxy = Proxy::of(&self.item)?;
            let wish = Wish { beds: smaller(&self.beds, proxy.short_mm), role: None, ..self.wish() };
            let made = Self::of(&proxy.solid, &wish, self.rule);
            if made.kept.n_pieces() != self.kept.n_pieces() {
                // What stays cuts it otherwise than the item: nothing tried on it would hold.
                return None;
            }
            let field = self.field.get_or_init(|| self.make_field(&made.item));
            Some(Arc::new(Self { field: OnceLock::from(field.clone()), stands_in: true, ..made }))
        };
        self.stand_in.get_or_init(make).as_ref()
    }

    /// What lines cost, found when first asked for.
    fn field(&self) -> &Field {
        // Where there is a stand-in it comes with it.
        self.stand_in();
        self.field.get_or_init(|| self.make_field(&self.item))
    }

    fn make_field(&self, coarse: &Solid) -> Arc<Field> {
        Arc::new(Field::new(&self.item, coarse, &self.rule, &self.marks.chalk))
    }

    /// The item as every plan begins: with the seams that are to stay.
    pub fn start(&self) -> &Partition {
        self.start.get_or_init(|| {
            let mut start = self.kept.clone();
            if start.steps.is_empty() {
                return start;
            }
            if let Some((_, trial)) = self.on_its_trial() {
                for (step, weighed) in start.steps.iter_mut().zip(&trial.start().steps) {
                    (step.cost_mm, step.detail_mm, step.chalked_mm) =
                        (weighed.cost_mm, weighed.detail_mm, weighed.chalked_mm);
                }
                return start;
            }
            let line = |step: &Step| {
                start.line_inside(step.whole, &start.planes[step.plane], &start.inside_mm(step), self)
            };
            let lines: Vec<Option<Line>> = start.steps.iter().map(line).collect();
            for (step, line) in start.steps.iter_mut().zip(lines) {
                if let Some(line) = line {
                    (step.cost_mm, step.detail_mm, step.chalked_mm) =
                        (line.cost_mm, line.detail_mm, line.chalked_mm);
                }
            }
            start
        })
    }

    /// What a mm of line of a plane with this unit normal costs on a triangle of a part along a unit tangent, in mm of
    /// plain line.
    pub fn per_mm(&self, part: &Solid, triangle: usize, tangent: [f64; 3], normal: [f64; 3]) -> f64 {
        let field = self.field();
        let faces = self.faces.get_or_init(|| {
            if self.item.n_triangles() <= NUMBERED { field.faces(&self.item) } else { Vec::new() }
        });
        field.on_part(faces, part, triangle, tangent, normal)
    }

    /// Planes along hollows that show, longest first.
    pub fn hollows(&self) -> &[Plane] {
        self.field().hollows()
    }

    /// Planes in which the item mirrors itself, best first.
    pub fn mirrors(&self) -> &[Plane] {
        self.field().mirrors()
    }

    /// Points of the whole item's hulls.
    pub(crate) fn hull_points(&self) -> Vec<[f64; 3]> {
        self.whole.parts.iter().flat_map(|part| part.hull.points_mm.clone()).collect()
    }
}

impl Look for Ground {
    fn look(&self, lump: Solid) -> Part {
        Part::new(lump, &self.beds)
    }

    fn line(&self, part: &Solid, plane: &Plane) -> Line {
        let field = self.field();
        if self.stands_in { field.line_mm(part, plane) } else { field.measured_mm(part, plane, &|_| true) }
    }

    fn line_of(&self, regions: &Regions, chosen: &[usize]) -> Line {
        let (field, plane) = (self.field(), regions.plane());
        let is_cut = |place_mm| regions.is_outlined_by(chosen, place_mm);
        if self.stands_in {
            field.line_of_mm(regions.solid(), &plane, &is_cut)
        } else {
            field.measured_mm(regions.solid(), &plane, &is_cut)
        }
    }

    fn burden_mm(&self, piece: &Part, tag: u32) -> f64 {
        burden::burden_mm(piece, tag)
    }

    fn forbids(&self, part: &Part, plane: &Plane) -> bool {
        self.marks.forbid(part, plane)
    }
}

/// Beds smaller by so much in every width.
fn smaller(beds: &[Bed], by_mm: f64) -> Vec<Bed> {
    let smaller = |bed: &Bed| {
        let shape = match bed.shape {
            BedShape::Rect { width_mm, depth_mm } => {
                BedShape::Rect { width_mm: width_mm - by_mm, depth_mm: depth_mm - by_mm }
            }
            BedShape::Round { diameter_mm } => BedShape::Round { diameter_mm: diameter_mm - by_mm },
        };
        Bed { shape, height_mm: bed.height_mm - by_mm, ..bed.clone() }
    };
    beds.iter().map(smaller).collect()
}

/// Makes the cuts that are to stay and marks what is printed; also tells which cuts miss the item.
fn keep(whole: &Partition, marks: &Marks, beds: &[Bed]) -> (Partition, Vec<usize>) {
    let mut kept = whole.clone();
    let mut missed = Vec::new();
    for (index, locked) in marks.locked.iter().enumerate() {
        if locked.cut(&mut kept, &|solid| Part::new(solid, beds)).is_err() {
            missed.push(index);
        }
    }
    kept.n_kept = kept.steps.len();
    for &place_mm in &marks.printed {
        if let Some(index) = marks::part_at(&kept, place_mm) {
            kept.print(index);
        }
    }
    (kept, missed)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// One bed and the fewest pieces.
    pub(crate) fn wish(bed: &str) -> Wish {
        let beds = vec![Bed::parse(bed).expect("a bed")];
        Wish { beds, seed: 1, prefer: Prefer::Fewest, ..Wish::default() }
    }
}
