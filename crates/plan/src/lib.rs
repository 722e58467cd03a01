//! The whole job: project, stages, plan folder, audit.

pub mod audit;
pub mod records;
