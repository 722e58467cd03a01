//! All tests that cross crates, in one binary.
#[path = "all/curvature.rs"]
mod curvature;
#[path = "all/cut.rs"]
mod cut;
#[path = "all/hidden_seams.rs"]
mod hidden_seams;
#[path = "all/marks.rs"]
mod marks;
#[path = "all/mirror.rs"]
mod mirror;
#[path = "all/partial.rs"]
mod partial;
#[path = "all/regions.rs"]
mod regions;
#[path = "all/seam_lines.rs"]
mod seam_lines;
#[path = "all/seam_lines_reference.rs"]
mod seam_lines_reference;
#[path = "all/sweep.rs"]
mod sweep;
#[path = "all/tampered.rs"]
mod tampered;
#[path = "all/whole_plans.rs"]
mod whole_plans;
