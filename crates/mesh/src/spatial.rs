//! Ray casting, nearest points and touching.
//!
//! The one file that knows the tree library's types; everything in and out is `[f64; 3]`.
//! Source: bounding volume tree of the crate `parry3d-f64` (Apache-2.0), built with
//! `enhanced-determinism`, so native and wasm agree.
//! Not here: convex hulls (`hull.rs`), cutting (`split.rs`); the library's own split is not exact
//! enough (open edges at coplanar faces).

use parry3d::bounding_volume::{Aabb, BoundingVolume};
use parry3d::math::{Pose, Vector};
use parry3d::partitioning::{Bvh, BvhBuildStrategy};
use parry3d::query::{self, PointQuery, Ray, RayCast};
use parry3d::shape::Triangle;

/// Triangles in one leaf. A node takes 128 bytes and building twice that again, so that leaves of one
/// triangle would need ten times the memory of the triangles themselves.
const TRIANGLES_A_LEAF: usize = 4;

/// A search tree over triangles.
pub struct Tree {
    points_mm: Vec<[f64; 3]>,
    /// In an order in which each leaf's stand together.
    triangles: Vec<[u32; 3]>,
    /// What number each of them had.
    numbers: Vec<u32>,
    bvh: Bvh,
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
        if triangles.is_empty() {
            return None;
        }
        let numbers = by_neighbourhood(&points_mm, &triangles);
        let mut tree = Self {
            triangles: numbers.iter().map(|&n| triangles[n as usize]).collect(),
            points_mm,
            numbers,
            bvh: Bvh::new(),
        };
        let leaves =
            (0..tree.triangles.len().div_ceil(TRIANGLES_A_LEAF)).map(|leaf| (leaf, tree.leaf_box(leaf)));
        tree.bvh = Bvh::from_iter(BvhBuildStrategy::Binned, leaves);
        Some(tree)
    }

    /// First triangle met from `start_mm` along the unit vector `direction`, within `reach_mm`.
    /// Triangles are met from both sides, also one that `start_mm` lies on (distance 0).
    pub fn cast_ray(&self, start_mm: [f64; 3], direction: [f64; 3], reach_mm: f64) -> Option<RayHit> {
        let ray = Ray::new(Vector::from_array(start_mm), Vector::from_array(direction));
        let first = |leaf: u32, best: f64| {
            let hits = self
                .leaf(leaf)
                .filter_map(|(number, triangle)| Some((triangle.cast_local_ray(&ray, best, false)?, number)));
            hits.min_by(|a, b| a.0.total_cmp(&b.0))
        };
        let (_, (distance_mm, triangle)) =
            self.bvh.find_best(reach_mm, |node, best| node.cast_ray(&ray, best), first)?;
        Some(RayHit { triangle, distance_mm })
    }

    /// Every crossing of the ray, as triangle and distance, sorted by distance then triangle.
    pub fn all_hits(&self, start_mm: [f64; 3], direction: [f64; 3]) -> Vec<RayHit> {
        let ray = Ray::new(Vector::from_array(start_mm), Vector::from_array(direction));
        let mut hits: Vec<RayHit> = self
            .bvh
            .leaves(|node| node.cast_ray(&ray, f64::MAX) < f64::MAX)
            .flat_map(|leaf| self.leaf(leaf))
            .filter_map(|(triangle, corners)| {
                let distance_mm = corners.cast_local_ray(&ray, f64::MAX, false)?;
                Some(RayHit { triangle, distance_mm })
            })
            .collect();
        hits.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.triangle.cmp(&b.triangle)));
        hits
    }

    /// The nearest point of the surface.
    pub fn nearest(&self, point_mm: [f64; 3]) -> Nearest {
        let point = Vector::from_array(point_mm);
        let near = |leaf: u32, _best: f64| {
            let all = self.leaf(leaf).map(|(number, triangle)| {
                let near = triangle.project_local_point(point, false).point;
                ((near - point).length(), (number, near))
            });
            all.min_by(|a, b| a.0.total_cmp(&b.0))
        };
        let found =
            self.bvh.find_best(f64::MAX, |node, _| node.aabb().distance_to_local_point(point, true), near);
        // Only a point that is no number is near nothing.
        let (distance_mm, (triangle, near)) = found.map_or((f64::NAN, (0, point)), |(_, near)| near);
        Nearest { triangle, point_mm: near.to_array(), distance_mm }
    }

    /// Distance from a point to the surface.
    pub fn distance_mm(&self, point_mm: [f64; 3]) -> f64 {
        self.nearest(point_mm).distance_mm
    }

    /// Triangles whose boxes meet the box from `low_mm` to `high_mm`, in ascending order.
    pub fn in_box(&self, low_mm: [f64; 3], high_mm: [f64; 3]) -> Vec<usize> {
        let aabb = Aabb::new(Vector::from_array(low_mm), Vector::from_array(high_mm));
        let near = self.bvh.intersect_aabb(&aabb).flat_map(|leaf| self.leaf(leaf));
        let mut found: Vec<usize> = near
            .filter(|(_, triangle)| triangle.local_aabb().intersects(&aabb))
            .map(|(number, _)| number)
            .collect();
        found.sort_unstable();
        found
    }

    /// Whether some triangle of the tree comes within `reach_mm` of the triangle `corners_mm`.
    pub fn near_triangle(&self, corners_mm: [[f64; 3]; 3], reach_mm: f64) -> bool {
        let [a, b, c] = corners_mm.map(Vector::from_array);
        let grow = Vector::splat(reach_mm);
        let aabb = Aabb::new(a.min(b).min(c) - grow, a.max(b).max(c) + grow);
        let triangle = Triangle::new(a, b, c);
        let near = self.bvh.intersect_aabb(&aabb).flat_map(|leaf| self.leaf(leaf));
        near.filter(|(_, other)| other.local_aabb().intersects(&aabb)).any(|(_, other)| {
            query::distance(&Pose::IDENTITY, &triangle, &Pose::IDENTITY, &other)
                .is_ok_and(|found| found.distance <= reach_mm)
        })
    }

    /// The triangles of a leaf with their numbers.
    fn leaf(&self, leaf: u32) -> impl Iterator<Item = (usize, Triangle)> + '_ {
        let first = leaf as usize * TRIANGLES_A_LEAF;
        let end = self.triangles.len().min(first + TRIANGLES_A_LEAF);
        (first..end).map(|at| {
            let [a, b, c] = self.triangles[at].map(|p| Vector::from_array(self.points_mm[p as usize]));
            (self.numbers[at] as usize, Triangle::new(a, b, c))
        })
    }

    fn leaf_box(&self, leaf: usize) -> Aabb {
        self.leaf(leaf as u32)
            .map(|(_, triangle)| triangle.local_aabb())
            .reduce(|all, one| all.merged(&one))
            .unwrap_or_else(Aabb::new_invalid)
    }
}

