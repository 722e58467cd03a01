//! Where triangles meet: lines between points in which an edge of one passes through the other.
//!
//! Which edges pass through which triangles, and which lines cross within a triangle, is decided by
//! exact signs; only places are rounded, to a fraction of a grid step. So the same lines are found from both
//! triangles, and the same crossing of lines from all three.

use super::{Mesh, Touching};
use crate::edges::{QuickMap, edge_key};
use crate::exact::{amount, compare_products, side};
use crate::grid::{self, GridPoint};
use crate::spatial::Tree;
use crate::vec3;
use std::cmp::Ordering;

/// One end of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
enum End {
    /// A corner both triangles share.
    Corner(u32),
    /// An edge passes through a triangle.
    Through {
        /// As `owner` runs it.
        edge: [u32; 2],
        owner: u32,
        triangle: u32,
        /// From before the triangle to behind it.
        runs_behind: bool,
    },
}

/// The line in which two triangles meet.
#[derive(Debug, Clone)]
pub(super) struct Meeting {
    /// The lower first.
    pub triangles: [u32; 2],
    /// Nodes along it: its ends and where others cross it. The parts of the first triangle that run it this
    /// way lie before the second, those of the second that run it the other way before the first.
    pub nodes: Vec<u32>,
    ends: [End; 2],
}

/// All lines, and the nodes they have: the points of the mesh, then the others.
#[derive(Debug, Default)]
pub(super) struct Net {
    /// In grid steps.
    pub nodes: Vec<[f64; 3]>,
    pub meetings: Vec<Meeting>,
    /// Meetings of each triangle that has some.
    pub of_triangle: QuickMap<u32, Vec<u32>>,
    /// Nodes on each edge that has some, from its lower point to its higher.
    pub on_edge: QuickMap<u64, Vec<u32>>,
}

/// Finds all lines.
///
/// # Errors
/// [`Touching`]: triangles of different bodies touch without crossing, so that it cannot be said which is before which.
pub(super) fn meetings(mesh: &Mesh) -> Result<Net, Touching> {
    let mut finder = Finder {
        mesh,
        net: Net { nodes: mesh.points.iter().map(|p| p.map(f64::from)).collect(), ..Net::default() },
        through: QuickMap::default(),
        along: QuickMap::default(),
        met: QuickMap::default(),
        touching: Vec::new(),
    };
    finder.find_all()?;
    finder.sort_edges();
    finder.cross_lines()?;
    Ok(finder.net)
}

struct Finder<'a> {
    mesh: &'a Mesh,
    net: Net,
    /// Node of an edge through a triangle.
    through: QuickMap<(u64, u32), u32>,
    /// How far along its edge such a node lies.
    along: QuickMap<u32, f64>,
    /// Meeting of two triangles.
    met: QuickMap<u64, u32>,
    touching: Vec<([u32; 2], [f64; 3])>,
}

