//! What page and planner say to each other, as records; the page's types are made from this file.
//!
//! Units: mm in item or bed coordinates, as the field says.
//! Longer than 400 lines because it is the table of all that is said.

use crate::PlanError;
use crate::card::bed_of_record;
use crate::job::{Budget, Options};
use crate::project::PREFERS;
use crate::proof;
use crate::records::marks::SeamMark;
use crate::records::{Bed, NoticeRecord, PlaneRecord, Proof};
use seamwright_seams::cuts::Cut;
use seamwright_seams::outline::{JOIN_MIN, Outline, VISIBLE_MIN_PER_MM};
use seamwright_seams::probe::{Probed, ProbedLump};
use seamwright_seams::task::{Ended, Found, Heard, Told};
use serde::{Deserialize, Serialize};

/// Everything asked beside the models.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// Beds as in plan.json; ids unique.
    pub beds: Vec<Bed>,
    /// What the maker prefers: balanced, fewest or hidden.
    pub prefer: String,
    /// Seed of the search.
    pub seed: u64,
    /// Rounds of search; absent where time bounds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effort: Option<u64>,
}

/// What was taken as unit and up axis of a file, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitsFound {
    /// Unit taken.
    pub guess: String,
    /// One plain sentence.
    pub why: String,
    /// Whether another unit is plausible and the maker has not said.
    pub in_doubt: bool,
    /// Axis of the file taken as up.
    pub up: String,
    /// One plain sentence.
    pub up_why: String,
    /// Whether the axis was guessed to be another than Z.
    pub up_in_doubt: bool,
}

/// A model read and sized.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadItem {
    /// Id of the item.
    pub item: String,
    /// Name for people.
    pub name: String,
    /// Triangles as cut.
    pub triangles: usize,
    /// Its size.
    pub size_mm: [f64; 3],
    /// Flaws of the file.
    pub notices: Vec<NoticeRecord>,
    /// Unit and up axis.
    pub units: UnitsFound,
}

/// One task of a round, enough for a searcher that has the item's ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TaskNote {
    /// Position of the item.
    pub item: usize,
    /// Round of the item's search, counted from 0.
    pub round: usize,
    /// Position of the task among the item's tasks of the round.
    pub task: usize,
    /// Pieces a result must stay below.
    pub limit: u32,
    /// Cuts of the best plan, as numbers, where the task is to make it better.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub best: Vec<f64>,
}

/// What decides between two partitions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OutlineNote {
    /// Whether every piece fits a bed.
    pub all_fit: bool,
    /// How many pieces there are.
    pub n_pieces: usize,
    /// How many of them stand only with supports.
    pub n_held: usize,
    /// The room these lack to stand, in all.
    pub short_mm: f64,
    /// What the lines of all cuts cost, in mm of plain line.
    pub cost_mm: f64,
    /// How much of them leads through detail.
    pub detail_mm: f64,
    /// How much of them leads through areas chalked off.
    pub chalked_mm: f64,
}

impl From<Outline> for OutlineNote {
    fn from(
        Outline { all_fit, n_pieces, n_held, short_mm, cost_mm, detail_mm, chalked_mm }: Outline,
    ) -> Self {
        Self { all_fit, n_pieces, n_held, short_mm, cost_mm, detail_mm, chalked_mm }
    }
}

impl From<OutlineNote> for Outline {
    fn from(
        OutlineNote { all_fit, n_pieces, n_held, short_mm, cost_mm, detail_mm, chalked_mm }: OutlineNote,
    ) -> Self {
        Self { all_fit, n_pieces, n_held, short_mm, cost_mm, detail_mm, chalked_mm }
    }
}

/// What a round hears of what a task found: a plan's outline or a proof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResultNote {
    /// Of a plan; its cuts travel beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outline: Option<OutlineNote>,
    /// Of a least number of pieces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub proof: Option<Proof>,
    /// Planes looked at.
    pub candidates: u64,
}

impl ResultNote {
    /// Of how a task ended.
    pub fn of(ended: &Ended) -> Self {
        let (outline, proof) = match &ended.found {
            Some(Found::Plan(plan)) => (Some(plan.outline().into()), None),
            Some(Found::Bound(proof)) => (None, Some(proof::record(proof))),
            None => (None, None),
        };
        Self { outline, proof, candidates: ended.candidates }
    }

