//! Where flat regions of one plane lie on each other: the contact patches of a cut.
//!
//! How: each piece brings the boundary of its faces on the plane, its interior to the left where
//! the piece lies below, to the right where above. Points within 0.001 mm become one, lines are
//! split where they cross or pass a point, and equal lines merge; then every line knows how often
//! each piece winds around its left and its right. A patch of `(below, above)` is where `below`
//! winds positively and `above` negatively; its edge lines are traced into loops, holes go to the
//! loop around them.
//! Why merge points: pieces cut in turn meet along lines that differ by a grid step; unmerged
//! they would leave slivers 0.0002 mm wide and as long as the seam, counted twice in its line.
//! Units: mm in the plane.

use std::collections::{BTreeMap, HashMap};

use super::flat::{P2, cross_inside, dist2, in_polygon, polygon_area, to_segment, turn};

/// Points closer than this are one: four grid steps, for as many cuts one after another. Less than the
/// 0.002 mm by which touching edges are moved apart: bodies that lie on each other keep their own
/// patches.
pub(super) const MERGE_MM: f64 = 0.001;
/// Patches narrower than this on average are rounding.
pub(super) const DUST_MM: f64 = 0.01;
/// So are smaller ones: a spot of 0.07 mm. A crumb that a plane chips off may hang by no more.
pub(super) const DUST_MM2: f64 = 0.005;
/// Splitting makes new near points at most a few times; more means a hopeless tangle.
const MAX_ROUNDS: usize = 12;

/// The piece below the plane and the piece above it.
type Pair = (usize, usize);

/// One connected patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Patch {
    pub area_mm2: f64,
    /// Whole boundary, inner and outer.
    pub line_mm: f64,
    /// A point of its boundary.
    pub at: P2,
}

/// A directed boundary line of the region of one piece.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub piece: usize,
    pub from: P2,
    pub to: P2,
}

/// An undirected line of the merged drawing, `a < b`, with the net uses `a -> b` by piece.
struct Side {
    a: u32,
    b: u32,
    uses: Vec<(usize, i32)>,
}

/// All patches by `(below, above)`, larger first.
pub(super) fn contact_patches(lines: &[Line]) -> BTreeMap<Pair, Vec<Patch>> {
    contacts_by_depth(lines).remove(&1).unwrap_or_default()
}

/// Patches by depth, then `(below, above)`. Depth 1 is every contact; where bodies of both pieces
/// lie in each other their faces lie on the plane twice, which is depth 2, and so on.
pub(super) fn contacts_by_depth(lines: &[Line]) -> BTreeMap<i32, BTreeMap<Pair, Vec<Patch>>> {
    let turned: Vec<Line> = lines
        .iter()
        .map(|line| Line { from: rotated(line.from, SLANT), to: rotated(line.to, SLANT), ..*line })
        .collect();
    let (nodes, sides) = merged(&turned);
    let mut rims: BTreeMap<(i32, Pair), Vec<(u32, u32)>> = BTreeMap::new();
    let strips = Strips::new(&nodes, &sides);
    for (index, side) in sides.iter().enumerate() {
        let (left, right) = strips.windings(index, &nodes, &sides);
        let (on_left, on_right) = (contacts(&left), contacts(&right));
        for &contact in on_left.iter().filter(|p| !on_right.contains(p)) {
            rims.entry(contact).or_default().push((side.a, side.b));
        }
        for &contact in on_right.iter().filter(|p| !on_left.contains(p)) {
            rims.entry(contact).or_default().push((side.b, side.a));
        }
    }
    let mut found: BTreeMap<i32, BTreeMap<Pair, Vec<Patch>>> = BTreeMap::new();
    for ((depth, pair), rim) in rims {
        let mut patches = patches_of(&nodes, rim);
        for patch in &mut patches {
            patch.at = rotated(patch.at, [SLANT[0], -SLANT[1]]);
        }
        if !patches.is_empty() {
            found.entry(depth).or_default().insert(pair, patches);
        }
    }
    found
}

/// The drawing is turned by this cosine and sine (an odd angle), since windings are counted along
/// level rays: models are full of level lines, and one whose ends differ by a rounding error has no
/// upper side.
const SLANT: P2 = [0.848_048_096_156_426, 0.529_919_264_233_204_9];

fn rotated(p: P2, [c, s]: P2) -> P2 {
    [c * p[0] - s * p[1], s * p[0] + c * p[1]]
}

