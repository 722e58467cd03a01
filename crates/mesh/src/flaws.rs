//! What is wrong with a mesh as read: counts, and places to look at.
//!
//! How: points are moved to the item's frame and joined on the coordinate grid, as `Solid` does;
//! edges are sorted and their uses counted. Triangles that name a point twice, or have no area, and
//! further copies of a triangle are counted first and set aside, so that one flaw is not reported
//! as three.
//! Units and frame: mm, in the frame the placement leads to.
//! Cost: sorts of the points and of three edges a triangle.
//! What takes a search tree, crossings and thin walls, is asked for apart ([`within`]).
//! Not here: mending (`mend/`), how crossings and walls are found (`crossings.rs`, `thickness.rs`).

use crate::crossings;
use crate::edges::{self, EdgeUse, Joined};
use crate::grid::{self, STEPS_PER_MM};
use crate::model::Model;
use crate::placement::{self, Placement};
use crate::solid::shown;
use crate::thickness::{self, Thin};
use crate::vec3;

/// Most places kept for one kind of flaw.
const MAX_PLACES: usize = 8;

/// How often a flaw occurs and a few of the places, in mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// How many.
    pub count: usize,
    /// Up to eight places, in file order.
    pub at_mm: Vec<[f64; 3]>,
}

impl Found {
    /// One more, there.
    pub(crate) fn add(&mut self, place: impl FnOnce() -> [f64; 3]) {
        self.count += 1;
        if self.at_mm.len() < MAX_PLACES {
            self.at_mm.push(place());
        }
    }

    /// As many more as `other` has, with its places after these.
    pub(crate) fn append(&mut self, other: Self) {
        self.count += other.count;
        self.at_mm.extend(other.at_mm);
        self.at_mm.truncate(MAX_PLACES);
    }
}

/// Counts and places of everything this file looks for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flaws {
    /// Triangles as read.
    pub n_triangles: usize,
    /// Different points after joining equal ones.
    pub n_vertices: usize,
    /// Pieces of surface connected across edges that two triangles share.
    pub n_bodies: usize,
    /// Every edge is run equally often both ways and the volume is positive.
    pub closed: bool,
    /// Edges with a triangle on one side only.
    pub open_edges: Found,
    /// Connected chains of open edges.
    pub boundary_loops: Found,
    /// Edges with more than two triangles.
    pub nonmanifold_edges: Found,
    /// Points at which fans of triangles meet that share no edge there.
    pub nonmanifold_vertices: Found,
    /// Triangles that face the other way than most of their body, or all triangles where the
    /// volume is negative.
    pub flipped_triangles: Found,
    /// Further triangles on the same three points.
    pub duplicate_triangles: Found,
    /// Triangles without area.
    pub degenerate_triangles: Found,
    /// Signed volume in mm3; without meaning for an open mesh.
    pub volume_mm3: f64,
    /// Area of all triangles in mm2.
    pub area_mm2: f64,
    /// Extents of the box in mm.
    pub size_mm: [f64; 3],
}

/// A mesh with equal points joined.
struct Joint {
    points_mm: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
}

/// Looks a model over. `placement` leads from file coordinates to mm.
pub fn flaws(model: &Model, placement: &Placement) -> Flaws {
    let (points_mm, triangles) = placement::placed(model, placement);
    let raw = Joint { points_mm, triangles };
    let joint = joined(&raw);
    let mut flaws =
        Flaws { n_triangles: raw.triangles.len(), n_vertices: used_points(&joint), ..Flaws::default() };
    measure(&raw, &mut flaws);
    let kept = set_aside(&joint, &mut flaws);
    let uses = edges::edge_uses(&kept);
    count_edges(&joint.points_mm, &uses, &mut flaws);
    count_fans(&joint.points_mm, &kept, &uses, &mut flaws);
    orient(&joint.points_mm, &kept, &uses, &mut flaws);
    flaws.closed = flaws.volume_mm3 > 0.0 && pairs_up(&joint.triangles);
    flaws
}

/// What is wrong inside a mesh.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Within {
    /// Pairs of triangles that cross each other, among those asked.
    pub self_intersections: Found,
    /// One of so many triangles was asked whether others cross it: 1 is all.
    pub one_in: usize,
    /// Where the wall is thinnest; only of a mesh that is closed can it be told.
    pub thinnest_wall: Option<Thin>,
}

