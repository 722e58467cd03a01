//! The bend of surfaces against closed forms, however they are cut into triangles.
//!
//! Closed forms: principal curvatures of ball, cylinder, torus and of a graph `z = f(x, y)` at a flat
//! point; differential geometry, textbook.

use seamwright_mesh::curvature::{Curvature, SCALES_MM, Sample};
use seamwright_mesh::vec3;
use seamwright_tests::shapes::{self, Mesh, block, steps};
use std::f64::consts::{PI, TAU};

fn samples_of(mesh: &Mesh) -> Curvature {
    Curvature::new(&shapes::solid(mesh))
}

/// The root of the mean square, by area, of `error` over the samples that `kept` holds for.
fn error_of(curvature: &Curvature, kept: impl Fn(&Sample) -> bool, error: impl Fn(&Sample) -> f64) -> f64 {
    let (mut sum, mut area_mm2) = (0.0, 0.0);
    for sample in curvature.samples.iter().filter(|s| kept(s)) {
        sum += sample.area_mm2 * error(sample) * error(sample);
        area_mm2 += sample.area_mm2;
    }
    assert!(area_mm2 > 0.0);
    (sum / area_mm2).sqrt()
}

fn deg_between(a: [f64; 3], b: [f64; 3]) -> f64 {
    libm::atan2(vec3::length(vec3::cross(a, b)), vec3::dot(a, b).abs()).to_degrees()
}

/// A ball whose rows crowd towards one side, so that triangles are of very different sizes and shapes.
fn uneven_ball(radius: f64, n_rows: usize, n_around: usize) -> Mesh {
    let profile: Vec<[f64; 2]> = (0..=n_rows)
        .map(|i| {
            let share = i as f64 / n_rows as f64;
            let polar = PI * (0.25 * share + 0.75 * share * share);
            let r = if i == 0 || i == n_rows { 0.0 } else { radius * libm::sin(polar) };
            [r, -radius * libm::cos(polar)]
        })
        .collect();
    shapes::turned(&profile, n_around)
}

#[test]
fn a_ball_bends_by_one_over_its_radius_both_ways_however_it_is_meshed() {
    let radius = 50.0;
    // Coarse (440 triangles), usual, fine, and uneven; tolerances grow with the facets' angle.
    for (mesh, tolerance) in [
        (shapes::sphere(radius, 11), 0.03),
        (shapes::sphere(radius, 32), 0.01),
        (shapes::sphere(radius, 160), 0.015),
        (uneven_ball(radius, 60, 40), 0.015),
    ] {
        let n_triangles = mesh.1.len();
        let curvature = samples_of(&mesh);
        for (scale, scale_mm) in SCALES_MM.iter().enumerate() {
            let error = error_of(
                &curvature,
                |_| true,
                |s| {
                    let [k1, k2] = s.bends[scale].per_mm;
                    (k1 * radius - 1.0).abs().max((k2 * radius - 1.0).abs())
                },
            );
            assert!(error < tolerance, "{n_triangles} triangles, {scale_mm} mm: off by {error}");
        }
    }
}

#[test]
fn a_cylinder_bends_around_and_not_along_however_it_is_meshed() {
    let (radius, height) = (40.0, 160.0);
    for (n_around, n_up, tolerance, tolerance_deg) in
        [(24, 1, 0.01, 0.2), (24, 40, 0.01, 0.2), (180, 1, 0.01, 0.2), (180, 120, 0.03, 0.2)]
    {
        let mut profile = vec![[0.0, 0.0]];
        profile.extend((0..=n_up).map(|i| [radius, height * f64::from(i) / f64::from(n_up)]));
        profile.push([0.0, height]);
        let curvature = samples_of(&shapes::turned(&profile, n_around));
        // Away from the rims by more than the widest reach.
        let wall = |s: &Sample| s.normal[2].abs() < 0.1 && (30.0..130.0).contains(&s.place_mm[2]);
        for (scale, scale_mm) in SCALES_MM.iter().enumerate() {
            let error = error_of(&curvature, wall, |s| {
                let [k1, k2] = s.bends[scale].per_mm;
                (k1 * radius - 1.0).abs().max((k2 * radius).abs())
            });
            let turned = error_of(&curvature, wall, |s| {
                let around = vec3::cross([0.0, 0.0, 1.0], s.bends[scale].normal);
                deg_between(s.bends[scale].along, around)
            });
            assert!(error < tolerance, "{n_around} x {n_up}, {scale_mm} mm: off by {error}");
            assert!(turned < tolerance_deg, "{n_around} x {n_up}, {scale_mm} mm: {turned} degrees");
        }
    }
}

