//! What a mm of seam line costs wherever it may run: little where nobody looks, much over detail.
//!
//! How: about each sample of the item's surface (`mesh::curvature`, over 3 mm) the strength of relief is the bend along
//! a line, kept as a tensor, less what is too gentle to matter; hollows take from it along their length. (Less what
//! the form bends over 8 mm too, costs agree no worse with measured minutes, but plans had more pieces and crossed
//! more detail: the form's own edges are worth keeping off.) So a line along
//! an edge or in a hollow is cheap and one across is dear; sharp edges, between neighbouring samples, cost
//! alike whatever their angle, as they do when a line over them is filed and sanded. A plane nearly flush with the
//! skin leaves a thin edge, which costs on either side. What is seen comes from a
//! coarse mesh of the item: the hidden side of walls (`patches.rs`), and elsewhere how much of the open can look
//! at it.
//! Costs are in mm of plain line: one that shows, on a smooth place in the open, costs its length.
//! Two ways to ask: a [`PerMm`] a triangle for sweeps ([`Field::faces`]), and the line of a section followed in
//! steps of some mm ([`Field::line_mm`]), which knows a hollow from the skin 3 mm beside it. On the item itself its
//! corners are measured instead of foreseen ([`Field::measured_mm`]).
//! Weights are ours: no source gives any. What came out is judged by lines alone (`lines.rs`), not by this.
//! Source: bend along the line as what spoils a seam, hollows as where borders are expected: "Mesh
//! scissoring with minima rule and part salience" (2005), doi:10.1016/j.cagd.2005.04.002 (from memory).

mod line;
pub mod per_mm;

use crate::frames;
use crate::hollows::{self, Place};
use crate::marks::Dab;
use crate::mirror;
use crate::patches::{InnerRule, SkinMap, middle};
use line::feather;
use per_mm::{HIDDEN, PerMm, depth};
use seamwright_mesh::curvature::Curvature;
use seamwright_mesh::curvature::buckets::Buckets;
use seamwright_mesh::solid::{face_of, is_cut};
use seamwright_mesh::{Plane, Solid, vec3};

/// A line that shows but can be looked at from nowhere in the open.
const LEAST_SEEN: f64 = 0.5;

/// What a line across a sharp edge costs beside its length, as often again, over the two samples on either side:
/// some 3 cm an edge.
const SHARP: f64 = 5.0;

/// Turns between neighbouring samples, 2 or 3 mm apart, at which an edge begins to be sharp and is.
const SHARP_DEG: [f64; 2] = [15.0, 35.0];

/// Samples are neighbours as far apart as this many sides of the cubes they stand for, unless one's normal is
/// turned from the other's by more than this cosine says.
const NEIGHBOURS: f64 = 1.3;
const OTHER_SKIN: f64 = -0.3;

/// Depth from which on a place belongs to a hollow that a plane may follow.
const DEEP: f64 = 0.5;

/// Rays that look for the open from a place, and how far it begins.
const N_RAYS: usize = 24;
const OPEN_MM: f64 = 400.0;

/// A line through an area chalked off, as often again, and through one chalked in beside a plain one: a way
/// round is nearly always shorter.
const CHALKED_OFF: f64 = 50.0;
const CHALKED_IN: f64 = 0.3;

/// A line is asked this far apart, and triangles are.
const ASK_MM: f64 = 2.5;

/// Samples are looked for as far as this: first near, then where a coarse mesh lies off the item.
const NEAR_MM: [f64; 2] = [3.0, 9.0];

/// The cosine of what the normal of a sample may differ: skins of a wall look opposite ways.
const SAME_SKIN: f64 = 0.3;

/// The samples of an item with what a mm of line costs at each.
pub struct Field {
    spots: Vec<Spot>,
    buckets: Buckets,
    hollows: Vec<Plane>,
    mirrors: Vec<Plane>,
    /// Whether a sample is chalked off; none where nothing is chalked.
    is_off: Vec<bool>,
}

#[derive(Clone, Copy)]
struct Spot {
    place_mm: [f64; 3],
    normal: [f64; 3],
    per_mm: PerMm,
    /// What bends add where corners are measured rather than foreseen.
    smooth: [f64; 6],
    shows: bool,
}

