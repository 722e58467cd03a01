//! Ray casting, nearest points and touching.
//!
//! The one file that knows the tree library's types; everything in and out is `[f64; 3]`.
//! Source: bounding volume tree of the crate `parry3d-f64` (Apache-2.0), built with
//! `enhanced-determinism`, so native and wasm agree.
//! Not here: convex hulls (`hull.rs`), cutting (`split.rs`); the library's own split is not exact
//! enough (open edges at coplanar faces).

use parry3d::bounding_volume::Aabb;
use parry3d::math::{Pose, Vector};
use parry3d::partitioning::{Bvh, BvhBuildStrategy};
use parry3d::query::{self, PointQuery, PointQueryWithLocation, Ray, RayCast};
use parry3d::shape::{TriMesh, Triangle};

/// A search tree over triangles.
pub struct Tree {
    mesh: TriMesh,
}

/// Where a ray first meets a triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RayHit {
    /// Index of the triangle met.
    pub triangle: usize,
    /// Distance from the ray's start in mm.
    pub distance_mm: f64,
}

/// The point of a surface nearest to some point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Index of a triangle that holds the point.
    pub triangle: usize,
    /// The point itself.
    pub point_mm: [f64; 3],
    /// How far away it is.
    pub distance_mm: f64,
}

impl Tree {
    /// A tree over `triangles`; `None` if there are none.
    pub fn new(points_mm: Vec<[f64; 3]>, triangles: Vec<[u32; 3]>) -> Option<Self> {
        let points = points_mm.into_iter().map(Vector::from_array).collect();
        TriMesh::new(points, triangles).ok().map(|mesh| Self { mesh })
    }

    /// First triangle met from `start_mm` along the unit vector `direction`, within `reach_mm`.
    /// Triangles are met from both sides, also one that `start_mm` lies on (distance 0).
    pub fn cast_ray(&self, start_mm: [f64; 3], direction: [f64; 3], reach_mm: f64) -> Option<RayHit> {
        let ray = Ray::new(Vector::from_array(start_mm), Vector::from_array(direction));
        let (triangle, distance_mm) = self
            .mesh
            .bvh()
            .cast_ray(&ray, reach_mm, |leaf, best| self.triangle(leaf).cast_local_ray(&ray, best, false))?;
        Some(RayHit { triangle: triangle as usize, distance_mm })
    }

    /// Every crossing of the ray, as triangle and distance, sorted by distance then triangle.
    pub fn all_hits(&self, start_mm: [f64; 3], direction: [f64; 3]) -> Vec<RayHit> {
        let ray = Ray::new(Vector::from_array(start_mm), Vector::from_array(direction));
        let mut hits: Vec<RayHit> = self
            .mesh
            .bvh()
            .leaves(|node| node.cast_ray(&ray, f64::MAX) < f64::MAX)
            .filter_map(|leaf| {
                let distance_mm = self.triangle(leaf).cast_local_ray(&ray, f64::MAX, false)?;
                Some(RayHit { triangle: leaf as usize, distance_mm })
            })
            .collect();
        hits.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.triangle.cmp(&b.triangle)));
        hits
    }

    /// The nearest point of the surface.
    pub fn nearest(&self, point_mm: [f64; 3]) -> Nearest {
        let point = Vector::from_array(point_mm);
        let (projection, (triangle, _)) = self.mesh.project_local_point_and_get_location(point, false);
        let near = projection.point;
        Nearest {
            triangle: triangle as usize,
            point_mm: near.to_array(),
            distance_mm: (near - point).length(),
        }
    }

    /// Distance from a point to the surface.
    pub fn distance_mm(&self, point_mm: [f64; 3]) -> f64 {
        self.mesh.distance_to_local_point(Vector::from_array(point_mm), false)
    }

    /// Triangles whose boxes meet the box from `low_mm` to `high_mm`, in ascending order.
    pub fn in_box(&self, low_mm: [f64; 3], high_mm: [f64; 3]) -> Vec<usize> {
        let aabb = Aabb::new(Vector::from_array(low_mm), Vector::from_array(high_mm));
        let mut found: Vec<usize> = self.mesh.bvh().intersect_aabb(&aabb).map(|leaf| leaf as usize).collect();
        found.sort_unstable();
        found
    }

    /// Whether some triangle of the tree comes within `reach_mm` of the triangle `corners_mm`.
    pub fn near_triangle(&self, corners_mm: [[f64; 3]; 3], reach_mm: f64) -> bool {
        let [a, b, c] = corners_mm.map(Vector::from_array);
        let grow = Vector::splat(reach_mm);
        let aabb = Aabb::new(a.min(b).min(c) - grow, a.max(b).max(c) + grow);
        let triangle = Triangle::new(a, b, c);
        self.mesh.bvh().intersect_aabb(&aabb).any(|leaf| {
            query::distance(&Pose::IDENTITY, &triangle, &Pose::IDENTITY, &self.triangle(leaf))
                .is_ok_and(|found| found.distance <= reach_mm)
        })
    }

    fn triangle(&self, index: u32) -> Triangle {
        self.mesh.triangle(index)
    }
}

/// Pairs of boxes (low, high) that overlap when each is grown by `grow_mm`, sorted.
pub fn overlapping_boxes(boxes_mm: &[([f64; 3], [f64; 3])], grow_mm: f64) -> Vec<(usize, usize)> {
    let aabbs: Vec<_> = boxes_mm
        .iter()
        .map(|&(low, high)| {
            let grow = Vector::splat(grow_mm);
            Aabb::new(Vector::from_array(low) - grow, Vector::from_array(high) + grow)
        })
        .collect();
    let tree = Bvh::from_leaves(BvhBuildStrategy::Binned, &aabbs);
    let mut pairs = Vec::new();
    for (index, aabb) in aabbs.iter().enumerate() {
        pairs.extend(
            tree.intersect_aabb(aabb).map(|other| other as usize).filter(|&o| index < o).map(|o| (index, o)),
        );
    }
    pairs.sort_unstable();
    pairs
}
