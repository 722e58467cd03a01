//! A surface made anew round what bodies enclose together, where dividing their triangles does not come out.
//!
//! How: lines along the three axes on a lattice of cells; where each line enters and leaves the solid follows from
//! how often the surfaces wind round it. A cell whose corners lie on both sides gets a point, the mean of where its
//! edges pass the surface, and each edge that passes it a face between the four cells about it. The surface
//! closes because every such edge has four cells; what is thinner than a cell may be lost.
//! Source: "Naive surface nets", after "Constrained elastic surface nets" (1998), from memory.
//! Cost: memory and time by the area over the square of the cell, not by the volume.

use crate::assemble::{self, Slivers};
use crate::edges::QuickMap;
use crate::grid::{self, GridPoint};
use crate::solid::{NotSolid, SKIN, Solid};
use crate::vec3;

/// Finest cell: half a line of a usual nozzle (0.4 mm); nothing finer is printed.
pub(super) const FINEST_MM: f64 = 0.2;

/// About as many cells hold a point at most.
const MOST_CELLS: f64 = 500_000.0;

/// The cell for a surface of this area.
pub(super) fn cell_mm(solid: &Solid) -> f64 {
    (solid.area_mm2() / MOST_CELLS).sqrt().max(FINEST_MM)
}

/// A stretch of a line inside the solid: from one place to the next, in mm along its axis.
type Stretch = [f64; 2];

/// Where a line passes a triangle, and by how much the surfaces wind more from there on.
type Pass = (f64, i8);

/// Where lines along one axis are inside; by the two lattice numbers across it, lines that pass nothing left out.
struct Lines {
    axis: usize,
    /// Number of line by its lattice numbers.
    named: QuickMap<[i32; 2], u32>,
    stretches: Vec<([i32; 2], Vec<Stretch>)>,
}

/// The lattice: places `low + number * cell` on each axis.
struct Lattice {
    low_mm: [f64; 3],
    cell_mm: f64,
}

impl Lattice {
    fn place_mm(&self, axis: usize, number: i32) -> f64 {
        self.low_mm[axis] + f64::from(number) * self.cell_mm
    }

    /// The first number at or after a place.
    fn first(&self, axis: usize, at_mm: f64) -> i32 {
        ((at_mm - self.low_mm[axis]) / self.cell_mm).ceil() as i32
    }

    /// Where lines along an axis enter and leave.
    fn lines(&self, solid: &Solid, axis: usize) -> Lines {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let mut passed: QuickMap<[i32; 2], u32> = QuickMap::default();
        let mut found: Vec<([i32; 2], Vec<Pass>)> = Vec::new();
        for triangle in 0..solid.n_triangles() {
            let c = solid.corners_mm(triangle);
            let flat = |p: [f64; 3]| [p[u], p[v]];
            let turn = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
                (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
            };
            let twice = turn(flat(c[0]), flat(c[1]), flat(c[2]));
            if twice == 0.0 {
                continue;
            }
            let range = |axis: usize| {
                let low = c.iter().fold(f64::MAX, |low, p| low.min(p[axis]));
                let high = c.iter().fold(f64::MIN, |high, p| high.max(p[axis]));
                self.first(axis, low)..self.first(axis, high)
            };
            for i in range(u) {
                for j in range(v) {
                    let p = [self.place_mm(u, i), self.place_mm(v, j)];
                    let weights =
                        [(1, 2), (2, 0), (0, 1)].map(|(a, b)| turn(flat(c[a]), flat(c[b]), p) / twice);
                    if weights.iter().all(|&w| w >= 0.0) {
                        let at_mm = (0..3).map(|k| weights[k] * c[k][axis]).sum();
                        let line = *passed.entry([i, j]).or_insert_with(|| {
                            found.push(([i, j], Vec::new()));
                            found.len() as u32 - 1
                        });
                        found[line as usize].1.push((at_mm, if twice > 0.0 { -1 } else { 1 }));
                    }
                }
            }
        }
        let stretches = found.into_iter().map(|(at, passes)| (at, inside(passes))).collect();
        Lines { axis, named: passed, stretches }
    }
}

/// Stretches where the surfaces wind round the line more than nought times.
fn inside(mut passes: Vec<Pass>) -> Vec<Stretch> {
    passes.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let (mut depth, mut from_mm) = (0_i32, None);
    let mut stretches: Vec<Stretch> = Vec::new();
    for (at_mm, change) in passes {
        depth += i32::from(change);
        match (depth > 0, from_mm) {
            (true, None) => from_mm = Some(at_mm),
            (false, Some(from)) => {
                stretches.push([from, at_mm]);
                from_mm = None;
            }
            _ => {}
        }
    }
    stretches
}

impl Lines {
    fn is_inside(&self, line: [i32; 2], at_mm: f64) -> bool {
        let stretches = self.named.get(&line).map(|&name| &self.stretches[name as usize].1);
        stretches.is_some_and(|all| all.iter().any(|&[from, to]| from <= at_mm && at_mm < to))
    }

