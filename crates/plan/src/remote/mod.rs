//! A plan made by workers that share no memory: the browser's driver of a session.
//!
//! One [`keeper::Keeper`] holds the session and everything found; [`searcher::Searcher`]s run tasks
//! of a round in steps and send back outlines and cuts, which the keeper replays to the bit. A
//! [`finder::Finder`] holds what is drawn and says what the pointer is on, whatever the others do.
//! What crosses is plain bytes, numbers and JSON of the records in [`messages`].
//! Not here: workers and messages themselves (`www/src/planner`), the wasm face (`crates/web`).

pub mod drawing;
pub mod finder;
pub mod keeper;
pub mod looking;
pub mod messages;
pub mod opening;
pub mod searcher;
pub mod shapes;
