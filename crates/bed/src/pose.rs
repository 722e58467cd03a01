//! Which bed a piece goes on, how it stands there, and where.
//!
//! Order: on a flat face (a cut's first), else stably, else held; within that, the first way to stand
//! that fits some bed, on the bed that leaves it the most room. Held is used only where nothing
//! else fits; then the rotation with most contact is taken, or any that fits.
//! Keep-outs: the shadow goes to the middle of the usable bed where that is clear, else to the
//! lowest, then leftmost free spot (`place.rs`), over a few turns.
//! Not here: several pieces on one bed (crate `loads`).

use seamwright_mesh::hull::Hull;
use seamwright_mesh::{Placement, Solid, vec3};

use crate::bed::{Bed, BedShape, Usable};
use crate::convex2d::{self, P2};
use crate::fit::{AnyFit, FitOptions, Prepared, Verdict, fit_any, prepare};
use crate::place::place;
use crate::rest::{PoseKind, Resting, contact, on_cuts, resting_poses};
use crate::room::Room;
use crate::turn::{self, Rows};
use crate::upright::{FITS_MM, feasible_turns, fit_upright, fits, shadow};

/// Held poses tried by contact before any rotation that fits is taken (ours).
const HELD_TRIED: usize = 60;

/// Said to lack where there is no way to stand, mm: more than any bed has.
pub const FAR_MM: f64 = 1e4;

/// A piece on a bed.
#[derive(Debug, Clone, PartialEq)]
pub struct Posed {
    /// Which of the beds.
    pub bed_index: usize,
    /// Piece coordinates to bed coordinates: rigid, lowest point at z = 0, inside the usable bed.
    pub placement: Placement,
    /// How it stands.
    pub kind: PoseKind,
    /// Whether it stands on a face that a cut made.
    pub on_cut: bool,
    /// Room the pose leaves.
    pub margin_printable_mm: f64,
    /// Of a held piece, the room it lacks to stand the way that lacks least; 0 of any other, and
    /// [`FAR_MM`] where there is no way to stand.
    pub short_mm: f64,
}

/// A way to stand that fits a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alternative {
    /// Which of the beds.
    pub bed_index: usize,
    /// The direction in the piece that points up.
    pub up: [f64; 3],
    /// How it stands.
    pub kind: PoseKind,
    /// Whether it stands on a face that a cut made.
    pub on_cut: bool,
    /// Room it leaves at its best turn, keep-outs left aside.
    pub margin_mm: f64,
}

impl Bed {
    /// Where footprints may lie: the usable outline less the keep-outs.
    pub fn room(&self) -> Room {
        let usable = self.usable();
        let low = usable.low_mm;
        let room = match usable.shape {
            BedShape::Rect { width_mm, depth_mm } => Room::rect(low, [low[0] + width_mm, low[1] + depth_mm]),
            BedShape::Round { diameter_mm } => Room::round(usable.centre_mm(), 0.5 * diameter_mm),
        };
        room.without(&self.keep_out)
    }
}

/// All ways the piece can stand on a flat face or stably that fit some bed, best first.
pub fn printable_poses(solid: &Solid, hull: &Hull, beds: &[Bed]) -> Vec<Alternative> {
    let poses = resting_poses(solid, hull, solid.mass().centre_mm).into_iter();
    standing(hull, beds, poses).take_while(|pose| pose.kind != PoseKind::Held).collect()
}

/// Ways to stand that fit some bed, each on the bed that leaves the most room; judged when asked for.
fn standing(
    hull: &Hull,
    beds: &[Bed],
    poses: impl Iterator<Item = Resting>,
) -> impl Iterator<Item = Alternative> {
    let mut n_held = 0;
    let tried = poses.take_while(move |pose| {
        n_held += usize::from(pose.contact.kind == PoseKind::Held);
        n_held <= HELD_TRIED
    });
    tried.filter_map(|pose| {
        let mut best: Option<Alternative> = None;
        for (bed_index, bed) in beds.iter().enumerate() {
            if bed.usable().height_mm - pose.contact.height_mm < FITS_MM {
                continue;
            }
            let margin_mm = fit_upright(&hull.points_mm, pose.up, bed).margin_mm;
            if fits(margin_mm) && best.is_none_or(|b| margin_mm > b.margin_mm) {
                best = Some(Alternative {
                    bed_index,
                    up: pose.up,
                    kind: pose.contact.kind,
                    on_cut: pose.on_cut(),
                    margin_mm,
                });
            }
        }
        best
    })
}

