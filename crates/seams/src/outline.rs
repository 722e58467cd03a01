//! What decides between two plans of an item, and the minutes they are weighed in.
//!
//! No source gives times; they are ours, from what makers tell: 20 to 40 minutes for 10 cm of seam that shows,
//! 5 for 10 cm inside. They stand in a plan's `assumed`.

use std::cmp::Ordering;

/// A piece taken off its bed, trimmed and tried dry, in minutes.
pub const PIECE_MIN: f64 = 10.0;

/// Two pieces aligned, glued and held, in minutes.
pub const JOIN_MIN: f64 = 10.0;

/// A mm of seam that shows filled, sanded and primed, in minutes.
pub const VISIBLE_MIN_PER_MM: f64 = 0.3;

/// A mm of seam inside scraped clean, in minutes.
pub const HIDDEN_MIN_PER_MM: f64 = 0.05;

/// What a mm through detail takes beside that, as often again: detail is filed and scribed by hand.
pub const DETAIL_TIMES: f64 = 5.0;

/// What a mm in a hollow saves of it, as a share: it need not be level.
pub const HOLLOW_SAVES: f64 = 0.7;

/// Supports printed, broken off and sanded for a piece that must be held, in minutes.
pub const HELD_MIN: f64 = 60.0;

/// What the maker prefers among plans that have no more pieces than the plain grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prefer {
    /// The least finishing time.
    #[default]
    Balanced,
    /// Fewest pieces before all.
    Fewest,
    /// The least seam to be seen.
    Hidden,
}

/// What decides between two partitions; travels where the parts need not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Whether every piece fits a bed.
    pub all_fit: bool,
    /// How many pieces there are.
    pub n_pieces: usize,
    /// How many of them stand only with supports.
    pub n_held: usize,
    /// The room these lack to stand, in all: the nearer to standing the better.
    pub short_mm: f64,
    /// What the lines of all cuts cost, in mm of plain line.
    pub cost_mm: f64,
    /// How much of them leads through detail; it is in the cost and decides nothing by itself.
    pub detail_mm: f64,
    /// How much of them leads through areas the maker chalked off.
    pub chalked_mm: f64,
}

/// Lines through chalk are counted in whole cm: one that grazes its rim is not through it.
const CHALKED_MM: f64 = 10.0;

impl Outline {
    /// Whether it is the better plan: before all the one that leads less through areas chalked off. Then,
    /// fewest: fewer pieces where one that must be held counts as two, then fewer held, then those nearer to
    /// standing, then the cheaper line. Hidden: fewer held, nearer to standing, the cheaper line. Else the fewer
    /// minutes.
    pub fn is_better_than(&self, other: &Self, prefer: Prefer) -> bool {
        self.order(other, prefer).is_lt()
    }

    /// The better plan before the other.
    pub fn order(&self, other: &Self, prefer: Prefer) -> Ordering {
        let counts = |outline: &Self| (outline.n_pieces + outline.n_held, outline.n_held);
        let standing = self.short_mm.total_cmp(&other.short_mm);
        let order = match prefer {
            Prefer::Fewest => {
                counts(self).cmp(&counts(other)).then(standing).then(self.cost_mm.total_cmp(&other.cost_mm))
            }
            Prefer::Balanced => self.minutes().total_cmp(&other.minutes()).then(standing),
            Prefer::Hidden => {
                self.n_held.cmp(&other.n_held).then(standing).then(self.cost_mm.total_cmp(&other.cost_mm))
            }
        };
        self.chalked_cm().cmp(&other.chalked_cm()).then(order)
    }

    /// Whole cm of line through areas chalked off.
    pub fn chalked_cm(&self) -> u64 {
        (self.chalked_mm / CHALKED_MM) as u64
    }

    /// About how long finishing takes, in minutes.
    pub fn minutes(&self) -> f64 {
        let (pieces, held) = (self.n_pieces as f64, self.n_held as f64);
        (PIECE_MIN + JOIN_MIN) * pieces + HELD_MIN * held + VISIBLE_MIN_PER_MM * self.cost_mm
    }
}
