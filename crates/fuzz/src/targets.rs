//! What is tried with an input: one function a target; a broken promise panics.

use seamwright_mesh::flaws;
use seamwright_mesh::mend::{LeftOut, Mended, Open, Step, Wishes, mend};
use seamwright_mesh::read::{ReadError, ReadOptions, read_model_with};
use seamwright_mesh::split::split;
use seamwright_mesh::unite::unite;
use seamwright_mesh::write::archive;
use seamwright_mesh::{Model, Placement, Plane, Solid, item, placement, units};
use seamwright_plan::project::Project;

/// How far an input came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reached {
    /// Refused by its first words or bytes, before any content was read.
    Header,
    /// Refused for its content.
    Content,
    /// Taken.
    Whole,
}

/// A target: what is tried, and its name on the command line.
pub struct Target {
    /// Name on the command line.
    pub name: &'static str,
    /// Ending of the sample files it starts from.
    pub ending: &'static str,
    /// Tries an input.
    pub run: fn(&[u8]) -> Reached,
}

/// All targets.
pub const TARGETS: [Target; 10] = [
    Target { name: "stl", ending: "stl", run: |bytes| read(bytes, "fuzz.stl") },
    Target { name: "obj", ending: "obj", run: |bytes| read(bytes, "fuzz.obj") },
    Target { name: "ply", ending: "ply", run: |bytes| read(bytes, "fuzz.ply") },
    Target { name: "off", ending: "off", run: |bytes| read(bytes, "fuzz.off") },
    Target { name: "3mf", ending: "3mf", run: |bytes| read(bytes, "fuzz.3mf") },
    Target { name: "3mf-model", ending: "model", run: |bytes| read(&package_of(bytes), "fuzz.3mf") },
    Target { name: "mend", ending: "soup", run: mending },
    Target { name: "unite", ending: "soup", run: uniting },
    Target { name: "cut", ending: "soup", run: cutting },
    Target { name: "project", ending: "json", run: project },
];

