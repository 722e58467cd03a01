//! What lines cost on balls, blocks, grooves and ridges.

use super::line::THIN;
use super::*;
use crate::bound::tests::cuboid;
use crate::part::Line;
use crate::proxy::tests::hollow_ball;
use seamwright_mesh::section::chords;

fn level(offset_mm: f64) -> Plane {
    Plane { normal: [0.0, 0.0, 1.0], offset_mm }
}

fn of(item: &Solid) -> (Field, Solid) {
    let item = item.with_numbered_skin();
    (Field::new(&item, &item, &InnerRule::BySize, &[]), item)
}

/// A block 120 mm long and 60 wide whose top, at 40 mm, has along it a groove with sides of 45 degrees,
/// 8 mm deep, or a ridge as high.
pub(crate) fn grooved(height_mm: f64) -> Solid {
    let outline = [
        [0.0, 0.0],
        [60.0, 0.0],
        [60.0, 40.0],
        [38.0, 40.0],
        [30.0, 40.0 + height_mm],
        [22.0, 40.0],
        [0.0, 40.0],
    ];
    let n = outline.len() as u32;
    let ends = [0.0, 120.0];
    let points: Vec<[f64; 3]> = ends.iter().flat_map(|&y| outline.map(|[x, z]| [x, y, z])).collect();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    for [a, b, c] in [[0, 1, 3], [1, 2, 3], [0, 3, 4], [0, 4, 5], [0, 5, 6]] {
        triangles.extend([[a, b, c], [a + n, c + n, b + n]]);
    }
    for i in 0..n {
        let j = (i + 1) % n;
        triangles.extend([[i, j + n, j], [i, i + n, j + n]]);
    }
    Solid::from_triangles(&points, &triangles).expect("a block is closed").0
}

#[test]
fn a_line_on_a_smooth_ball_costs_its_length_and_inside_it_a_sixth() {
    let (field, ball) = of(&hollow_ball(60));
    for offset_mm in [0.0, 35.0, -60.0] {
        let ring = |radius_mm: f64| {
            std::f64::consts::TAU * libm::sqrt(radius_mm * radius_mm - offset_mm * offset_mm)
        };
        let Line { section_mm: line_mm, cost_mm, .. } = field.line_mm(&ball, &level(offset_mm));
        assert!((line_mm / (ring(110.0) + ring(106.0)) - 1.0).abs() < 0.01, "{line_mm} mm");
        let asked_mm = ring(110.0) + HIDDEN * ring(106.0);
        assert!((cost_mm / asked_mm - 1.0).abs() < 0.03, "{cost_mm} mm for {asked_mm}");
        // A ball has no corners to be measured.
        let measured_mm = field.measured_mm(&ball, &level(offset_mm), &|_| true).cost_mm;
        assert!((measured_mm / asked_mm - 1.0).abs() < 0.03, "{measured_mm} mm for {asked_mm}");
    }
}

#[test]
fn a_measured_line_costs_three_centimetres_at_each_corner_it_turns() {
    let (field, block) = of(&cuboid([100.0, 80.0, 60.0]));
    let square = level(30.0);
    let line = field.measured_mm(&block, &square, &|_| true);
    assert!((line.section_mm - 360.0).abs() < 1e-6);
    // Chords end beside corners: what is through detail is 3 mm at most and not much less.
    let corner_mm = (line.cost_mm - line.section_mm) / 4.0;
    assert!((25.0..45.0).contains(&corner_mm), "{corner_mm} mm for one of 90 degrees");
    let foreseen = field.line_mm(&block, &square).cost_mm;
    assert!((line.cost_mm / foreseen - 1.0).abs() < 0.25, "{} mm, foreseen {foreseen}", line.cost_mm);
}

#[test]
fn a_line_along_a_groove_is_measured_to_cost_less_than_beside_it() {
    let (field, block) = of(&grooved(-8.0));
    let cost_mm = |offset_mm: f64| {
        let plane = Plane { normal: [1.0, 0.0, 0.0], offset_mm };
        field.measured_mm(&block, &plane, &|_| true).cost_mm
    };
    assert!(cost_mm(30.0) < cost_mm(15.0) - 30.0, "{} and {} mm", cost_mm(30.0), cost_mm(15.0));
}

