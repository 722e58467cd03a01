//! Which groups of points fit a bed: tests remembered, and the sets that do not shrunk.

use super::sets::{Group, MOST_POINTS};
use seamwright_bed::Bed;
use seamwright_bed::together::{Together, together};
use seamwright_bed::turn::{self, Rows};
use seamwright_mesh::vec3;
use std::collections::BTreeMap;

/// Cells of the certified search a test is worth: about 10 ms for a close call (ours).
const CELLS: u32 = 2_000;

/// How a group is held: the bed it may fit and the rotation in which it does, or nearly does.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    pub bed: usize,
    pub rows: Rows,
}

/// The points, the beds and what is known of them.
pub(super) struct Fitting {
    points_mm: Vec<[f64; 3]>,
    beds: Vec<Bed>,
    /// Groups asked about: how they are held, `None` where no bed holds them.
    known: BTreeMap<Group, Option<Held>>,
    /// Cells looked at so far.
    pub n_cells: u64,
}

impl Fitting {
    pub(super) fn new(beds: Vec<Bed>) -> Self {
        Self { points_mm: Vec::new(), beds, known: BTreeMap::new(), n_cells: 0 }
    }

    pub(super) fn n_points(&self) -> usize {
        self.points_mm.len()
    }

    pub(super) fn points_mm(&self) -> &[[f64; 3]] {
        &self.points_mm
    }

    pub(super) fn bed(&self, index: usize) -> &Bed {
        &self.beds[index]
    }

    /// Whether there was room for another point.
    pub(super) fn take(&mut self, point_mm: [f64; 3]) -> bool {
        let has_room = self.points_mm.len() < MOST_POINTS;
        if has_room {
            self.points_mm.push(point_mm);
        }
        has_room
    }

    /// How a group that was dealt is held.
    pub(super) fn held(&mut self, group: Group) -> Held {
        let first = Held { bed: 0, rows: turn::IDENTITY };
        self.ask(group, &first).unwrap_or(first)
    }

    /// How a group is held with a point added; `None` where no bed holds it: proved.
    pub(super) fn add(&mut self, group: Group, point: usize, first: &Held) -> Option<Held> {
        self.ask(group.with(point), first)
    }

    fn ask(&mut self, group: Group, first: &Held) -> Option<Held> {
        if let Some(known) = self.known.get(&group) {
            return *known;
        }
        let points: Vec<[f64; 3]> = group.points().map(|point| self.points_mm[point]).collect();
        let mut open = None;
        let mut order: Vec<usize> = (0..self.beds.len()).collect();
        order.swap(0, first.bed);
        for bed in order {
            let (told, n_cells) = together(&points, &self.beds[bed], &first.rows, CELLS);
            self.n_cells += u64::from(n_cells) + 1;
            match told {
                Together::Fits(rows) => {
                    open = Some(Held { bed, rows });
                    break;
                }
                // What cannot be ruled out counts as fitting: the bound is lower then, never wrong.
                Together::Open => open = open.or(Some(Held { bed, rows: first.rows })),
                Together::Cannot => {}
            }
        }
        self.known.insert(group, open);
        open
    }

    /// Of a group that no bed holds with `point` added, as few as still are too many; `point` stays.
    pub(super) fn shrunk(&mut self, group: Group, point: usize) -> Group {
        let mut set = group.with(point);
        // Points near the added one tell least: they go first.
        let from = self.points_mm[point];
        let distance = |&other: &usize| {
            let apart = vec3::sub(self.points_mm[other], from);
            vec3::dot(apart, apart)
        };
        let mut others: Vec<usize> = group.points().collect();
        others.sort_by(|a, b| distance(a).total_cmp(&distance(b)).then(a.cmp(b)));
        let first = Held { bed: 0, rows: turn::IDENTITY };
        for other in others {
            let fewer = set.without(other);
            if fewer.len() > 1 && self.ask(fewer, &first).is_none() {
                set = fewer;
            }
        }
        set
    }
}