impl Finder<'_> {
    fn find_all(&mut self) -> Result<(), Touching> {
        let mesh = self.mesh;
        let corners_mm: Vec<[f64; 3]> = mesh.points.iter().map(|&p| grid::to_mm(p)).collect();
        let Some(tree) = Tree::new(corners_mm, mesh.triangles.clone()) else { return Ok(()) };
        for one in 0..mesh.triangles.len() as u32 {
            let corners = mesh.corners_mm(one);
            let low = std::array::from_fn(|i| corners.iter().fold(f64::MAX, |low, p| p[i].min(low)));
            let high = std::array::from_fn(|i| corners.iter().fold(f64::MIN, |high, p| p[i].max(high)));
            for other in tree.in_box(low, high) {
                if other as u32 > one {
                    self.pair(one, other as u32);
                }
            }
        }
        if self.touching.is_empty() {
            return Ok(());
        }
        let mut bodies: Vec<[u32; 2]> = self.touching.iter().map(|&(bodies, _)| bodies).collect();
        bodies.sort_unstable();
        bodies.dedup();
        Err(Touching { bodies, at_mm: self.touching[0].1 })
    }

    /// Looks at two triangles whose boxes meet.
    fn pair(&mut self, one: u32, other: u32) {
        let mesh = self.mesh;
        let names = [one, other].map(|t| mesh.triangles[t as usize]);
        let shared: Vec<u32> = names[0].iter().copied().filter(|p| names[1].contains(p)).collect();
        if shared.len() > 1 {
            return;
        }
        let [a, b] = [one, other].map(|t| mesh.corners(t));
        let sides = [a.map(|p| side(b, p)), b.map(|p| side(a, p))];
        let apart = |s: [i32; 3]| s.iter().all(|&s| s > 0) || s.iter().all(|&s| s < 0);
        if apart(sides[0]) || apart(sides[1]) {
            return;
        }
        let mut ends: Vec<End> = shared.iter().map(|&p| End::Corner(p)).collect();
        let mut touches = false;
        for (which, [owner, triangle]) in [[one, other], [other, one]].into_iter().enumerate() {
            for i in 0..3 {
                let j = (i + 1) % 3;
                let (from, to) = (names[which][i], names[which][j]);
                let (s, t) = (sides[which][i], sides[which][j]);
                if s * t > 0 || shared.contains(&from) || shared.contains(&to) {
                    continue;
                }
                if s == 0 && t == 0 {
                    touches |= self.lies_on([from, to], triangle);
                    continue;
                }
                match self.passes([from, to], triangle) {
                    Some(false) => {}
                    Some(true) if s * t < 0 => {
                        ends.push(End::Through { edge: [from, to], owner, triangle, runs_behind: s > 0 });
                    }
                    // An end in the plane, on the triangle; or a place on its rim.
                    _ => touches = true,
                }
            }
        }
        match ends[..] {
            _ if touches && shared.is_empty() => self.note_touching(one, other),
            [first, second] => self.meet(one, other, [first, second]),
            _ if ends.len() > shared.len() => self.note_touching(one, other),
            _ => {}
        }
    }

    fn note_touching(&mut self, one: u32, other: u32) {
        let mesh = self.mesh;
        let bodies = [one, other].map(|t| mesh.body_of[t as usize]);
        // Within a body a touch changes nothing of what is inside.
        if bodies[0] != bodies[1] {
            self.touching.push((bodies, mesh.corners_mm(one)[0]));
        }
    }

    /// Whether an edge in the plane of a triangle meets it.
    fn lies_on(&self, edge: [u32; 2], triangle: u32) -> bool {
        let corners = self.mesh.corners(triangle);
        let [a, b, c] = corners.map(|p| p.map(f64::from));
        let normal = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        let axis = (0..3).fold(0, |best, i| if normal[i].abs() > normal[best].abs() { i } else { best });
        let flat = |p: GridPoint| [p[(axis + 1) % 3], p[(axis + 2) % 3]].map(i64::from);
        let corners = corners.map(flat);
        let ends = edge.map(|p| flat(self.mesh.points[p as usize]));
        let turn = |p: [i64; 2], q: [i64; 2], r: [i64; 2]| {
            ((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])).signum()
        };
        // Two convex outlines are apart where a side of one has the other wholly beyond it.
        let beside = corners.map(|p| turn(ends[0], ends[1], p));
        let is_beside = beside == [1; 3] || beside == [-1; 3];
        let inward = turn(corners[0], corners[1], corners[2]);
        let is_beyond =
            (0..3).any(|i| ends.iter().all(|&p| turn(corners[i], corners[(i + 1) % 3], p) == -inward));
        !is_beside && !is_beyond
    }

    /// Whether the line through two points passes inside the triangle; `None` where it meets an edge.
    fn passes(&self, line: [u32; 2], through: u32) -> Option<bool> {
        let [p, q] = line.map(|point| self.mesh.points[point as usize]);
        let [a, b, c] = self.mesh.corners(through);
        let turns = [side([p, q, a], b), side([p, q, b], c), side([p, q, c], a)];
        if turns.contains(&1) && turns.contains(&-1) {
            return Some(false);
        }
        (!turns.contains(&0)).then_some(true)
    }

    fn meet(&mut self, one: u32, other: u32, ends: [End; 2]) {
        let starts = ends.map(|end| end.starts_line_of(one));
        let is_forward = match starts {
            [Some(a), Some(b)] if a == b => return self.note_touching(one, other),
            [Some(first), _] => first,
            [None, second] => second != Some(true),
        };
        let nodes = ends.map(|end| self.node_of(end));
        let ends = if is_forward { ends } else { [ends[1], ends[0]] };
        let nodes = if is_forward { nodes } else { [nodes[1], nodes[0]] };
        let number = self.net.meetings.len() as u32;
        self.met.insert(edge_key(one, other), number);
        for triangle in [one, other] {
            self.net.of_triangle.entry(triangle).or_default().push(number);
        }
        self.net.meetings.push(Meeting { triangles: [one, other], nodes: nodes.to_vec(), ends });
    }

    fn node_of(&mut self, end: End) -> u32 {
        let End::Through { edge: [from, to], triangle, .. } = end else {
            let End::Corner(point) = end else { return u32::MAX };
            return point;
        };
        let key = edge_key(from, to);
        if let Some(&node) = self.through.get(&(key, triangle)) {
            return node;
        }
        // From the lower point, whoever asks.
        let [low, high] = [from.min(to), from.max(to)].map(|p| self.mesh.points[p as usize]);
        let plane = self.mesh.corners(triangle);
        let (at_low, at_high) = (amount(plane, low) as f64, amount(plane, high) as f64);
        let along = at_low / (at_low - at_high);
        let node = self.net.nodes.len() as u32;
        let [low, high] = [low, high].map(|p| p.map(f64::from));
        self.net.nodes.push(vec3::add(low, vec3::scale(vec3::sub(high, low), along)));
        self.through.insert((key, triangle), node);
        self.along.insert(node, along);
        self.net.on_edge.entry(key).or_default().push(node);
        node
    }

    fn sort_edges(&mut self) {
        for nodes in self.net.on_edge.values_mut() {
            nodes.sort_by(|a, b| self.along[a].total_cmp(&self.along[b]).then(a.cmp(b)));
        }
    }

    /// Where the lines of two others in a triangle cross, all three meet in a point.
    fn cross_lines(&mut self) -> Result<(), Touching> {
        let mut crossed: Vec<[u32; 3]> = Vec::new();
        for number in 0..self.net.meetings.len() {
            let [one, other] = self.net.meetings[number].triangles;
            // Third triangles that meet both; each is found from all three lines.
            for &with_other in &self.net.of_triangle[&other] {
                let third = self.net.meetings[with_other as usize].beside(other);
                if third != one
                    && let Some(&with_one) = self.met.get(&edge_key(one, third))
                {
                    let mut lines = [number as u32, with_one, with_other];
                    lines.sort_unstable();
                    if lines[0] == number as u32 {
                        crossed.push(lines);
                    }
                }
            }
        }
        crossed.sort_unstable();
        crossed.dedup();
        let mut inner: QuickMap<u32, Vec<(f64, u32)>> = QuickMap::default();
        for lines in crossed {
            let Some(shares) = self.shares(lines)? else { continue };
            let node = self.net.nodes.len() as u32;
            let [first, last] = self.ends_at(lines[0]);
            self.net.nodes.push(vec3::add(first, vec3::scale(vec3::sub(last, first), shares[0])));
            for (line, share) in lines.into_iter().zip(shares) {
                inner.entry(line).or_default().push((share, node));
            }
        }
        for (line, meeting) in (0..).zip(&mut self.net.meetings) {
            let Some(nodes) = inner.get_mut(&line) else { continue };
            nodes.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let last = meeting.nodes.pop();
            meeting.nodes.extend(nodes.iter().map(|&(_, node)| node));
            meeting.nodes.extend(last);
        }
        Ok(())
    }

    fn ends_at(&self, line: u32) -> [[f64; 3]; 2] {
        let nodes = &self.net.meetings[line as usize].nodes;
        [nodes[0], nodes[nodes.len() - 1]].map(|node| self.net.nodes[node as usize])
    }

    /// How far along each of the three lines of three triangles they cross; `None` where they do not.
    fn shares(&self, lines: [u32; 3]) -> Result<Option<[f64; 3]>, Touching> {
        let mut triangles: Vec<u32> =
            lines.iter().flat_map(|&line| self.net.meetings[line as usize].triangles).collect();
        triangles.sort_unstable();
        triangles.dedup();
        let mut shares = [0.0; 3];
        for (share, line) in shares.iter_mut().zip(lines) {
            let meeting = &self.net.meetings[line as usize];
            let Some(&third) = triangles.iter().find(|t| !meeting.triangles.contains(t)) else {
                return Ok(None);
            };
            let [first, last] = meeting.ends.map(|end| self.end_side(end, third));
            let (first, last) = match (first, last) {
                (Some(first), Some(last)) => (first, last),
                _ => return Err(self.unclear(&triangles)),
            };
            if first.0 == last.0 {
                return Ok(None);
            }
            *share = first.1 / (first.1 - last.1);
        }
        Ok(Some(shares))
    }

    /// On which side of a third triangle's plane the end of a line lies: the exact sign and about how far.
    /// `None` where it lies in the plane.
    fn end_side(&self, end: End, third: u32) -> Option<(Ordering, f64)> {
        let plane = self.mesh.corners(third);
        let point = |p: u32| self.mesh.points[p as usize];
        let (sign, amount) = match end {
            End::Corner(corner) => {
                let amount = amount(plane, point(corner));
                (amount.cmp(&0), amount as f64)
            }
            End::Through { edge: [from, to], triangle, .. } => {
                let through = self.mesh.corners(triangle);
                let weights = [to, from].map(|p| amount(through, point(p)).abs());
                let sides = [from, to].map(|p| amount(plane, point(p)));
                let sign = match [sides[0].cmp(&0), sides[1].cmp(&0)] {
                    [one, Ordering::Equal] => one,
                    [Ordering::Equal, two] => two,
                    [one, two] if one == two => one,
                    [one, two] => {
                        match compare_products(sides[0].abs(), weights[0], sides[1].abs(), weights[1]) {
                            Ordering::Greater => one,
                            Ordering::Less => two,
                            Ordering::Equal => Ordering::Equal,
                        }
                    }
                };
                let sum = (weights[0] as f64) * (sides[0] as f64) + (weights[1] as f64) * (sides[1] as f64);
                (sign, sum / (weights[0] as f64 + weights[1] as f64))
            }
        };
        // Where rounding says another sign than the exact one the end all but lies in the plane.
        let is_as_rounded = amount.partial_cmp(&0.0) == Some(sign);
        (sign != Ordering::Equal).then_some((sign, if is_as_rounded { amount } else { 0.0 }))
    }

    fn unclear(&self, triangles: &[u32]) -> Touching {
        let bodies = triangles.iter().map(|&t| [self.mesh.body_of[t as usize]; 2]).collect();
        Touching { bodies, at_mm: self.mesh.corners_mm(triangles[0])[0] }
    }
}

impl Meeting {
    /// The triangle it meets.
    pub fn beside(&self, triangle: u32) -> u32 {
        if self.triangles[0] == triangle { self.triangles[1] } else { self.triangles[0] }
    }
}

impl End {
    /// Whether the line, run away from this end, has the part of `one` that lies before the other triangle on
    /// its left; a corner does not tell.
    ///
    /// Counter-clockwise round a triangle, where the rim passes from before the other to behind it, the line
    /// that begins there has the part before on its left. The other triangle's part before `one` has it
    /// on the left of the line run the other way.
    fn starts_line_of(self, one: u32) -> Option<bool> {
        match self {
            Self::Corner(_) => None,
            Self::Through { owner, runs_behind, .. } => Some((owner == one) == runs_behind),
        }
    }
}
