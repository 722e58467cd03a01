//! The whole job: project, stages, plan folder, audit.

pub mod records;
