//! The line of a plane: what its chords cost by the samples beside them, and where it leaves a thin edge.
//!
//! On a stand-in of few triangles detail is foreseen from samples 2 or 3 mm apart. On the item the very chords that
//! tell detail (`lines/detail.rs`) are followed, corners weighed as they are measured, and what is compared is nearer
//! to what is judged.
//! Not here: which stretches of a finished seam end at others (`lines.rs`).

use super::per_mm::PerMm;
use super::{ASK_MM, Field, Spot, normal_of};
use crate::lines::detail::about_through_detail_mm;
use crate::lines::stretch::Stretch;
use crate::part::Line;
use seamwright_mesh::section::{SectionLine, chords, lines};
use seamwright_mesh::solid::is_cut;
use seamwright_mesh::{Plane, Solid, vec3};

/// What a mm that leaves a thin edge costs beside what it would, in mm of plain line, and between which angles of
/// plane and skin an edge gets thin.
pub(super) const THIN: f64 = 3.0;
const THIN_DEG: [f64; 2] = [35.0, 20.0];

/// What a mm through detail costs beside its length, as often again: what the field foresees of it, about 3 cm for
/// an edge.
const DETAIL: f64 = 10.0;

/// What is known of one chord of a line.
struct Chord {
    length_mm: f64,
    seen: f64,
    shows: bool,
}

impl Field {
    /// The line of a plane through a part of the item or of its stand-in.
    pub fn line_mm(&self, part: &Solid, plane: &Plane) -> Line {
        let mut line = Line::NONE;
        chords(part, plane, |triangle, ends| {
            self.chord(ends, part, triangle, plane, &|spot| spot.per_mm, &mut line);
        });
        line
    }

    /// The same, of the lines alone that begin at places which are cut.
    pub fn line_of_mm(&self, part: &Solid, plane: &Plane, is_cut: &dyn Fn([f64; 3]) -> bool) -> Line {
        let mut sum = Line::NONE;
        for line in lines(part, plane).into_iter().filter(|line| is_cut(line.points_mm[0])) {
            for (ends, &triangle) in line.points_mm.windows(2).zip(&line.triangles) {
                self.chord([ends[0], ends[1]], part, triangle, plane, &|spot| spot.per_mm, &mut sum);
            }
        }
        sum
    }

    /// Adds what a chord on a triangle costs to a line, by what a mm costs at each sample.
    fn chord(
        &self,
        [from, to]: [[f64; 3]; 2],
        part: &Solid,
        triangle: usize,
        plane: &Plane,
        per_mm_at: &dyn Fn(&Spot) -> PerMm,
        line: &mut Line,
    ) -> Chord {
        let along = vec3::sub(to, from);
        let length_mm = vec3::length(along);
        let hidden = Chord { length_mm, seen: PerMm::CUT.seen, shows: false };
        let (Some(tangent), true) = (vec3::unit(along), length_mm > 0.0) else { return hidden };
        line.section_mm += length_mm;
        let normal = normal_of(part.corners_mm(triangle));
        let (Some(normal), false) = (normal, is_cut(part.origins()[triangle])) else {
            line.cost_mm += PerMm::CUT.along(tangent) * length_mm;
            return hidden;
        };
        let n_steps = (length_mm / ASK_MM).ceil().max(1.0) as usize;
        let step_mm = length_mm / n_steps as f64;
        let (mut seen, mut n_show) = (0.0, 0);
        for k in 0..n_steps {
            let place = vec3::add(from, vec3::scale(along, (k as f64 + 0.5) / n_steps as f64));
            let spot = self.nearest(place, normal);
            let per_mm = spot.map_or(PerMm::PLAIN, |spot| per_mm_at(&self.spots[spot]));
            line.cost_mm += per_mm.along(tangent) * step_mm;
            line.detail_mm += (per_mm.along(tangent) - per_mm.seen).max(0.0) * step_mm / DETAIL;
            seen += per_mm.seen / n_steps as f64;
            n_show += usize::from(spot.is_none_or(|spot| self.spots[spot].shows));
            if spot.is_some_and(|spot| self.is_off.get(spot) == Some(&true)) {
                line.chalked_mm += step_mm;
            }
        }
        line.cost_mm += feather(normal, plane.normal) * length_mm;
        Chord { length_mm, seen, shows: 2 * n_show > n_steps }
    }

    /// The lines of a plane through a part of the item that begin at places which are cut.
    pub fn measured_mm(&self, part: &Solid, plane: &Plane, is_cut: &dyn Fn([f64; 3]) -> bool) -> Line {
        let (mut sum, mut measured_mm) = (Line::NONE, 0.0);
        for line in lines(part, plane).into_iter().filter(|line| is_cut(line.points_mm[0])) {
            let smooth = |spot: &Spot| PerMm { seen: spot.per_mm.seen, bend: spot.smooth };
            let ends = line.points_mm.windows(2).zip(&line.triangles);
            let chords: Vec<Chord> = ends
                .map(|(ends, &triangle)| {
                    self.chord([ends[0], ends[1]], part, triangle, plane, &smooth, &mut sum)
                })
                .collect();
            let [cost_mm, detail_mm] = corners_mm(&line, &chords);
            sum.cost_mm += cost_mm;
            measured_mm += detail_mm;
        }
        // Instead of what the chords foresee.
        Line { detail_mm: measured_mm, ..sum }
    }
}

/// What a mm costs more where the plane leaves a thin edge of the skin it meets, on either side of a wall: it curls
/// as it is printed and breaks as it is sanded.
pub(super) fn feather(skin: [f64; 3], plane: [f64; 3]) -> f64 {
    let edge_deg = libm::acos(vec3::dot(skin, plane).abs().min(1.0)).to_degrees();
    let [sound_deg, thin_deg] = THIN_DEG;
    THIN * ((sound_deg - edge_deg) / (sound_deg - thin_deg)).clamp(0.0, 1.0)
}

/// What the corners of a line cost where it shows, and how much of it leads through detail.
fn corners_mm(line: &SectionLine, chords: &[Chord]) -> [f64; 2] {
    let n = chords.len();
    // A loop all of which shows has no ends; any other is told from where it stops showing.
    let first_hidden = chords.iter().position(|chord| !chord.shows);
    let of = |from: usize, to: usize, closed: bool| {
        let points =
            (from..to + usize::from(!closed)).map(|i| line.points_mm[if line.is_closed { i % n } else { i }]);
        let (mut seen_mm, mut length_mm) = (0.0, 0.0);
        for chord in (from..to).map(|i| &chords[i % n]) {
            seen_mm += chord.seen * chord.length_mm;
            length_mm += chord.length_mm;
        }
        let seen = if length_mm > 0.0 { seen_mm / length_mm } else { 0.0 };
        let detail_mm = about_through_detail_mm(&Stretch::new(points.collect(), closed));
        [DETAIL * seen * detail_mm, detail_mm]
    };
    let begin = match first_hidden {
        None if line.is_closed && n > 1 => return of(0, n, true),
        Some(hidden) if line.is_closed => hidden,
        _ => 0,
    };
    let mut sum_mm = [0.0; 2];
    let mut from = None;
    for i in begin..=begin + n {
        let shows = i < begin + n && chords[i % n].shows;
        match (from, shows) {
            (None, true) => from = Some(i),
            (Some(start), false) => {
                let of_mm = of(start, i, false);
                (0..2).for_each(|k| sum_mm[k] += of_mm[k]);
                from = None;
            }
            _ => {}
        }
    }
    sum_mm
}
