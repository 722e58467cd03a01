//! Where the lines of a section meet other than at their ends.
//!
//! How: a sweep over the lowest x of each line; signs are exact on whole grid steps, the place of a
//! crossing is rounded to the grid. Splitting the lines there bends them by less than a step, which
//! may make them meet anew: ask again until nothing is left.
//! Cost: O(n log n + pairs whose boxes overlap).
//! Source: orientation tests and rounding of crossings as in "Practical segment intersection with
//! finite precision output" (1999; from memory).

/// A place where a line must be split.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Meeting {
    /// Index of the line.
    pub line: usize,
    /// The place, never an end of that line.
    pub place: [i32; 2],
}

/// All places where a line crosses another or runs through the end of another.
pub(crate) fn meetings(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Vec<Meeting> {
    let ends = |line: usize| [lines[line].0, lines[line].1].map(|i| points[i as usize]);
    let span = |line: usize, axis: usize| {
        let [p, q] = ends(line);
        (p[axis].min(q[axis]), p[axis].max(q[axis]))
    };
    let mut order: Vec<usize> = (0..lines.len()).collect();
    order.sort_by_key(|&line| (span(line, 0), line));
    let mut found = Vec::new();
    let mut active: Vec<usize> = Vec::new();
    for &line in &order {
        let (x, y) = (span(line, 0), span(line, 1));
        active.retain(|&other| span(other, 0).1 >= x.0);
        for &other in &active {
            let beside = span(other, 1);
            if beside.0 <= y.1 && y.0 <= beside.1 {
                meet(line, ends(line), other, ends(other), &mut found);
            }
        }
        active.push(line);
    }
    found
}

/// Positive where `r` lies left of the line from `p` to `q`.
fn turn(p: [i32; 2], q: [i32; 2], r: [i32; 2]) -> i64 {
    let [p, q, r] = [p, q, r].map(|point| point.map(i64::from));
    (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
}

fn meet(one: usize, [p, q]: [[i32; 2]; 2], two: usize, [r, s]: [[i32; 2]; 2], found: &mut Vec<Meeting>) {
    let (at_p, at_q, at_r, at_s) = (turn(r, s, p), turn(r, s, q), turn(p, q, r), turn(p, q, s));
    let between = |a: [i32; 2], b: [i32; 2], c: [i32; 2]| {
        c != a && c != b && (0..2).all(|i| a[i].min(b[i]) <= c[i] && c[i] <= a[i].max(b[i]))
    };
    let before = found.len();
    for (line, [a, b], place, side) in
        [(one, [p, q], r, at_r), (one, [p, q], s, at_s), (two, [r, s], p, at_p), (two, [r, s], q, at_q)]
    {
        if side == 0 && between(a, b, place) {
            found.push(Meeting { line, place });
        }
    }
    let apart = |a: i64, b: i64| a.signum() * b.signum() < 0;
    if found.len() > before || !apart(at_p, at_q) || !apart(at_r, at_s) {
        return;
    }
    let along = at_p as f64 / (at_p - at_q) as f64;
    let place: [i32; 2] = std::array::from_fn(|i| {
        (f64::from(p[i]) + along * (f64::from(q[i]) - f64::from(p[i]))).round_ties_even() as i32
    });
    if place != p && place != q {
        found.push(Meeting { line: one, place });
    }
    if place != r && place != s {
        found.push(Meeting { line: two, place });
    }
}
