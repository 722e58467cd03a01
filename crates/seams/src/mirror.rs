//! Planes in which an item mirrors itself.
//!
//! How: candidates are planes through the middle of its skin, across its own axes - where its moments differ one of
//! them it must be - and across an even spread. Some hundred places are mirrored in each; where most come to lie near
//! skin that faces alike, the plane is fitted to the places and those they came to, again and again. Nearly all must
//! lie on the skin in the end.
//! Places stand for about equal skin, so that a handle on one side spoils as much as it is large.
//! Source: nearest places found and tangent planes there fitted, by turns: "Object modelling by registration of multiple
//! range images" (1992), doi:10.1016/0262-8856(92)90066-C (from memory); shares and spread are ours.
//! Not here: how the search uses them (`halves.rs`, `offers.rs`).

use crate::draw::Draw;
use crate::frames::{self, Frame};
use nalgebra::{Matrix3, Vector3};
use seamwright_mesh::{Plane, vec3};

/// A place on the skin: where, and the unit vector it faces along.
pub type Place = ([f64; 3], [f64; 3]);

/// Places that are mirrored in each plane (ours).
const N_PLACES: usize = 400;

/// Directions across which planes are candidates, beside the axes (ours).
const N_SPREAD: usize = 100;

/// Of so many places some must find skin before all are asked (ours).
const N_FIRST: usize = 50;

/// As many places must come to lie on the skin, as a share, this near it, as a share of the size; fewer and less
/// near are worth a fit (ours, after common practice).
const SURE: [f64; 2] = [0.95, 0.01];
const MAYBE: [f64; 2] = [0.6, 0.03];

/// Cosine of the most that mirrored skin may face otherwise (ours).
const ALIKE: f64 = 0.8;

/// Times a plane is fitted (ours).
const N_FITS: usize = 6;

/// Mirror planes kept: a ball has no end of them (ours).
const MOST: usize = 3;

/// The planes, best first. Places lie `side_mm` apart; `nearest` gives the nearest place on skin that faces about so,
/// within some reach in mm.
pub fn planes(
    places: &[Place],
    own: Frame,
    side_mm: f64,
    nearest: &dyn Fn([f64; 3], [f64; 3], f64) -> Option<Place>,
) -> Vec<Plane> {
    if places.is_empty() {
        return Vec::new();
    }
    let sum = places.iter().fold([0.0; 3], |sum, (at, _)| vec3::add(sum, *at));
    let middle = vec3::scale(sum, 1.0 / places.len() as f64);
    let mut draw = Draw::new(0, 0);
    let places: Vec<Place> = (0..N_PLACES).map(|_| places[draw.below(places.len())]).collect();
    let far = |(at, _): &Place| vec3::length(vec3::sub(*at, middle));
    let size_mm = 2.0 * places.iter().map(far).fold(0.0, f64::max);
    let about = Mirrored { middle, places: &places, size_mm, side_mm, nearest };
    let mut normals: Vec<[f64; 3]> = frames::AXES.to_vec();
    normals.extend(own);
    normals.extend(frames::half_sphere(N_SPREAD));
    let mut found: Vec<(f64, Plane)> = Vec::new();
    let mut n_asked = 0;
    while let Some(&normal) = normals.get(n_asked).filter(|_| found.len() < MOST) {
        n_asked += 1;
        let through = Plane { normal, offset_mm: vec3::dot(normal, middle) };
        let Some((share, plane)) = about.fitted(through) else { continue };
        // Fits of the same plane end within a fraction of a degree of each other.
        if found.iter().all(|(_, known)| vec3::dot(known.normal, plane.normal).abs() < 0.99) {
            // What has two often has a third across both.
            normals.extend(
                found.iter().filter_map(|(_, known)| vec3::unit(vec3::cross(known.normal, plane.normal))),
            );
            found.push((share, plane));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, plane)| plane).collect()
}

/// A place seen in a plane.
pub fn reflected(at_mm: [f64; 3], plane: &Plane) -> [f64; 3] {
    vec3::sub(at_mm, vec3::scale(plane.normal, 2.0 * plane.distance_mm(at_mm)))
}

/// A direction seen in a plane.
fn reflected_way(way: [f64; 3], mirror: &Plane) -> [f64; 3] {
    vec3::sub(way, vec3::scale(mirror.normal, 2.0 * vec3::dot(way, mirror.normal)))
}