    /// As the search takes it; the cuts of a plan travelled beside it.
    pub fn heard(self, cuts: Vec<Cut>) -> Heard {
        let plan = self.outline.map(|outline| Told::Plan(outline.into(), cuts));
        let told = plan.or_else(|| self.proof.map(|proof| Told::Bound(proof::of_record(proof))));
        Heard { told, candidates: self.candidates }
    }
}

/// A new best: the item it is of, and its position among the results of the round.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Winner {
    /// Position of the item.
    pub item: usize,
    /// Position of the result.
    pub at: usize,
}

/// The least number of pieces proved for one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeastNote {
    /// Id of the item.
    pub item: String,
    /// No plan of it has fewer; a mirrored side and copies not counted.
    pub pieces: usize,
}

/// A round that is over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RoundNote {
    /// Counted from 1; 0 is the plain grid.
    pub round: u64,
    /// Pieces of all items' best plans, mirrored sides and copies included.
    pub pieces: usize,
    /// What is proved so far of each item.
    pub at_least: Vec<LeastNote>,
    /// Planes looked at.
    pub candidates: u64,
    /// Whether no further round is due.
    pub over: bool,
}

/// A plan to choose beside the best.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherNote {
    /// Pieces.
    pub pieces: usize,
    /// How many of them stand only with supports.
    pub held: usize,
    /// Finishing minutes as the search weighs them.
    pub cost_min: f64,
    /// Line through detail as the search foresees or measures it.
    pub detail_mm: f64,
}

/// One piece to draw; its points and triangles travel beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PieceNote {
    /// Id of the piece.
    pub id: String,
    /// Number on the drawing, counted over the whole costume as in lays.
    pub number: usize,
    /// How far it moves with the pull slider at 1.
    pub pull_mm: [f64; 3],
    /// Extents of its box.
    pub size_mm: [f64; 3],
    /// Whether it fits a bed or is printed already.
    pub fits: bool,
    /// Whether it is marked as printed.
    pub is_printed: bool,
    /// A place on its skin, or inside an item on one of its cut faces.
    pub at_mm: [f64; 3],
}

/// One seam to draw; its line travels beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeamNote {
    /// Id of the seam.
    pub id: String,
    /// The pieces it joins.
    pub pieces: [String; 2],
    /// How hard it is to hide: 3 runs through detail, 2 is seen, 1 lies in a hollow or unseen.
    pub weight: u32,
    /// A place on its line, where it shows if that is known.
    pub at_mm: [f64; 3],
    /// Whether it stays in every plan.
    pub is_kept: bool,
}

/// One cut of a plan: what it cut and the seams it made there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CutNote {
    /// Its plane.
    pub plane: PlaneRecord,
    /// Points inside the regions that are cut alone; none where all that the plane meets is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inside_mm: Vec<[f64; 3]>,
    /// Whether it stays in every plan; such cuts come first, as they are marked.
    pub is_kept: bool,
    /// Pieces on both sides of it, of what it cut.
    pub pieces: Vec<String>,
    /// Ids of its seams.
    pub seams: Vec<String>,
}

/// A plan of one item to draw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ItemPlanNote {
    /// Id of the item.
    pub item: String,
    /// Its pieces.
    pub pieces: Vec<PieceNote>,
    /// Its seams.
    pub seams: Vec<SeamNote>,
    /// Its cuts in the order made.
    pub cuts: Vec<CutNote>,
    /// Whole seam line.
    pub seam_mm: f64,
    /// Pieces of the plain grid.
    pub grid_pieces: usize,
}

/// A plane that a maker moves through a part of an item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProbeAsked {
    /// Position of the item.
    pub item: usize,
    /// All cuts made before, those that stay among them.
    pub before: Vec<SeamMark>,
    /// A place on the skin of the part.
    pub at_mm: [f64; 3],
    /// The plane.
    pub plane: PlaneRecord,
    /// Points inside the regions that are cut alone; none where all that it meets is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inside_mm: Vec<[f64; 3]>,
}

/// What such a plane would make; its line travels beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProbeNote {
    /// A place on the line, near the one asked for.
    pub at_mm: [f64; 3],
    /// Length of the line, skin and rims alike.
    pub line_mm: f64,
    /// What the seam takes to join, fill and sand, as the search weighs it.
    pub cost_min: f64,
    /// How much of the line leads through areas chalked off.
    pub chalked_mm: f64,
    /// Lumps on the lower side.
    pub below: Vec<ProbedNote>,
    /// Lumps on the upper side.
    pub above: Vec<ProbedNote>,
}

