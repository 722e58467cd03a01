//! A single-sided surface gets a wall: a second skin on its inner side and strips along its rims.
//!
//! How: the second skin is the first one moved inward (`offsets.rs`). Where the surface comes back so
//! close behind that there is no room for two walls, as in the brim of a hat, there is no second skin:
//! all between is solid, and the rims that leaves are zipped together in pairs (`zip.rs`). Where the
//! second skin crosses another, the wall is made thinner there, step by step; where a zip crosses it, that
//! place is left solid too and the second skin made again.
//! Units: mm. Not here: which side is the inner one: the file's own faces say it.

use super::offsets::{Offsets, divide_thin, offsets, thinner_by};
use super::rims::rims;
use super::surface::Surface;
use super::zip;
use crate::crossings::crossing_pairs;
use crate::edges::QuickMap;
use crate::flaws::Found;
use crate::grid;
use crate::vec3;

/// Rounds of thinning where the new skin crosses another.
const ROUNDS: usize = 24;
/// Times the second skin is made, each with more places left solid than the one before.
const ATTEMPTS: usize = 6;

/// What became of the walls.
#[derive(Debug, Default, Clone)]
pub(super) struct Walls {
    /// Points whose wall is thinner than asked, by a tenth or more.
    pub thinned: Found,
    /// The thinnest wall, measured along the offset.
    pub thinnest_mm: f64,
    /// Area of the surface behind which all is solid.
    pub solid_mm2: f64,
    /// Pairs of triangles of the new skin that still cross.
    pub n_crossing: usize,
}

/// Thickens the triangles `body` of a surface; its rims are given by the edges that `body` leaves open.
/// Dividing may add `budget` triangles.
pub(super) fn thicken(surface: &mut Surface, body: &[u32], wall_mm: f64, budget: &mut usize) -> Walls {
    let mut body = body.to_vec();
    divide_thin(surface, &mut body, wall_mm, budget);
    let mut names: QuickMap<u32, usize> = QuickMap::default();
    let mut used: Vec<u32> = Vec::new();
    let outer: Vec<[usize; 3]> = body
        .iter()
        .map(|&t| {
            surface.triangles[t as usize].map(|p| {
                *names.entry(p).or_insert_with(|| {
                    used.push(p);
                    used.len() - 1
                })
            })
        })
        .collect();
    let at_mm: Vec<[f64; 3]> = used.iter().map(|&p| surface.at_mm(p)).collect();
    let first_skin = Skin { body: &body, outer: &outer, used: &used, at_mm: &at_mm, wall_mm };
    let mut offsets = offsets(&outer, &at_mm, wall_mm);
    let mut best: Option<(Surface, Walls)> = None;
    for _ in 0..ATTEMPTS {
        let mut tried = surface.clone();
        let (walls, crossing) = first_skin.with_second(&mut tried, &offsets);
        let first = surface.points.len() as u32;
        for corner in crossing.into_iter().flatten().filter(|&corner| corner >= first) {
            offsets.is_thin[(corner - first) as usize] = true;
        }
        let is_fewer = best.as_ref().is_none_or(|(_, least)| walls.n_crossing < least.n_crossing);
        // What closes the rims of a solid place may cross the second skin beside it: solid there too.
        let again = is_fewer && walls.n_crossing > 0 && walls.solid_mm2 > 0.0;
        if is_fewer {
            best = Some((tried, walls));
        }
        if !again {
            break;
        }
    }
    let Some((made, walls)) = best else { return Walls::default() };
    *surface = made;
    walls
}

/// The skin a wall is made behind.
struct Skin<'a> {
    /// Its triangles, and the same in places of `used`.
    body: &'a [u32],
    outer: &'a [[usize; 3]],
    /// Its points.
    used: &'a [u32],
    at_mm: &'a [[f64; 3]],
    wall_mm: f64,
}