/// A plane seen in another.
pub fn reflected_plane(plane: &Plane, mirror: &Plane) -> Plane {
    let on_it = vec3::scale(plane.normal, plane.offset_mm);
    let normal = reflected_way(plane.normal, mirror);
    Plane { normal, offset_mm: vec3::dot(normal, reflected(on_it, mirror)) }
}

/// The box round a box seen in a plane.
pub(crate) fn reflected_box((low, high): ([f64; 3], [f64; 3]), mirror: &Plane) -> ([f64; 3], [f64; 3]) {
    let corner = |i: usize| std::array::from_fn(|k| if i >> k & 1 == 1 { high[k] } else { low[k] });
    let corners: [[f64; 3]; 8] = std::array::from_fn(|i| reflected(corner(i), mirror));
    let end = |of: fn(f64, f64) -> f64, from: f64| {
        std::array::from_fn(|k| corners.iter().map(|corner| corner[k]).fold(from, of))
    };
    (end(f64::min, f64::INFINITY), end(f64::max, f64::NEG_INFINITY))
}

/// A place and the place of the skin it is mirrored near to.
type Pair = ([f64; 3], Place);

struct Mirrored<'a> {
    middle: [f64; 3],
    places: &'a [Place],
    size_mm: f64,
    side_mm: f64,
    nearest: &'a dyn Fn([f64; 3], [f64; 3], f64) -> Option<Place>,
}

impl Mirrored<'_> {
    /// The plane fitted to what it mirrors, and the share of places it mirrors onto skin; `None` where these are few.
    fn fitted(&self, mut plane: Plane) -> Option<(f64, Plane)> {
        let [share, reach] = MAYBE;
        let first = &self.places[..N_FIRST.min(self.places.len())];
        if (self.pairs(first, &plane, self.reach_mm(reach)).len() as f64) < share * first.len() as f64 {
            return None;
        }
        for _ in 0..N_FITS {
            let pairs = self.pairs(self.places, &plane, self.reach_mm(reach));
            if (pairs.len() as f64) < share * self.places.len() as f64 {
                return None;
            }
            plane = fit(&plane, &pairs, self.middle)?;
        }
        let [share, reach] = SURE;
        let n = self.pairs(self.places, &plane, self.reach_mm(reach)).len() as f64 / self.places.len() as f64;
        (n >= share).then_some((n, plane))
    }

    /// Between places nothing is known.
    fn reach_mm(&self, share: f64) -> f64 {
        (share * self.size_mm).max(self.side_mm)
    }

    /// Places with the places of the skin they are mirrored onto.
    fn pairs(&self, places: &[Place], plane: &Plane, reach_mm: f64) -> Vec<Pair> {
        let pair = |&(at, facing): &Place| {
            let facing = reflected_way(facing, plane);
            let (there, faces) = (self.nearest)(reflected(at, plane), facing, reach_mm)?;
            (vec3::dot(faces, facing) >= ALIKE).then_some((at, (there, faces)))
        };
        places.iter().filter_map(pair).collect()
    }
}

