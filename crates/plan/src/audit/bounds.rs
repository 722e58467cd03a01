//! Whether each item's least number of pieces is proved: every step of the proof done again here.
//!
//! Codes: `bound`, `bound-lumps`, `bound-point`, `bound-set`, `bound-dealing`, `bound-volume`.
//! How: the points lie on the item; no turn of any bed holds a set that is said not to fit (turns in
//! cells, halved until one distance of the set is too long for the cell); the points cannot be dealt
//! to one piece fewer without a whole set in one of them (depth first). Nothing of the search for the
//! proof is used, and of a bed only its size.
//! Turns: Rodrigues vectors `r`, axis times tangent of half the angle. A box is turned onto itself by
//! 24 turns, so the cube `|r_k| <= tan(45/2 degrees)` reaches all others (elementary). `r` to the unit
//! quaternion `(1, r)` is a central projection, which shortens: the angle between the turns of two
//! vectors is at most twice their distance.
//! Not here: whether the plan has so many pieces (`totals.rs`).

use super::Notes;
use super::items::ItemFile;
use super::lumps;
use super::stl::{Mesh, dot, sub};
use crate::records::{Bed, LumpProof, Plan, ProofBy};
use seamwright_mesh::spatial::Tree;

/// Points of a proof lie this near the item's surface, mm.
const ON_SURFACE_MM: f64 = 0.001;

/// Cells a set is worth; what takes more is not shown.
const MOST_CELLS: usize = 2_000_000;

/// Points dealt and taken back before a dealing counts as not shown.
const MOST_DEALT: usize = 20_000_000;

/// Half the side of the cube of turns: tan(45 degrees / 2), rounded up.
const HALF_CUBE: f64 = 0.414_214;

/// A set lacks more room than this: cut points are moved by up to a grid step, and rounding is finer
/// still.
const SURE_MM: f64 = 0.01;

pub(super) fn check(plan: &Plan, items: &[Option<ItemFile>], notes: &mut Notes) {
    for (record, item) in plan.items.iter().zip(items) {
        let mut of_item = plan.bounds.iter().filter(|bound| bound.item == record.id);
        let (Some(bound), Some(item)) = (of_item.next(), item) else { continue };
        if of_item.next().is_some() {
            notes.say("bound", &record.id, "it has two least numbers of pieces");
        }
        let claimed: usize = bound.proof.lumps.iter().map(|lump| lump.pieces_at_least).sum();
        notes.expect_count("bound", &record.id, "pieces_at_least", claimed, bound.pieces_at_least);
        check_proof(&record.id, &bound.proof.lumps, item, &plan.beds, notes);
    }
    for bound in &plan.bounds {
        if plan.items.iter().all(|item| item.id != bound.item) {
            notes.say("bound", &bound.item, "there is no such item");
        }
    }
}

fn check_proof(id: &str, proofs: &[LumpProof], item: &ItemFile, beds: &[Bed], notes: &mut Notes) {
    let mesh = &item.mesh;
    let edges = mesh.edges();
    let (lump_of, n_lumps) = lumps::lump_of_bodies(mesh, &edges);
    let of_lump = |lump: usize| {
        let is_own = |body: u32| lump_of[body as usize] as usize == lump;
        let own = mesh.triangles.iter().zip(&edges.body).filter(|(_, body)| is_own(**body));
        own.map(|(t, _)| *t).collect::<Vec<_>>()
    };
    let all: Vec<[f64; 3]> =
        proofs.iter().flat_map(|proof| [&[proof.at_mm][..], &proof.points_mm].concat()).collect();
    let trees: Vec<Option<Tree>> = (0..n_lumps).map(|lump| tree_near(mesh, &of_lump(lump), &all)).collect();
    let lies_on = |lump: usize, p: [f64; 3]| {
        trees[lump].as_ref().is_some_and(|tree| tree.distance_mm(p) <= ON_SURFACE_MM)
    };
    let mut seen = vec![false; n_lumps];
    for proof in proofs {
        let Some(lump) = (0..n_lumps).find(|&lump| !seen[lump] && lies_on(lump, proof.at_mm)) else {
            notes.say("bound-lumps", id, &format!("{:?} lies on no lump of its own", proof.at_mm));
            continue;
        };
        seen[lump] = true;
        if let Some(p) = proof.points_mm.iter().find(|&&p| !lies_on(lump, p)) {
            notes.say("bound-point", id, &format!("a proof leans on {p:?}, which is not on that lump"));
        }
        match proof.by {
            ProofBy::Lump => {
                notes.expect_count("bound-lumps", id, "a lump's least number", 1, proof.pieces_at_least);
            }
            ProofBy::Volume => {
                // Where bodies overlap, the sum of their volumes says nothing.
                if lump_of.iter().filter(|&&of| of as usize == lump).count() != 1 {
                    notes.say("bound-volume", id, "the volume of several bodies is no proof");
                }
                let own = Mesh { points: mesh.points.clone(), triangles: of_lump(lump) };
                let volume_mm3 = own.volume_mm3();
                let fewer = proof.pieces_at_least.saturating_sub(1) as f64;
                let most = beds.iter().map(bed_mm3).fold(0.0, f64::max);
                if volume_mm3 <= fewer * most {
                    notes.number(
                        "bound-volume",
                        id,
                        "so many beds have room for it",
                        volume_mm3,
                        fewer * most,
                    );
                }
            }
            ProofBy::Points => check_points(id, proof, beds, notes),
        }
    }
}