#[test]
fn each_edge_a_line_crosses_costs_some_centimetres() {
    let (field, block) = of(&cuboid([100.0, 80.0, 60.0]));
    let Line { section_mm: line_mm, cost_mm, .. } = field.line_mm(&block, &level(30.0));
    assert!((line_mm - 360.0).abs() < 1e-6);
    let corner_mm = (cost_mm - line_mm) / 4.0;
    assert!((15.0..35.0).contains(&corner_mm), "{corner_mm} mm for one of 90 degrees");
    let corner = Plane { normal: [0.0, 0.6, 0.8], offset_mm: 0.6 * 40.0 + 0.8 * 30.0 };
    let Line { section_mm: line_mm, cost_mm, .. } = field.line_mm(&block, &corner);
    let per_corner_mm = (cost_mm - line_mm) / 4.0;
    assert!((15.0..35.0).contains(&per_corner_mm), "{per_corner_mm} mm at a slant");
}

#[test]
fn along_a_hollow_is_cheap_along_a_ridge_plain_and_across_either_dear() {
    let top_cost_mm = |height_mm: f64, plane: &Plane| {
        let (field, block) = of(&grooved(height_mm));
        let line = field.line_mm(&block, plane);
        (line.section_mm, line.cost_mm)
    };
    let along = Plane { normal: [1.0, 0.0, 0.0], offset_mm: 30.0 };
    let across = Plane { normal: [0.0, 1.0, 0.0], offset_mm: 60.0 };
    let flat = [&along, &across].map(|plane| top_cost_mm(0.0, plane));
    for (height_mm, saves_mm) in [(-8.0, 60.0), (8.0, -10.0)] {
        let [(along_mm, along_cost_mm), (across_mm, across_cost_mm)] =
            [&along, &across].map(|plane| top_cost_mm(height_mm, plane));
        // What the line costs beyond its length, against the same block without a groove.
        let saved = (flat[0].1 - flat[0].0) - (along_cost_mm - along_mm);
        assert!(saved > saves_mm, "{saved} mm saved along a line of {height_mm} mm");
        let added = (across_cost_mm - across_mm) - (flat[1].1 - flat[1].0);
        assert!(added > 15.0, "{added} mm added across a line of {height_mm} mm");
    }
}

#[test]
fn a_plane_that_leaves_a_thin_edge_costs_more_than_one_square_to_the_skin() {
    let (field, block) = of(&cuboid([100.0, 80.0, 60.0]));
    let beside = |slope_deg: f64| {
        // Across the length, leaning: the edge at the top and at the bottom is what is left of 90 degrees.
        let (sin, cos) = libm::sincos(slope_deg.to_radians());
        let plane = Plane { normal: [cos, 0.0, sin], offset_mm: 50.0 * cos + 30.0 * sin };
        let line = field.line_mm(&block, &plane);
        line.cost_mm - line.section_mm
    };
    let square_mm = beside(0.0);
    assert!((beside(30.0) / square_mm - 1.0).abs() < 0.3, "edges of 60 degrees are sound");
    // Lines of 80 mm at the top and the bottom, 15 degrees from flush.
    let block = cuboid([400.0, 80.0, 60.0]);
    let (field, block) = of(&block);
    let (sin, cos) = libm::sincos(75.0_f64.to_radians());
    let plane = Plane { normal: [cos, 0.0, sin], offset_mm: 200.0 * cos + 30.0 * sin };
    let line = field.line_mm(&block, &plane);
    let thin_mm = line.cost_mm - line.section_mm - square_mm;
    assert!((thin_mm / (THIN * 160.0) - 1.0).abs() < 0.2, "{thin_mm} mm for thin edges");
}

#[test]
fn what_triangles_cost_is_what_the_line_costs() {
    let (field, block) = of(&grooved(8.0));
    let faces = field.faces(&block);
    for offset_mm in [10.0, 25.0, 33.0] {
        let cost_mm = field.line_mm(&block, &level(offset_mm)).cost_mm;
        let mut sum_mm = 0.0;
        chords(&block, &level(offset_mm), |triangle, [from, to]| {
            let along = vec3::sub(to, from);
            let tangent = vec3::unit(along).unwrap_or([1.0, 0.0, 0.0]);
            sum_mm += vec3::length(along) * field.on_part(&faces, &block, triangle, tangent, [0.0, 0.0, 1.0]);
        });
        // Few triangles: what is at a corner is spread over both sides of it.
        assert!((sum_mm / cost_mm - 1.0).abs() < 0.25, "{sum_mm} mm for {cost_mm}");
    }
}