/// The plane turned and moved so that what it mirrors comes to lie on the skin it came near: least squares of the
/// distances to that skin's tangent planes, to first order in two turns and a slide.
fn fit(plane: &Plane, pairs: &[Pair], middle: [f64; 3]) -> Option<Plane> {
    let (u, v) = vec3::frame_of(plane.normal);
    let (mut normal_matrix, mut right) = (Matrix3::<f64>::zeros(), Vector3::<f64>::zeros());
    for (at, (there, faces)) in pairs {
        let off_mm = vec3::dot(*faces, vec3::sub(reflected(*at, plane), *there));
        let (height_mm, straight) = (plane.distance_mm(*at), vec3::dot(*faces, plane.normal));
        let about = vec3::sub(*at, middle);
        let turn = |way| -2.0 * (height_mm * vec3::dot(*faces, way) + vec3::dot(about, way) * straight);
        let row = Vector3::new(turn(u), turn(v), 2.0 * straight);
        normal_matrix += row * row.transpose();
        right -= row * off_mm;
    }
    // A tiny share of its own size on the diagonal: about a ball any turn is as good.
    let damped = normal_matrix + Matrix3::identity() * (1e-6 * normal_matrix.trace());
    let step = damped.cholesky()?.solve(&right);
    let turned = vec3::add(plane.normal, vec3::add(vec3::scale(u, step.x), vec3::scale(v, step.y)));
    let normal = vec3::unit(turned)?;
    // Turned about the middle, then slid.
    let from_middle_mm = plane.offset_mm - vec3::dot(plane.normal, middle) + step.z;
    Some(Plane { normal, offset_mm: vec3::dot(normal, middle) + from_middle_mm })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::AXES;

    /// Places on a shape given by its distance from the middle along each direction, with a nearest of all.
    fn of(radius_mm: impl Fn([f64; 3]) -> f64, frame: Frame) -> Vec<Plane> {
        let ways = frames::half_sphere(4000).into_iter().flat_map(|way| [way, vec3::scale(way, -1.0)]);
        let place = |way: [f64; 3]| {
            // The normal of a distance from the middle leans against how it grows.
            let (u, v) = vec3::frame_of(way);
            let beside = |aside: [f64; 3]| radius_mm(vec3::unit(vec3::add(way, aside)).expect("not far"));
            let grows = |along: [f64; 3]| {
                (beside(vec3::scale(along, 1e-4)) - beside(vec3::scale(along, -1e-4)))
                    / (2e-4 * radius_mm(way))
            };
            let lean = vec3::add(vec3::scale(u, grows(u)), vec3::scale(v, grows(v)));
            let facing = vec3::unit(vec3::sub(way, lean)).expect("outward");
            let at = frames::within(frame, vec3::scale(way, radius_mm(way)));
            (vec3::add([10.0, -20.0, 30.0], at), frames::within(frame, facing))
        };
        let places: Vec<Place> = ways.map(place).collect();
        let nearest = |at: [f64; 3], facing: [f64; 3], reach_mm: f64| {
            let off_mm = |place: &Place| vec3::length(vec3::sub(place.0, at));
            let alike = places.iter().copied().filter(|place| vec3::dot(place.1, facing) > 0.3);
            alike.filter(|place| off_mm(place) <= reach_mm).min_by(|a, b| off_mm(a).total_cmp(&off_mm(b)))
        };
        planes(&places, AXES, 4.0, &nearest)
    }

    /// A frame that lies askew.
    fn askew() -> Frame {
        let (u, v) = vec3::frame_of(vec3::unit([0.3, -0.5, 0.8]).expect("a direction"));
        frames::turned([u, v, vec3::cross(u, v)], 0.7)
    }

    #[test]
    fn the_plane_of_a_shape_with_one_is_found_however_it_lies_and_a_crooked_one_has_none() {
        // Even in x alone: odd in y, and in z.
        let ears = |[x, y, z]: [f64; 3]| 100.0 + 40.0 * y * z * z + 35.0 * z * z * z + 40.0 * x * x * y;
        for frame in [AXES, askew()] {
            let found = of(ears, frame);
            assert_eq!(found.len(), 1);
            let along = vec3::dot(found[0].normal, frame[0]).abs();
            assert!(along > 0.9995, "{} degrees off", libm::acos(along.min(1.0)).to_degrees());
            assert!(found[0].distance_mm([10.0, -20.0, 30.0]).abs() < 0.5);
        }
        let crooked = |way: [f64; 3]| ears(way) + 120.0 * way[0] * way[1] * way[2];
        assert!(of(crooked, askew()).is_empty());
    }

    #[test]
    fn all_three_planes_of_an_egg_are_found_and_no_more_than_kept_of_a_ball() {
        let egg = |[x, y, z]: [f64; 3]| 100.0 - 25.0 * x * x + 20.0 * z * z - 3.0 * y * y;
        let found = of(egg, askew());
        assert_eq!(found.len(), 3);
        for axis in askew() {
            assert!(found.iter().any(|plane| vec3::dot(plane.normal, axis).abs() > 0.999), "{axis:?}");
        }
        assert_eq!(of(|_| 100.0, AXES).len(), MOST);
    }

    #[test]
    fn what_is_mirrored_twice_is_where_it_was() {
        let mirror = Plane { normal: askew()[0], offset_mm: 12.0 };
        let plane = Plane { normal: askew()[1], offset_mm: -7.0 };
        let turned = Plane { normal: vec3::unit([0.1, 0.9, 0.3]).expect("a direction"), offset_mm: 40.0 };
        for plane in [plane, turned] {
            let seen = reflected_plane(&plane, &mirror);
            let at = vec3::add(vec3::scale(plane.normal, plane.offset_mm), vec3::frame_of(plane.normal).0);
            assert!(seen.distance_mm(reflected(at, &mirror)).abs() < 1e-9);
            let back = reflected_plane(&seen, &mirror);
            assert!((back.offset_mm - plane.offset_mm).abs() < 1e-9);
            assert!(vec3::dot(back.normal, plane.normal) > 1.0 - 1e-12);
        }
    }
}
