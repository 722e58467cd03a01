//! The least cut between two ends of a network.
//!
//! Source: levels and blocking flows: "Algorithm for solution of a problem of maximum flow in networks with power
//! estimation" (1970), from memory. Capacities are whole numbers, so that it ends and is the same everywhere.

/// A network with an end that gives and one that takes.
pub struct Network {
    /// To where, how much more may pass, and the place of the way back in that node's list.
    ways: Vec<Vec<Way>>,
}

#[derive(Clone, Copy)]
struct Way {
    to: usize,
    room: i64,
    back: usize,
}

impl Network {
    /// Nodes without any way between them.
    pub fn new(n_nodes: usize) -> Self {
        Self { ways: vec![Vec::new(); n_nodes] }
    }

    /// Lets so much pass from one node to another, and so much back.
    pub fn join(&mut self, from: usize, to: usize, room: i64, back_room: i64) {
        let (at, back) = (self.ways[from].len(), self.ways[to].len());
        self.ways[from].push(Way { to, room, back });
        self.ways[to].push(Way { to: from, room: back_room, back: at });
    }

    /// Whether each node is on the giving side of a least cut: of several the one nearest to the giver.
    pub fn side_of(mut self, giver: usize, taker: usize) -> Vec<bool> {
        loop {
            let levels = self.levels(giver);
            if levels[taker] == usize::MAX {
                return levels.into_iter().map(|level| level < usize::MAX).collect();
            }
            let mut next = vec![0; self.ways.len()];
            while self.push(giver, taker, &levels, &mut next) {}
        }
    }

    /// How many ways with room lead to each node at least.
    fn levels(&self, giver: usize) -> Vec<usize> {
        let mut levels = vec![usize::MAX; self.ways.len()];
        levels[giver] = 0;
        let mut row = std::collections::VecDeque::from([giver]);
        while let Some(node) = row.pop_front() {
            for way in self.ways[node].iter().filter(|way| way.room > 0) {
                if levels[way.to] == usize::MAX {
                    levels[way.to] = levels[node] + 1;
                    row.push_back(way.to);
                }
            }
        }
        levels
    }

    /// Fills one path whose every way leads a level on; whether there was one. `next` is the way of each node that
    /// may lead on.
    fn push(&mut self, giver: usize, taker: usize, levels: &[usize], next: &mut [usize]) -> bool {
        let mut path: Vec<(usize, usize)> = Vec::new();
        let mut node = giver;
        while node != taker {
            let is_open = |way: &Way| way.room > 0 && levels[way.to] == levels[node].wrapping_add(1);
            match self.ways[node][next[node]..].iter().position(is_open) {
                Some(ahead) => {
                    next[node] += ahead;
                    path.push((node, next[node]));
                    node = self.ways[node][next[node]].to;
                }
                None => {
                    next[node] = self.ways[node].len();
                    let Some((before, _)) = path.pop() else { return false };
                    next[before] += 1;
                    node = before;
                }
            }
        }
        let most = path.iter().map(|&(node, way)| self.ways[node][way].room).min().unwrap_or(0);
        for (node, way) in path {
            let Way { to, back, .. } = self.ways[node][way];
            self.ways[node][way].room -= most;
            self.ways[to][back].room += most;
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Draw;

    #[test]
    fn a_cut_is_as_small_as_any_by_trying_all() {
        let mut draw = Draw::new(7, 0);
        for _ in 0..200 {
            let n = 3 + draw.below(6);
            let mut rooms = vec![vec![0_i64; n]; n];
            let mut network = Network::new(n);
            for (from, to) in (0..n * n).map(|pair| (pair / n, pair % n)).filter(|(from, to)| from != to) {
                if draw.unit() < 0.5 {
                    let (room, back) = (draw.below(20) as i64, draw.below(5) as i64);
                    rooms[from][to] += room;
                    rooms[to][from] += back;
                    network.join(from, to, room, back);
                }
            }
            let worth = |is_in: &dyn Fn(usize) -> bool| -> i64 {
                let pairs = (0..n).flat_map(|from| (0..n).map(move |to| (from, to)));
                pairs.filter(|&(from, to)| is_in(from) && !is_in(to)).map(|(from, to)| rooms[from][to]).sum()
            };
            let side = network.side_of(0, n - 1);
            assert!(side[0] && !side[n - 1]);
            let sets = (0..1_usize << n).filter(|set| set & 1 == 1 && set >> (n - 1) == 0);
            let least = sets.map(|set| worth(&|node| set >> node & 1 == 1)).min();
            assert_eq!(Some(worth(&|node| side[node])), least);
        }
    }
}
