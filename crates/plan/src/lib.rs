//! The whole job: project, stages, plan folder, audit.