#[test]
fn a_torus_bends_round_its_tube_and_by_its_place_round_its_axis() {
    let (ring, tube) = (60.0, 15.0);
    for (n_around, n_tube, tolerance) in [(48, 24, 0.02), (160, 60, 0.03), (400, 150, 0.02)] {
        let curvature = samples_of(&shapes::torus(ring, tube, n_around, n_tube));
        // At 20 mm the tube of 15 mm is seen as a whole: only the smaller scales are closed forms.
        for scale in [0, 1] {
            let error = error_of(
                &curvature,
                |_| true,
                |s| {
                    let from_axis = libm::hypot(s.place_mm[0], s.place_mm[1]);
                    let cos = (from_axis - ring) / tube;
                    let around = cos.clamp(-1.0, 1.0) / (ring + tube * cos);
                    let [k1, k2] = s.bends[scale].per_mm;
                    tube * (k1 - 1.0 / tube).abs().max((k2 - around).abs())
                },
            );
            let turned = error_of(
                &curvature,
                |_| true,
                |s| {
                    let axis = vec3::unit([-s.place_mm[1], s.place_mm[0], 0.0]).expect("not on the axis");
                    deg_between(s.bends[scale].across(), axis)
                },
            );
            assert!(error < tolerance, "{n_around} x {n_tube}: off by {error}");
            assert!(turned < 1.0, "{n_around} x {n_tube}: {turned} degrees");
        }
    }
}

#[test]
fn a_saddle_bends_up_one_way_and_down_the_other_and_turns_with_its_mesh() {
    // z = 30 + (x^2/2) / 60 - (y^2/2) / 90 about the middle: inward along x, outward along y.
    let height = |x: f64, y: f64| {
        let (x, y) = (x - 50.0, y - 50.0);
        30.0 + x * x / 120.0 - y * y / 180.0
    };
    let uneven: Vec<f64> = (0..=60).map(|i| 100.0 * libm::pow(f64::from(i) / 60.0, 1.6)).collect();
    for (xs, ys) in [
        (steps(100.0, 24), steps(100.0, 24)),
        (steps(100.0, 120), steps(100.0, 30)),
        (uneven.clone(), steps(100.0, 90)),
    ] {
        let mesh = block(&xs, &ys, height);
        let turned = shapes::mapped(mesh.clone(), turn);
        for (mesh, turned) in [(mesh, false), (turned, true)] {
            let curvature = samples_of(&mesh);
            let [x_axis, y_axis, middle] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [50.0, 50.0, 30.0]]
                .map(|v| if turned { turn(v) } else { v });
            for scale in [0, 1] {
                let near = |s: &Sample| vec3::length(vec3::sub(s.place_mm, middle)) < 3.0;
                let error = error_of(&curvature, near, |s| {
                    let [k1, k2] = s.bends[scale].per_mm;
                    (60.0 * k1 + 1.0).abs().max((90.0 * k2 - 1.0).abs())
                });
                let slant = error_of(&curvature, near, |s| {
                    deg_between(s.bends[scale].along, x_axis)
                        .max(deg_between(s.bends[scale].across(), y_axis))
                });
                assert!(error < 0.03, "{} triangles, turned {turned}: off by {error}", mesh.1.len());
                assert!(slant < 3.0, "{} triangles, turned {turned}: {slant} degrees", mesh.1.len());
            }
        }
    }
}

/// About (1, 2, 3) by some angle, by the formula of Rodrigues.
fn turn(p: [f64; 3]) -> [f64; 3] {
    let axis = vec3::unit([1.0, 2.0, 3.0]).expect("it has a length");
    let (cos, sin) = (libm::cos(0.1 * TAU), libm::sin(0.1 * TAU));
    let along = vec3::scale(axis, vec3::dot(axis, p) * (1.0 - cos));
    vec3::add(vec3::add(vec3::scale(p, cos), vec3::scale(vec3::cross(axis, p), sin)), along)
}

#[test]
fn the_skins_of_a_thin_shell_are_not_mixed() {
    // Two balls of 60 and 58 mm: each skin bends as if the other were not there.
    let curvature = samples_of(&shapes::thick_shell(60.0, 58.0, 90));
    for scale in 0..SCALES_MM.len() {
        for (radius, sign) in [(60.0, 1.0), (58.0, -1.0)] {
            let skin = |s: &Sample| vec3::dot(s.normal, s.place_mm) * sign > 0.0;
            let error = error_of(&curvature, skin, |s| {
                let [k1, k2] = s.bends[scale].per_mm;
                (sign * k1 * radius - 1.0).abs().max((sign * k2 * radius - 1.0).abs())
            });
            // At the smallest scale the facets themselves, 2 mm wide, are felt.
            let tolerance = [0.05, 0.02, 0.02][scale];
            assert!(error < tolerance, "skin of {radius} mm, scale {scale}: off by {error}");
        }
    }
}
