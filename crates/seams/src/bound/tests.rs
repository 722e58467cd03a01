//! Least numbers against planted ones, and proofs against boxes placed at random.

use super::*;
use crate::draw::Draw;
use crate::frames;
use crate::ground::Wish;
use seamwright_mesh::Solid;

/// A box from the origin.
pub(crate) fn cuboid(size: [f64; 3]) -> Solid {
    let corner = |i: usize| std::array::from_fn(|k| if i >> k & 1 == 1 { size[k] } else { 0.0 });
    let points: Vec<[f64; 3]> = (0..8).map(corner).collect();
    let quads = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];
    let triangles: Vec<[u32; 3]> = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
    Solid::from_triangles(&points, &triangles).expect("a box is closed").0
}

/// An L of two arms, seen from above, of some height.
fn bracket([long, wide]: [f64; 2], height: f64) -> Solid {
    let outline = [[0.0, 0.0], [long, 0.0], [long, wide], [wide, wide], [wide, long], [0.0, long]];
    let points: Vec<[f64; 3]> = [0.0, height].iter().flat_map(|&z| outline.map(|[x, y]| [x, y, z])).collect();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    for [a, b, c] in [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5]] {
        triangles.extend([[a, c, b], [a + 6, b + 6, c + 6]]);
    }
    for i in 0..6 {
        let j = (i + 1) % 6;
        triangles.extend([[i, j, j + 6], [i, j + 6, i + 6]]);
    }
    Solid::from_triangles(&points, &triangles).expect("an L is closed").0
}

fn bed(text: &str) -> Bed {
    Bed { margin_mm: 0.0, ..Bed::parse(text).expect("a bed") }
}

fn wish(beds: &[Bed]) -> Wish {
    Wish { beds: beds.to_vec(), ..Wish::default() }
}

fn proof(item: &Solid, beds: &[Bed], n_cells: u64) -> Proof {
    let ground = Arc::new(Ground::new(item, &wish(beds)));
    let mut bounding = Bounding::new(ground, usize::MAX, n_cells);
    while bounding.step() {}
    bounding.proof().clone()
}

#[test]
fn no_more_is_proved_than_blocks_of_a_bed_make_up() {
    // So many blocks of 100 x 80 x 60 less 0.2 mm in all: as many beds hold it, by construction.
    for (counts, all) in [([1, 1, 1], 1), ([2, 1, 1], 2), ([3, 1, 1], 3), ([2, 2, 1], 4), ([2, 2, 2], 8)] {
        let size = [0, 1, 2].map(|k| f64::from(counts[k]) * [100.0, 80.0, 60.0][k] - 0.2);
        let least = proof(&cuboid(size), &[bed("100x80x60")], 300_000).pieces_at_least();
        // Less than a bed is missing, so volume proves as many.
        assert_eq!(least, all, "{counts:?}");
    }
    // A little more than so many blocks takes one more, by volume.
    assert_eq!(proof(&cuboid([201.0, 80.0, 60.0]), &[bed("100x80x60")], 1000).pieces_at_least(), 3);
}

#[test]
fn an_l_of_two_arms_needs_two_pieces_and_a_long_one_three() {
    // Each arm fits the bed: two by construction. Volume would allow one: 40 % of the bed.
    let least =
        |long: f64| proof(&bracket([long, 30.0], 20.0), &[bed("210x40x30")], 300_000).pieces_at_least();
    assert_eq!(least(200.0), 2);
    // Both ends and the corner lie more than the bed's diagonal of 216 mm apart; one arm whole, the other
    // without it and in two is three.
    assert_eq!(least(240.0), 3);
}

#[test]
fn thin_plates_need_what_their_corners_and_middles_need() {
    // 2.5 beds each way, thinner than any: nine of its points, on a grid of 125 mm, are pairwise farther
    // apart than a bed of 80 x 80 x 20 is long (115 mm), so each takes a piece of its own.
    let least = proof(&cuboid([250.0, 250.0, 2.0]), &[bed("80x80x20")], 3_000_000).pieces_at_least();
    // Sixteen beds cover it, by construction.
    assert!((9..=16).contains(&least), "{least}");
}