/// A search tree over the triangles that come near any of the places: all that a proof leans on.
fn tree_near(mesh: &Mesh, triangles: &[[u32; 3]], places: &[[f64; 3]]) -> Option<Tree> {
    let is_near = |t: &&[u32; 3]| {
        let corners = t.map(|i| mesh.points[i as usize]);
        let reach = |k: usize| {
            let along = corners.map(|corner| corner[k]);
            let (low, high) =
                along.iter().fold((f64::MAX, f64::MIN), |(low, high), &c| (low.min(c), high.max(c)));
            [low - ON_SURFACE_MM, high + ON_SURFACE_MM]
        };
        let box_mm: [[f64; 2]; 3] = std::array::from_fn(reach);
        places.iter().any(|p| (0..3).all(|k| box_mm[k][0] <= p[k] && p[k] <= box_mm[k][1]))
    };
    let near: Vec<[u32; 3]> = triangles.iter().filter(is_near).copied().collect();
    let mut points = Vec::with_capacity(3 * near.len());
    let mut own = Vec::with_capacity(near.len());
    for t in near {
        let first = points.len() as u32;
        points.extend(t.map(|i| mesh.points[i as usize]));
        own.push([first, first + 1, first + 2]);
    }
    Tree::new(points, own)
}

fn check_points(id: &str, proof: &LumpProof, beds: &[Bed], notes: &mut Notes) {
    let n_points = proof.points_mm.len();
    if proof.sets.iter().flatten().any(|&point| point >= n_points) || n_points > 128 {
        notes.say(
            "bound-set",
            id,
            "a set names a point that is not there, or there are more than 128 points",
        );
        return;
    }
    let fits = proof.sets.iter().find(|set| {
        let points: Vec<[f64; 3]> = set.iter().map(|&point| proof.points_mm[point]).collect();
        !beds.iter().all(|bed| is_too_large(&points, bed))
    });
    if let Some(set) = fits {
        notes.say("bound-set", id, &format!("points {set:?} are not shown to be too many for a bed"));
    }
    let sets: Vec<u128> =
        proof.sets.iter().map(|set| set.iter().fold(0, |bits, point| bits | 1 << point)).collect();
    let n_fewer = proof.pieces_at_least.saturating_sub(1);
    if !cannot_be_dealt(n_points, &sets, n_fewer) {
        let text = format!("its points are not shown to need more than {n_fewer} pieces");
        notes.say("bound-dealing", id, &text);
    }
}

/// The room a bed's margins leave: width, depth (both the diameter of a round one) and height.
fn room_mm(bed: &Bed) -> [f64; 3] {
    let [x, y, z] = bed.size_mm;
    [x - 2.0 * bed.margin_mm, y - 2.0 * bed.margin_mm, z - bed.margin_mm]
}

