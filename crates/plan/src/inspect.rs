//! What a model file holds, what is wrong with it and where, and what mending would do.
//!
//! One answer for both faces: the command `inspect` prints it, the page shows it and flies to its
//! places. Places are in the item's frame: mm, Z up, the box of the file starting at the origin.

use crate::item::{place, why_not};
use crate::job::ItemSettings;
use crate::records::NoticeRecord;
use seamwright_mesh::flaws::{Flaws, Found, Within, flaws, within};
use seamwright_mesh::mend;
use seamwright_mesh::placement::placed;
use seamwright_mesh::read::{ReadOptions, read_model_with};
use seamwright_mesh::{Model, Notice, Solid, Unit, parts, units};
use serde::{Deserialize, Serialize};

/// A wall this thin is no line of a usual nozzle (0.4 mm).
const LINE_MM: f64 = 0.4;

/// What the unit of a file is taken as.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitRecord {
    /// The unit.
    pub unit: String,
    /// Nothing else is plausible.
    pub sure: bool,
    /// One plain sentence.
    pub reason: String,
}

/// What mending would do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MendingRecord {
    /// Its steps in order.
    pub steps: Vec<NoticeRecord>,
    /// The farthest the mended surface would lie from the file's, away from repaired places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviation_mm: Option<f64>,
    /// Share of the area that would be repaired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repaired_fraction: Option<f64>,
    /// Triangles it would have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub triangles: Option<usize>,
    /// Volume it would have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_mm3: Option<f64>,
    /// Why it cannot be mended, where it cannot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fails: Option<String>,
}

/// What a file holds and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InspectRecord {
    /// Triangles as read.
    pub triangles: usize,
    /// Different points.
    pub vertices: usize,
    /// Connected surfaces.
    pub bodies: usize,
    /// Every edge pairs up and the volume is positive.
    pub closed: bool,
    /// Edges with a triangle on one side only.
    pub open_edges: usize,
    /// Closed chains of them.
    pub boundary_loops: usize,
    /// Edges with more than two triangles.
    pub nonmanifold_edges: usize,
    /// Points where the surface only touches itself.
    pub nonmanifold_vertices: usize,
    /// Triangles that face the wrong way.
    pub flipped_triangles: usize,
    /// Triangles that lie on another.
    pub duplicate_triangles: usize,
    /// Triangles without area.
    pub degenerate_triangles: usize,
    /// Pairs of triangles that cross; absent beyond the planner's range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub self_intersections: Option<usize>,
    /// One of so many triangles was asked for crossings; absent where all were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub self_intersections_asked_one_in: Option<usize>,
    /// Signed volume.
    pub volume_mm3: f64,
    /// Area of all triangles.
    pub area_mm2: f64,
    /// Extents of the box.
    pub size: [f64; 3],
    /// What the unit is taken as.
    pub units_guess: UnitRecord,
    /// The thinnest wall found by rays; absent where the mesh is not closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thinnest_wall_mm: Option<f64>,
    /// Flaws with places.
    pub notices: Vec<NoticeRecord>,
    /// What mending would do; absent where there is nothing to mend.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mending: Option<MendingRecord>,
}

/// Inspects a model file; sizes and the way of mending as `settings` say.
///
/// # Errors
/// Where and why it cannot be read or sized.
pub fn inspect(
    bytes: &[u8],
    name: &str,
    settings: &ItemSettings,
    options: ReadOptions,
) -> Result<InspectRecord, String> {
    let model = read_model_with(bytes, name, options).map_err(|e| e.to_string())?;
    let guess = units::guess_unit(units::largest_extent(&model), model.unit);
    let (placement, sized, taken) = place(&model, settings).map_err(|e| e.to_string())?;
    let found = flaws(&model, &placement);
    let inner = within(&model, &placement);
    let mut notices = model.notices.clone();
    notices.extend(sized);
    notices.extend(flaw_notices(&found));
    notices.extend(inner.iter().flat_map(inner_notices));
    notices.extend(parts_apart(&model, taken.unit));
    let mesh = placed(&model, &placement);
    let whole = Solid::from_triangles(&mesh.0, &mesh.1);
    let mending = whole.is_err().then(|| mending(&mesh, settings));
    let asked = inner.as_ref().map(|inner| inner.one_in).filter(|&one_in| one_in > 1);
    Ok(InspectRecord {
        triangles: found.n_triangles,
        vertices: found.n_vertices,
        bodies: found.n_bodies,
        closed: found.closed,
        open_edges: found.open_edges.count,
        boundary_loops: found.boundary_loops.count,
        nonmanifold_edges: found.nonmanifold_edges.count,
        nonmanifold_vertices: found.nonmanifold_vertices.count,
        flipped_triangles: found.flipped_triangles.count,
        duplicate_triangles: found.duplicate_triangles.count,
        degenerate_triangles: found.degenerate_triangles.count,
        self_intersections: inner.as_ref().map(|inner| inner.self_intersections.count),
        self_intersections_asked_one_in: asked,
        volume_mm3: found.volume_mm3,
        area_mm2: found.area_mm2,
        size: found.size_mm,
        units_guess: UnitRecord { unit: guess.unit.name().into(), sure: guess.sure, reason: guess.reason },
        thinnest_wall_mm: inner.and_then(|inner| inner.thinnest_wall).map(|thin| thin.thick_mm),
        notices: notices.iter().map(NoticeRecord::of).collect(),
        mending,
    })
}

