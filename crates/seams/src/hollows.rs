//! Planes that run along hollows of an item: grooves, the feet of ridges, panel lines.
//!
//! How: samples of the skin in a hollow, each with the way its hollow runs, are looked at in pairs of one
//! connected hollow: a sample's own way and the other sample span a plane. What lies in it and runs along
//! it is counted; the plane with most is kept, what lies in it is set aside, and so on.
//! Source: drawing few and counting what agrees: "Random sample consensus" (1981), doi:10.1145/358669.358692 (from
//! memory).
//! Not here: what a line costs (`field.rs`); which planes are cut (`beam.rs`, `improve.rs`).

use crate::draw::Draw;
use crate::patches::Sets;
use seamwright_mesh::{Plane, vec3};

/// A place in a hollow.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Where.
    pub at_mm: [f64; 3],
    /// Unit tangent along the hollow, either way.
    pub along: [f64; 3],
}

/// How far a place may lie off a plane to be in it: what a sample's middle is off by (ours).
const OFF_MM: f64 = 1.5;

/// The cosine its way may make with the plane's normal: 15 degrees (ours).
const ASLANT: f64 = 0.26;

/// Planes kept, pairs drawn for each, and places looked at (ours).
const MOST_PLANES: usize = 6;
const N_PAIRS: usize = 250;
const MOST_PLACES: usize = 4_000;

/// Shorter hollows are not worth a plane, mm (ours).
const LEAST_MM: f64 = 40.0;

/// The planes along most hollow, longest first. `joined` are pairs of neighbours; a place stands for about
/// `side_mm` of hollow.
pub fn planes(places: &[Place], joined: &[[u32; 2]], side_mm: f64) -> Vec<Plane> {
    let mut sets = Sets::new(places.len());
    joined.iter().for_each(|&[a, b]| sets.join(a, b));
    let root: Vec<u32> = (0..places.len() as u32).map(|place| sets.root(place)).collect();
    let step = places.len().div_ceil(MOST_PLACES).max(1);
    let mut left: Vec<usize> = (0..places.len()).step_by(step).collect();
    let mut draw = Draw::new(0, 0);
    let mut found = Vec::new();
    while found.len() < MOST_PLANES && left.len() > 2 {
        let mut best: (usize, Option<Plane>) = (0, None);
        for _ in 0..N_PAIRS {
            let (a, b) = (left[draw.below(left.len())], left[draw.below(left.len())]);
            if a == b || root[a] != root[b] {
                continue;
            }
            let (from, to) = (places[a], places[b]);
            let across = vec3::cross(from.along, vec3::sub(to.at_mm, from.at_mm));
            let Some(plane) = Plane::through(from.at_mm, across) else { continue };
            let n = left.iter().filter(|&&place| lies_in(&places[place], &plane)).count();
            if n > best.0 {
                best = (n, Some(plane));
            }
        }
        let (n, Some(plane)) = best else { break };
        // A hollow is some samples wide: two on either side of its bottom.
        if (n * step) as f64 * side_mm / 2.0 < LEAST_MM {
            break;
        }
        found.push(plane);
        left.retain(|&place| !lies_in(&places[place], &plane));
    }
    found
}

fn lies_in(place: &Place, plane: &Plane) -> bool {
    plane.distance_mm(place.at_mm).abs() <= OFF_MM && vec3::dot(place.along, plane.normal).abs() <= ASLANT
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places every 2 mm round a ring in a plane, those before the first joined to it.
    fn ring(normal: [f64; 3], middle: [f64; 3], radius_mm: f64) -> Vec<Place> {
        let (u, v) = vec3::frame_of(normal);
        let n = (std::f64::consts::TAU * radius_mm / 2.0) as usize;
        let place = |k: usize| {
            let turn_rad = std::f64::consts::TAU * k as f64 / n as f64;
            let (c, s) = (libm::cos(turn_rad), libm::sin(turn_rad));
            let out = vec3::add(vec3::scale(u, c), vec3::scale(v, s));
            let along = vec3::add(vec3::scale(u, -s), vec3::scale(v, c));
            Place { at_mm: vec3::add(middle, vec3::scale(out, radius_mm)), along }
        };
        (0..n).map(place).collect()
    }

    #[test]
    fn planes_of_two_slanted_rings_are_found_and_a_spiral_has_none_as_long() {
        let slanted = [[0.0, 0.6, 0.8], [0.36, 0.48, 0.8]];
        let mut places = Vec::new();
        let mut joined = Vec::new();
        for (k, normal) in slanted.into_iter().enumerate() {
            let first = places.len() as u32;
            places.extend(ring(normal, [0.0, 0.0, 90.0 * k as f64], 60.0 - 10.0 * k as f64));
            joined.extend((first + 1..places.len() as u32).map(|place| [place - 1, place]));
        }
        let found = planes(&places, &joined, 2.0);
        assert_eq!(found.len(), 2);
        for (plane, normal) in found.iter().zip(slanted) {
            let along = vec3::dot(plane.normal, normal).abs();
            assert!(along > 0.999, "{along}");
        }
        assert!(planes(&ring(slanted[0], [0.0; 3], 5.0), &[], 2.0).is_empty(), "too short");
    }
}
