//! What is asked of laying and what comes of it: pieces, options, loads, refusals.
//!
//! Units and frame: as in `lay.rs`.

/// A piece as it stands on the bed.
#[derive(Debug, Clone, PartialEq)]
pub struct LayPiece {
    /// The caller's number for it, handed back in [`Laid`].
    pub index: usize,
    /// Points whose hull is the piece's, in its resting pose: z up, lowest at 0, mm.
    pub points_mm: Vec<[f64; 3]>,
    /// Positions of the beds it may go on, the preferred one first.
    pub beds: Vec<usize>,
    /// The only turn about z allowed, where the maker asked for one; else any turn.
    pub fixed_turn_rad: Option<f64>,
}

/// How to lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LayOptions {
    /// Grows each footprint all round, mm; a brim prints outside the piece. The fit of a piece
    /// alone on a bed ignores it.
    pub brim_mm: f64,
    /// Turns tried all round, besides those that bring a long edge to an axis.
    pub n_turns: u32,
    /// Counted work (as by `Among::best_spot` of crate `bed`) after which the search ends with the
    /// best found, so that the result depends on no clock. The first round, which lays everything
    /// once, is always finished.
    pub work: u64,
}

impl LayOptions {
    /// No brim, turns by 45 degrees, a fraction of a second of work.
    pub const USUAL: LayOptions = LayOptions { brim_mm: 0.0, n_turns: 8, work: 5_000_000 };
}

/// One piece in a load: turn it about z through the origin of its points, then move it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// [`LayPiece::index`].
    pub index: usize,
    /// Counter-clockwise seen from above.
    pub turn_rad: f64,
    /// After the turn.
    pub move_mm: [f64; 2],
}

/// One print job.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Position of the bed in the list given.
    pub bed_index: usize,
    /// Its pieces by rising index.
    pub pieces: Vec<Laid>,
    /// Area of the footprints over that of the bed with margin and keep-outs taken off.
    pub used_fraction: f64,
}

/// Why pieces cannot be laid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LayError {
    /// The piece names no bed, or one that is not in the list. A mistake of the caller.
    #[error("piece {index} names no bed of the {n_beds} given")]
    NoBed {
        /// The piece.
        index: usize,
        /// Number of beds given.
        n_beds: usize,
    },
    /// The piece has no points, or one that is not a number. A mistake of the caller.
    #[error("piece {index} has no points or a point that is not a number")]
    NoPoints {
        /// The piece.
        index: usize,
    },
    /// In this pose the piece is larger than each bed it may go on. Choose another pose or cut it.
    #[error("piece {index} sticks out of bed {bed} by {over_mm:.3} mm in its pose")]
    TooLarge {
        /// The piece.
        index: usize,
        /// Id of the bed on which it sticks out least.
        bed: String,
        /// By how much.
        over_mm: f64,
    },
    /// The piece fits the bed, but nowhere clear of the areas kept out.
    #[error("piece {index} fits bed {bed} only over an area kept out")]
    KeptOut {
        /// The piece.
        index: usize,
        /// Id of the preferred bed.
        bed: String,
    },
}