/// The pose to print a piece in, or `None` where it fits no bed. `hull` holds all its points;
/// `n_cells` says how hard to look for a proof that no rotation fits ([`FitOptions::n_cells`]).
pub fn best_pose(solid: &Solid, hull: &Hull, beds: &[Bed], n_cells: u32) -> Option<Posed> {
    // A proof that no rotation fits is far cheaper than looking at every way to stand.
    let prepared = prepare(hull);
    let decide = FitOptions { n_cells, ..FitOptions::decide() };
    let found: Vec<AnyFit> = beds.iter().map(|bed| fit_any(&prepared, bed, &decide)).collect();
    if found.iter().all(|fit| fit.verdict == Verdict::CannotFit) {
        return None;
    }
    let centre_mm = solid.mass().centre_mm;
    let all = std::iter::once_with(|| resting_poses(solid, hull, centre_mm)).flatten();
    let poses = on_cuts(solid, hull, centre_mm).into_iter().chain(all);
    let standing = standing(hull, beds, poses).find_map(|pose| {
        let (placement, margin_printable_mm) = put(hull, pose.up, &beds[pose.bed_index])?;
        let Alternative { bed_index, kind, on_cut, .. } = pose;
        Some(Posed { bed_index, placement, kind, on_cut, margin_printable_mm, short_mm: 0.0 })
    });
    let posed = standing.or_else(|| {
        let (bed_index, placement, margin_printable_mm) = held(&prepared, hull, beds, &found)?;
        let up = placement.rows()[2];
        let kind = contact(solid, &solid.points_mm(), centre_mm, up).kind;
        Some(Posed { bed_index, placement, kind, on_cut: false, margin_printable_mm, short_mm: 0.0 })
    })?;
    let is_held = posed.kind == PoseKind::Held;
    Some(Posed { short_mm: if is_held { short_mm(solid, hull, centre_mm, beds) } else { 0.0 }, ..posed })
}

/// The room that is lacking on any bed for the way to stand that lacks least.
fn short_mm(solid: &Solid, hull: &Hull, centre_mm: [f64; 3], beds: &[Bed]) -> f64 {
    let poses = resting_poses(solid, hull, centre_mm).into_iter();
    let lacking = poses.take_while(|pose| pose.contact.kind != PoseKind::Held).flat_map(|pose| {
        beds.iter().map(move |bed| {
            let above_mm = bed.usable().height_mm - pose.contact.height_mm;
            -fit_upright(&hull.points_mm, pose.up, bed).margin_mm.min(above_mm)
        })
    });
    // Where keep-outs alone are in the way nothing is lacking by this measure.
    lacking.fold(FAR_MM, f64::min).max(0.0)
}

/// The piece with `up` upward on the bed: placement and the room it leaves; `None` where it does not
/// fit or keep-outs leave no place for it.
pub fn put(hull: &Hull, up: [f64; 3], bed: &Bed) -> Option<(Placement, f64)> {
    let best = fit_upright(&hull.points_mm, up, bed);
    if !fits(best.margin_mm) {
        return None;
    }
    let (outline, height_mm) = shadow(&hull.points_mm, up);
    for turn_rad in turns(&outline, best.turn_rad, bed) {
        let footprint = convex2d::turned(&outline, turn_rad);
        if let Some(step) = spot(&footprint, bed) {
            // Adding zero turns -0 into 0, which files would tell apart.
            let rows = turn::upright(up, turn_rad).map(|row| row.map(|v| v + 0.0));
            let low = hull.points_mm.iter().map(|&p| vec3::dot(rows[2], p)).fold(f64::INFINITY, f64::min);
            let margin_mm =
                footprint_margin(&footprint, bed.usable()).min(bed.usable().height_mm - height_mm);
            return Some((Placement::from_rows(rows, [step[0], step[1], -low]), margin_mm));
        }
    }
    None
}

