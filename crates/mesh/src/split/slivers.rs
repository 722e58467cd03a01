//! Give slivers of nothing back to the side they were cut from.
//!
//! Where a plane runs along a face that an earlier cut has bent by a step or two, a film thinner
//! than `NOTHING_STEPS` is left on the far side, a body by itself. It would count as a piece. Its
//! skin goes to the other side and the cap between the two is taken away, so no volume is lost.

use super::{BELOW, Corner, Cut};
use crate::edges::{Joined, QuickMap};

impl Cut<'_> {
    /// Looks at the group just cut; `first_triangle` is where it starts on each side.
    pub(super) fn give_slivers_back(&mut self, first_node: usize, first_triangle: [usize; 2]) {
        for goes in [BELOW, super::ABOVE] {
            if !self.thin[goes].is_empty() && self.cap_pairs.len() > self.first_cap_pair {
                self.give_back(goes, first_node, first_triangle);
            }
        }
    }

    fn give_back(&mut self, goes: usize, first_node: usize, first_triangle: [usize; 2]) {
        let start = first_triangle[goes];
        let half = &self.halves[goes];
        // Nearly always a thin triangle is the clipped tip of something thicker: no need to look
        // at the whole side then.
        let mut leaves_plane = vec![false; half.points.len()];
        self.thick_points[goes].iter().for_each(|&point| leaves_plane[point as usize] = true);
        let on_its_own =
            |&triangle: &u32| !half.triangles[triangle as usize].iter().any(|&p| leaves_plane[p as usize]);
        if !self.thin[goes].iter().any(on_its_own) {
            return;
        }
        let mut is_thin = vec![false; half.triangles.len() - start];
        for &triangle in &self.thin[goes] {
            is_thin[triangle as usize - start] = true;
        }
        for pair in &self.cap_pairs[self.first_cap_pair..] {
            is_thin[pair[goes] as usize - start] = true;
        }
        // What hangs together through points; a sliver has no point in common with thicker parts.
        let mut joined = Joined::new(half.points.len());
        for t in &half.triangles[start..] {
            joined.join(t[0], t[1]);
            joined.join(t[0], t[2]);
        }
        let mut has_skin = vec![false; half.points.len()];
        let mut is_thick = vec![false; half.points.len()];
        for (t, &thin) in half.triangles[start..].iter().zip(&is_thin) {
            is_thick[joined.find(t[0]) as usize] |= !thin;
        }
        for &triangle in &self.thin[goes] {
            has_skin[joined.find(half.triangles[triangle as usize][0]) as usize] = true;
        }
        let mut goes_back: Vec<bool> = Vec::with_capacity(is_thin.len());
        for t in &half.triangles[start..] {
            let name = joined.find(t[0]) as usize;
            goes_back.push(!is_thick[name] && has_skin[name]);
        }
        if !goes_back.contains(&true) {
            return;
        }
        self.again = true;
        let mut corner_at: QuickMap<u32, Corner> = QuickMap::default();
        corner_at.extend(self.near[goes].iter().map(|&(index, vertex)| (index, Corner::Vertex(vertex))));
        for (number, node) in self.nodes.iter().enumerate().skip(first_node) {
            corner_at.insert(node.index[goes], Corner::Node(number as u32));
        }
        let skin: Vec<([u32; 3], u32)> = self.thin[goes]
            .iter()
            .filter(|&&triangle| goes_back[triangle as usize - start])
            .map(|&triangle| {
                (self.halves[goes].triangles[triangle as usize], self.halves[goes].origin[triangle as usize])
            })
            .collect();
        let other = 1 - goes;
        let mut gone_there = vec![false; self.halves[other].triangles.len() - first_triangle[other]];
        for pair in &self.cap_pairs[self.first_cap_pair..] {
            gone_there[pair[other] as usize - first_triangle[other]] |=
                goes_back[pair[goes] as usize - start];
        }
        self.halves[goes].remove(start, &goes_back);
        self.halves[other].remove(first_triangle[other], &gone_there);
        self.rename_after_removal(goes, start, &goes_back);
        self.rename_after_removal(other, first_triangle[other], &gone_there);
        for (t, origin) in skin {
            let corners = t.map(|index| corner_at.get(&index).copied());
            if let [Some(a), Some(b), Some(c)] = corners {
                self.lay(other, &[a, b, c], origin);
            }
        }
    }

    /// Keeps the lists of thin and cap triangles right after triangles were removed from one side.
    fn rename_after_removal(&mut self, goes: usize, start: usize, gone: &[bool]) {
        let mut n_gone = 0;
        let new_index: Vec<Option<u32>> = gone
            .iter()
            .enumerate()
            .map(|(i, &gone)| {
                n_gone += usize::from(gone);
                (!gone).then(|| (start + i - n_gone) as u32)
            })
            .collect();
        let renamed = |triangle: u32| new_index[triangle as usize - start];
        self.thin[goes] = self.thin[goes].iter().filter_map(|&triangle| renamed(triangle)).collect();
        let mut own = self.cap_pairs.split_off(self.first_cap_pair);
        own.retain_mut(|pair| renamed(pair[goes]).inspect(|&index| pair[goes] = index).is_some());
        self.cap_pairs.append(&mut own);
    }
}