impl Field {
    /// The field of an item; what is hidden is found on `coarse`, the item itself or its stand-in.
    pub fn new(item: &Solid, coarse: &Solid, rule: &InnerRule, chalk: &[Dab]) -> Self {
        let curvature = Curvature::finest(item);
        let spot = |sample: &seamwright_mesh::curvature::Sample| {
            let per_mm = PerMm::of(&sample.bends[0]);
            let (place_mm, normal) = (sample.place_mm, sample.normal);
            Spot { place_mm, normal, per_mm, smooth: per_mm.bend, shows: true }
        };
        let spots: Vec<Spot> = curvature.samples.iter().map(spot).collect();
        let buckets = Buckets::new(spots.iter().map(|spot| spot.place_mm), NEAR_MM[0]);
        let mut field = Self { spots, buckets, hollows: Vec::new(), mirrors: Vec::new(), is_off: Vec::new() };
        field.see(coarse, rule, &curvature.joined);
        field.sharpen(&curvature);
        field.hollows = field.planes(&curvature);
        field.mirrors = field.mirror_planes(coarse, curvature.side_mm);
        field.take_chalk(chalk);
        field
    }

    /// Makes lines dear where no seam is wanted, on either skin of a wall, and cheap where one is.
    fn take_chalk(&mut self, chalk: &[Dab]) {
        if chalk.is_empty() {
            return;
        }
        let mut found: Vec<Option<bool>> = vec![None; self.spots.len()];
        for dab in chalk {
            self.buckets.each_near(dab.at_mm, dab.radius_mm, |spot| {
                let off_mm = vec3::length(vec3::sub(self.spots[spot as usize].place_mm, dab.at_mm));
                if off_mm <= dab.radius_mm {
                    found[spot as usize] = Some(dab.is_off);
                }
            });
        }
        for (spot, found) in self.spots.iter_mut().zip(&found) {
            spot.per_mm.seen *= match found {
                Some(true) => 1.0 + CHALKED_OFF,
                Some(false) => CHALKED_IN,
                None => 1.0,
            };
        }
        self.is_off = found.into_iter().map(|found| found == Some(true)).collect();
    }

    /// Planes along hollows that show, longest first.
    pub fn hollows(&self) -> &[Plane] {
        &self.hollows
    }

    /// Planes in which the item mirrors itself, best first.
    pub fn mirrors(&self) -> &[Plane] {
        &self.mirrors
    }

    fn mirror_planes(&self, coarse: &Solid, side_mm: f64) -> Vec<Plane> {
        let places: Vec<mirror::Place> = self.spots.iter().map(|spot| (spot.place_mm, spot.normal)).collect();
        mirror::planes(&places, frames::principal(coarse), side_mm, &|place_mm, normal, reach_mm| {
            let spot = self.nearest_within(place_mm, normal, reach_mm.min(NEAR_MM[1]))?;
            Some(places[spot])
        })
    }

    fn planes(&self, curvature: &Curvature) -> Vec<Plane> {
        let is_hollow = |&index: &usize| {
            let deep = depth(&curvature.samples[index].bends[0]) >= DEEP;
            deep && self.spots[index].per_mm.seen >= LEAST_SEEN
        };
        let all: Vec<usize> = (0..self.spots.len()).filter(is_hollow).collect();
        let place = |&index: &usize| Place {
            at_mm: self.spots[index].place_mm,
            along: curvature.samples[index].bends[0].across(),
        };
        let number = |sample: u32| all.binary_search(&(sample as usize)).ok().map(|at| at as u32);
        let joined: Vec<[u32; 2]> =
            curvature.joined.iter().filter_map(|&[a, b]| Some([number(a)?, number(b)?])).collect();
        hollows::planes(&all.iter().map(place).collect::<Vec<_>>(), &joined, curvature.side_mm)
    }