/// The best turn, and more of them where something is kept out.
fn turns(outline: &[P2], best_rad: f64, bed: &Bed) -> Vec<f64> {
    let mut turns = vec![best_rad];
    if !bed.keep_out.is_empty() {
        for [from, to] in feasible_turns(outline, bed.usable().shape) {
            // Ends and 7 turns between, and the same the other way round: a keep-out tells them apart.
            turns.extend((0..=8).map(|i| from + (to - from) * f64::from(i) / 8.0));
        }
        let other_way: Vec<f64> = turns.iter().map(|turn| turn + std::f64::consts::PI).collect();
        turns.extend(other_way);
    }
    turns
}

fn footprint_margin(footprint: &[P2], usable: Usable) -> f64 {
    match usable.shape {
        BedShape::Rect { width_mm, depth_mm } => {
            let (low, high) = convex2d::bounds(footprint);
            (width_mm - high[0] + low[0]).min(depth_mm - high[1] + low[1])
        }
        BedShape::Round { diameter_mm } => diameter_mm - 2.0 * convex2d::smallest_circle(footprint).1,
    }
}

/// The move that puts a footprint in the middle, or where keep-outs leave room.
fn spot(footprint: &[P2], bed: &Bed) -> Option<P2> {
    let usable = bed.usable();
    let centre = usable.centre_mm();
    let middle = match usable.shape {
        BedShape::Rect { .. } => {
            let (low, high) = convex2d::bounds(footprint);
            [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])]
        }
        BedShape::Round { .. } => convex2d::smallest_circle(footprint).0,
    };
    let step = [centre[0] - middle[0], centre[1] - middle[1]];
    let room = bed.room();
    let there = convex2d::moved(footprint, step);
    if !fits(footprint_margin(footprint, usable)) {
        return None;
    }
    // The edge was judged above; the room's own test of it is finer than what counts as fitting.
    let clear = room.keep_out().iter().all(|part| convex2d::separation_mm(part, &there) >= FITS_MM);
    if clear { Some(step) } else { place(footprint, &room, &[], 0.0) }
}