/// A lump that a plane leaves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProbedNote {
    /// Extents of its box.
    pub size_mm: [f64; 3],
    /// Whether it fits a bed.
    pub fits: bool,
    /// Whether it stands only with supports.
    pub is_held: bool,
    /// Pieces it is thought to need.
    pub needs: usize,
}

impl ProbeNote {
    /// Of what was found.
    pub fn of(probed: &Probed) -> Self {
        let note = |lump: &ProbedLump| ProbedNote {
            size_mm: lump.size_mm,
            fits: lump.fits,
            is_held: lump.is_held,
            needs: lump.needs,
        };
        let [below, above] = [0, 1].map(|side| probed.sides[side].iter().map(note).collect());
        Self {
            at_mm: probed.at_mm,
            line_mm: probed.line.section_mm,
            cost_min: JOIN_MIN + VISIBLE_MIN_PER_MM * probed.line.cost_mm,
            chalked_mm: probed.line.chalked_mm,
            below,
            above,
        }
    }
}

/// Where a ray starts as seen from one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RayStart {
    /// Id of the item.
    pub item: String,
    /// The start in its coordinates.
    pub at_mm: [f64; 3],
}

/// A ray into the drawing; items stand apart there, so it starts elsewhere for each of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ray {
    /// Where it runs, of any length.
    pub direction: [f64; 3],
    /// How far pieces are pulled apart, 0 to 1.
    pub pull: f64,
    /// Its start, an item each; others are not looked at.
    pub starts: Vec<RayStart>,
}

/// What a ray meets first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Met {
    /// Id of the item.
    pub item: String,
    /// Id of the piece; absent where the item is not cut yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<String>,
    /// The place on the drawn surface, in item coordinates, as if nothing was pulled apart.
    pub at_mm: [f64; 3],
}

/// A piece laid on a bed, from above.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LaidPiece {
    /// Id of the piece.
    pub id: String,
    /// Its number on the drawing.
    pub number: usize,
    /// Outlines in bed coordinates, counter-clockwise.
    pub outline_mm: Vec<Vec<[f64; 2]>>,
    /// Where the item's front faces, a unit vector; absent where the piece stands too steep to say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub front: Option<[f64; 2]>,
}

/// One load from above; the bed's front-left corner is the origin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Lay {
    /// Id of the load.
    pub load: String,
    /// The bed.
    pub bed: Bed,
    /// What lies on it.
    pub pieces: Vec<LaidPiece>,
}

/// A finished plan, beside `plan.json` itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FinishedNote {
    /// The loads from above.
    pub lays: Vec<Lay>,
    /// What the audit found against the plan; empty where all holds.
    pub findings: Vec<String>,
}

/// One model of an opened project; its bytes travel beside it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OpenedModel {
    /// File name.
    pub name: String,
    /// How it is to be made, as in the project file.
    pub settings: crate::project::SettingsRecord,
}

/// An opened project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OpenedProject {
    /// Its models.
    pub models: Vec<OpenedModel>,
    /// What it asks.
    pub asked: Asked,
}

/// What is asked, checked.
///
/// # Errors
/// [`PlanError::Asked`] naming the bed or option.
pub fn asked_options(asked: &Asked) -> Result<Options, PlanError> {
    let bed =
        |bed: &Bed| bed_of_record(bed).map_err(|why| PlanError::Asked(format!("bed {}: {why}", bed.id)));
    let beds: Vec<_> = asked.beds.iter().map(bed).collect::<Result<_, _>>()?;
    if (1..beds.len()).any(|i| beds[..i].iter().any(|other| other.id == beds[i].id)) {
        return Err(PlanError::Asked("two beds have the same id".into()));
    }
    let prefer = PREFERS.iter().find(|(_, name)| *name == asked.prefer);
    let unknown = || PlanError::Asked(format!("prefer is {:?}", asked.prefer));
    Ok(Options {
        beds,
        prefer: prefer.ok_or_else(unknown)?.0,
        budget: asked.effort.map_or(Budget::Watch, Budget::Effort),
        seed: asked.seed,
        n_threads: 1,
        posed: false,
        no_models: false,
    })
}