    /// Makes lines dear that turn sharply: where the surface turns between neighbouring samples, both of which show.
    /// Hidden lines cost the same everywhere.
    fn sharpen(&mut self, curvature: &Curvature) {
        let shows = |spot: &Spot| spot.per_mm.seen >= LEAST_SEEN;
        let [begins_deg, sharp_deg] = SHARP_DEG;
        let mut sharp = vec![0.0_f64; self.spots.len()];
        let mut look = |a: usize, b: usize, least_along: f64| {
            let [one, other] = [&self.spots[a], &self.spots[b]];
            let along = vec3::dot(one.normal, other.normal);
            if along >= least_along && shows(one) && shows(other) {
                let share = (libm::acos(along.min(1.0)).to_degrees() - begins_deg) / (sharp_deg - begins_deg);
                for spot in [a, b] {
                    sharp[spot] = sharp[spot].max(share.clamp(0.0, 1.0));
                }
            }
        };
        curvature.joined.iter().for_each(|&[a, b]| look(a as usize, b as usize, -1.0));
        // Sides of large triangles are joined at their corners only; of what else is near, opposite skins of
        // a wall are not meant.
        let near_mm = NEIGHBOURS * curvature.side_mm;
        for a in 0..self.spots.len() {
            let place_mm = self.spots[a].place_mm;
            self.buckets.each_near(place_mm, near_mm, |b| {
                let b = b as usize;
                if a < b && vec3::length(vec3::sub(self.spots[b].place_mm, place_mm)) <= near_mm {
                    look(a, b, OTHER_SKIN);
                }
            });
        }
        let spots = &mut self.spots;
        for ((spot, sample), sharp) in spots.iter_mut().zip(&curvature.samples).zip(sharp) {
            if shows(spot) {
                let bend = &sample.bends[0];
                // An edge is sharp across, a tip both ways.
                let tip = 2.0 * bend.per_mm[1].abs() / bend.per_mm[0].abs().max(1e-9) - 1.0;
                spot.per_mm.add(bend.along, SHARP * sharp);
                spot.per_mm.add(bend.across(), SHARP * sharp * tip.clamp(0.0, 1.0));
            } else {
                spot.per_mm.bend = [0.0; 6];
                spot.smooth = [0.0; 6];
                spot.shows = false;
            }
        }
    }

    /// Gives every sample how much it is seen: from the coarse triangles it lies on, or else from its neighbours.
    fn see(&mut self, coarse: &Solid, rule: &InnerRule, joined: &[[u32; 2]]) {
        let skin = SkinMap::with_rule(coarse, rule);
        let mut sums = vec![(0.0, 0.0); self.spots.len()];
        for triangle in 0..coarse.n_triangles() {
            let corners = coarse.corners_mm(triangle);
            let Some((normal, places)) = places_on(corners) else { continue };
            let seen = if skin.is_inner(triangle) { HIDDEN } else { seen(&skin, corners, normal) };
            for place in places {
                if let Some(spot) = self.nearest(place, normal) {
                    sums[spot].0 += seen;
                    sums[spot].1 += 1.0;
                }
            }
        }
        let mut known: Vec<Option<f64>> = sums.iter().map(|&(sum, n)| (n > 0.0).then(|| sum / n)).collect();
        loop {
            let mut found = Vec::new();
            for &[a, b] in joined {
                for (from, to) in [(a as usize, b as usize), (b as usize, a as usize)] {
                    if let (Some(seen), None) = (known[from], known[to]) {
                        found.push((to, seen));
                    }
                }
            }
            if found.is_empty() {
                break;
            }
            found.into_iter().for_each(|(to, seen)| known[to] = Some(seen));
        }
        for (spot, known) in self.spots.iter_mut().zip(known) {
            spot.per_mm.seen = known.unwrap_or(1.0);
        }
    }

    /// The nearest sample on a skin that looks the same way.
    fn nearest(&self, place_mm: [f64; 3], normal: [f64; 3]) -> Option<usize> {
        NEAR_MM.into_iter().find_map(|reach_mm| self.nearest_within(place_mm, normal, reach_mm))
    }

    fn nearest_within(&self, place_mm: [f64; 3], normal: [f64; 3], reach_mm: f64) -> Option<usize> {
        let mut best = (reach_mm * reach_mm, None);
        self.buckets.each_near(place_mm, reach_mm, |index| {
            let spot = &self.spots[index as usize];
            let apart = vec3::sub(spot.place_mm, place_mm);
            let square = vec3::dot(apart, apart);
            if square < best.0 && vec3::dot(spot.normal, normal) > SAME_SKIN {
                best = (square, Some(index as usize));
            }
        });
        best.1
    }

    fn at(&self, place_mm: [f64; 3], normal: [f64; 3]) -> PerMm {
        self.nearest(place_mm, normal).map_or(PerMm::PLAIN, |spot| self.spots[spot].per_mm)
    }

