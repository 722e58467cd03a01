//! What `plan.json` and `run.json` hold, as plain records in the order they are written.
//!
//! How: one serde struct per object; the order of the fields is the order in the file, maps are
//! `BTreeMap`s, so equal plans are equal bytes.
//! Units: lengths mm, areas mm2, volumes mm3, masses g, times s (minutes where the name ends in
//! `_min`), angles degrees. Frame right-handed, Z up; 12 numbers are a row-major 3x4 matrix.
//! The format is stable: fields may be added, never renamed or dropped. A number whose stage did
//! not run is absent (`None`): never null, zero or a guess.
//! Longer than 400 lines because it is the table of one file format.
//! Not here: how any of it is found (`stages`), whether it is true (`audit`).

pub mod marks;

use std::collections::BTreeMap;

use marks::MarksRecord;
use serde::{Deserialize, Serialize};

/// `format` of `plan.json`.
pub const PLAN_FORMAT: &str = "seamwright-plan";
/// `format` of `run.json`.
pub const RUN_FORMAT: &str = "seamwright-run";
/// `version` of both.
pub const VERSION: u32 = 1;

/// Whether `id` may name an item, a bed, a piece, a seam, an extra or a load: `[a-z0-9-]{1,40}`.
pub fn is_id(id: &str) -> bool {
    (1..=40).contains(&id.len())
        && id.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-')
}

/// All of `plan.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// [`PLAN_FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u32,
    /// What made the plan.
    pub made_with: MadeWith,
    /// Every number behind mass, time, cost and minutes, by name.
    #[serde(default)]
    pub assumed: BTreeMap<String, Assumed>,
    /// What is worn or carried, as cut.
    pub items: Vec<Item>,
    /// The printers' beds.
    pub beds: Vec<Bed>,
    /// Everything printed that is part of an item.
    pub pieces: Vec<Piece>,
    /// Printed things that are not pieces.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub extras: Vec<Extra>,
    /// Where pieces meet.
    pub seams: Vec<Seam>,
    /// Proven least numbers of pieces.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bounds: Vec<Bound>,
    /// What the plain grid would give, one row an item.
    pub grid: Vec<GridRow>,
    /// How the pieces come together.
    pub join_order: Vec<JoinStep>,
    /// Print jobs.
    pub loads: Vec<Load>,
    /// Sums over the whole costume.
    pub totals: Totals,
    /// What the search did.
    pub search: Search,
    /// What the audit found in the files; absent only while the folder is being made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub audit: Option<AuditFigures>,
}

/// The program and the options that decide the result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeWith {
    /// Version of the program.
    pub program_version: String,
    /// Seed of the search.
    pub seed: u64,
    /// Rounds of search asked for; absent where the search was bounded by time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effort: Option<u64>,
}

/// One assumed number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Assumed {
    /// The number.
    pub value: f64,
    /// Its unit, e.g. `mm`.
    pub unit: String,
    /// Where it comes from; `common practice` where nothing better is known.
    pub source: String,
}

/// One item as cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// Id.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// What it is worn as.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<String>,
    /// Id of the item whose plan this one follows unchanged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copy_of: Option<String>,
    /// Id of the item whose plan this one follows mirrored.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mirror_of: Option<String>,
    /// Where on the body it is worn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worn_at: Option<String>,
    /// SHA-256 of the model file, 64 lower-case hex digits.
    pub source_sha256: String,
    /// Path in the folder: `items/<id>.stl`.
    pub file: String,
    /// From coordinates of the model file to coordinates of the item.
    pub placement: [f64; 12],
    /// Triangles in the file.
    pub triangles: usize,
    /// Closed connected surfaces.
    pub bodies: usize,
    /// Whether every edge is used equally often both ways and the volume is positive.
    pub closed: bool,
    /// Signed sum over bodies.
    pub volume_mm3: f64,
    /// The part with positive winding, overlaps once.
    pub solid_mm3: f64,
    /// Surface area.
    pub area_mm2: f64,
    /// Extents of the box, which starts at the origin.
    pub size_mm: [f64; 3],
    /// Flaws of the model file.
    pub notices: Vec<NoticeRecord>,
    /// What the maker marked on it; a copy or a mirrored side has none of its own.
    #[serde(default, skip_serializing_if = "MarksRecord::is_empty")]
    pub marks: MarksRecord,
}

/// A flaw of a model file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoticeRecord {
    /// Stable name.
    pub code: String,
    /// One plain sentence.
    pub text: String,
    /// How many places.
    pub count: usize,
    /// A few of the places.
    pub at_mm: Vec<[f64; 3]>,
}

impl NoticeRecord {
    /// The record of a notice.
    pub fn of(notice: &seamwright_mesh::Notice) -> Self {
        Self {
            code: notice.code.into(),
            text: notice.text.clone(),
            count: notice.count,
            at_mm: notice.at_mm.clone(),
        }
    }
}