impl Skin<'_> {
    /// Adds the second skin, and what closes its rims; gives the corners of what still crosses.
    fn with_second(&self, surface: &mut Surface, offsets: &Offsets) -> (Walls, Vec<[u32; 6]>) {
        let Self { body, outer, used, at_mm, wall_mm } = *self;
        let has_skin = |t: &[usize; 3]| t.iter().all(|&i| !offsets.is_thin[i]);
        let n_before = surface.triangles.len();
        let first = surface.points.len() as u32;
        surface.points.resize(surface.points.len() + used.len(), [0; 3]);
        let mut walls = Walls { thinnest_mm: f64::INFINITY, ..Walls::default() };
        for (t, &triangle) in outer.iter().zip(body) {
            if has_skin(t) {
                let [a, b, c] = t.map(|i| first + i as u32);
                surface.push([a, c, b]);
            } else {
                walls.solid_mm2 += surface.area_mm2(triangle as usize);
            }
        }
        for (a, b) in open_sides(outer).into_iter().filter(|&(a, b)| has_skin(&[a, b, b])) {
            let (p, q) = (used[a], used[b]);
            let (inner_p, inner_q) = (first + a as u32, first + b as u32);
            surface.push([q, p, inner_p]);
            surface.push([q, inner_p, inner_q]);
        }
        let mut inward_mm = offsets.inward_mm.clone();
        let mut moved = vec![true; used.len()];
        let mut n_crossing = usize::MAX / 16;
        for round in 0..=ROUNDS {
            for (i, &offset) in inward_mm.iter().enumerate().filter(|(i, _)| moved[*i]) {
                let place = grid::snap(vec3::add(at_mm[i], offset));
                surface.points[first as usize + i] = place.unwrap_or(surface.points[used[i] as usize]);
            }
            // Only what has moved can cross anew.
            let has_moved = |point: u32| point >= first && moved[(point - first) as usize];
            let crossing = crossing(surface, body, n_before, &|t| t.iter().any(|&point| has_moved(point)));
            // A surface that runs through itself will do so whatever its wall.
            let no_fewer = round % 4 == 3
                && 10 * crossing.len() > 9 * std::mem::replace(&mut n_crossing, crossing.len());
            if crossing.is_empty() || no_fewer || round == ROUNDS {
                break;
            }
            let mut thinner = vec![false; used.len()];
            for corner in crossing.into_iter().flatten().filter(|&corner| corner >= first) {
                thinner[(corner - first) as usize] = true;
            }
            for (offset, _) in inward_mm.iter_mut().zip(&thinner).filter(|(_, thinner)| **thinner) {
                *offset = thinner_by(*offset);
            }
            moved = thinner;
        }
        if walls.solid_mm2 > 0.0 {
            close_rest(surface, body, n_before, wall_mm);
        }
        let still = crossing(surface, body, n_before, &|_| true);
        walls.n_crossing = still.len();
        for (i, offset) in inward_mm.iter().enumerate().filter(|(i, _)| !offsets.is_thin[*i]) {
            let thick_mm = vec3::length(*offset);
            walls.thinnest_mm = walls.thinnest_mm.min(thick_mm);
            if thick_mm < 0.9 * wall_mm {
                walls.thinned.add(|| at_mm[i]);
            }
        }
        (walls, still)
    }
}

/// Sides of triangles without another triangle at them.
fn open_sides(triangles: &[[usize; 3]]) -> Vec<(usize, usize)> {
    let sides = |t: &[usize; 3]| [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])];
    let mut ways: QuickMap<(usize, usize), i32> = QuickMap::default();
    for (a, b) in triangles.iter().flat_map(sides) {
        *ways.entry((a.min(b), a.max(b))).or_default() += if a < b { 1 } else { -1 };
    }
    triangles.iter().flat_map(sides).filter(|&(a, b)| ways[&(a.min(b), a.max(b))] != 0).collect()
}

/// The corners of each pair of crossing triangles, one of which is new and asked for.
fn crossing(
    surface: &Surface,
    body: &[u32],
    n_before: usize,
    is_asked: &dyn Fn(&[u32; 3]) -> bool,
) -> Vec<[u32; 6]> {
    let listed: Vec<[u32; 3]> = all_of(surface, body, n_before);
    let new = body.len() as u32..listed.len() as u32;
    let asked: Vec<u32> = new.filter(|&t| is_asked(&listed[t as usize])).collect();
    let pairs = crossing_pairs(&surface.points, &listed, &asked);
    let corners = |[one, other]: [u32; 2]| {
        let ([a, b, c], [d, e, f]) = (listed[one as usize], listed[other as usize]);
        [a, b, c, d, e, f]
    };
    pairs.into_iter().map(corners).collect()
}

/// The triangles of the body, then the new ones.
fn all_of(surface: &Surface, body: &[u32], n_before: usize) -> Vec<[u32; 3]> {
    let of_body = body.iter().map(|&t| surface.triangles[t as usize]);
    of_body.chain(surface.triangles[n_before..].iter().copied()).collect()
}

/// Closes what is open where there is no second skin.
fn close_rest(surface: &mut Surface, body: &[u32], n_before: usize, wall_mm: f64) {
    let listed = all_of(surface, body, n_before);
    let open: Vec<Vec<u32>> = rims(&listed).into_iter().map(|rim| rim.points).collect();
    let at_mm = |point: u32| surface.at_mm(point);
    let triangles = zip::close(&open, &at_mm, 3.0 * wall_mm);
    for t in triangles {
        surface.push(t);
    }
}