fn contacts(windings: &BTreeMap<usize, i32>) -> Vec<(i32, Pair)> {
    let with = |sign: i32| windings.iter().map(move |(&p, &w)| (p, w * sign)).filter(|(_, w)| *w > 0);
    with(1)
        .flat_map(|(below, n)| with(-1).map(move |(above, m)| ((below, above), n.min(m))))
        .flat_map(|(pair, deepest)| (1..=deepest).map(move |depth| (depth, pair)))
        .collect()
}

/// Points of the drawing, found again by a square net.
struct Nodes {
    at: Vec<P2>,
    cells: HashMap<(i64, i64), Vec<u32>>,
}

impl Nodes {
    fn cell(p: P2) -> (i64, i64) {
        ((p[0] / MERGE_MM).floor() as i64, (p[1] / MERGE_MM).floor() as i64)
    }

    /// The node within [`MERGE_MM`] of `p`, made if there is none.
    fn at_or_near(&mut self, p: P2) -> u32 {
        let (x, y) = Self::cell(p);
        let near = (-1..=1)
            .flat_map(|dx| (-1..=1).map(move |dy| (x + dx, y + dy)))
            .filter_map(|cell| self.cells.get(&cell))
            .flatten()
            .copied()
            .map(|node| (dist2(self.at[node as usize], p), node))
            .filter(|&(d2, _)| d2 <= MERGE_MM * MERGE_MM)
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        if let Some((_, node)) = near {
            return node;
        }
        let node = self.at.len() as u32;
        self.at.push(p);
        self.cells.entry((x, y)).or_default().push(node);
        node
    }
}

/// The drawing with points merged and lines split so that they meet only at nodes.
fn merged(lines: &[Line]) -> (Vec<P2>, Vec<Side>) {
    let mut nodes = Nodes { at: Vec::new(), cells: HashMap::new() };
    let mut uses: BTreeMap<(u32, u32), BTreeMap<usize, i32>> = BTreeMap::new();
    for line in lines {
        let (a, b) = (nodes.at_or_near(line.from), nodes.at_or_near(line.to));
        add_use(&mut uses, a, b, line.piece, 1);
    }
    for _ in 0..MAX_ROUNDS {
        uses.retain(|_, by_piece| {
            by_piece.retain(|_, n| *n != 0);
            !by_piece.is_empty()
        });
        let sides: Vec<(u32, u32)> = uses.keys().copied().collect();
        let splits = find_splits(&mut nodes, &sides);
        if splits.is_empty() {
            break;
        }
        for (index, mut stops) in splits {
            let (a, b) = sides[index];
            let Some(by_piece) = uses.remove(&(a, b)) else { continue };
            stops.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
            let path: Vec<u32> = [a].into_iter().chain(stops.into_iter().map(|s| s.1)).chain([b]).collect();
            for (piece, n) in by_piece {
                for step in path.windows(2) {
                    add_use(&mut uses, step[0], step[1], piece, n);
                }
            }
        }
    }
    uses.retain(|_, by_piece| {
        by_piece.retain(|_, n| *n != 0);
        !by_piece.is_empty()
    });
    let sides = uses.into_iter().map(|((a, b), by)| Side { a, b, uses: by.into_iter().collect() }).collect();
    (nodes.at, sides)
}

fn add_use(uses: &mut BTreeMap<(u32, u32), BTreeMap<usize, i32>>, a: u32, b: u32, piece: usize, n: i32) {
    if a != b {
        let n = if a < b { n } else { -n };
        *uses.entry((a.min(b), a.max(b))).or_default().entry(piece).or_insert(0) += n;
    }
}

