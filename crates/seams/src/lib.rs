//! Where to cut: plain grid, parallel cuts, greedy planes; what seams are like. Cuts are tried on a
//! stand-in of few triangles and then made on the item.
//!
//! Start with [`search::Search`] (rounds of tasks that end in a [`partition::Partition`]), then
//! [`lines::measure_seams`] (what the seams of finished pieces are like).

pub mod beam;
pub mod bound;
mod burden;
pub mod choice;
mod cloud;
mod cover;
pub mod cuts;
pub mod draw;
pub mod estimate;
mod few;
pub mod field;
mod fine;
mod flow;
pub mod frames;
pub mod grid;
pub mod ground;
mod halves;
pub mod hollow;
pub mod hollows;
mod improve;
mod labels;
pub mod lines;
pub mod marks;
pub mod mirror;
mod offers;
pub mod outline;
pub mod part;
pub mod partial;
pub mod partition;
pub mod patches;
pub mod portfolio;
pub mod probe;
pub mod proxy;
pub mod realise;
pub mod remaking;
pub mod round;
mod rows;
pub mod search;
mod seek;
pub mod slabs;
mod squared;
pub mod sweep;
pub mod task;
pub mod trial;