    /// Where the line passes the surface between two places; the middle where it does not.
    fn passing_mm(&self, line: [i32; 2], low_mm: f64, high_mm: f64) -> f64 {
        let ends = self.named.get(&line).map(|&name| &self.stretches[name as usize].1);
        let within = ends.into_iter().flatten().flatten().find(|&&at| low_mm <= at && at <= high_mm);
        within.copied().unwrap_or(f64::midpoint(low_mm, high_mm))
    }
}

/// Points of cells and faces between them, on the way.
struct Net {
    /// Sum and number of passings of each cell that has some.
    sums: Vec<([f64; 3], u32)>,
    named: QuickMap<[i32; 3], u32>,
    triangles: Vec<[u32; 3]>,
}

impl Net {
    fn name(&mut self, cell: [i32; 3], passing_mm: [f64; 3]) -> u32 {
        let sums = &mut self.sums;
        let name = *self.named.entry(cell).or_insert_with(|| {
            sums.push(([0.0; 3], 0));
            sums.len() as u32 - 1
        });
        let (sum, n) = &mut self.sums[name as usize];
        (*sum, *n) = (vec3::add(*sum, passing_mm), *n + 1);
        name
    }

    /// The face about an edge that runs up an axis from `low`.
    fn pass(&mut self, axis: usize, low: [i32; 3], passing_mm: [f64; 3], leaves: bool) {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let cells = [[-1, -1], [0, -1], [0, 0], [-1, 0]].map(|[i, j]| {
            let mut cell = low;
            cell[u] += i;
            cell[v] += j;
            cell
        });
        let mut face = cells.map(|cell| self.name(cell, passing_mm));
        if !leaves {
            face.reverse();
        }
        self.triangles.extend([[face[0], face[1], face[2]], [face[0], face[2], face[3]]]);
    }
}

/// The surface made anew with cells of `cell_mm`.
///
/// # Errors
/// [`NotSolid`]: nothing is left, or what is left does not close.
pub(super) fn rebuilt(solid: &Solid, cell_mm: f64) -> Result<Solid, NotSolid> {
    let (low, _) = solid.box_mm();
    // By an odd share of a cell, so that no line runs along a face.
    let lattice = Lattice { low_mm: low.map(|mm| mm - 1.381_966 * cell_mm), cell_mm };
    let [x, y, z] = [0, 1, 2].map(|axis| lattice.lines(solid, axis));
    let mut net = Net { sums: Vec::new(), named: QuickMap::default(), triangles: Vec::new() };
    // The lines along Z say which lattice places are inside; the others where edges across are passed.
    let mut order: Vec<usize> = (0..z.stretches.len()).collect();
    order.sort_by_key(|&line| z.stretches[line].0);
    for &([i, j], ref stretches) in order.iter().map(|&line| &z.stretches[line]) {
        let at = [lattice.place_mm(0, i), lattice.place_mm(1, j)];
        for &[from_mm, to_mm] in stretches {
            let (first, end) = (lattice.first(2, from_mm), lattice.first(2, to_mm));
            if first >= end {
                continue;
            }
            let mut pass = |number: i32, at_mm: f64, leaves: bool| {
                net.pass(2, [i, j, number - 1], [at[0], at[1], at_mm], leaves);
            };
            if !z.is_inside([i, j], lattice.place_mm(2, first - 1)) {
                pass(first, from_mm, false);
            }
            if !z.is_inside([i, j], lattice.place_mm(2, end)) {
                pass(end, to_mm, true);
            }
            for number in first..end {
                let here_mm = lattice.place_mm(2, number);
                for (lines, across, beside) in
                    [(&x, [j, number], [[i - 1, j], [i + 1, j]]), (&y, [number, i], [[i, j - 1], [i, j + 1]])]
                {
                    let axis = lines.axis;
                    for (neighbour, leaves) in beside.into_iter().zip([false, true]) {
                        if z.is_inside(neighbour, here_mm) {
                            continue;
                        }
                        let mut low = [i, j, number];
                        low[axis] -= i32::from(!leaves);
                        let (low_mm, high_mm) =
                            (lattice.place_mm(axis, low[axis]), lattice.place_mm(axis, low[axis] + 1));
                        let mut passing_mm = [at[0], at[1], here_mm];
                        passing_mm[axis] = lines.passing_mm(across, low_mm, high_mm);
                        net.pass(axis, low, passing_mm, leaves);
                    }
                }
            }
        }
    }
    let snapped = |(point_index, &(sum, n)): (usize, &([f64; 3], u32))| {
        let at_mm = vec3::scale(sum, 1.0 / f64::from(n));
        grid::snap(at_mm).ok_or(NotSolid::OutOfRange { point_index, at_mm })
    };
    let points = net.sums.iter().enumerate().map(snapped).collect::<Result<Vec<GridPoint>, _>>()?;
    let origin = vec![SKIN; net.triangles.len()];
    let specks = Slivers::Specks(cell_mm * cell_mm * cell_mm);
    assemble::assemble(&points, &net.triangles, &origin, specks).map(|(solid, _)| solid)
}
