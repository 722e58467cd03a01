//! Plan folders made by hand for known solids, with closed-form seams: what the audit must pass,
//! and what tampered folders start from.
//!
//! How: an item is cut by `mesh::split` (or pieces are given), everything else of the folder is
//! made here and by closed forms given by the caller; the best margin and the kind of a pose come
//! from crate `bed`, what shows of a seam from the module that defines it. Nothing is planned.
//! Not here: the tampering (`tests/all/tampered.rs`).

use std::collections::BTreeMap;
use std::io::{Cursor, Write};

use seamwright_bed::{FitOptions, fit_any, prepare, rest};
use seamwright_mesh::{Plane, Solid};
use seamwright_plan::audit::{Folder, examine};
use seamwright_plan::records::marks::MarksRecord;
use seamwright_plan::records::*;
use seamwright_seams::lines::measure_seams;
use seamwright_seams::patches::SkinMap;

use crate::shapes::{Mesh, solid};

/// A folder being made or unmade: the records apart from the files.
#[derive(Clone)]
pub struct Draft {
    /// Becomes `plan.json`.
    pub plan: Plan,
    /// All other files.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// A piece as the caller gives it: its mesh in item coordinates and the turn of its pose.
pub struct PieceIn {
    /// Closed mesh.
    pub mesh: Mesh,
    /// Rows of a turn; the move is found here.
    pub turn: [[f64; 3]; 3],
}

/// A seam as the caller gives it: pieces by position, plane, line, area, travel of the first piece.
pub struct SeamIn {
    /// Below the plane, above the plane.
    pub pieces: [usize; 2],
    /// Unit normal.
    pub normal: [f64; 3],
    /// Offset along it.
    pub offset_mm: f64,
    /// Boundary of the patch.
    pub line_mm: f64,
    /// Its area.
    pub area_mm2: f64,
}

/// A step of joining: seams, from and to by position, direction.
pub type StepIn = (Vec<usize>, Vec<usize>, Vec<usize>, [f64; 3]);

/// Leaves a piece as it stands.
pub const UPRIGHT: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// All that a folder is made from.
pub struct FolderIn {
    /// Id of the item, and the beginning of all other ids.
    pub id: &'static str,
    /// Closed mesh whose box starts at the origin.
    pub item: Mesh,
    /// Its pieces.
    pub pieces: Vec<PieceIn>,
    /// Its seams.
    pub seams: Vec<SeamIn>,
    /// Its order of joining.
    pub steps: Vec<StepIn>,
    /// The one bed.
    pub bed: Bed,
    /// Pieces by load.
    pub loads: Vec<Vec<usize>>,
}

/// A rectangular bed with a gap of 5 mm.
pub fn rect_bed(size_mm: [f64; 3], margin_mm: f64) -> Bed {
    Bed {
        id: "bed".into(),
        shape: BedShape::Rect,
        size_mm,
        margin_mm,
        gap_mm: Some(5.0),
        count: 1,
        keep_out: Vec::new(),
    }
}

/// The mesh of a solid.
pub fn mesh_of(solid: &Solid) -> Mesh {
    (solid.points_mm(), solid.triangles().to_vec())
}

fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Signed volume and area of a mesh, its points rounded to f32 as in a file.
pub fn volume_and_area(mesh: &Mesh) -> (f64, f64) {
    mesh.1.iter().fold((0.0, 0.0), |(volume, area), t| {
        let [a, b, c] = t.map(|i| mesh.0[i as usize].map(|x| f64::from(x as f32)));
        let n = cross(sub(b, a), sub(c, a));
        (volume + dot(a, cross(b, c)) / 6.0, area + 0.5 * dot(n, n).sqrt())
    })
}

/// Lowest and highest corner.
pub fn box_of(points: &[[f64; 3]]) -> ([f64; 3], [f64; 3]) {
    points.iter().fold(([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]), |(low, high), p| {
        (std::array::from_fn(|k| low[k].min(p[k])), std::array::from_fn(|k| high[k].max(p[k])))
    })
}

/// A binary STL.
pub fn stl(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = vec![b' '; 80];
    bytes.extend((mesh.1.len() as u32).to_le_bytes());
    for t in &mesh.1 {
        bytes.extend([0; 12]);
        for i in t {
            mesh.0[*i as usize].iter().for_each(|&c| bytes.extend((c as f32).to_le_bytes()));
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// The mesh in a binary STL, corners not joined.
pub fn unstl(bytes: &[u8]) -> Mesh {
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for record in bytes[84..].chunks_exact(50) {
        let start = mesh.0.len() as u32;
        for corner in record[12..48].chunks_exact(12) {
            let at = |k: usize| {
                f64::from(f32::from_le_bytes(corner[4 * k..4 * k + 4].try_into().expect("made in memory")))
            };
            mesh.0.push([at(0), at(1), at(2)]);
        }
        mesh.1.push([start, start + 1, start + 2]);
    }
    mesh
}

/// A 3MF with one object a row: id, mesh, pose.
pub fn threemf(rows: &[(String, Mesh, [f64; 12])]) -> Vec<u8> {
    let mut model = String::from(
        r#"<?xml version="1.0" encoding="UTF-8"?><model unit="millimeter" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>"#,
    );
    for (index, (id, mesh, _)) in rows.iter().enumerate() {
        let n = index + 1;
        model += &format!(r#"<object id="{n}" type="model" name="{id}" partnumber="{id}"><mesh><vertices>"#);
        for p in &mesh.0 {
            model += &format!(r#"<vertex x="{}" y="{}" z="{}"/>"#, p[0] as f32, p[1] as f32, p[2] as f32);
        }
        model += "</vertices><triangles>";
        for t in &mesh.1 {
            model += &format!(r#"<triangle v1="{}" v2="{}" v3="{}"/>"#, t[0], t[1], t[2]);
        }
        model += "</triangles></mesh></object>";
    }
    model += "</resources><build>";
    for (index, (id, _, m)) in rows.iter().enumerate() {
        let transposed = [m[0], m[4], m[8], m[1], m[5], m[9], m[2], m[6], m[10], m[3], m[7], m[11]];
        let text = transposed.map(|x| x.to_string()).join(" ");
        model += &format!(r#"<item objectid="{}" transform="{text}" partnumber="{id}"/>"#, index + 1);
    }
    model += "</build></model>";
    let types = r#"<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>"#;
    let links = r#"<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in [("[Content_Types].xml", types), ("_rels/.rels", links), ("3D/3dmodel.model", &model)]
    {
        archive.start_file(name, zip::write::SimpleFileOptions::default()).expect("made in memory");
        archive.write_all(text.as_bytes()).expect("made in memory");
    }
    archive.finish().expect("made in memory").into_inner()
}

/// The pose that turns a mesh and puts the low corner of its box at `corner` on the bed.
pub fn pose_at(mesh: &Mesh, turn: [[f64; 3]; 3], corner: [f64; 2]) -> [f64; 12] {
    let turned: Vec<[f64; 3]> = mesh.0.iter().map(|&p| turn.map(|row| dot(row, p))).collect();
    let (low, _) = box_of(&turned);
    let t = [corner[0] - low[0], corner[1] - low[1], -low[2]];
    std::array::from_fn(|i| if i % 4 == 3 { t[i / 4] } else { turn[i / 4][i % 4] })
}

/// A mesh in its pose.
pub fn posed(mesh: &Mesh, m: &[f64; 12]) -> Mesh {
    crate::shapes::mapped(mesh.clone(), |p| {
        std::array::from_fn(|i| m[4 * i] * p[0] + m[4 * i + 1] * p[1] + m[4 * i + 2] * p[2] + m[4 * i + 3])
    })
}

fn bed_of(bed: &Bed) -> seamwright_bed::Bed {
    let [width_mm, depth_mm, height_mm] = bed.size_mm;
    let shape = match bed.shape {
        BedShape::Rect => seamwright_bed::BedShape::Rect { width_mm, depth_mm },
        BedShape::Round => seamwright_bed::BedShape::Round { diameter_mm: width_mm },
    };
    let mut same = seamwright_bed::Bed::new(shape, height_mm);
    same.margin_mm = bed.margin_mm;
    same
}

/// Area of the hull of a shadow.
fn shadow_mm2(mesh: &Mesh) -> f64 {
    let points: Vec<[f64; 2]> = mesh.0.iter().map(|p| [p[0], p[1]]).collect();
    seamwright_bed::convex2d::area_mm2(&seamwright_bed::convex2d::hull(&points))
}

/// Makes a whole folder. Pieces of a load lie in a row along X with the bed's gap; on a round bed a
/// load holds one piece, in the middle.
pub fn draft(given: FolderIn) -> Draft {
    let FolderIn { id, item, pieces, seams, steps, bed, loads } = given;
    let name = |index: usize| format!("{id}-{}", index + 1);
    let seam_name = |index: usize| format!("{id}-s{}", index + 1);
    let mut files = BTreeMap::new();
    files.insert(format!("items/{id}.stl"), stl(&item));
    let mut piece_records: Vec<Option<Piece>> = (0..pieces.len()).map(|_| None).collect();
    let mut load_records = Vec::new();
    for (l, members) in loads.iter().enumerate() {
        let load = format!("load-{:02}", l + 1);
        let mut x = bed.margin_mm;
        let mut rows = Vec::new();
        let usable = bed.size_mm[0] - 2.0 * bed.margin_mm;
        let mut footprints_mm2 = 0.0;
        for &p in members {
            let PieceIn { mesh, turn } = &pieces[p];
            let (low, high) = box_of(&posed(mesh, &pose_at(mesh, *turn, [0.0; 2])).0);
            let size = sub(high, low);
            let corner = match bed.shape {
                BedShape::Rect => [x, bed.margin_mm],
                BedShape::Round => [0, 1].map(|k| 0.5 * (bed.size_mm[0] - size[k])),
            };
            x += size[0] + bed.gap_mm.unwrap_or(0.0);
            let pose = pose_at(mesh, *turn, corner);
            footprints_mm2 += shadow_mm2(&posed(mesh, &pose));
            let room = sub(sub(bed.size_mm, [2.0 * bed.margin_mm, 2.0 * bed.margin_mm, bed.margin_mm]), size);
            // The corners of a box-like shadow lie on its circle.
            let round = bed.size_mm[0] - 2.0 * bed.margin_mm - (size[0] * size[0] + size[1] * size[1]).sqrt();
            let margin = match bed.shape {
                BedShape::Rect => room[0].min(room[1]).min(room[2]),
                BedShape::Round => round.min(room[2]),
            };
            let hull = seamwright_mesh::hull::convex_hull(&mesh.0);
            let any = fit_any(&prepare(&hull), &bed_of(&bed), &FitOptions::best());
            let standing = solid(mesh);
            let centre_mm = standing.mass().centre_mm;
            let kind = rest::contact(&standing, &standing.points_mm(), centre_mm, turn[2]).kind;
            let (volume_mm3, area_mm2) = volume_and_area(mesh);
            let file = format!("pieces/{}.stl", name(p));
            files.insert(file.clone(), stl(mesh));
            rows.push((name(p), mesh.clone(), pose));
            piece_records[p] = Some(Piece {
                id: name(p),
                item: id.into(),
                file,
                triangles: mesh.1.len(),
                volume_mm3,
                removed_mm3: None,
                added_mm3: None,
                area_mm2,
                mass_g: None,
                load: load.clone(),
                fit: Fit {
                    bed: bed.id.clone(),
                    margin_any_mm: any.margin_mm.max(margin),
                    margin_printable_mm: margin,
                },
                pose_kind: match kind {
                    rest::PoseKind::Face => PoseKind::Face,
                    rest::PoseKind::Stable => PoseKind::Stable,
                    rest::PoseKind::Held => PoseKind::Held,
                },
                support_mm3: None,
                pose,
                at_mm: None,
            });
        }
        let file = format!("loads/{load}.3mf");
        files.insert(file.clone(), threemf(&rows));
        files.insert(format!("loads/{load}.svg"), b"<svg/>".to_vec());
        load_records.push(Load {
            id: load,
            bed: bed.id.clone(),
            printer: None,
            file,
            pieces: members.iter().map(|&p| name(p)).collect(),
            extras: None,
            used_fraction: footprints_mm2
                / match bed.shape {
                    BedShape::Rect => usable * (bed.size_mm[1] - 2.0 * bed.margin_mm),
                    BedShape::Round => 0.25 * std::f64::consts::PI * usable * usable,
                },
            print_s: None,
            mass_g: None,
            filament_m: None,
        });
    }
    let run = Run {
        format: RUN_FORMAT.into(),
        version: VERSION,
        seconds: 1.0,
        threads: 1,
        candidates_per_second: 0.0,
        history: Vec::new(),
    };
    files.insert("run.json".into(), to_json(&run).expect("made in memory"));
    let (volume_mm3, area_mm2) = volume_and_area(&item);
    let line: f64 = seams.iter().map(|s| s.line_mm).sum();
    let plan = Plan {
        format: PLAN_FORMAT.into(),
        version: VERSION,
        made_with: MadeWith { program_version: "0".into(), seed: 1, effort: Some(1) },
        assumed: times(),
        items: vec![Item {
            id: id.into(),
            name: id.into(),
            role: None,
            copy_of: None,
            mirror_of: None,
            worn_at: None,
            source_sha256: "0".repeat(64),
            file: format!("items/{id}.stl"),
            placement: std::array::from_fn(|i| if i % 5 == 0 { 1.0 } else { 0.0 }),
            triangles: item.1.len(),
            bodies: solid(&item).n_bodies(),
            closed: true,
            volume_mm3,
            solid_mm3: volume_mm3,
            area_mm2,
            size_mm: box_of(&item.0).1,
            notices: Vec::new(),
            marks: MarksRecord::default(),
        }],
        beds: vec![bed],
        pieces: piece_records.into_iter().map(|p| p.expect("every piece is in a load")).collect(),
        extras: Vec::new(),
        seams: seams
            .iter()
            .enumerate()
            .map(|(index, s)| Seam {
                id: seam_name(index),
                item: id.into(),
                pieces: s.pieces.map(name),
                shape: SeamShape::Flat,
                plane: PlaneRecord { normal: s.normal, offset_mm: s.offset_mm },
                line_mm: s.line_mm,
                visible_mm: s.line_mm,
                through_detail_mm: 0.0,
                in_hollow_mm: 0.0,
                cost_min: None,
                bond_area_mm2: s.area_mm2,
                min_wall_mm: None,
                joints: None,
                bond: None,
                strength: None,
                at_mm: None,
            })
            .collect(),
        bounds: Vec::new(),
        grid: vec![GridRow {
            item: id.into(),
            pieces: pieces.len(),
            line_mm: line,
            visible_mm: line,
            through_detail_mm: 0.0,
        }],
        join_order: steps
            .iter()
            .enumerate()
            .map(|(index, (seams, from, to, direction))| JoinStep {
                step: index + 1,
                seams: seams.iter().map(|&s| seam_name(s)).collect(),
                from: from.iter().map(|&p| name(p)).collect(),
                to: to.iter().map(|&p| name(p)).collect(),
                direction: *direction,
            })
            .collect(),
        loads: load_records,
        totals: Totals {
            pieces: pieces.len(),
            loads: loads.len(),
            held: 0,
            seam_mm: line,
            visible_mm: line,
            through_detail_mm: 0.0,
            finishing_min: None,
            mass_g: None,
            filament_m: None,
            print_s: None,
            makespan_s: None,
            cost: None,
        },
        search: Search { rounds: 1, candidates: 1, history: Vec::new() },
        audit: None,
    };
    let mut draft = Draft { plan, files };
    draft.plan.totals.held = held(&draft.plan);
    draft.measure_what_shows();
    draft.plan.audit = Some(examine(&draft.folder()).figures);
    draft
}

/// Times other than the planner's own: a reader takes them from the plan.
fn times() -> BTreeMap<String, Assumed> {
    let rows = [
        ("finishing_piece", 4.0),
        ("finishing_held_piece", 30.0),
        ("finishing_join", 7.0),
        ("finishing_visible_line", 0.2),
        ("finishing_hidden_line", 0.1),
        ("finishing_detail_times", 3.0),
        ("finishing_hollow_saves", 0.5),
    ];
    let row = |(name, value): (&str, f64)| {
        (name.to_owned(), Assumed { value, unit: String::new(), source: String::new() })
    };
    rows.map(row).into()
}

fn held(plan: &Plan) -> usize {
    plan.pieces.iter().filter(|p| p.pose_kind == PoseKind::Held).count()
}

impl Draft {
    /// The folder as files.
    pub fn folder(&self) -> Folder {
        let mut files = self.files.clone();
        files.insert("plan.json".into(), to_json(&self.plan).expect("made in memory"));
        Folder { files }
    }

    /// A draft from a folder's files.
    pub fn from_folder(folder: &Folder) -> Self {
        let mut files = folder.files.clone();
        let json = files.remove("plan.json").expect("a plan folder holds plan.json");
        Self { plan: serde_json::from_slice(&json).expect("plan.json can be read"), files }
    }

    /// Fills what shows of each seam by the module that defines it, and the sums.
    pub fn measure_what_shows(&mut self) {
        let read = |file: &String| solid(&unstl(&self.files[file]));
        let item = read(&self.plan.items[0].file);
        let pieces: Vec<Solid> = self.plan.pieces.iter().map(|p| read(&p.file)).collect();
        let (skin, refs) = (SkinMap::new(&item), pieces.iter().collect::<Vec<_>>());
        for seam in &mut self.plan.seams {
            let plane = Plane { normal: seam.plane.normal, offset_mm: seam.plane.offset_mm };
            let position = |id: &String| self.plan.pieces.iter().position(|p| p.id == *id);
            let pair = [position(&seam.pieces[0]), position(&seam.pieces[1])];
            let found = measure_seams(&item, &skin, &refs, &[plane]);
            let measure = found.iter().find(|m| [Some(m.pieces.0), Some(m.pieces.1)] == pair);
            let measure = measure.expect("the caller's pieces meet there");
            seam.visible_mm = measure.visible_mm;
            seam.through_detail_mm = measure.through_detail_mm;
            seam.in_hollow_mm = measure.in_hollow_mm;
        }
        let totals = &mut self.plan.totals;
        totals.visible_mm = self.plan.seams.iter().map(|s| s.visible_mm).sum();
        totals.through_detail_mm = self.plan.seams.iter().map(|s| s.through_detail_mm).sum();
        self.time();
    }

    /// Finishing minutes by hand, from the times of [`times`].
    fn time(&mut self) {
        for seam in &mut self.plan.seams {
            let shown = seam.visible_mm + 3.0 * seam.through_detail_mm - 0.5 * seam.in_hollow_mm;
            seam.cost_min = Some(7.0 + 0.2 * shown + 0.1 * (seam.line_mm - seam.visible_mm));
        }
        let seams: f64 = self.plan.seams.iter().filter_map(|s| s.cost_min).sum();
        let (pieces, held) = (self.plan.pieces.len() as f64, held(&self.plan) as f64);
        self.plan.totals.finishing_min = Some(seams + 4.0 * pieces + 30.0 * held);
    }

    /// The mesh of a piece, as filed.
    pub fn piece_mesh(&self, piece: usize) -> Mesh {
        unstl(&self.files[&self.plan.pieces[piece].file])
    }

    /// Files a piece anew, with true records of size, as a planner that fools itself would.
    pub fn set_piece(&mut self, piece: usize, mesh: &Mesh) {
        let record = &mut self.plan.pieces[piece];
        (record.volume_mm3, record.area_mm2) = volume_and_area(mesh);
        record.triangles = mesh.1.len();
        self.files.insert(record.file.clone(), stl(mesh));
        self.write_loads();
    }

    /// Writes every 3MF from the pieces' files and poses.
    pub fn write_loads(&mut self) {
        for load in self.plan.loads.clone() {
            let rows: Vec<_> = load
                .pieces
                .iter()
                .filter_map(|id| {
                    let p = self.plan.pieces.iter().position(|p| p.id == *id)?;
                    self.files
                        .contains_key(&self.plan.pieces[p].file)
                        .then(|| (id.clone(), self.piece_mesh(p), self.plan.pieces[p].pose))
                })
                .collect();
            self.files.insert(load.file, threemf(&rows));
        }
    }
}