/// Per line the nodes it must be split at, with their place along it.
fn find_splits(nodes: &mut Nodes, sides: &[(u32, u32)]) -> BTreeMap<usize, Vec<(f64, u32)>> {
    let at = |nodes: &Nodes, i: u32| nodes.at[i as usize];
    let bounds: Vec<[f64; 4]> = sides
        .iter()
        .map(|&(a, b)| {
            let (p, q) = (at(nodes, a), at(nodes, b));
            [p[0].min(q[0]), p[0].max(q[0]), p[1].min(q[1]), p[1].max(q[1])]
        })
        .collect();
    let mut order: Vec<usize> = (0..sides.len()).collect();
    order.sort_by(|&i, &j| bounds[i][0].total_cmp(&bounds[j][0]).then(i.cmp(&j)));
    let mut splits: BTreeMap<usize, Vec<(f64, u32)>> = BTreeMap::new();
    for (rank, &i) in order.iter().enumerate() {
        for &j in &order[rank + 1..] {
            if bounds[j][0] > bounds[i][1] + MERGE_MM {
                break;
            }
            if bounds[j][2] > bounds[i][3] + MERGE_MM || bounds[i][2] > bounds[j][3] + MERGE_MM {
                continue;
            }
            let ((a, b), (c, d)) = (sides[i], sides[j]);
            let (pa, pb, pc, pd) = (at(nodes, a), at(nodes, b), at(nodes, c), at(nodes, d));
            let mut split = false;
            for (node, p) in [(c, pc), (d, pd)] {
                split |= stop_at(&mut splits, i, (a, b), (pa, pb), node, p);
            }
            for (node, p) in [(a, pa), (b, pb)] {
                split |= stop_at(&mut splits, j, (c, d), (pc, pd), node, p);
            }
            let shared = a == c || a == d || b == c || b == d;
            if !split && !shared && cross_inside(pa, pb, pc, pd) {
                let t = turn(pc, pd, pa) / (turn(pc, pd, pa) - turn(pc, pd, pb));
                let p = [pa[0] + t * (pb[0] - pa[0]), pa[1] + t * (pb[1] - pa[1])];
                let node = nodes.at_or_near(p);
                if node != a && node != b {
                    splits.entry(i).or_default().push((t, node));
                }
                if node != c && node != d {
                    splits.entry(j).or_default().push((to_segment(p, pc, pd).1, node));
                }
            }
        }
    }
    splits
}

fn stop_at(
    splits: &mut BTreeMap<usize, Vec<(f64, u32)>>,
    side: usize,
    ends: (u32, u32),
    (from, to): (P2, P2),
    node: u32,
    p: P2,
) -> bool {
    if node == ends.0 || node == ends.1 {
        return false;
    }
    let (distance, t) = to_segment(p, from, to);
    let near = distance <= MERGE_MM && t > 0.0 && t < 1.0;
    if near {
        splits.entry(side).or_default().push((t, node));
    }
    near
}

/// Lines by horizontal strips, so that a level ray meets only few.
struct Strips {
    low: f64,
    height: f64,
    members: Vec<Vec<u32>>,
}

impl Strips {
    fn new(nodes: &[P2], sides: &[Side]) -> Self {
        let ys = || sides.iter().flat_map(|s| [nodes[s.a as usize][1], nodes[s.b as usize][1]]);
        let (low, high) = ys().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), y| (l.min(y), h.max(y)));
        let count = (sides.len() / 4).clamp(1, 4096);
        let mut strips =
            Self { low, height: ((high - low) / count as f64).max(1e-9), members: vec![Vec::new(); count] };
        for (index, side) in sides.iter().enumerate() {
            let (p, q) = (nodes[side.a as usize][1], nodes[side.b as usize][1]);
            for strip in strips.of(p.min(q))..=strips.of(p.max(q)) {
                strips.members[strip].push(index as u32);
            }
        }
        strips
    }

    fn of(&self, y: f64) -> usize {
        (((y - self.low) / self.height) as usize).min(self.members.len() - 1)
    }

    /// Windings by piece just left and just right of the middle of a line walked `a -> b`.
    fn windings(
        &self,
        index: usize,
        nodes: &[P2],
        sides: &[Side],
    ) -> (BTreeMap<usize, i32>, BTreeMap<usize, i32>) {
        let ends = |s: &Side| (nodes[s.a as usize], nodes[s.b as usize]);
        let (a, b) = ends(&sides[index]);
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        let mut beside: BTreeMap<usize, i32> = BTreeMap::new();
        for &other in &self.members[self.of(middle[1])] {
            if other as usize == index {
                continue;
            }
            let (p, q) = ends(&sides[other as usize]);
            let (p_up, q_up) = (p[1] > middle[1], q[1] > middle[1]);
            if p_up == q_up || p[0] + (middle[1] - p[1]) / (q[1] - p[1]) * (q[0] - p[0]) <= middle[0] {
                continue;
            }
            let sign = if q_up { 1 } else { -1 };
            for &(piece, n) in &sides[other as usize].uses {
                *beside.entry(piece).or_insert(0) += sign * n;
            }
        }
        // `beside` holds to the right (+x) of a rising or falling line, above a level one.
        let beside_is_left = b[1] < a[1] || (b[1] == a[1] && b[0] > a[0]);
        let mut across = beside.clone();
        for &(piece, n) in &sides[index].uses {
            *across.entry(piece).or_insert(0) += if beside_is_left { -n } else { n };
        }
        if beside_is_left { (beside, across) } else { (across, beside) }
    }
}

