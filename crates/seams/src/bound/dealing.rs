//! Deals points to pieces so that each piece's points fit a bed, or shows that it cannot be done.
//!
//! How: depth first. The point with the fewest pieces left to go to is dealt next; each piece it may go
//! to is tried, of the untouched ones only one, since they are alike. A piece is barred to it by a set
//! known not to fit, or by a test that then gives such a set, shrunk until each of its points is
//! needed. Where all pieces are barred the sets that bar them say which earlier point to deal anew:
//! those between had no part in it (conflict-directed backjumping, "Hybrid algorithms for the
//! constraint satisfaction problem" (1993), doi:10.1111/j.1467-8640.1993.tb00310.x, from memory).
//! Jumping stays right with untouched pieces alike: a failure explained by some earlier points holds
//! for every piece those points have not touched.
//! Not here: which points there are and when to add more (`bound.rs`).

use super::fitting::{Fitting, Held};
use super::sets::{Group, Sets};

/// A point dealt, or about to be.
struct Dealt {
    point: usize,
    /// The piece it is in; `None` between tries.
    piece: Option<usize>,
    /// The next piece to try.
    next: usize,
    /// Earlier points that had a part in what failed so far.
    because: Group,
}

/// What a step came to.
pub(super) enum Dealing {
    /// There is more to try.
    Going,
    /// Every point lies in a piece that may fit.
    Complete,
    /// It cannot be done: proved.
    Impossible,
}

/// A deal of points to `n_pieces` pieces.
pub(super) struct Deal {
    n_pieces: usize,
    pieces: Vec<Group>,
    /// What holds each piece.
    held: Vec<Held>,
    dealt: Vec<Dealt>,
    is_down: bool,
}

impl Deal {
    pub(super) fn new(n_pieces: usize) -> Self {
        Self { n_pieces, pieces: Vec::new(), held: Vec::new(), dealt: Vec::new(), is_down: true }
    }

    /// Points of each piece and what holds them.
    pub(super) fn pieces(&self) -> impl Iterator<Item = (Group, &Held)> {
        self.pieces.iter().copied().zip(&self.held)
    }

    /// One point dealt, or one taken back.
    pub(super) fn step(&mut self, fitting: &mut Fitting, sets: &mut Sets) -> Dealing {
        if self.is_down {
            let Some(point) = self.hardest(fitting.n_points(), sets) else { return Dealing::Complete };
            self.dealt.push(Dealt { point, piece: None, next: 0, because: Group::default() });
            self.is_down = false;
        }
        let Some(top) = self.dealt.last_mut() else { return Dealing::Impossible };
        let point = top.point;
        if let Some(piece) = top.piece.take() {
            self.take_back(point, piece, fitting);
        }
        let Some(top) = self.dealt.last_mut() else { return Dealing::Impossible };
        while top.next < self.n_pieces.min(self.pieces.len() + 1) {
            let piece = top.next;
            top.next += 1;
            let Some(&group) = self.pieces.get(piece) else {
                self.pieces.push(Group::of(point));
                self.held.push(fitting.held(Group::of(point)));
                (top.piece, self.is_down) = (Some(piece), true);
                return Dealing::Going;
            };
            let known = sets.bar(group, point);
            let barred = known.or_else(|| match fitting.add(group, point, &self.held[piece]) {
                Some(held) => {
                    self.pieces[piece] = group.with(point);
                    self.held[piece] = held;
                    None
                }
                None => {
                    sets.add(fitting.shrunk(group, point));
                    sets.bar(group, point)
                }
            });
            let Some(at) = barred else {
                (top.piece, self.is_down) = (Some(piece), true);
                return Dealing::Going;
            };
            sets.lean_on(at);
            top.because = top.because.and(sets.get(at).without(point));
            if known.is_none() {
                // A test is enough for one step.
                return Dealing::Going;
            }
        }
        self.jump_back(fitting)
    }

    /// Takes a point out of a piece again.
    fn take_back(&mut self, point: usize, piece: usize, fitting: &mut Fitting) {
        let group = self.pieces[piece].without(point);
        if group.is_empty() {
            // Pieces are opened and emptied in turn: it is the last.
            self.pieces.pop();
            self.held.pop();
        } else {
            self.pieces[piece] = group;
            self.held[piece] = fitting.held(group);
        }
    }

    /// Takes points back to the last that had a part in the failure of the last one.
    fn jump_back(&mut self, fitting: &mut Fitting) -> Dealing {
        let Some(failed) = self.dealt.pop() else { return Dealing::Impossible };
        while let Some(top) = self.dealt.last_mut() {
            if failed.because.has(top.point) {
                top.because = top.because.and(failed.because.without(top.point));
                return Dealing::Going;
            }
            let (point, piece) = (top.point, top.piece);
            self.dealt.pop();
            if let Some(piece) = piece {
                self.take_back(point, piece, fitting);
            }
        }
        Dealing::Impossible
    }

    /// The point not dealt that the fewest pieces are left to; of equals the one in most sets.
    fn hardest(&self, n_points: usize, sets: &Sets) -> Option<usize> {
        let dealt = self.pieces.iter().fold(Group::default(), |all, &group| all.and(group));
        let n_untouched = usize::from(self.pieces.len() < self.n_pieces);
        let choices = |point: usize| {
            n_untouched + self.pieces.iter().filter(|&&group| sets.bar(group, point).is_none()).count()
        };
        (0..n_points)
            .filter(|&point| !dealt.has(point))
            .min_by_key(|&point| (choices(point), usize::MAX - sets.degree(point)))
    }
}