/// The target of a name.
pub fn named(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

/// A 3MF package round a model part, so that every input passes the archive.
fn package_of(model: &[u8]) -> Vec<u8> {
    const TYPES: &[u8] = b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Types \
        xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"><Default Extension=\"rels\" \
        ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default Extension=\"model\" \
        ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>";
    const RELATIONS: &[u8] = b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Relationships \
        xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship Target=\"/3D/3dmodel.model\" \
        Id=\"rel0\" Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";
    archive(&[("[Content_Types].xml", TYPES), ("_rels/.rels", RELATIONS), ("3D/3dmodel.model", model)])
}

/// One input of so many that is read is also looked over and mended: that takes a hundred times as long, a
/// wall for a wide sheet half a second.
pub const AND_AFTER: u64 = 50;

fn read(bytes: &[u8], name: &str) -> Reached {
    // Drawn by the input itself, so that each is tried the same every time.
    let drawn: u64 = bytes.iter().map(|&byte| u64::from(byte)).sum();
    read_as(bytes, name, drawn.is_multiple_of(AND_AFTER))
}

/// Reads as a model of this name, both ways, and where `and_after` looks over what was read: flaws,
/// crossings, mending, uniting.
pub fn read_as(bytes: &[u8], name: &str, and_after: bool) -> Reached {
    let strict = read_model_with(bytes, name, ReadOptions { strict: true });
    match read_model_with(bytes, name, ReadOptions { strict: false }) {
        Ok(model) => {
            look_over(&model, and_after);
            Reached::Whole
        }
        Err(error) => {
            assert!(strict.is_err(), "strict reading takes what lenient reading refuses: {error}");
            assert!(!error.to_string().is_empty());
            reached(&error)
        }
    }
}

fn reached(error: &ReadError) -> Reached {
    match error {
        ReadError::Empty | ReadError::Unknown { .. } | ReadError::Encoding { .. } => Reached::Header,
        // The archive itself: directory, checksums, sizes.
        ReadError::Package { .. } => Reached::Header,
        // Binary files have 84 bytes or more of header; a text file's is one line.
        ReadError::Byte { byte, .. } if *byte <= 84 => Reached::Header,
        ReadError::Line { line, .. } if *line <= 1 => Reached::Header,
        _ => Reached::Content,
    }
}

/// Triangles up to which a model that was read is looked over: the rest is tried by others.
const FEW: usize = 1500;

fn look_over(model: &Model, and_after: bool) {
    let n_triangles: usize = model.parts.iter().map(|part| part.triangles.len()).sum();
    for part in &model.parts {
        assert!(part.points.iter().flatten().all(|x| x.is_finite()), "a point that is no number was read");
        assert!(part.triangles.iter().flatten().all(|&i| (i as usize) < part.points.len()));
    }
    if n_triangles > FEW || !and_after {
        return;
    }
    let unit = units::guess_unit(units::largest_extent(model), model.unit).unit;
    let up = units::guess_up(model).up;
    let Ok(placement) = units::item_placement(model, unit, up, units::Size::Scale(1.0)) else { return };
    let found = flaws::flaws(model, &placement);
    flaws::within(model, &placement);
    if let Ok((solid, _)) = item::solid_of(model, &placement, Some(&Wishes::default())) {
        proved(&solid);
        proved(&unite(&solid).solid);
    } else {
        assert!(!found.closed || found.refusal().is_none());
    }
    let _ = placement::placed(model, &Placement::IDENTITY);
}

/// A solid proves itself again from outside.
fn proved(solid: &Solid) {
    assert!(solid.volume_mm3() > 0.0, "a solid of {} mm3", solid.volume_mm3());
    if let Err(why) = Solid::from_triangles(&solid.points_mm(), solid.triangles()) {
        panic!("a solid that is none: {why}");
    }
}

/// A soup of triangles on a coarse lattice, so that points and edges meet often.
fn soup(bytes: &[u8]) -> (Vec<[f64; 3]>, Vec<[u32; 3]>, Wishes) {
    let (head, rest) = bytes.split_at(bytes.len().min(2));
    let n_points = usize::from(head.first().copied().unwrap_or(0)) % 60 + 3;
    let way = head.get(1).copied().unwrap_or(0);
    let open = [Open::AsItLooks, Open::Fill, Open::Thicken][usize::from(way % 3)];
    let scale = [0.5, 1.0, 0.001, 30.0][usize::from(way / 3 % 4)];
    let (places, corners) = rest.split_at(rest.len().min(3 * n_points));
    let (places, _) = places.as_chunks::<3>();
    let points: Vec<[f64; 3]> = places.iter().map(|p| p.map(|b| f64::from(b as i8) * scale)).collect();
    let n = points.len().max(1) as u32;
    let (corners, _) = corners.as_chunks::<3>();
    let triangles = corners.iter().take(400).map(|t| t.map(|b| u32::from(b) % n)).collect();
    // Of every twenty-two ways nine leave out a step.
    let left_out = Step::NAMES.get(usize::from(way / 12)).map(|(step, _)| LeftOut::default().and(*step));
    let wall_mm = 0.4 + f64::from(way) / 50.0;
    (points, triangles, Wishes { open, wall_mm, leave_out: left_out.unwrap_or_default() })
}

fn mended(bytes: &[u8]) -> Option<Mended> {
    let (points, triangles, wishes) = soup(bytes);
    mend(&points, &triangles, &wishes).ok()
}

fn mending(bytes: &[u8]) -> Reached {
    let Some(found) = mended(bytes) else { return Reached::Content };
    proved(&found.solid);
    assert!(found.deviation_mm.is_finite() && (0.0..=1.0).contains(&found.repaired_fraction));
    Reached::Whole
}

/// Half of the soup's bodies overlap others or touch them.
fn uniting(bytes: &[u8]) -> Reached {
    let Some(found) = mended(bytes) else { return Reached::Content };
    proved(&unite(&found.solid).solid);
    Reached::Whole
}

fn cutting(bytes: &[u8]) -> Reached {
    let (head, rest) = bytes.split_at(bytes.len().min(6));
    let Some(found) = mended(rest) else { return Reached::Content };
    let number = |i: usize| f64::from(head.get(i).copied().unwrap_or(1) as i8);
    let normal = [number(0), number(1), number(2)];
    let (low, high) = found.solid.box_mm();
    let at = std::array::from_fn(|i| low[i] + (high[i] - low[i]) * (number(3 + i) + 128.0) / 256.0);
    let Some(plane) = Plane::through(at, normal) else { return Reached::Content };
    let cut = split(&found.solid, &plane, 1);
    let sides = [cut.below, cut.above];
    let whole_mm3 = found.solid.volume_mm3();
    let parts_mm3: f64 = sides.iter().flatten().map(Solid::volume_mm3).sum();
    // Cut points are put on the grid, and slivers of a few steps may be dropped.
    let slack_mm3 = 1e-6 * whole_mm3 + 0.002 * found.solid.area_mm2();
    assert!((parts_mm3 - whole_mm3).abs() <= slack_mm3, "{whole_mm3} mm3 became {parts_mm3}");
    for side in sides.iter().flatten() {
        if let Err(why) = Solid::from_triangles(&side.points_mm(), side.triangles()) {
            panic!("a side of a cut is no solid: {why}");
        }
    }
    Reached::Whole
}

fn project(bytes: &[u8]) -> Reached {
    let Ok(project) = Project::read(bytes) else { return Reached::Content };
    let _ = project.models(&|_| Err("none".into()));
    let _ = (project.effort(), project.decisions().len());
    Reached::Whole
}