/// Loops of a rim with the region to the left, gathered into patches; dust dropped.
fn patches_of(nodes: &[P2], mut rim: Vec<(u32, u32)>) -> Vec<Patch> {
    rim.sort_unstable();
    let mut used = vec![false; rim.len()];
    let (mut outers, mut holes) = (Vec::new(), Vec::new());
    // Where lines of a few grid steps crowd, a line of the rim can be lost: its loop is open. Such
    // loops are walked first, from where they begin, and go on across the gap.
    let mut starts_less_ends: BTreeMap<u32, i32> = BTreeMap::new();
    for &(from, to) in &rim {
        *starts_less_ends.entry(from).or_insert(0) += 1;
        *starts_less_ends.entry(to).or_insert(0) -= 1;
    }
    let begins = |k: usize| starts_less_ends[&rim[k].0] > 0;
    let (first, last): (Vec<usize>, Vec<usize>) = (0..rim.len()).partition(|&k| begins(k));
    for start in first.into_iter().chain(last) {
        if used[start] {
            continue;
        }
        let (mut polygon, mut length, mut at) = (Vec::new(), 0.0, start);
        loop {
            used[at] = true;
            let (from, to) = rim[at];
            let (p, q) = (nodes[from as usize], nodes[to as usize]);
            polygon.push(p);
            length += dist2(p, q).sqrt();
            // The first way out, turning clockwise from the way back, keeps the region to the left
            // and parts lobes that meet in a point.
            let first = rim.partition_point(|e| e.0 < to);
            let next =
                (first..rim.len()).take_while(|&k| rim[k].0 == to).filter(|&k| !used[k]).min_by(|&k, &l| {
                    clockwise_angle(q, p, nodes[rim[k].1 as usize]).total_cmp(&clockwise_angle(
                        q,
                        p,
                        nodes[rim[l].1 as usize],
                    ))
                });
            let gap_mm = |k: usize| dist2(q, nodes[rim[k].0 as usize]).sqrt();
            let over_gap = || {
                let open = (0..rim.len()).filter(|&k| !used[k] && begins(k) && gap_mm(k) <= DUST_MM);
                open.filter(|&k| gap_mm(k) < gap_mm(start)).min_by(|&k, &l| gap_mm(k).total_cmp(&gap_mm(l)))
            };
            if next.is_none() && to != rim[start].0 {
                polygon.push(q);
            }
            match next.or_else(over_gap) {
                Some(next) => at = next,
                None => break,
            }
        }
        let area = polygon_area(&polygon);
        if area > 0.0 { outers.push((area, length, polygon)) } else { holes.push((area, length, polygon)) }
    }
    outers.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut patches: Vec<Patch> =
        outers.iter().map(|o| Patch { area_mm2: o.0, line_mm: o.1, at: o.2[0] }).collect();
    for (area, length, polygon) in holes {
        // A single edge left over where rounding parted a rim encloses nothing.
        let [from, to, ..] = polygon[..] else { continue };
        let middle = [0.5 * (from[0] + to[0]), 0.5 * (from[1] + to[1])];
        if let Some(around) = outers.iter().position(|o| o.0 > -area && in_polygon(middle, &o.2)) {
            patches[around].area_mm2 += area;
            patches[around].line_mm += length;
        }
    }
    patches.retain(|p| p.area_mm2 > DUST_MM2 && 2.0 * p.area_mm2 > DUST_MM * p.line_mm);
    patches.reverse();
    patches
}