/// Outline of a bed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum BedShape {
    /// Rectangle.
    Rect,
    /// Circle in the square `size_mm[0] x size_mm[1]`.
    Round,
}

/// One kind of printer bed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bed {
    /// Id.
    pub id: String,
    /// Outline.
    pub shape: BedShape,
    /// Width, depth, height; a round bed has its diameter twice.
    pub size_mm: [f64; 3],
    /// Kept free on each side in X and Y and at the top.
    pub margin_mm: f64,
    /// Kept free between footprints in a load.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gap_mm: Option<f64>,
    /// How many such printers there are.
    pub count: u32,
    /// Areas of the bed that cannot be printed on, as polygons in bed coordinates.
    pub keep_out: Vec<Vec<[f64; 2]>>,
}

/// How well a piece fits the bed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// Id of the bed.
    pub bed: String,
    /// Room left in the best rotation.
    pub margin_any_mm: f64,
    /// Room left in the pose used.
    pub margin_printable_mm: f64,
}

/// How a piece rests on the bed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PoseKind {
    /// On a flat face of at least 2 cm2.
    Face,
    /// Mass centre at least 2 mm inside the contact hull at 0.3 mm height.
    Stable,
    /// Only with supports.
    Held,
}

/// One printable chunk of an item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Piece {
    /// Id.
    pub id: String,
    /// Id of its item.
    pub item: String,
    /// Path in the folder: `pieces/<id>.stl`.
    pub file: String,
    /// Triangles in the file.
    pub triangles: usize,
    /// Signed sum over bodies, of the piece as filed.
    pub volume_mm3: f64,
    /// Taken away by joints.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_mm3: Option<f64>,
    /// Added by joints.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub added_mm3: Option<f64>,
    /// Surface area, cut faces included.
    pub area_mm2: f64,
    /// Mass as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Id of its load.
    pub load: String,
    /// Its fit.
    pub fit: Fit,
    /// How it rests.
    pub pose_kind: PoseKind,
    /// Support material it needs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub support_mm3: Option<f64>,
    /// `p_bed = R p + t`; the bed's front-left-bottom corner is the origin.
    pub pose: [f64; 12],
    /// A place on its skin, or inside an item on one of its cut faces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_mm: Option<[f64; 3]>,
}

/// What an extra is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum ExtraKind {
    Stub,
    Splint,
    Ring,
    FitCard,
    Coupon,
}

/// A printed thing that is not a piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extra {
    /// Id.
    pub id: String,
    /// What it is.
    pub kind: ExtraKind,
    /// Id of the item, piece or seam it serves.
    #[serde(rename = "for")]
    pub serves: String,
    /// Path in the folder: `extras/<id>.stl`.
    pub file: String,
    /// Signed volume.
    pub volume_mm3: f64,
    /// Mass as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Id of its load.
    pub load: String,
    /// As for pieces.
    pub pose: [f64; 12],
}

/// Shape of a seam's surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SeamShape {
    /// In a plane.
    Flat,
}

/// A plane: `normal . p = offset_mm`, in item coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlaneRecord {
    /// Unit normal, from the seam's first piece to its second.
    pub normal: [f64; 3],
    /// Distance from the origin along the normal.
    pub offset_mm: f64,
}

/// One connected contact patch between two pieces.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Seam {
    /// Id.
    pub id: String,
    /// Id of its item.
    pub item: String,
    /// The piece below the plane, then the piece above it.
    pub pieces: [String; 2],
    /// Shape of its surface.
    pub shape: SeamShape,
    /// Where it lies.
    pub plane: PlaneRecord,
    /// The patch's whole boundary as cut.
    pub line_mm: f64,
    /// Line on skin that is seen.
    pub visible_mm: f64,
    /// Visible line over relief.
    pub through_detail_mm: f64,
    /// Visible line that lies in a hollow.
    pub in_hollow_mm: f64,
    /// Finishing minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_min: Option<f64>,
    /// Area left to bond after joints.
    pub bond_area_mm2: f64,
    /// Thinnest wall the seam crosses.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub min_wall_mm: Option<f64>,
    /// What aligns and holds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joints: Option<Vec<Joint>>,
    /// How it is fixed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bond: Option<Bond>,
    /// What it carries.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Strength>,
    /// A place on its line, where it shows if it does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_mm: Option<[f64; 3]>,
}

/// One joint of a seam.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Joint {
    /// `stub`, `tongue`, `housed-tongue`, `splint`, `magnet`, `channel`, `mark`, `wire`, `locator`, `seat` or `screw`.
    pub kind: String,
    /// Its middle on the seam.
    pub at_mm: [f64; 3],
    /// Unit vector along it.
    pub axis: [f64; 3],
    /// Its sizes, as its kind orders them.
    pub size_mm: Vec<f64>,
    /// Why this one.
    pub why: String,
}

