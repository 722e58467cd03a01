//! Plans to choose from: of those found, the ones that no other is better than in every way.
//!
//! How: a plan is kept by its outline and cuts. It goes where another has no more pieces, no more that must
//! be held, a line that costs no more and no more of it through detail, up to what is not worth a choice. Lines are weighed, not measured, so
//! what is told of a plan is about right until it is cut and measured.
//! Not here: which of them is the best (`search.rs`).

use crate::cuts::Cut;
use crate::outline::Outline;

/// A line that costs less by a smaller share than this is no choice (ours).
const WORTH: f64 = 0.05;

/// Nor is one that leads through detail for less than this less, two corners (ours).
const WORTH_DETAIL_MM: f64 = 6.0;

/// Plans kept; more cards than this nobody compares (ours).
const MOST: usize = 5;

/// Plans to choose from, fewest pieces first.
#[derive(Debug, Clone, Default)]
pub struct Choice {
    kept: Vec<(Outline, Vec<Cut>)>,
}

impl Choice {
    /// Keeps a plan if it is one to choose.
    pub fn consider(&mut self, outline: &Outline, cuts: &[Cut]) {
        let is_none = !outline.all_fit || !outline.cost_mm.is_finite();
        if is_none || self.kept.iter().any(|(kept, _)| stands_for(kept, outline)) {
            return;
        }
        self.kept.retain(|(kept, _)| !stands_for(outline, kept));
        self.kept.push((*outline, cuts.to_vec()));
        self.kept.sort_by(|(a, _), (b, _)| {
            (a.n_pieces, a.n_held).cmp(&(b.n_pieces, b.n_held)).then(a.cost_mm.total_cmp(&b.cost_mm))
        });
        if self.kept.len() > MOST {
            let minutes = |i: &usize| self.kept[*i].0.minutes();
            let worst = (0..self.kept.len()).max_by(|a, b| minutes(a).total_cmp(&minutes(b)));
            worst.map(|worst| self.kept.remove(worst));
        }
    }

    /// Those that the plan of this outline does not stand for.
    pub fn beside(&self, best: &Outline) -> Vec<&(Outline, Vec<Cut>)> {
        self.kept.iter().filter(|(kept, _)| !stands_for(best, kept)).collect()
    }
}

/// Whether nobody would choose `other` where `one` is there.
fn stands_for(one: &Outline, other: &Outline) -> bool {
    one.chalked_cm() <= other.chalked_cm()
        && one.n_pieces <= other.n_pieces
        && one.n_held <= other.n_held
        && one.cost_mm <= (1.0 + WORTH) * other.cost_mm
        && one.detail_mm <= (1.0 + WORTH) * other.detail_mm + WORTH_DETAIL_MM
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outline(n_pieces: usize, n_held: usize, cost_mm: f64) -> Outline {
        Outline { all_fit: true, n_pieces, n_held, short_mm: 0.0, cost_mm, detail_mm: 0.0, chalked_mm: 0.0 }
    }

    fn kept(choice: &Choice) -> Vec<(usize, usize, f64)> {
        choice.kept.iter().map(|(o, _)| (o.n_pieces, o.n_held, o.cost_mm)).collect()
    }

    #[test]
    fn what_no_other_beats_in_every_way_is_kept() {
        let mut choice = Choice::default();
        for (n, held, cost) in [(6, 0, 900.0), (4, 1, 2000.0), (5, 0, 1200.0), (5, 1, 1250.0), (7, 0, 880.0)]
        {
            choice.consider(&outline(n, held, cost), &[]);
        }
        assert_eq!(kept(&choice), [(4, 1, 2000.0), (5, 0, 1200.0), (6, 0, 900.0)]);
        // A better one takes the place of what it beats; one that does not fit or is not weighed is none.
        choice.consider(&outline(5, 0, 850.0), &[]);
        choice.consider(&outline(3, 0, f64::INFINITY), &[]);
        choice.consider(&Outline { all_fit: false, ..outline(1, 0, 1.0) }, &[]);
        assert_eq!(kept(&choice), [(4, 1, 2000.0), (5, 0, 850.0)]);
        let beside: Vec<usize> =
            choice.beside(&outline(5, 0, 860.0)).iter().map(|(o, _)| o.n_pieces).collect();
        assert_eq!(beside, [4]);
    }

    #[test]
    fn a_dearer_line_that_spares_detail_is_one_to_choose() {
        let mut choice = Choice::default();
        for (cost_mm, detail_mm) in [(900.0, 60.0), (1000.0, 10.0), (1000.0, 57.0), (1100.0, 9.0)] {
            choice.consider(&Outline { detail_mm, ..outline(4, 0, cost_mm) }, &[]);
        }
        assert_eq!(kept(&choice), [(4, 0, 900.0), (4, 0, 1000.0)]);
        assert_eq!(choice.kept[1].0.detail_mm, 10.0);
    }

    #[test]
    fn of_many_those_with_the_most_minutes_go() {
        let mut choice = Choice::default();
        for n in 2..12 {
            choice.consider(&outline(n, 0, 4000.0 - 250.0 * n as f64), &[]);
        }
        assert_eq!(choice.kept.len(), MOST);
        assert_eq!(choice.kept[MOST - 1].0.n_pieces, 11, "{:?}", kept(&choice));
    }
}