/// Looks for crossings and thin walls; `None` beyond the range the planner works in. `placement`
/// leads from file coordinates to mm.
pub fn within(model: &Model, placement: &Placement) -> Option<Within> {
    let (points_mm, triangles) = placement::placed(model, placement);
    let joint = joined(&Joint { points_mm, triangles });
    let kept = set_aside(&joint, &mut Flaws::default());
    let points = joint.points_mm.iter().map(|&p| grid::snap(p)).collect::<Option<Vec<_>>>()?;
    let found = crossings::crossings(&points, &kept);
    let mut self_intersections = Found::default();
    for [one, other] in found.pairs {
        self_intersections.add(|| crossings::place_mm(&points, kept[one as usize], kept[other as usize]));
    }
    let thinnest_wall = pairs_up(&joint.triangles).then(|| thickness::thinnest(&joint.points_mm, &kept));
    Some(Within { self_intersections, one_in: found.one_in, thinnest_wall: thinnest_wall.flatten() })
}

impl Flaws {
    /// Why the mesh cannot be planned as it is: each flaw with its number and first place; `None`
    /// where nothing stands against it.
    pub fn refusal(&self) -> Option<String> {
        let n_loops = self.boundary_loops.count;
        let loops = format!("open edges in {n_loops} loop{}", if n_loops == 1 { "" } else { "s" });
        let kinds: [(&Found, &str); 6] = [
            (&self.open_edges, &loops),
            (&self.nonmanifold_edges, "edges with more than two triangles"),
            (&self.flipped_triangles, "triangles that face the wrong way"),
            (&self.duplicate_triangles, "triangles that lie on another"),
            (&self.nonmanifold_vertices, "points where surfaces only touch"),
            (&self.degenerate_triangles, "triangles without area"),
        ];
        if self.closed {
            return None;
        }
        let mut lines: Vec<String> = kinds
            .iter()
            .filter(|(found, _)| found.count > 0)
            .map(|(found, what)| match found.at_mm.first() {
                Some(&at_mm) => format!("{} {what}, the first near {} mm", found.count, shown(at_mm)),
                None => format!("{} {what}", found.count),
            })
            .collect();
        if self.volume_mm3 <= 0.0 && self.open_edges.count == 0 {
            lines
                .push(format!("the surface encloses {:.1} mm3: it faces inward or is flat", self.volume_mm3));
        }
        Some(format!("the mesh is not a closed solid: {}", lines.join("; ")))
    }
}

/// Joins points that fall on the same place of the grid; no limit of range, since a file may be in
/// any unit before its unit is known.
fn joined(raw: &Joint) -> Joint {
    let steps: Vec<[i64; 3]> =
        raw.points_mm.iter().map(|p| p.map(|mm| (mm * STEPS_PER_MM).round() as i64)).collect();
    let mut order: Vec<u32> = (0..steps.len() as u32).collect();
    order.sort_unstable_by_key(|&i| (steps[i as usize], i));
    // Each point takes the name of the first equal one, so names follow file order.
    let mut first_of = vec![0u32; steps.len()];
    for run in order.chunk_by(|&a, &b| steps[a as usize] == steps[b as usize]) {
        for &index in run {
            first_of[index as usize] = run[0];
        }
    }
    let triangles = raw.triangles.iter().map(|t| t.map(|i| first_of[i as usize])).collect();
    let points_mm = steps.iter().map(|s| s.map(|steps| steps as f64 / STEPS_PER_MM)).collect();
    Joint { points_mm, triangles }
}

fn used_points(joint: &Joint) -> usize {
    let mut used = vec![false; joint.points_mm.len()];
    for &corner in joint.triangles.iter().flatten() {
        used[corner as usize] = true;
    }
    used.iter().filter(|&&used| used).count()
}

/// Volume, area and box of the mesh as read, before joining.
fn measure(raw: &Joint, flaws: &mut Flaws) {
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for &corner in raw.triangles.iter().flatten() {
        for axis in 0..3 {
            low[axis] = low[axis].min(raw.points_mm[corner as usize][axis]);
            high[axis] = high[axis].max(raw.points_mm[corner as usize][axis]);
        }
    }
    if raw.triangles.is_empty() {
        return;
    }
    flaws.size_mm = vec3::sub(high, low);
    // From the middle of the box: a mesh far from the origin loses no digits.
    let middle = vec3::scale(vec3::add(low, high), 0.5);
    for triangle in &raw.triangles {
        let [a, b, c] = triangle.map(|i| vec3::sub(raw.points_mm[i as usize], middle));
        flaws.volume_mm3 += vec3::dot(a, vec3::cross(b, c)) / 6.0;
        flaws.area_mm2 += 0.5 * vec3::length(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)));
    }
}