fn bed_mm3(bed: &Bed) -> f64 {
    let [x, y, z] = room_mm(bed);
    let share = if is_round(bed) { std::f64::consts::FRAC_PI_4 } else { 1.0 };
    share * x * y * z
}

fn is_round(bed: &Bed) -> bool {
    bed.shape == crate::records::BedShape::Round
}

/// Whether no turn of the bed holds the points.
fn is_too_large(points: &[[f64; 3]], bed: &Bed) -> bool {
    let room = room_mm(bed).map(|size| size + SURE_MM);
    let mut apart: Vec<[f64; 3]> = Vec::new();
    for (i, &p) in points.iter().enumerate() {
        apart.extend(points[..i].iter().map(|&q| sub(p, q)));
    }
    // The longest tell most.
    apart.sort_by(|a, b| dot(*b, *b).total_cmp(&dot(*a, *a)));
    let Some(longest) = apart.first() else { return false };
    if is_round(bed) {
        let diagonal = libm::hypot(room[0], room[2]);
        return dot(*longest, *longest).sqrt() > diagonal || too_large_for_round(points, &apart, room);
    }
    dot(*longest, *longest) > dot(room, room) || too_large_for_box(&apart, room)
}

/// The least length of the shadow of `d` on any axis within `turn` (cosine and sine) of `u`.
fn least_along(d: [f64; 3], u: [f64; 3], [cos, sin]: [f64; 2]) -> f64 {
    let along = dot(d, u).abs();
    let aside = (dot(d, d) - along * along).max(0.0).sqrt();
    along * cos - aside * sin
}

fn too_large_for_box(apart: &[[f64; 3]], mut room: [f64; 3]) -> bool {
    room.sort_by(f64::total_cmp);
    let mut cells = vec![([0.0; 3], HALF_CUBE)];
    let mut n_seen = 0;
    while let Some((r, half)) = cells.pop() {
        n_seen += 1;
        if n_seen > MOST_CELLS {
            return false;
        }
        let angle = 2.0 * 3f64.sqrt() * half;
        let is_out = angle < 1.5 && {
            let axes = axes_of(r);
            let (sin, cos) = libm::sincos(angle);
            let mut least =
                axes.map(|u| apart.iter().map(|&d| least_along(d, u, [cos, sin])).fold(0.0, f64::max));
            // Largest to largest is the best way round.
            least.sort_by(f64::total_cmp);
            (0..3).any(|k| least[k] > room[k])
        };
        if !is_out {
            let quarter = 0.5 * half;
            cells.extend((0..8).map(|corner| {
                let at = |k: usize| r[k] + if corner >> k & 1 == 1 { quarter } else { -quarter };
                ([at(0), at(1), at(2)], quarter)
            }));
        }
    }
    true
}

/// Directions of the bed's axes seen from a model turned by `r`.
fn axes_of([x, y, z]: [f64; 3]) -> [[f64; 3]; 3] {
    // Rows of the matrix of the quaternion (1, r) (textbook).
    let n = 1.0 + x * x + y * y + z * z;
    let one = |c: f64| (2.0 + 2.0 * c * c) / n - 1.0;
    [
        [one(x), 2.0 * (x * y - z) / n, 2.0 * (x * z + y) / n],
        [2.0 * (x * y + z) / n, one(y), 2.0 * (y * z - x) / n],
        [2.0 * (x * z - y) / n, 2.0 * (y * z + x) / n, one(z)],
    ]
}