/// Angle from `centre -> back` clockwise to `centre -> ahead`, in (0, 2 pi].
fn clockwise_angle(centre: P2, back: P2, ahead: P2) -> f64 {
    let (u, v) = ([back[0] - centre[0], back[1] - centre[1]], [ahead[0] - centre[0], ahead[1] - centre[1]]);
    let angle = -libm::atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
    if angle <= 0.0 { angle + 2.0 * std::f64::consts::PI } else { angle }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(piece: usize, low: P2, high: P2, below: bool) -> Vec<Line> {
        let corners = [low, [high[0], low[1]], high, [low[0], high[1]]];
        (0..4)
            .map(|i| {
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                let (from, to) = if below { (a, b) } else { (b, a) };
                Line { piece, from, to }
            })
            .collect()
    }

    fn check(lines: &[Line], expected: &[((usize, usize), f64, f64)]) {
        let found: Vec<_> = contact_patches(lines)
            .into_iter()
            .flat_map(|(pair, patches)| patches.into_iter().map(move |p| (pair, p.area_mm2, p.line_mm)))
            .collect();
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for (f, e) in found.iter().zip(expected) {
            assert_eq!(f.0, e.0);
            assert!((f.1 - e.1).abs() < 0.1 && (f.2 - e.2).abs() < 0.01, "{f:?} for {e:?}");
        }
    }

    #[test]
    fn equal_faces_make_one_patch_with_their_outline() {
        let mut lines = rectangle(0, [0.0, 0.0], [30.0, 20.0], true);
        lines.extend(rectangle(1, [0.0, 0.0], [30.0, 20.0], false));
        check(&lines, &[((0, 1), 600.0, 100.0)]);
    }

    #[test]
    fn a_face_over_two_others_makes_two_patches_and_a_grid_step_no_third() {
        let mut lines = rectangle(0, [0.0, 0.0], [30.0, 20.0], true);
        lines.extend(rectangle(1, [0.0, 0.0], [10.0, 20.0002], false));
        lines.extend(rectangle(2, [10.0002, 0.0], [30.0, 20.0], false));
        lines.extend(rectangle(3, [30.0, 0.0], [50.0, 20.0], true));
        check(&lines, &[((0, 1), 200.0, 60.0), ((0, 2), 400.0, 80.0)]);
    }

    #[test]
    fn a_ring_has_both_its_lines_and_a_crossing_only_what_is_shared() {
        let mut lines = rectangle(0, [0.0, 0.0], [30.0, 30.0], true);
        lines.extend(rectangle(0, [10.0, 10.0], [20.0, 20.0], false));
        lines.extend(rectangle(1, [0.0, 0.0], [30.0, 30.0], false));
        check(&lines, &[((0, 1), 800.0, 160.0)]);
        let mut plus = rectangle(0, [-30.0, -5.0], [30.0, 5.0], true);
        plus.extend(rectangle(1, [-5.0, -30.0], [5.0, 30.0], false));
        check(&plus, &[((0, 1), 100.0, 40.0)]);
    }

    #[test]
    fn a_rim_with_lines_lost_is_still_one_loop() {
        let nodes =
            [[0.0, 0.0], [10.0, 0.0], [10.0, 0.002], [10.0, 10.0], [0.0, 10.0], [0.0, 9.998], [0.0, 5.0]];
        // Of the square's eight lines 1-2 and 4-5 are lost, and 0 is not where the walk begins.
        let found = patches_of(&nodes, vec![(0, 1), (2, 3), (3, 4), (5, 6), (6, 0)]);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].area_mm2 - 100.0).abs() < 1e-9 && (found[0].line_mm - 40.0).abs() < 0.01);
    }

    #[test]
    fn faces_that_lie_on_the_plane_twice_are_a_second_depth() {
        let both = |piece, below| {
            let mut lines = rectangle(piece, [0.0, 0.0], [30.0, 20.0], below);
            lines.extend(rectangle(piece, [20.0, 5.0], [40.0, 15.0], below));
            lines
        };
        let found = contacts_by_depth(&[both(0, true), both(1, false)].concat());
        let areas: Vec<(i32, f64)> = found.iter().map(|(&d, by)| (d, by[&(0, 1)][0].area_mm2)).collect();
        assert_eq!(areas.len(), 2, "{areas:?}");
        for (found, due) in areas.iter().zip([(1, 700.0), (2, 100.0)]) {
            assert!(found.0 == due.0 && (found.1 - due.1).abs() < 1e-9, "{areas:?}");
        }
    }

    #[test]
    fn lobes_that_meet_in_a_point_are_two_patches() {
        let mut lines = rectangle(0, [0.0, 0.0], [10.0, 10.0], true);
        lines.extend(rectangle(0, [10.0, 10.0], [20.0, 20.0], true));
        lines.extend(rectangle(1, [-5.0, -5.0], [25.0, 25.0], false));
        check(&lines, &[((0, 1), 100.0, 40.0), ((0, 1), 100.0, 40.0)]);
    }
}