/// Counts triangles without area and further copies; gives the others.
fn set_aside(joint: &Joint, flaws: &mut Flaws) -> Vec<[u32; 3]> {
    let at = |triangle: &[u32; 3]| {
        let [a, b, c] = triangle.map(|i| joint.points_mm[i as usize]);
        vec3::scale(vec3::add(vec3::add(a, b), c), 1.0 / 3.0)
    };
    let mut order: Vec<([u32; 3], u32)> = Vec::with_capacity(joint.triangles.len());
    let mut dropped = vec![false; joint.triangles.len()];
    for (index, triangle) in joint.triangles.iter().enumerate() {
        if has_no_area(triangle, &joint.points_mm) {
            flaws.degenerate_triangles.add(|| at(triangle));
            dropped[index] = true;
            continue;
        }
        let mut sorted = *triangle;
        sorted.sort_unstable();
        order.push((sorted, index as u32));
    }
    order.sort_unstable();
    for pair in order.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
        dropped[pair[1].1 as usize] = true;
    }
    for (index, triangle) in joint.triangles.iter().enumerate() {
        if dropped[index] && !has_no_area(triangle, &joint.points_mm) {
            flaws.duplicate_triangles.add(|| at(triangle));
        }
    }
    joint.triangles.iter().zip(&dropped).filter(|(_, dropped)| !**dropped).map(|(t, _)| *t).collect()
}

/// Exact: differences of grid points up to 2^25 steps have products below 2^53.
fn has_no_area(triangle: &[u32; 3], points_mm: &[[f64; 3]]) -> bool {
    let [a, b, c] = *triangle;
    if a == b || b == c || c == a {
        return true;
    }
    let [a, b, c] = triangle.map(|i| points_mm[i as usize]);
    vec3::cross(vec3::sub(b, a), vec3::sub(c, a)) == [0.0; 3]
}

fn count_edges(points_mm: &[[f64; 3]], uses: &[EdgeUse], flaws: &mut Flaws) {
    let middle = |edge: &EdgeUse| {
        vec3::scale(vec3::add(points_mm[edge.low() as usize], points_mm[edge.high() as usize]), 0.5)
    };
    let mut chains = Joined::new(points_mm.len());
    let mut open: Vec<&EdgeUse> = Vec::new();
    for run in edges::runs(uses) {
        match run.len() {
            1 => {
                flaws.open_edges.add(|| middle(&run[0]));
                chains.join(run[0].low(), run[0].high());
                open.push(&run[0]);
            }
            2 => {}
            _ => flaws.nonmanifold_edges.add(|| middle(&run[0])),
        }
    }
    // A chain is counted at the point that names it.
    let mut counted = vec![false; points_mm.len()];
    for edge in open {
        let chain = chains.find(edge.low()) as usize;
        if !std::mem::replace(&mut counted[chain], true) {
            flaws.boundary_loops.add(|| middle(edge));
        }
    }
}

/// Points whose triangles form more than one fan. Triangles are in one fan where they share an edge
/// at the point.
fn count_fans(points_mm: &[[f64; 3]], kept: &[[u32; 3]], uses: &[EdgeUse], flaws: &mut Flaws) {
    let corner_at = |triangle: usize, point: u32| {
        let corner = kept[triangle].iter().position(|&i| i == point).unwrap_or(0);
        (3 * triangle + corner) as u32
    };
    let mut fans = Joined::new(3 * kept.len());
    for run in edges::runs(uses) {
        for pair in run.windows(2) {
            for point in [run[0].low(), run[0].high()] {
                fans.join(corner_at(pair[0].triangle(), point), corner_at(pair[1].triangle(), point));
            }
        }
    }
    let mut n_fans = vec![0u8; points_mm.len()];
    for (triangle, corners) in kept.iter().enumerate() {
        for (corner, &point) in corners.iter().enumerate() {
            let name = (3 * triangle + corner) as u32;
            if fans.find(name) == name {
                n_fans[point as usize] = n_fans[point as usize].saturating_add(1);
            }
        }
    }
    for (point, _) in n_fans.iter().enumerate().filter(|(_, n)| **n > 1) {
        flaws.nonmanifold_vertices.add(|| points_mm[point]);
    }
}

