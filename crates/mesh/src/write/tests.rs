//! What is written reads back the same: points, triangles, names, places, volume.

use super::{JobObject, ply_bytes, stl_bytes, stl_triangles, threemf_bytes};
use crate::placement::Placement;
use crate::read::{ReadOptions, read_model, read_model_with};
use crate::solid::Solid;

/// A box from `low` to `high`, outward: points and triangles.
pub fn block_mesh(low: [f64; 3], high: [f64; 3]) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let corner = |i: usize| [0, 1, 2].map(|axis| if i >> axis & 1 == 1 { high[axis] } else { low[axis] });
    let triangles = vec![
        [0, 2, 1],
        [1, 2, 3],
        [4, 5, 6],
        [5, 7, 6],
        [0, 1, 4],
        [1, 5, 4],
        [2, 6, 3],
        [3, 6, 7],
        [0, 4, 2],
        [2, 4, 6],
        [1, 3, 5],
        [3, 7, 5],
    ];
    ((0..8).map(corner).collect(), triangles)
}

/// A letter F, 30 x 50 x 8 mm: no mirror image of it turns into itself.
pub fn letter_f() -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let outline = [
        [0., 0.],
        [8., 0.],
        [8., 20.],
        [22., 20.],
        [22., 28.],
        [8., 28.],
        [8., 42.],
        [30., 42.],
        [30., 50.],
        [0., 50.],
    ];
    let n = outline.len() as u32;
    let points: Vec<[f64; 3]> =
        [0.0, 8.0].iter().flat_map(|&z| outline.iter().map(move |&[x, y]: &[f64; 2]| [x, y, z])).collect();
    // The top face as convex pieces of corners on the outline.
    let top = [[0u32, 1, 2], [0, 2, 5], [2, 3, 4], [2, 4, 5], [0, 5, 6], [0, 6, 9], [6, 7, 8], [6, 8, 9]];
    let mut triangles: Vec<[u32; 3]> = top.iter().map(|t| t.map(|i| i + n)).collect();
    triangles.extend(top.iter().map(|t| [t[0], t[2], t[1]]));
    for i in 0..n {
        let next = (i + 1) % n;
        triangles.extend([[i, next, next + n], [i, next + n, i + n]]);
    }
    (points, triangles)
}

fn solid() -> Solid {
    let (points, triangles) = letter_f();
    Solid::from_triangles(&points, &triangles).unwrap().0
}

#[test]
fn an_stl_holds_the_very_points_of_the_solid() {
    let solid = solid();
    let bytes = stl_bytes(&solid);
    assert!(!bytes.starts_with(b"solid"));
    let facets = stl_triangles(&bytes).unwrap();
    for (index, facet) in facets.iter().enumerate() {
        assert_eq!(facet.map(|p| p.map(f64::from)), solid.corners_mm(index));
    }
    let model = read_model(&bytes, "f.stl").unwrap();
    let (again, _) = Solid::from_triangles(&model.parts[0].points, &model.parts[0].triangles).unwrap();
    assert_eq!(again.volume_mm3(), solid.volume_mm3());
}

#[test]
fn a_ply_reads_back_the_same() {
    let (points, triangles) = letter_f();
    let model = read_model(&ply_bytes(&points, &triangles), "f").unwrap();
    assert_eq!((&model.parts[0].points, &model.parts[0].triangles), (&points, &triangles));
}

#[test]
fn a_print_job_puts_every_point_where_its_pose_puts_it() {
    let (points, triangles) = letter_f();
    // A turn by 30 degrees about Z, tipped on its back, off the grid.
    let (c, s) = (0.75f64.sqrt(), 0.5);
    let turned =
        Placement::from_rows([[c, 0.0, s], [s, 0.0, -c], [0.0, 1.0, 0.0]], [101.123456789, 77.7, 0.0]);
    assert!(turned.is_rigid(1e-12));
    let job = [
        JobObject {
            name: "F & \"relief\" <1>",
            part_number: "f-1",
            points_mm: &points,
            triangles: &triangles,
            placement: turned,
        },
        JobObject {
            name: "F two",
            part_number: "f-2",
            points_mm: &points,
            triangles: &triangles,
            placement: Placement::IDENTITY,
        },
    ];
    let bytes = threemf_bytes(&job);
    assert_eq!(bytes, threemf_bytes(&job), "the bytes depend on the input alone");
    let model = read_model_with(&bytes, "job", ReadOptions { strict: true }).unwrap();
    assert_eq!(model.notices, []);
    assert_eq!(model.parts[0].name, "F & \"relief\" <1>");
    for (part, object) in model.parts.iter().zip(&job) {
        assert_eq!(part.triangles, triangles);
        for (found, &point) in part.points.iter().zip(&points) {
            let expected = object.placement.apply(point);
            for axis in 0..3 {
                assert!((found[axis] - expected[axis]).abs() < 1e-5, "{found:?} for {expected:?}");
            }
        }
    }
}

#[test]
fn coordinates_snap_back_to_the_grid_points_they_came_from() {
    let mut points = Vec::new();
    for i in 0..3000i32 {
        let steps = [i * 7919 - 11_000_000, 16_777_216 - i, -i];
        points.push(crate::grid::to_mm(steps));
    }
    let triangles: Vec<[u32; 3]> = (0..1000).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    let job = [JobObject {
        name: "",
        part_number: "",
        points_mm: &points,
        triangles: &triangles,
        placement: Placement::IDENTITY,
    }];
    let model = read_model(&threemf_bytes(&job), "job").unwrap();
    for (found, expected) in model.parts[0].points.iter().zip(&points) {
        assert_eq!(crate::grid::snap(*found), crate::grid::snap(*expected));
    }
}
