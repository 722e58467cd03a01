//! Items that mirror themselves and such that do not: letters of cubes, whose mirror planes are known by looking,
//! as they stand and turned askew.

use seamwright_mesh::{Plane, vec3};
use seamwright_seams::frames::{self, Frame};
use seamwright_seams::ground::{Ground, Wish};
use seamwright_tests::plans::bed;
use seamwright_tests::shapes::{Mesh, cells, mapped, solid};

const T: [&str; 3] = ["###", ".#.", ".#."];
const L: [&str; 3] = ["#..", "#..", "###"];
const F: [&str; 5] = ["###", "#..", "##.", "#..", "#.."];
const PLATE: [&str; 5] = ["###", "###", "###", "###", "###"];

/// Cubes of 30 mm, but thinner one way: no letter is as thick as it is wide.
const CUBE_MM: [f64; 3] = [30.0, 30.0, 20.0];

fn mirrors(mesh: &Mesh) -> Vec<Plane> {
    let wish = Wish { beds: vec![bed("180x180x180", 5.0)], ..Wish::default() };
    Ground::new(&solid(mesh), &wish).mirrors().to_vec()
}

/// A frame that lies askew.
fn askew() -> Frame {
    let (u, v) = vec3::frame_of(vec3::unit([0.48, -0.6, 0.64]).expect("a direction"));
    frames::turned([u, v, vec3::cross(u, v)], 0.4)
}

fn turned(mesh: Mesh) -> Mesh {
    mapped(mesh, |p| vec3::add([70.0, -30.0, 20.0], frames::within(askew(), p)))
}

/// Asserts that the planes of a letter are those of these axes through these places, however it lies.
fn assert_planes(letter: &[&[&str]], due: &[([f64; 3], f64)]) {
    let mesh = cells(letter, CUBE_MM);
    for (mesh, frame, moved) in
        [(mesh.clone(), frames::AXES, [0.0; 3]), (turned(mesh), askew(), [70.0, -30.0, 20.0])]
    {
        let found = mirrors(&mesh);
        assert_eq!(found.len(), due.len(), "{letter:?}: {found:?}");
        for &(axis, at_mm) in due {
            let normal = frames::within(frame, axis);
            let on_it = vec3::add(moved, vec3::scale(normal, at_mm));
            let is_it = |plane: &&Plane| vec3::dot(plane.normal, normal).abs() > 0.9999;
            let plane =
                found.iter().find(is_it).unwrap_or_else(|| panic!("{letter:?}: none across {normal:?}"));
            assert!(plane.distance_mm(on_it).abs() < 0.3, "{letter:?}: {} mm off", plane.distance_mm(on_it));
        }
    }
}

#[test]
fn letters_mirror_themselves_where_one_sees_it() {
    let half_thick = 0.5 * CUBE_MM[2];
    // A T left and right, and front and back, as any flat letter.
    assert_planes(&[&T], &[([1.0, 0.0, 0.0], 45.0), ([0.0, 0.0, 1.0], half_thick)]);
    // An F front and back alone.
    assert_planes(&[&F], &[([0.0, 0.0, 1.0], half_thick)]);
    // An F in relief on a plate in no way.
    assert_planes(&[&PLATE, &F], &[]);
    // An L of equal arms across its corner, in which no axis lies.
    let slant = 0.5_f64.sqrt();
    assert_planes(&[&L], &[([slant, -slant, 0.0], 0.0), ([0.0, 0.0, 1.0], half_thick)]);
}