/// Bodies, and which triangles face against the rest of theirs.
fn orient(points_mm: &[[f64; 3]], kept: &[[u32; 3]], uses: &[EdgeUse], flaws: &mut Flaws) {
    // Per triangle and corner: the triangle across, and whether it runs the edge the same way.
    let mut across = vec![[(u32::MAX, false); 3]; kept.len()];
    for run in edges::runs(uses).filter(|run| run.len() == 2) {
        let same_way = run[0].forward(kept) == run[1].forward(kept);
        across[run[0].triangle()][run[0].corner()] = (run[1].triangle() as u32, same_way);
        across[run[1].triangle()][run[1].corner()] = (run[0].triangle() as u32, same_way);
    }
    let mut turned = vec![false; kept.len()];
    let mut seen = vec![false; kept.len()];
    let mut flipped = vec![false; kept.len()];
    for start in 0..kept.len() {
        if std::mem::replace(&mut seen[start], true) {
            continue;
        }
        flaws.n_bodies += 1;
        let mut body = vec![start];
        let mut next = 0;
        while next < body.len() {
            let triangle = body[next];
            next += 1;
            for &(other, same_way) in &across[triangle] {
                if other != u32::MAX && !std::mem::replace(&mut seen[other as usize], true) {
                    turned[other as usize] = turned[triangle] != same_way;
                    body.push(other as usize);
                }
            }
        }
        let n_turned = body.iter().filter(|&&t| turned[t]).count();
        let minority = 2 * n_turned <= body.len();
        for triangle in body {
            flipped[triangle] = turned[triangle] == minority;
        }
    }
    let consistent = !flipped.contains(&true);
    let inside_out = consistent && flaws.volume_mm3 < 0.0 && flaws.open_edges.count == 0;
    for (_, triangle) in kept.iter().enumerate().filter(|(index, _)| inside_out || flipped[*index]) {
        let [a, b, c] = triangle.map(|i| points_mm[i as usize]);
        flaws.flipped_triangles.add(|| vec3::scale(vec3::add(vec3::add(a, b), c), 1.0 / 3.0));
    }
}