/// How a seam is fixed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bond {
    /// `cyanoacrylate`, `epoxy`, `methacrylate`, `polyurethane`, `solvent`, `heat-weld`, `mechanical` or `magnet`.
    pub method: String,
    /// Why this one.
    pub why: String,
}

/// What a seam must carry and may carry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Strength {
    /// Bending moment in N mm.
    pub moment_nmm: f64,
    /// Stress in MPa.
    pub stress_mpa: f64,
    /// Allowed stress in MPa.
    pub allowed_mpa: f64,
    /// Allowed over actual.
    pub safety: f64,
}

/// A proven least number of pieces for one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bound {
    /// Id of the item.
    pub item: String,
    /// No plan has fewer.
    pub pieces_at_least: usize,
    /// Whether the plan has exactly so many.
    pub proven_fewest: bool,
    /// One plain sentence.
    pub how: String,
    /// Points and sets, so that others can re-check it.
    pub proof: Proof,
}

/// Why an item cannot have fewer pieces: its lumps are apart, so their least numbers add up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proof {
    /// The lumps it falls into before any cut.
    pub lumps: Vec<LumpProof>,
}

/// Why a lump cannot have fewer pieces.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LumpProof {
    /// A point of its surface, to know it by.
    pub at_mm: [f64; 3],
    /// It is cut into at least so many pieces.
    pub pieces_at_least: usize,
    /// What shows it.
    pub by: ProofBy,
    /// Points of its surface; each ends up in some piece.
    pub points_mm: Vec<[f64; 3]>,
    /// Positions of points that no bed holds together.
    pub sets: Vec<Vec<usize>>,
}

/// What shows a least number of pieces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ProofBy {
    /// It is there: one piece.
    Lump,
    /// Its volume over the room of the largest bed.
    Volume,
    /// Its points cannot be dealt to fewer pieces without a whole set in one of them.
    Points,
}

/// The plain grid on one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GridRow {
    /// Id of the item.
    pub item: String,
    /// Cells counted by lumps.
    pub pieces: usize,
    /// Its whole seam line.
    pub line_mm: f64,
    /// Its seam line on skin that is seen.
    pub visible_mm: f64,
    /// Its visible line over relief.
    pub through_detail_mm: f64,
}

/// One step of assembly.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JoinStep {
    /// Counted from 1.
    pub step: usize,
    /// Ids of the seams closed in it.
    pub seams: Vec<String>,
    /// Ids of the pieces that move.
    pub from: Vec<String>,
    /// Ids of the pieces they are pushed against.
    pub to: Vec<String>,
    /// Unit vector along which `from` travels toward `to`, in item coordinates.
    pub direction: [f64; 3],
}

/// A time with its spread, in seconds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Hardly less than this.
    pub low: f64,
    /// Best estimate.
    pub likely: f64,
    /// Hardly more than this.
    pub high: f64,
}

/// One print job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Load {
    /// Id: `load-01` and so on.
    pub id: String,
    /// Id of the bed.
    pub bed: String,
    /// Which printer runs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub printer: Option<String>,
    /// Path in the folder: `loads/<id>.3mf`.
    pub file: String,
    /// Ids of its pieces.
    pub pieces: Vec<String>,
    /// Ids of its extras.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extras: Option<Vec<String>>,
    /// Footprints over the usable area of the bed.
    pub used_fraction: f64,
    /// Print time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub print_s: Option<Spread>,
    /// Mass as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Filament in metres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filament_m: Option<f64>,
}

/// Sums over the costume.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Totals {
    /// Pieces of all items, copies and mirrored sides included.
    pub pieces: usize,
    /// Print jobs.
    pub loads: usize,
    /// Pieces that stand only with supports.
    pub held: usize,
    /// All seam lines.
    pub seam_mm: f64,
    /// Seam lines that are seen.
    pub visible_mm: f64,
    /// Seen lines over relief.
    pub through_detail_mm: f64,
    /// Finishing minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finishing_min: Option<f64>,
    /// Mass as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Filament in metres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filament_m: Option<f64>,
    /// Print time on one printer after another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub print_s: Option<Spread>,
    /// Print time with all printers at work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub makespan_s: Option<f64>,
    /// Money, in the currency of the assumed price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
}

/// What the search did.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Search {
    /// Rounds done.
    pub rounds: u64,
    /// Planes looked at: each with the lumps it leaves, how both sides fit and what its line costs.
    pub candidates: u64,
    /// The best plan each time it got better.
    pub history: Vec<HistoryRow>,
}