    /// What a mm of line of a plane with normal `across` costs on a triangle of a part along a unit tangent, in mm of
    /// plain line; `faces` are of the mesh it was cut from, if its skin is numbered by that.
    pub fn on_part(
        &self,
        faces: &[PerMm],
        part: &Solid,
        triangle: usize,
        tangent: [f64; 3],
        across: [f64; 3],
    ) -> f64 {
        let origin = part.origins()[triangle];
        let thin = match normal_of(part.corners_mm(triangle)) {
            Some(normal) if !is_cut(origin) => feather(normal, across),
            _ => 0.0,
        };
        let per_mm = match face_of(origin).and_then(|face| faces.get(face)) {
            Some(face) => *face,
            None if is_cut(origin) => PerMm::CUT,
            None => {
                let corners = part.corners_mm(triangle);
                normal_of(corners).map_or(PerMm::PLAIN, |normal| self.at(middle(corners), normal))
            }
        };
        per_mm.along(tangent) + thin
    }

    /// What a mm costs on each triangle of the item or its stand-in, on the whole of it.
    pub fn faces(&self, mesh: &Solid) -> Vec<PerMm> {
        let face = |triangle: usize| {
            let (normal, places) = places_on(mesh.corners_mm(triangle))?;
            let mut mean = PerMm { seen: 0.0, bend: [0.0; 6] };
            let share = 1.0 / places.len() as f64;
            for place in places {
                let at = self.at(place, normal);
                mean.seen += share * at.seen;
                (0..6).for_each(|k| mean.bend[k] += share * at.bend[k]);
            }
            Some(mean)
        };
        (0..mesh.n_triangles()).map(|triangle| face(triangle).unwrap_or(PerMm::PLAIN)).collect()
    }
}

fn normal_of([a, b, c]: [[f64; 3]; 3]) -> Option<[f64; 3]> {
    vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)))
}

/// Unit normal of a triangle, and places spread over it; `None` where it has no area.
fn places_on(corners: [[f64; 3]; 3]) -> Option<([f64; 3], Vec<[f64; 3]>)> {
    let [a, b, c] = corners;
    let normal = normal_of(corners)?;
    let longest_mm = [(a, b), (b, c), (c, a)].map(|(p, q)| vec3::length(vec3::sub(q, p)));
    let n = (longest_mm.into_iter().fold(0.0, f64::max) / ASK_MM).ceil().clamp(1.0, 40.0) as usize;
    let (u, v) = (vec3::sub(b, a), vec3::sub(c, a));
    // Middles of the n n small triangles of the same shape.
    let place = |i: f64, k: f64| vec3::add(a, vec3::add(vec3::scale(u, i), vec3::scale(v, k)));
    let mut places = Vec::new();
    for i in 0..n {
        for k in 0..n - i {
            let at = |aside: f64| place((i as f64 + aside) / n as f64, (k as f64 + aside) / n as f64);
            places.push(at(1.0 / 3.0));
            if k + 1 < n - i {
                places.push(at(2.0 / 3.0));
            }
        }
    }
    Some((normal, places))
}

/// How much a place that shows is seen, from the share of rays that get into the open.
fn seen(skin: &SkinMap, corners: [[f64; 3]; 3], normal: [f64; 3]) -> f64 {
    // Past what a coarse skin lies off by.
    let start_mm = vec3::add(middle(corners), vec3::scale(normal, 0.5));
    let (u, v) = vec3::frame_of(normal);
    let gets_out = |&k: &usize| {
        // Evenly over the disc under the half sphere: what is straight ahead counts most.
        let radius = libm::sqrt((k as f64 + 0.5) / N_RAYS as f64);
        let turn_rad = 2.399_963_229_728_653 * k as f64;
        let aside = vec3::add(
            vec3::scale(u, radius * libm::cos(turn_rad)),
            vec3::scale(v, radius * libm::sin(turn_rad)),
        );
        let ray = vec3::add(aside, vec3::scale(normal, libm::sqrt(1.0 - radius * radius)));
        skin.tree().cast_ray(start_mm, ray, OPEN_MM).is_none()
    };
    let open = (0..N_RAYS).filter(gets_out).count() as f64 / N_RAYS as f64;
    LEAST_SEEN + (1.0 - LEAST_SEEN) * open
}

#[cfg(test)]
pub(crate) mod tests;