#[test]
fn several_beds_take_the_best_of_each_and_round_ones_count_too() {
    let rod = cuboid([310.0, 8.0, 8.0]);
    let least = |beds: &[Bed]| proof(&rod, beds, 300_000).pieces_at_least();
    let (square, long, round) = (bed("100x100x100"), bed("320x10x10"), bed("d100x120"));
    assert_eq!(least(std::slice::from_ref(&square)), 2);
    // The diagonal of the cylinder is 156 mm: two of them hold 312 mm, but no rod so thick.
    assert!((2..=3).contains(&least(std::slice::from_ref(&round))));
    assert_eq!(least(&[square, round, long]), 1);
}

#[test]
fn lumps_add_up() {
    let far = cuboid([310.0, 8.0, 8.0]);
    let (points, triangles) = (far.points_mm(), far.triangles().to_vec());
    let other: Vec<[f64; 3]> = points.iter().map(|p| [p[0], p[1] + 100.0, p[2]]).collect();
    let shifted = triangles.iter().map(|t| t.map(|i| i + points.len() as u32));
    let both: Vec<[u32; 3]> = triangles.iter().copied().chain(shifted).collect();
    let solid = Solid::from_triangles(&[points, other].concat(), &both).expect("two rods").0;
    let found = proof(&solid, &[bed("100x100x100")], 300_000);
    assert_eq!((found.lumps.len(), found.pieces_at_least()), (2, 4));
}

#[test]
fn enough_is_enough() {
    let ground = Arc::new(Ground::new(&cuboid([250.0, 250.0, 2.0]), &wish(&[bed("80x80x20")])));
    let mut bounding = Bounding::new(ground, 3, 1_000_000);
    while bounding.step() {}
    assert_eq!(bounding.proof().pieces_at_least(), 3);
}

/// Boxes one fewer than proved, turned at random and slid to where they hold most of what is left, never
/// hold all points of the proof.
#[test]
fn boxes_placed_at_random_never_hold_what_is_proved_to_need_one_more() {
    let bed = bed("90x70x50");
    let item = bracket([200.0, 60.0], 40.0);
    let found = proof(&item, std::slice::from_ref(&bed), 2_000_000);
    let LumpProof { pieces_at_least, reason: Reason::Points { points_mm, .. }, .. } = &found.lumps[0] else {
        panic!("{found:?}");
    };
    assert!(*pieces_at_least >= 4, "{pieces_at_least}");
    let sizes = bed.usable().size_mm();
    let mut draw = Draw::new(7, 0);
    let turns = frames::half_sphere(40);
    for _ in 0..3_000 {
        let mut left = points_mm.clone();
        for _ in 1..*pieces_at_least {
            let up = turns[draw.below(turns.len())];
            let rows = turn::upright(up, draw.unit() * std::f64::consts::PI);
            let held = |corner: [f64; 3], p: [f64; 3]| {
                let at = turn::apply(&rows, p);
                (0..3).all(|k| at[k] >= corner[k] - 1e-9 && at[k] <= corner[k] + sizes[k] + 1e-9)
            };
            // Corners at which points touch sides: at least one of them is as good as any place.
            let starts: Vec<[f64; 3]> = (0..12)
                .map(|_| [0, 1, 2].map(|k| turn::apply(&rows, left[draw.below(left.len())])[k]))
                .collect();
            let count = |&corner: &[f64; 3]| left.iter().filter(|&&p| held(corner, p)).count();
            let best = starts.into_iter().max_by_key(count).expect("twelve starts");
            left.retain(|&p| !held(best, p));
            if left.is_empty() {
                break;
            }
        }
        assert!(!left.is_empty(), "{} boxes hold all", pieces_at_least - 1);
    }
}