/// The best plan after some round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HistoryRow {
    /// Round, counted from 0.
    pub round: u64,
    /// Pieces of all items, mirrored sides and copies included.
    pub pieces: usize,
    /// Finishing minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_min: Option<f64>,
}

/// The figures of the audit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AuditFigures {
    /// Largest |sum of pieces - item| over the item's volume.
    pub volume_error: f64,
    /// Edges not used equally often both ways, over all pieces.
    pub open_edges: usize,
    /// Edges used by more than two triangles, over all pieces.
    pub nonmanifold_edges: usize,
    /// Smallest room left by a piece in its pose.
    pub worst_fit_margin_mm: f64,
    /// Pairs of posed things that overlap.
    pub overlaps: usize,
    /// Whether all holds.
    pub ok: bool,
}

/// All of `run.json`: what depends on the machine and the hour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// [`RUN_FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u32,
    /// Wall time of the whole call.
    pub seconds: f64,
    /// Threads used.
    pub threads: usize,
    /// Planes looked at a second, over the whole call.
    pub candidates_per_second: f64,
    /// The best plan by time.
    pub history: Vec<RunRow>,
}

/// The best plan after some time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunRow {
    /// Wall time since the start.
    pub seconds: f64,
    /// Round, counted from 0.
    pub round: u64,
    /// Pieces of all items, mirrored sides and copies included.
    pub pieces: usize,
    /// Finishing minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_min: Option<f64>,
}

/// A record as the bytes of its file: indented JSON and a line end.
///
/// # Errors
/// Where a number is not finite serde_json would write `null`; that is refused instead.
pub fn to_json<T: Serialize>(record: &T) -> Result<Vec<u8>, serde_json::Error> {
    to_json_in(Vec::new(), record)
}

/// As [`to_json`], in an empty list that may have room already.
///
/// # Errors
/// As there.
pub(crate) fn to_json_in<T: Serialize>(mut bytes: Vec<u8>, record: &T) -> Result<Vec<u8>, serde_json::Error> {
    serde_json::to_writer_pretty(&mut bytes, record)?;
    // No field is nullable, so a null can only be a number that is not finite. Strings may hold
    // the word, but only after a quote.
    if bytes.windows(6).any(|run| run == b": null")
        && serde_json::from_slice::<serde_json::Value>(&bytes).is_ok_and(|v| has_null(&v))
    {
        return Err(serde::ser::Error::custom("a number is not finite"));
    }
    bytes.push(b'\n');
    Ok(bytes)
}

fn has_null(value: &serde_json::Value) -> bool {
    match value {
        serde_json::Value::Null => true,
        serde_json::Value::Array(values) => values.iter().any(has_null),
        serde_json::Value::Object(fields) => fields.values().any(has_null),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seam() -> Seam {
        Seam {
            id: "helm-s1".into(),
            item: "helm".into(),
            pieces: ["helm-1".into(), "helm-2".into()],
            shape: SeamShape::Flat,
            plane: PlaneRecord { normal: [0.0, 0.0, 1.0], offset_mm: 60.0 },
            line_mm: 1.5,
            visible_mm: 1.0,
            through_detail_mm: 0.0,
            in_hollow_mm: 0.25,
            cost_min: None,
            bond_area_mm2: 2.0,
            min_wall_mm: None,
            joints: None,
            bond: None,
            strength: None,
            at_mm: Some([5.0, 0.0, 60.0]),
        }
    }

    #[test]
    fn absent_numbers_are_absent_and_the_rest_stands_in_contract_order() {
        let text = serde_json::to_string(&seam()).expect("a seam is plain data");
        assert_eq!(
            text,
            r#"{"id":"helm-s1","item":"helm","pieces":["helm-1","helm-2"],"shape":"flat","plane":{"normal":[0.0,0.0,1.0],"offset_mm":60.0},"line_mm":1.5,"visible_mm":1.0,"through_detail_mm":0.0,"in_hollow_mm":0.25,"bond_area_mm2":2.0,"at_mm":[5.0,0.0,60.0]}"#
        );
        let back: Seam = serde_json::from_str(&text).expect("what is written can be read");
        assert_eq!(back, seam());
    }

    #[test]
    fn a_number_that_is_not_finite_is_refused() {
        let broken = Seam { line_mm: f64::NAN, ..seam() };
        assert!(to_json(&broken).is_err());
        assert!(to_json(&seam()).is_ok());
    }

    #[test]
    fn ids_are_short_and_plain() {
        assert!(is_id("helm-1"));
        assert!(is_id(&"a".repeat(40)));
        for bad in ["", "Helm", "helm_1", "helm 1", "helm/1", "hélm", &"a".repeat(41)] {
            assert!(!is_id(bad), "{bad:?}");
        }
    }
}