/// Whether every edge is run equally often both ways, over all triangles with three corners.
fn pairs_up(triangles: &[[u32; 3]]) -> bool {
    let whole: Vec<[u32; 3]> =
        triangles.iter().filter(|t| t[0] != t[1] && t[1] != t[2] && t[2] != t[0]).copied().collect();
    let uses = edges::edge_uses(&whole);
    edges::runs(&uses).all(|run| 2 * run.iter().filter(|edge| edge.forward(&whole)).count() == run.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::read_model;

    fn of_reference(folder: &std::path::Path, name: &str) -> Flaws {
        let model = read_model(&std::fs::read(folder.join(name)).unwrap(), name).unwrap();
        flaws(&model, &Placement::IDENTITY)
    }

    #[test]
    fn the_counts_of_the_broken_reference_files_are_found() {
        let Some(folder) = std::env::var_os("SEAMWRIGHT_REFERENCE").map(std::path::PathBuf::from) else {
            eprintln!("skipped: the_counts_of_the_broken_reference_files: SEAMWRIGHT_REFERENCE is not set");
            return;
        };
        let of = |name: &str| of_reference(&folder, &format!("nasty/{name}"));
        let holes = of("sphere_four_holes.ply");
        assert_eq!(
            (holes.open_edges.count, holes.boundary_loops.count, holes.boundary_loops.at_mm.len()),
            (50, 4, 4)
        );
        assert!(holes.refusal().unwrap().contains("50 open edges in 4 loops, the first near"));
        let flipped = of("sphere_fifth_flipped.stl");
        assert_eq!((flipped.flipped_triangles.count, flipped.n_bodies, flipped.closed), (1024, 1, false));
        assert_eq!(flipped.flipped_triangles.at_mm.len(), MAX_PLACES);
        let inside_out = of("sphere_inside_out.stl");
        assert_eq!((inside_out.flipped_triangles.count, inside_out.closed), (5120, false));
        assert!((inside_out.volume_mm3 / -902823.6127668424 - 1.0).abs() < 1e-6);
        let doubled = of("sphere_duplicates_degenerates.obj");
        assert_eq!((doubled.duplicate_triangles.count, doubled.degenerate_triangles.count), (50, 40));
        assert_eq!((doubled.open_edges.count, doubled.nonmanifold_edges.count, doubled.n_bodies), (0, 0, 1));
        let edge = of("edge_touching_boxes.obj");
        assert_eq!((edge.nonmanifold_edges.count, edge.n_bodies, edge.closed), (1, 2, true));
        let vertex = of("vertex_touching_boxes.obj");
        assert_eq!((vertex.nonmanifold_vertices.count, vertex.n_bodies, vertex.closed), (1, 2, true));
        assert_eq!(vertex.nonmanifold_vertices.at_mm.len(), 1);
        let junction = of("box_t_junction.obj");
        assert_eq!((junction.open_edges.count, junction.closed), (3, false));
        let cavity = of("nested_cavity.stl");
        assert_eq!((cavity.n_bodies, cavity.closed, cavity.flipped_triangles.count), (3, true, 0));
        assert!((cavity.volume_mm3 / 668542.2466319299 - 1.0).abs() < 1e-6);
        let sheet = of("flat_sheet.stl");
        assert_eq!((sheet.open_edges.count, sheet.closed, sheet.volume_mm3), (4, false, 0.0));
        let mail = of("mail_144_rings.ply");
        assert_eq!((mail.n_bodies, mail.closed), (144, true));
        let far = of("sphere_far_from_origin.ply");
        assert_eq!((far.n_bodies, far.closed), (1, true));
        let shells = of("overlapping_shells.stl");
        assert!((shells.volume_mm3 / 954467.3672275322 - 1.0).abs() < 1e-6);
        let helmet = of_reference(&folder, "models/kk_staff.stl");
        assert_eq!((helmet.nonmanifold_edges.count, helmet.n_bodies), (5, 2));
    }

    #[test]
    fn volumes_and_areas_of_the_analytic_meshes_agree_with_their_truth() {
        let Some(folder) = std::env::var_os("SEAMWRIGHT_REFERENCE").map(std::path::PathBuf::from) else {
            eprintln!("skipped: volumes_and_areas_of_the_analytic_meshes: SEAMWRIGHT_REFERENCE is not set");
            return;
        };
        // Name, volume and area as meshed, from `analytic/truth.json`.
        let truth = [
            ("sphere_r50.ply", 523315.618659849, 31406.533670145924),
            ("torus_R60_r15.ply", 265944.62565434194, 35507.39527970643),
            ("cylinder_r40_h120.ply", 603178.1336476064, 40212.162670295074),
            ("cone_r30_h90.ply", 84821.92504419466, 11768.490058388274),
            ("box_120x80x50.stl", 480000.0, 39200.0),
            ("tube_r60_wall4_h200.ply", 291536.09039659397, 148684.79710172513),
            ("ellipsoid_75_100_90.ply", 2825904.340763184, 97780.5949231405),
            ("dome_shell_r110_wall4.ply", 293077.9560111693, 149310.27002020195),
            ("vambrace_cone_60_40_h250_wall4.ply", 301589.062861932, 153690.44956362867),
        ];
        for (name, volume_mm3, area_mm2) in truth {
            let found = of_reference(&folder, &format!("analytic/{name}"));
            assert!(found.closed && found.n_bodies == 1 && found.refusal().is_none(), "{name}");
            assert!((found.volume_mm3 / volume_mm3 - 1.0).abs() < 1e-6, "{name}: {}", found.volume_mm3);
            assert!((found.area_mm2 / area_mm2 - 1.0).abs() < 1e-6, "{name}: {}", found.area_mm2);
        }
    }

    #[test]
    fn a_tetrahedron_with_one_face_missing_names_its_hole() {
        let text = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\nf 1 2 4\nf 2 3 4\nf 3 1 4\n";
        let found = flaws(&read_model(text.as_bytes(), "t.obj").unwrap(), &Placement::IDENTITY);
        assert_eq!((found.n_triangles, found.n_vertices, found.n_bodies), (3, 4, 1));
        assert_eq!((found.open_edges.count, found.boundary_loops.count), (3, 1));
        assert_eq!(found.open_edges.at_mm, [[5.0, 0.0, 0.0], [0.0, 5.0, 0.0], [5.0, 5.0, 0.0]]);
        let text = found.refusal().unwrap();
        assert_eq!(
            text,
            "the mesh is not a closed solid: 3 open edges in 1 loop, the first near (5.00, 0.00, 0.00) mm"
        );
    }
}
