//! Labels for the faces of a mesh, one of several, such that unlike neighbours cost least.
//!
//! How: one label after the other is offered to all faces; which of them take it is the least cut of a network, so
//! each offer makes the best of it, and labels only get cheaper.
//! Source: "Fast approximate energy minimization via graph cuts" (2001), doi:10.1109/34.969114, and what functions a
//! cut can make least: "What energy functions can be minimized via graph cuts?" (2004), doi:10.1109/TPAMI.2004.1262177
//! (both from memory).

use crate::flow::Network;

/// What labels cost.
pub struct Costs {
    /// How many labels there are.
    pub n_labels: usize,
    /// Cost of each label on each face, face by face.
    pub own: Vec<f64>,
    /// Pairs of faces and what they cost where their labels differ.
    pub pairs: Vec<(u32, u32, f64)>,
}

/// Costs are counted in steps this small.
const STEPS: f64 = 256.0;

impl Costs {
    fn n_faces(&self) -> usize {
        self.own.len() / self.n_labels
    }

    fn own(&self, face: usize, label: usize) -> f64 {
        self.own[face * self.n_labels + label]
    }

    /// What all labels cost.
    pub fn of(&self, labels: &[usize]) -> f64 {
        let own: f64 = labels.iter().enumerate().map(|(face, &label)| self.own(face, label)).sum();
        let differ = |&&(a, b, _): &&(u32, u32, f64)| labels[a as usize] != labels[b as usize];
        own + self.pairs.iter().filter(differ).map(|(_, _, cost)| cost).sum::<f64>()
    }

    /// The label that costs least on each face by itself.
    pub fn first(&self) -> Vec<usize> {
        let best = |face: usize| {
            let all = 0..self.n_labels;
            all.min_by(|&a, &b| self.own(face, a).total_cmp(&self.own(face, b))).unwrap_or(0)
        };
        (0..self.n_faces()).map(best).collect()
    }

    /// Offers one label to all faces; whether that made them cheaper.
    pub fn offer(&self, label: usize, labels: &mut Vec<usize>) -> bool {
        let n = labels.len();
        let (giver, taker) = (n, n + 1);
        // What it costs to take the label instead of keeping one's own.
        let mut more: Vec<f64> =
            (0..n).map(|face| self.own(face, label) - self.own(face, labels[face])).collect();
        let mut network = Network::new(n + 2);
        let steps = |cost: f64| (cost * STEPS).round() as i64;
        for &(a, b, cost) in &self.pairs {
            let (a, b) = (a as usize, b as usize);
            let differ = |one: usize, other: usize| if one == other { 0.0 } else { cost };
            // Both keep, the first keeps, the second keeps; that both take it costs nothing.
            let both = differ(labels[a], labels[b]);
            let first = differ(labels[a], label);
            let second = differ(label, labels[b]);
            more[a] += second - both;
            more[b] -= second;
            network.join(a, b, steps(first + second - both), 0);
        }
        for (face, more) in more.into_iter().enumerate() {
            if more > 0.0 {
                network.join(giver, face, steps(more), 0);
            } else {
                network.join(face, taker, steps(-more), 0);
            }
        }
        let keeps = network.side_of(giver, taker);
        let made: Vec<usize> =
            labels.iter().zip(&keeps).map(|(&own, &keeps)| if keeps { own } else { label }).collect();
        let is_better = self.of(&made) < self.of(labels) - 1.0 / STEPS;
        if is_better {
            *labels = made;
        }
        is_better
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Draw;

    #[test]
    fn two_labels_are_the_cheapest_of_all_and_more_never_get_dearer() {
        let mut draw = Draw::new(3, 0);
        for n_labels in [2, 3] {
            for _ in 0..100 {
                let n = 2 + draw.below(7);
                let own = (0..n * n_labels).map(|_| draw.below(40) as f64).collect();
                let pairs = (0..n * 2)
                    .map(|_| (draw.below(n) as u32, draw.below(n) as u32, draw.below(15) as f64))
                    .filter(|(a, b, _)| a != b)
                    .collect();
                let costs = Costs { n_labels, own, pairs };
                let mut labels = costs.first();
                let mut cost = costs.of(&labels);
                while (0..n_labels).fold(false, |any, label| any | costs.offer(label, &mut labels)) {
                    assert!(costs.of(&labels) < cost);
                    cost = costs.of(&labels);
                }
                let all = (0..n_labels.pow(n as u32))
                    .map(|code| (0..n).map(|k| code / n_labels.pow(k as u32) % n_labels).collect::<Vec<_>>());
                let least = all.map(|labels| costs.of(&labels)).fold(f64::INFINITY, f64::min);
                if n_labels == 2 {
                    assert!((cost - least).abs() < 1e-9, "{cost}, {least} by trying all");
                }
                // Known of this way with more: at most twice the least.
                assert!(cost <= 2.0 * least + 1e-9, "{cost}, {least} by trying all");
            }
        }
    }
}
