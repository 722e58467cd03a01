//! Mend what rounding a cut has laid on itself: points and edges beside the section.
//!
//! Planes through vertices and along edges leave slivers thinner than a grid step; flattened, they
//! may lie on each other, or give one point two names. Only triangles with a corner in the section
//! or near it can be concerned: they are taken out, mended like a mesh from outside (`loose.rs`,
//! `apart.rs`) with the points they share with the rest held fast, and put back.
//! Cost: linear in those triangles, but for a sort of their edges.

use super::{ABOVE, BELOW, Cut};
use crate::apart::APART_PASSES;
use crate::edges::{self, QuickMap, edge_key};
use crate::grid::GridPoint;
use crate::loose::Loose;

/// The triangles of one side with a corner in the section or near it.
struct Beside {
    mesh: Loose,
    /// Index on the side of each point of `mesh`.
    names: Vec<u32>,
}

/// Points of a side numbered anew, in order of first use.
#[derive(Default)]
struct Numbered {
    number: QuickMap<u32, u32>,
    names: Vec<u32>,
}

impl Numbered {
    /// The number of a point, and whether it is met for the first time.
    fn of(&mut self, name: u32) -> (u32, bool) {
        let next = self.names.len() as u32;
        let number = *self.number.entry(name).or_insert(next);
        if number == next {
            self.names.push(name);
        }
        (number, number == next)
    }
}

impl Cut<'_> {
    /// Mends both sides of the group just cut.
    pub(super) fn mend_touching(&mut self, first_node: usize) {
        for goes in [BELOW, ABOVE] {
            if !self.again
                && let Some(beside) = self.beside(goes, first_node)
            {
                self.mended = true;
                self.mend(goes, beside);
            }
        }
    }

    /// The triangles beside the section, or `None` where all is sound: every edge that ends in the
    /// section or near it is used once each way, and no point of the section has two names.
    fn beside(&self, goes: usize, first_node: usize) -> Option<Beside> {
        let half = &self.halves[goes];
        let mut points = Numbered::default();
        let mut name_of_place: QuickMap<GridPoint, u32> = QuickMap::default();
        let mut is_sound = true;
        let section = self.nodes[first_node..].iter().map(|node| node.index[goes]);
        for index in section.filter(|&index| index != u32::MAX) {
            if points.of(index).1 {
                is_sound &= *name_of_place.entry(half.points[index as usize]).or_insert(index) == index;
            }
        }
        for &(index, _) in &self.near[goes] {
            if points.of(index).1 {
                let section_name = name_of_place.get(&half.points[index as usize]);
                is_sound &= section_name.is_none_or(|&name| name == index);
            }
        }
        let n_free = points.names.len();
        let numbered = |&number: &u32| half.triangles[number as usize].map(|index| points.of(index).0);
        let triangles: Vec<[u32; 3]> = self.beside[goes].iter().map(numbered).collect();
        let names = points.names;
        let mut uses: Vec<(u64, bool)> = Vec::with_capacity(3 * triangles.len());
        for t in &triangles {
            for (a, b) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
                if a.min(b) < n_free as u32 {
                    uses.push((edge_key(a, b), a < b));
                }
            }
        }
        uses.sort_unstable();
        is_sound &= uses.chunk_by(|a, b| a.0 == b.0).all(|same| matches!(same, [(_, false), (_, true)]));
        if is_sound {
            return None;
        }
        let mesh = Loose {
            points: names.iter().map(|&index| half.points[index as usize]).collect(),
            origin: self.beside[goes].iter().map(|&number| half.origin[number as usize]).collect(),
            fixed: (0..names.len()).map(|point| point >= n_free).collect(),
            triangles,
        };
        Some(Beside { mesh, names })
    }

    fn mend(&mut self, goes: usize, Beside { mut mesh, mut names }: Beside) {
        // Only the whole surface tells whether a part that closes by itself is a body of nothing.
        let mut is_mended = false;
        for _ in 0..APART_PASSES {
            mesh.join_free_points();
            mesh.drop_cancelling(&mut Vec::new());
            let uses = edges::edge_uses(&mesh.triangles);
            if !mesh.mend_touching(&uses, &mut Vec::new()) {
                is_mended = !mesh.has_closed_part(&uses);
                break;
            }
        }
        if !is_mended {
            self.again = true;
            return;
        }
        let half = &mut self.halves[goes];
        half.may_be_unused.extend(&names);
        let first_new = half.points.len() as u32;
        half.points.extend_from_slice(&mesh.points[names.len()..]);
        names.extend(first_new..half.points.len() as u32);
        half.replace(&self.beside[goes], &mesh.triangles, &mesh.origin, &names);
    }
}
