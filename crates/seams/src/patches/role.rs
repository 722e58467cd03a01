//! Where the body is in an item of a known role, from the item alone.
//!
//! How: armour bends round the part it covers, so its mass centre lies on the body's side of its
//! wall. For parts round a limb or the trunk, open at both ends, the body is the line through that
//! centre along which the surface faces least: the axis of a tube, of a cone and of half of
//! either, whatever their length.
//! Needs no wearer, so that a reader of a plan folder finds the same from item and role.
//! Units: mm, item coordinates. Items that cover nothing (blade, shield, pack, wings ...) have no body side.

use nalgebra::Matrix3;
use seamwright_mesh::{Solid, vec3};

use super::{InnerRule, doubled_area};

/// Roles that cap a head, a joint or an end; the words are the project's own (`words.md`).
const ROUND: [&str; 8] = ["helm", "mask", "pauldron", "couter", "gauntlet", "tasset", "poleyn", "sabaton"];

/// Roles that go round a length of limb, neck or trunk, or half round it.
const LONG: [&str; 9] =
    ["rerebrace", "vambrace", "cuisse", "greave", "gorget", "breastplate", "backplate", "fauld", "belt"];

impl InnerRule {
    /// The rule for an item worn as `role`; by size for roles that cover no part of a body, and for
    /// words that are no role.
    pub fn of_role(role: Option<&str>, item: &Solid) -> Self {
        let Some(role) = role else { return Self::BySize };
        if ROUND.contains(&role) {
            Self::FacingBody { point_mm: item.mass().centre_mm, axis: None }
        } else if LONG.contains(&role) {
            Self::FacingBody { point_mm: item.mass().centre_mm, axis: Some(least_faced(item)) }
        } else {
            Self::BySize
        }
    }
}

/// The direction that the surface faces least, by area.
fn least_faced(item: &Solid) -> [f64; 3] {
    let mut facing = Matrix3::<f64>::zeros();
    for triangle_index in 0..item.triangles().len() {
        let doubled = doubled_area(item.corners_mm(triangle_index));
        let size = vec3::length(doubled);
        if size > 0.0 {
            for row in 0..3 {
                for column in 0..3 {
                    facing[(row, column)] += doubled[row] * doubled[column] / size;
                }
            }
        }
    }
    let eigen = facing.symmetric_eigen();
    let least = (0..3).min_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b])).unwrap_or(2);
    std::array::from_fn(|axis| eigen.eigenvectors[(axis, least)])
}