fn flaw_notices(found: &Flaws) -> Vec<Notice> {
    let mut notices: Vec<Notice> = [
        ("open-edges", "edges with a triangle on one side only", &found.open_edges),
        ("boundary-loops", "holes", &found.boundary_loops),
        ("nonmanifold-edges", "edges with more than two triangles", &found.nonmanifold_edges),
        ("nonmanifold-vertices", "points where the surface only touches itself", &found.nonmanifold_vertices),
        ("flipped-triangles", "triangles that face the wrong way", &found.flipped_triangles),
        ("duplicate-triangles", "triangles that lie on another", &found.duplicate_triangles),
        ("degenerate-triangles", "triangles without area", &found.degenerate_triangles),
    ]
    .into_iter()
    .filter(|(_, _, flaw)| flaw.count > 0)
    .map(|(code, text, flaw)| notice_of(code, text.into(), flaw.clone()))
    .collect();
    let all_turned = found.flipped_triangles.count > 0 && found.flipped_triangles.count == found.n_triangles;
    if all_turned {
        let text = "the whole surface faces inward, as after mirroring without turning the faces: see that left and \
                    right, and any letters, are the way you want them";
        let (count, at_mm) = (1, Vec::new());
        notices.push(Notice { code: "mirror-suspicion", text: text.into(), count, at_mm });
    }
    notices
}

fn notice_of(code: &'static str, text: String, Found { count, at_mm }: Found) -> Notice {
    Notice { code, text, count, at_mm }
}

fn inner_notices(inner: &Within) -> Vec<Notice> {
    let mut notices = Vec::new();
    if inner.self_intersections.count > 0 {
        let mut text =
            String::from("pairs of triangles that cross: bodies overlap or a surface runs through itself");
        if inner.one_in > 1 {
            text.push_str(&format!("; one in {} triangles was asked", inner.one_in));
        }
        notices.push(notice_of("self-intersections", text, inner.self_intersections.clone()));
    }
    if let Some(thin) = inner.thinnest_wall.filter(|thin| thin.thick_mm < LINE_MM) {
        let text =
            format!("the thinnest wall is {:.2} mm, less than one line of a 0.4 mm nozzle", thin.thick_mm);
        notices.push(Notice { code: "thin-wall", text, count: 1, at_mm: vec![thin.at_mm] });
    }
    notices
}

fn parts_apart(model: &Model, unit: Unit) -> Option<Notice> {
    let count = parts::standing_apart(model, unit.mm()).len();
    let text = "parts that stand apart; each can be an item of its own: MODEL:part=1 and so on".into();
    (count > 1).then(|| Notice { code: "parts-apart", text, count, at_mm: Vec::new() })
}

fn mending(mesh: &(Vec<[f64; 3]>, Vec<[u32; 3]>), settings: &ItemSettings) -> MendingRecord {
    match mend::mend(&mesh.0, &mesh.1, &settings.mending().unwrap_or_default()) {
        Ok(mended) => MendingRecord {
            steps: mended.steps.iter().map(NoticeRecord::of).collect(),
            deviation_mm: Some(mended.deviation_mm),
            repaired_fraction: Some(mended.repaired_fraction),
            triangles: Some(mended.solid.n_triangles()),
            volume_mm3: Some(mended.solid.volume_mm3()),
            fails: None,
        },
        Err(why) => MendingRecord {
            steps: Vec::new(),
            deviation_mm: None,
            repaired_fraction: None,
            triangles: None,
            volume_mm3: None,
            fails: Some(why_not(&why, settings)),
        },
    }
}
