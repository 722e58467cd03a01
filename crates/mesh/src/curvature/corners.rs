//! Smooth normals at the corners of large triangles.
//!
//! A curved surface in large flat facets bends only in its edges; between normals that turn evenly
//! from corner to corner it bends everywhere, as the surface meant. Edges that bend by more than
//! [`SMOOTH_DEG`] are meant, and stay.
//! How: the normals of the triangles round a corner that lead to the triangle's own in turns of less
//! than that angle, weighted by their angle at the corner. Only triangles asked for are looked at.

use crate::solid::Solid;
use crate::vec3;

/// Facets that turn by less than this from one to the next stand for a curved surface: less than the
/// 20 degrees at which a bend counts as a concave line, so that none of those is smoothed away.
const SMOOTH_DEG: f64 = 18.0;

const NONE: u32 = u32::MAX;

/// The triangles round some of the points.
pub(crate) struct Corners {
    /// Per point of the solid, which list is its own.
    list_of: Vec<u32>,
    /// Ends of the lists in `triangles`.
    ends: Vec<u32>,
    triangles: Vec<u32>,
    smooth_cos: f64,
}

impl Corners {
    /// For the corners of the triangles `large`.
    pub fn new(solid: &Solid, large: &[u32]) -> Self {
        let mut list_of = vec![NONE; if large.is_empty() { 0 } else { solid.points.len() }];
        let mut n_lists = 0;
        for &triangle in large {
            for point in solid.triangles[triangle as usize] {
                if list_of[point as usize] == NONE {
                    list_of[point as usize] = n_lists;
                    n_lists += 1;
                }
            }
        }
        let mut ends = vec![0_u32; n_lists as usize];
        let mut triangles = Vec::new();
        if !large.is_empty() {
            let lists = |t: &[u32; 3]| t.map(|p| list_of[p as usize]).into_iter().filter(|&l| l != NONE);
            solid.triangles.iter().flat_map(lists).for_each(|list| ends[list as usize] += 1);
            let mut sum = 0;
            for end in &mut ends {
                (*end, sum) = (sum, sum + *end);
            }
            triangles = vec![0; sum as usize];
            for (t, index) in solid.triangles.iter().zip(0..) {
                for list in lists(t) {
                    triangles[ends[list as usize] as usize] = index;
                    ends[list as usize] += 1;
                }
            }
        }
        Self { list_of, ends, triangles, smooth_cos: libm::cos(SMOOTH_DEG.to_radians()) }
    }

    /// Unit normals at the corners of one of the large triangles, whose own is `normal`.
    pub fn normals(&self, solid: &Solid, triangle: u32, normal: [f64; 3]) -> [[f64; 3]; 3] {
        let mut round: Vec<(u32, [f64; 3])> = Vec::new();
        solid.triangles[triangle as usize].map(|point| {
            let list = self.list_of[point as usize] as usize;
            let start = if list == 0 { 0 } else { self.ends[list - 1] } as usize;
            round.clear();
            round.extend(self.triangles[start..self.ends[list] as usize].iter().filter_map(|&other| {
                Some((other, solid.triangle_normal(other as usize)?)).filter(|_| other != triangle)
            }));
            // Those reached so far stand first; each of them is asked whom it leads to.
            let mut sum = vec3::scale(normal, angle_at(solid, triangle, point));
            let (mut n_reached, mut asked, mut from) = (0, 0, normal);
            loop {
                let first = n_reached;
                for index in first..round.len() {
                    if vec3::dot(round[index].1, from) >= self.smooth_cos {
                        round.swap(index, n_reached);
                        let (other, theirs) = round[n_reached];
                        sum = vec3::add(sum, vec3::scale(theirs, angle_at(solid, other, point)));
                        n_reached += 1;
                    }
                }
                if asked == n_reached {
                    break;
                }
                from = round[asked].1;
                asked += 1;
            }
            vec3::unit(sum).unwrap_or(normal)
        })
    }
}

/// The angle of a triangle at one of its corners.
fn angle_at(solid: &Solid, triangle: u32, point: u32) -> f64 {
    let ids = solid.triangles[triangle as usize];
    let corners = solid.corners_mm(triangle as usize);
    let at = ids.iter().position(|&id| id == point).unwrap_or(0);
    let (a, b) =
        (vec3::sub(corners[(at + 1) % 3], corners[at]), vec3::sub(corners[(at + 2) % 3], corners[at]));
    libm::atan2(vec3::length(vec3::cross(a, b)), vec3::dot(a, b))
}