/// Numbers of triangles in an order in which each leaf's lie close together: halved across their
/// longest extent, and so on to the leaves.
fn by_neighbourhood(points_mm: &[[f64; 3]], triangles: &[[u32; 3]]) -> Vec<u32> {
    let middle = |triangle: &[u32; 3]| -> [f32; 3] {
        std::array::from_fn(|axis| triangle.iter().map(|&p| points_mm[p as usize][axis] as f32).sum())
    };
    let mut all: Vec<([f32; 3], u32)> = triangles.iter().map(middle).zip(0..).collect();
    let mut waiting = vec![(0, all.len())];
    while let Some((start, end)) = waiting.pop() {
        if end - start <= TRIANGLES_A_LEAF {
            continue;
        }
        let part = &mut all[start..end];
        let (mut low, mut high) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
        for (middle, _) in part.iter() {
            for axis in 0..3 {
                (low[axis], high[axis]) = (low[axis].min(middle[axis]), high[axis].max(middle[axis]));
            }
        }
        let extent = |axis: usize| high[axis] - low[axis];
        let axis = (1..3).fold(0, |best, axis| if extent(axis) > extent(best) { axis } else { best });
        // A whole number of leaves on the left.
        let half = (part.len() / 2).next_multiple_of(TRIANGLES_A_LEAF);
        let order =
            |a: &([f32; 3], u32), b: &([f32; 3], u32)| a.0[axis].total_cmp(&b.0[axis]).then(a.1.cmp(&b.1));
        part.select_nth_unstable_by(half, order);
        waiting.extend([(start, start + half), (start + half, end)]);
    }
    all.into_iter().map(|(_, number)| number).collect()
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