/// Any rotation that fits some bed; `found` is what is known of each.
fn held(prepared: &Prepared, hull: &Hull, beds: &[Bed], found: &[AnyFit]) -> Option<(usize, Placement, f64)> {
    for (bed_index, (bed, found)) in beds.iter().zip(found).enumerate() {
        let found = match found.verdict {
            // The last chance of this piece: worth a longer look.
            Verdict::Undecided => fit_any(prepared, bed, &FitOptions::decide()),
            Verdict::Fits | Verdict::CannotFit => *found,
        };
        if found.verdict == Verdict::Fits {
            let rows: Rows = found.rotation;
            // Upside down is as good for fitting: the lower of two mass centres would need the solid.
            for up in [rows[2], vec3::scale(rows[2], -1.0)] {
                if let Some((placement, margin_mm)) = put(hull, up, bed) {
                    return Some((bed_index, placement, margin_mm));
                }
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::Plane;
    use seamwright_mesh::hull::convex_hull;

    fn bare(text: &str) -> Bed {
        Bed { margin_mm: 0.0, ..Bed::parse(text).unwrap() }
    }

    /// An upright prism over a polygon, counter-clockwise.
    fn prism(outline: &[P2], height: f64) -> Solid {
        let n = outline.len();
        let mut points: Vec<[f64; 3]> = outline.iter().map(|p| [p[0], p[1], 0.0]).collect();
        points.extend(outline.iter().map(|p| [p[0], p[1], height]));
        let mut triangles = Vec::new();
        // Fans from corner 0: outlines below are star-shaped from there.
        for i in 1..n as u32 - 1 {
            triangles.push([0, i + 1, i]);
            triangles.push([n as u32, n as u32 + i, n as u32 + i + 1]);
        }
        for i in 0..n as u32 {
            let j = (i + 1) % n as u32;
            triangles.push([i, j, j + n as u32]);
            triangles.push([i, j + n as u32, i + n as u32]);
        }
        Solid::from_triangles(&points, &triangles).unwrap().0
    }

    fn boxed(x: f64, y: f64, z: f64) -> Solid {
        prism(&[[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]], z)
    }

    /// Rings of radius by height, outward; closed by points where a radius is zero.
    fn turned_body(profile: &[(f64, f64)], n: u32) -> Solid {
        let (mut points, mut rings) = (Vec::new(), Vec::new());
        for &(radius, z) in profile {
            let count = if radius > 0.0 { n } else { 1 };
            rings.push((points.len() as u32, count));
            for i in 0..count {
                let (sin, cos) = libm::sincos(std::f64::consts::TAU * f64::from(i) / f64::from(n));
                points.push([radius * cos, radius * sin, z]);
            }
        }
        let mut triangles = Vec::new();
        for pair in rings.windows(2) {
            let at = |ring: (u32, u32), i: u32| ring.0 + if ring.1 == 1 { 0 } else { i % n };
            for i in 0..n {
                if pair[0].1 > 1 {
                    triangles.push([at(pair[0], i), at(pair[0], i + 1), at(pair[1], i)]);
                }
                if pair[1].1 > 1 {
                    triangles.push([at(pair[0], i + 1), at(pair[1], i + 1), at(pair[1], i)]);
                }
            }
        }
        Solid::from_triangles(&points, &triangles).unwrap().0
    }

    fn pose(solid: &Solid, beds: &[Bed]) -> Option<Posed> {
        let hull = convex_hull(&solid.points_mm());
        let found = best_pose(solid, &hull, beds, 2000)?;
        // What every pose promises.
        assert!(found.placement.is_rigid(1e-9));
        let bed = &beds[found.bed_index];
        let placed: Vec<_> = solid.points_mm().iter().map(|&p| found.placement.apply(p)).collect();
        let low = placed.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let high = placed.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
        assert!(low.abs() < 1e-9, "{low}");
        assert!(high <= bed.usable().height_mm + 1e-6);
        let outline = convex2d::hull(&placed.iter().map(|p| [p[0], p[1]]).collect::<Vec<_>>());
        assert!(bed.room().edge_margin_mm(&outline) >= -1e-6);
        for part in bed.room().keep_out() {
            assert!(convex2d::separation_mm(part, &outline) >= -1e-6);
        }
        let any = fit_any(&prepare(&hull), bed, &FitOptions { n_cells: 2000, ..FitOptions::best() });
        assert!(any.upper_bound_mm >= found.margin_printable_mm - 1e-9);
        Some(found)
    }

    #[test]
    fn a_box_lies_on_its_largest_face_in_the_middle_of_the_bed() {
        let found = pose(&boxed(100.0, 60.0, 30.0), &[Bed::parse("180x180x180").unwrap()]).unwrap();
        assert_eq!(found.kind, PoseKind::Face);
        let centre = found.placement.apply([50.0, 30.0, 15.0]);
        assert!((centre[0] - 90.0).abs() < 1e-9 && (centre[1] - 90.0).abs() < 1e-9, "{centre:?}");
        assert!((centre[2] - 15.0).abs() < 1e-9);
        let plate = boxed(100.0, 60.0, 30.0);
        let hull = convex_hull(&plate.points_mm());
        assert_eq!(printable_poses(&plate, &hull, &[Bed::parse("180x180x180").unwrap()]).len(), 6);
        let round = pose(&boxed(100.0, 60.0, 30.0), &[Bed::parse("d260x300").unwrap()]).unwrap();
        let centre = round.placement.apply([50.0, 30.0, 15.0]);
        assert!((centre[0] - 130.0).abs() < 1e-9 && (centre[1] - 130.0).abs() < 1e-9, "{centre:?}");
    }

    #[test]
    fn a_plate_too_wide_for_the_bed_stands_on_its_edge() {
        // 200 x 150 x 20 lies 230 mm at its narrowest diagonal turn; standing it needs 20 x 200 x 150 high.
        let found = pose(&boxed(200.0, 150.0, 20.0), &[bare("200x100x160")]).unwrap();
        assert_eq!(found.kind, PoseKind::Face);
        assert!((found.placement.apply([0.0, 75.0, 0.0])[2] - 75.0).abs() < 1e-9);
        // Along the bed it leaves 0 mm of 200; a small turn trades depth for length.
        assert!(found.margin_printable_mm > 1.0, "{found:?}");
    }

    #[test]
    fn a_cut_face_is_preferred_to_a_larger_one() {
        let whole = boxed(100.0, 60.0, 30.0);
        let plane = Plane::through([50.0, 0.0, 0.0], [1.0, 0.0, 0.0]).unwrap();
        let halves = seamwright_mesh::split::split(&whole, &plane, 7);
        let found = pose(&halves.below.unwrap(), &[bare("180x180x180")]).unwrap();
        assert!(found.on_cut && found.kind == PoseKind::Face);
        // The cut at x = 50 is on the bed.
        assert!(found.placement.apply([50.0, 10.0, 10.0])[2].abs() < 1e-6);
        assert!((found.placement.apply([0.0, 10.0, 10.0])[2] - 50.0).abs() < 1e-3);
    }

    #[test]
    fn an_l_bracket_lies_on_its_side() {
        let outline = [[0.0, 0.0], [100.0, 0.0], [100.0, 10.0], [10.0, 10.0], [10.0, 100.0], [0.0, 100.0]];
        let bracket = prism(&outline, 40.0);
        let found = pose(&bracket, &[bare("180x180x180")]).unwrap();
        assert_eq!(found.kind, PoseKind::Face);
        // Its L of 1900 mm² is less than the 4000 mm² of each outer side; one of these is down.
        let up = found.placement.rows()[2];
        assert!(up[0] > 0.999 || up[1] > 0.999, "{up:?}");
        // On its open side (down (1, 1, 0)) only two edges touch: no flat face there.
        let hull = convex_hull(&bracket.points_mm());
        let open = vec3::unit([-1.0, -1.0, 0.0]).unwrap();
        let touching = contact(&bracket, &bracket.points_mm(), bracket.mass().centre_mm, open);
        assert_eq!((touching.kind, touching.flat_mm2), (PoseKind::Stable, 0.0));
        assert!(
            resting_poses(&bracket, &hull, bracket.mass().centre_mm)
                .iter()
                .any(|r| vec3::dot(r.up, open) > 0.9999 && r.contact.kind == PoseKind::Stable)
        );
    }

    #[test]
    fn a_hemisphere_shell_stands_on_its_rim() {
        // Shell of 60 and 57 mm: rim area pi (60² - 57²) = 1103 mm² for a circle.
        let n = 16;
        let arc = |radius: f64, i: u32| {
            let (sin, cos) = libm::sincos(std::f64::consts::FRAC_PI_2 * f64::from(i) / f64::from(n));
            (if i == n { 0.0 } else { radius * cos }, radius * sin)
        };
        let mut profile: Vec<(f64, f64)> = (0..=n).rev().map(|i| arc(57.0, i)).collect();
        profile.extend((0..=n).map(|i| arc(60.0, i)));
        let shell = turned_body(&profile, 64);
        let found = pose(&shell, &[bare("180x180x180")]).unwrap();
        assert_eq!(found.kind, PoseKind::Face);
        assert!(found.placement.rows()[2][2] > 0.999_999, "{found:?}");
        let touching = contact(&shell, &shell.points_mm(), shell.mass().centre_mm, [0.0, 0.0, 1.0]);
        let circle = std::f64::consts::PI * (60.0 * 60.0 - 57.0 * 57.0);
        assert!(touching.flat_mm2 < circle && touching.flat_mm2 > 0.99 * circle, "{touching:?}");
        assert!((touching.balance_mm - 60.0).abs() < 0.2, "{touching:?}");
    }

    #[test]
    fn a_cone_stands_on_its_base_and_is_held_on_its_tip() {
        let cone = turned_body(&[(0.0, 0.0), (40.0, 0.0), (0.0, 120.0)], 200);
        let found = pose(&cone, &[bare("180x180x180")]).unwrap();
        assert_eq!(found.kind, PoseKind::Face);
        assert!(found.placement.rows()[2][2] > 0.999_999);
        let centre = cone.mass().centre_mm;
        // The mass centre of a cone is at a quarter of its height (textbook).
        assert!((centre[2] - 30.0).abs() < 1e-3);
        let tip = contact(&cone, &cone.points_mm(), centre, [0.0, 0.0, -1.0]);
        assert_eq!(tip.kind, PoseKind::Held);
        // Too tall to stand, it lies on its side; no facet of 80 mm² is a flat face, but 0.3 mm of
        // contact each side of a line from base to tip holds the mass centre.
        let lying = pose(&cone, &[bare("180x180x100")]).unwrap();
        assert_eq!((lying.kind, lying.short_mm), (PoseKind::Stable, 0.0), "{lying:?}");
    }

    #[test]
    fn what_fits_only_leaning_is_held() {
        // A square rod of 10 mm, longer than any face's diagonal: corner to corner or not at all.
        let rod = boxed(10.0, 10.0, 260.0);
        let found = pose(&rod, &[bare("170x170x170")]).unwrap();
        assert_eq!(found.kind, PoseKind::Held);
        // Lying at 45 degrees it spans (260 + 10) / sqrt 2 each way (elementary): it lacks least so.
        assert!((found.short_mm - (270.0 / 2f64.sqrt() - 170.0)).abs() < 1e-6, "{found:?}");
        let hull = convex_hull(&rod.points_mm());
        assert!(printable_poses(&rod, &hull, &[bare("170x170x170")]).is_empty());
        assert_eq!(pose(&boxed(10.0, 10.0, 300.0), &[bare("170x170x170")]), None);
    }

    #[test]
    fn the_bed_with_room_is_chosen_and_keep_outs_are_respected() {
        let plate = boxed(150.0, 100.0, 20.0);
        let mut large = Bed::parse("220x220x250").unwrap();
        let found = pose(&plate, &[Bed::parse("120x120x120").unwrap(), large.clone()]).unwrap();
        assert_eq!(found.bed_index, 1);
        let centred = found.placement.apply([75.0, 50.0, 10.0]);
        large.add_keep_out("100,0,20,105").unwrap();
        let moved = pose(&plate, &[large.clone()]).unwrap();
        let there = moved.placement.apply([75.0, 50.0, 10.0]);
        assert!((there[1] - centred[1]).abs() > 1.0, "{there:?}");
        // A bed crossed by a keep-out has no place for it lying; standing it is 20 mm deep.
        large.keep_out.clear();
        large.add_keep_out("0,100,220,20").unwrap();
        let standing = pose(&plate, &[large]).unwrap();
        assert!((standing.placement.apply([75.0, 50.0, 0.0])[2] - 50.0).abs() < 30.0);
        assert_eq!(standing.kind, PoseKind::Face);
    }

    #[test]
    fn a_cut_face_to_stand_on_is_found_first_as_among_all_ways_to_stand() {
        // A bar cut aslant: the cut is not its largest face.
        let bar = boxed(60.0, 50.0, 200.0);
        let plane = Plane::through([0.0, 0.0, 90.0], [0.3, 0.2, 1.0]).unwrap();
        let below = seamwright_mesh::split::split(&bar, &plane, 1).below.unwrap();
        let hull = convex_hull(&below.points_mm());
        let beds = [bare("220x220x250")];
        let all = printable_poses(&below, &hull, &beds);
        assert!(all.len() > 3 && all[0].on_cut && all[1..].iter().all(|pose| !pose.on_cut));
        let best = best_pose(&below, &hull, &beds, 500).unwrap();
        let up = best.placement.rows()[2];
        assert!(best.on_cut && vec3::length(vec3::sub(up, all[0].up)) < 1e-12, "{up:?} {:?}", all[0].up);
    }
}
