//! A plate with a letter F in relief: the item on which a mirrored pose or file cannot hide.
//!
//! Built from square cells of two heights, so it is closed by construction and its volume is a sum:
//! `cells * CELL_MM^2 * PLATE_MM + letter cells * CELL_MM^2 * RELIEF_MM`.

use std::fmt::Write;

/// Side of one cell.
pub const CELL_MM: i64 = 26;
/// Thickness of the plate.
pub const PLATE_MM: i64 = 12;
/// How far the letter stands above it.
pub const RELIEF_MM: i64 = 9;

/// Rows from top to bottom; `#` is raised. The F is off centre, so no mirror plane maps it on itself.
const PICTURE: [&str; 10] = [
    "............",
    "..#######...",
    "..#######...",
    "..##........",
    "..#####.....",
    "..#####.....",
    "..##........",
    "..##........",
    "..##........",
    "............",
];

/// The plate as the text of an OBJ file in mm, and its exact volume in mm3.
pub fn plate() -> (String, i64) {
    let n_columns = PICTURE[0].len();
    let raised = |row: usize, column: usize| PICTURE[row].as_bytes()[column] == b'#';
    let mut points: Vec<[i64; 3]> = Vec::new();
    let mut faces: Vec<[usize; 4]> = Vec::new();
    let mut quad = |corners: [[i64; 3]; 4]| {
        faces.push(corners.map(|corner| match points.iter().position(|&p| p == corner) {
            Some(index) => index + 1,
            None => {
                points.push(corner);
                points.len()
            }
        }));
    };
    let mut n_raised = 0;
    for row in 0..PICTURE.len() {
        for column in 0..n_columns {
            let (x0, x1) = (as_mm(column), as_mm(column + 1));
            let (y0, y1) = (as_mm(PICTURE.len() - 1 - row), as_mm(PICTURE.len() - row));
            let up = raised(row, column);
            n_raised += i64::from(up);
            let top = if up { PLATE_MM + RELIEF_MM } else { PLATE_MM };
            quad([[x0, y0, top], [x1, y0, top], [x1, y1, top], [x0, y1, top]]);
            quad([[x0, y0, 0], [x0, y1, 0], [x1, y1, 0], [x1, y0, 0]]);
            // Each side: a wall of the plate at its rim, a wall of the letter where it ends.
            let sides = [
                (0, -1, [x1, y1], [x0, y1]),
                (0, 1, [x0, y0], [x1, y0]),
                (-1, 0, [x0, y1], [x0, y0]),
                (1, 0, [x1, y0], [x1, y1]),
            ];
            for (across, down, a, b) in sides {
                let neighbour = column.checked_add_signed(across).zip(row.checked_add_signed(down));
                let inside = neighbour.filter(|&(c, r)| c < n_columns && r < PICTURE.len());
                if inside.is_none() {
                    quad(wall(a, b, 0, PLATE_MM));
                }
                if up && inside.is_none_or(|(c, r)| !raised(r, c)) {
                    quad(wall(a, b, PLATE_MM, PLATE_MM + RELIEF_MM));
                }
            }
        }
    }
    let mut text = String::from("# a plate with a letter F in relief, mm\n");
    for [x, y, z] in &points {
        let _ = writeln!(text, "v {x} {y} {z}"); // writing to a String cannot fail
    }
    for [a, b, c, d] in &faces {
        let _ = writeln!(text, "f {a} {b} {c} {d}");
    }
    let n_cells = (PICTURE.len() * n_columns) as i64;
    (text, CELL_MM * CELL_MM * (n_cells * PLATE_MM + n_raised * RELIEF_MM))
}

fn as_mm(cells: usize) -> i64 {
    cells as i64 * CELL_MM
}

fn wall(a: [i64; 2], b: [i64; 2], low: i64, high: i64) -> [[i64; 3]; 4] {
    [[a[0], a[1], low], [b[0], b[1], low], [b[0], b[1], high], [a[0], a[1], high]]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn the_plate_is_closed_and_encloses_the_volume_of_its_cells() {
        let (text, volume_mm3) = plate();
        let numbers = |line: &str| line[2..].split(' ').map(|n| n.parse().unwrap()).collect::<Vec<i64>>();
        let points: Vec<_> = text.lines().filter(|l| l.starts_with("v ")).map(numbers).collect();
        let mut edges = BTreeMap::<(i64, i64), i64>::new();
        let mut six_volumes = 0;
        for face in text.lines().filter(|l| l.starts_with("f ")).map(numbers) {
            for i in 0..4 {
                *edges.entry((face[i], face[(i + 1) % 4])).or_default() += 1;
            }
            for (b, c) in [(1, 2), (2, 3)] {
                let [a, b, c] = [face[0], face[b], face[c]].map(|i| &points[i as usize - 1]);
                six_volumes += a[0] * (b[1] * c[2] - b[2] * c[1])
                    + a[1] * (b[2] * c[0] - b[0] * c[2])
                    + a[2] * (b[0] * c[1] - b[1] * c[0]);
            }
        }
        assert!(edges.iter().all(|(&(a, b), &n)| n == 1 && edges.get(&(b, a)) == Some(&1)));
        assert_eq!(six_volumes, 6 * volume_mm3);
    }
}
