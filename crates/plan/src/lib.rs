//! The whole job: from models and beds to a plan folder, and its audit.
//!
//! Start with [`session::Session`], which holds a plan while it is made, and its native driver
//! [`make::make_plan`]; [`audit`] re-checks what it made from the files alone.

pub mod audit;
pub mod card;
pub mod inspect;
pub mod item;
pub mod job;
pub mod laying;
pub mod limits;
pub mod make;
pub mod minutes;
pub mod mirror;
pub mod pool;
pub mod project;
mod proof;
pub mod records;
pub mod remote;
pub mod seaming;
pub mod session;
pub mod side;
mod writing;

use seamwright_seams::grid::NoGrid;

/// Why there is no plan. The text says which file, where and why.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A model cannot be read or is no solid.
    #[error("{name}: {why}")]
    Model {
        /// File name as given.
        name: String,
        /// Where and why.
        why: String,
    },
    /// Several models cannot be read or are no solids: a line each.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Models(Vec<PlanError>),
    /// No bed was given.
    #[error("no bed given")]
    NoBed,
    /// What was asked beside the models is of no use.
    #[error("{0}")]
    Asked(String),
    /// The beds are far too small for an item.
    #[error("{item}: {why}")]
    TooSmallBeds {
        /// Id of the item.
        item: String,
        /// How much too small.
        why: NoGrid,
    },
    /// What the maker marked on an item cannot be kept to.
    #[error("{item}: {why}")]
    Marks {
        /// Id of the item.
        item: String,
        /// What cannot, and what to do.
        why: String,
    },
    /// The person said stop before there was a plan to keep.
    #[error("stopped before the first plan was found")]
    Stopped,
    /// A piece fits no bed however it is cut so far.
    #[error(
        "{item}: no plan found whose pieces fit; the smallest bed may be too small for its cells, or what is marked \
         on the item leaves no way to cut it"
    )]
    NoFit {
        /// Id of the item.
        item: String,
    },
    /// A piece cannot be laid.
    #[error("laying the pieces failed: {0}")]
    Lay(#[from] seamwright_loads::LayError),
    /// A number came out that cannot be written: a mistake of this program.
    #[error("the plan cannot be written: {0}")]
    Write(String),
}