/// Only where up is matters to a round bed: directions in cells on three sides of a cube.
fn too_large_for_round(points: &[[f64; 3]], apart: &[[f64; 3]], room: [f64; 3]) -> bool {
    let n = points.len() as f64;
    let middle: [f64; 3] = std::array::from_fn(|k| points.iter().map(|p| p[k]).sum::<f64>() / n);
    let farthest = points.iter().map(|&p| sub(p, middle)).map(|d| dot(d, d).sqrt()).fold(0.0, f64::max);
    let mut cells: Vec<(usize, [f64; 2], f64)> = (0..3).map(|side| (side, [0.0; 2], 1.0)).collect();
    let mut n_seen = 0;
    while let Some((side, at, half)) = cells.pop() {
        n_seen += 1;
        if n_seen > MOST_CELLS {
            return false;
        }
        let angle = 2f64.sqrt() * half;
        let is_out = angle < 1.5 && {
            let mut up = [1.0; 3];
            (up[(side + 1) % 3], up[(side + 2) % 3]) = (at[0], at[1]);
            let up = up.map(|c| c / (1.0 + at[0] * at[0] + at[1] * at[1]).sqrt());
            let (sin, cos) = libm::sincos(angle);
            let height = apart.iter().map(|&d| least_along(d, up, [cos, sin])).fold(0.0, f64::max);
            // Turned about their middle, points move by at most this.
            let moved = 2.0 * libm::sin(0.5 * angle) * farthest;
            let is_wide = || 2.0 * (shadow_radius(points, up) - moved) > room[0];
            height > room[2] || is_wide()
        };
        if !is_out {
            let quarter = 0.5 * half;
            for (dx, dy) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
                cells.push((side, [at[0] + dx * quarter, at[1] + dy * quarter], quarter));
            }
        }
    }
    true
}

/// Radius of the smallest circle round the shadow along `up`: the largest over pairs and triples.
fn shadow_radius(points: &[[f64; 3]], up: [f64; 3]) -> f64 {
    let flat = |d: [f64; 3]| {
        let along = dot(d, up);
        (dot(d, d) - along * along).max(0.0).sqrt()
    };
    let mut radius: f64 = 0.0;
    for (i, &p) in points.iter().enumerate() {
        for (j, &q) in points[..i].iter().enumerate() {
            let c = flat(sub(p, q));
            radius = radius.max(0.5 * c);
            for &s in &points[..j] {
                let (a, b) = (flat(sub(p, s)), flat(sub(q, s)));
                let [x, y, z] = [a * a, b * b, c * c];
                // A right or blunt corner: the longest side alone counts. Heron for the area.
                if x + y > z && y + z > x && z + x > y {
                    let sixteen = 2.0 * (x * y + y * z + z * x) - (x * x + y * y + z * z);
                    if sixteen > 0.0 {
                        radius = radius.max(a * b * c / sixteen.sqrt());
                    }
                }
            }
        }
    }
    radius
}

/// Whether points cannot be dealt to `n_pieces` pieces without a whole set in one of them.
fn cannot_be_dealt(n_points: usize, sets: &[u128], n_pieces: usize) -> bool {
    let of_point: Vec<Vec<u128>> =
        (0..n_points).map(|p| sets.iter().copied().filter(|set| set >> p & 1 == 1).collect()).collect();
    let mut dealing = Dealing { of_point, pieces: vec![0; n_pieces], n_steps: 0 };
    !dealing.goes_on(0) && dealing.n_steps <= MOST_DEALT
}

struct Dealing {
    of_point: Vec<Vec<u128>>,
    pieces: Vec<u128>,
    n_steps: usize,
}

impl Dealing {
    fn takes(&self, piece: u128, point: usize) -> bool {
        let with = piece | 1 << point;
        self.of_point[point].iter().all(|set| set & !with != 0)
    }

    /// Whether the points left can be dealt too, `used` pieces having some already.
    fn goes_on(&mut self, used: usize) -> bool {
        self.n_steps += 1;
        if self.n_steps > MOST_DEALT {
            return false;
        }
        let dealt = self.pieces.iter().fold(0, |all, piece| all | piece);
        let open = used.min(self.pieces.len());
        let left = (0..self.of_point.len()).filter(|&point| dealt >> point & 1 == 0);
        let hardest = left
            .map(|point| {
                let n = self.pieces[..open].iter().filter(|&&piece| self.takes(piece, point)).count();
                (n, usize::MAX - self.of_point[point].len(), point)
            })
            .min();
        let Some((_, _, point)) = hardest else { return true };
        // Pieces without points are alike: one of them is enough.
        for piece in 0..self.pieces.len().min(used + 1) {
            if self.takes(self.pieces[piece], point) {
                self.pieces[piece] |= 1 << point;
                if self.goes_on(used.max(piece + 1)) {
                    return true;
                }
                self.pieces[piece] &= !(1 << point);
            }
        }
        false
    }
}
