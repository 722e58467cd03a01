//! Lay posed pieces on beds in as few loads as can be found.
//!
//! How: a footprint is the hull of a piece's shadow (`footprint.rs`); loads are filled first-fit,
//! largest first, in several orders, and the best is improved by emptying loads (`search.rs`). A
//! piece alone on a bed is decided by the fit test in closed form, never by the search, so
//! whatever fits a bed is laid.
//! Units and frame: millimetres and radians; the frame of a bed: origin at its front-left corner
//! (of the bounding square of a round one), x right, y back.
//! Keeps: every piece once; footprints of a load at least the bed's gap apart, inside what the
//! margin leaves and clear of keep-outs; same input, same result.
//! Not here: how a piece stands (crate `bed`), hours and grams of a load.

use crate::job::{LayError, LayOptions, LayPiece, Load};
use crate::{footprint, search};
use seamwright_bed::Bed;

/// Lays every piece. Loads come in the order of their first piece.
///
/// # Errors
/// [`LayError`] names the first piece that goes on none of its beds, alone.
pub fn lay(pieces: &[LayPiece], beds: &[Bed], options: LayOptions) -> Result<Vec<Load>, LayError> {
    let rooms: Vec<footprint::BedRoom> = beds.iter().map(footprint::BedRoom::new).collect();
    let ready = pieces
        .iter()
        .map(|piece| footprint::Ready::new(piece, beds, &rooms, options))
        .collect::<Result<Vec<_>, _>>()?;
    let mut loads: Vec<Load> = search::fewest_loads(&ready, &rooms, options)
        .into_iter()
        .map(|open| open.finished(&ready, &rooms))
        .collect();
    loads.sort_by_key(|load| load.pieces.iter().map(|laid| laid.index).min());
    Ok(loads)
}

#[cfg(test)]
mod tests {
    use super::*;
    use arbtest::arbitrary::{Result as Drawn, Unstructured};
    use seamwright_bed::BedShape;
    use seamwright_bed::convex2d::{self, P2};
    use seamwright_bed::room::Room;

    use crate::bound::loads_at_least;

    const HEIGHT_MM: f64 = 10.0;

    fn prism(index: usize, outline: &[P2]) -> LayPiece {
        let points_mm =
            [0.0, HEIGHT_MM].iter().flat_map(|&z| outline.iter().map(move |p| [p[0], p[1], z])).collect();
        LayPiece { index, points_mm, beds: vec![0], fixed_turn_rad: None }
    }

    fn boxes(sizes: &[[f64; 2]]) -> Vec<LayPiece> {
        let outline = |[w, d]: [f64; 2]| vec![[0., 0.], [w, 0.], [w, d], [0., d]];
        sizes.iter().enumerate().map(|(i, &size)| prism(i, &outline(size))).collect()
    }

    fn regular(n_corners: usize, radius_mm: f64) -> Vec<P2> {
        let step = 2.0 * std::f64::consts::PI / n_corners as f64;
        let corner =
            |k: usize| [radius_mm * libm::cos(step * k as f64), radius_mm * libm::sin(step * k as f64)];
        (0..n_corners).map(corner).collect()
    }

    fn bed(text: &str) -> Bed {
        Bed::parse(text).unwrap()
    }

    /// Re-derives everything `lay` promises from its output and the pieces alone.
    fn check(pieces: &[LayPiece], beds: &[Bed], loads: &[Load]) {
        let mut seen: Vec<usize> = loads.iter().flat_map(|l| l.pieces.iter().map(|p| p.index)).collect();
        seen.sort_unstable();
        let mut expected: Vec<usize> = pieces.iter().map(|p| p.index).collect();
        expected.sort_unstable();
        assert_eq!(seen, expected, "every piece exactly once");
        for load in loads {
            let bed = &beds[load.bed_index];
            let margin = bed.margin_mm;
            let room = match bed.shape {
                BedShape::Rect { width_mm, depth_mm } => {
                    Room::rect([margin, margin], [width_mm - margin, depth_mm - margin])
                }
                BedShape::Round { diameter_mm } => {
                    Room::round([0.5 * diameter_mm; 2], 0.5 * diameter_mm - margin)
                }
            }
            .without(&bed.keep_out);
            let mut laid: Vec<Vec<P2>> = Vec::new();
            for spot in &load.pieces {
                let piece = pieces.iter().find(|p| p.index == spot.index).unwrap();
                assert!(piece.beds.contains(&load.bed_index));
                assert!(piece.fixed_turn_rad.is_none_or(|turn| turn == spot.turn_rad));
                let shadow: Vec<P2> = piece.points_mm.iter().map(|p| [p[0], p[1]]).collect();
                let shadow =
                    convex2d::moved(&convex2d::turned(&convex2d::hull(&shadow), spot.turn_rad), spot.move_mm);
                // Not by the word of the hull that laying went by, too.
                for p in &piece.points_mm {
                    let there =
                        convex2d::moved(&convex2d::turned(&[[p[0], p[1]]], spot.turn_rad), spot.move_mm);
                    assert!(shadow.len() < 3 || convex2d::holds_point(&shadow, there[0], -1e-6));
                }
                assert!(room.edge_margin_mm(&shadow) >= -1e-6, "{:?} sticks out", spot);
                assert!(room.keep_out().iter().all(|k| convex2d::separation_mm(k, &shadow) >= -1e-6));
                for other in &laid {
                    let apart = convex2d::separation_mm(other, &shadow);
                    assert!(apart >= bed.gap_mm - 1e-6, "{apart} apart on bed {}", bed.id);
                }
                laid.push(shadow);
            }
            let used: f64 = laid.iter().map(|s| convex2d::area_mm2(s)).sum();
            assert!((load.used_fraction - used / room.area_mm2()).abs() < 1e-9);
        }
    }

    fn n_loads(pieces: &[LayPiece], beds: &[Bed]) -> usize {
        let loads = lay(pieces, beds, LayOptions::USUAL).unwrap();
        check(pieces, beds, &loads);
        assert!(loads.len() >= loads_at_least(pieces, beds, LayOptions::USUAL).unwrap());
        loads.len()
    }

    #[test]
    fn four_squares_that_just_fit_take_one_load_and_a_fifth_takes_another() {
        let beds = [bed("220x220x250")];
        let side = (210.0 - 5.0) / 2.0;
        assert_eq!(n_loads(&boxes(&[[side, side]; 4]), &beds), 1);
        assert_eq!(n_loads(&boxes(&[[side, side]; 5]), &beds), 2);
    }

    #[test]
    fn equal_rectangles_reach_the_count_of_an_exact_grid() {
        // 210 = 5 x 38 + 4 x 5 = 3 x 66 2/3 + 2 x 5: fifteen to a bed.
        let rect = [38.0, 200.0 / 3.0];
        let beds = [bed("220x220x250")];
        assert_eq!(n_loads(&boxes(&[rect; 15]), &beds), 1);
        assert_eq!(n_loads(&boxes(&[rect; 30]), &beds), 2);
        // A square of side 3 takes four 1 by 2 dominoes round its middle (gap 0, exact fit).
        let mut tight = bed("40x40x50");
        tight.gap_mm = 0.0;
        assert_eq!(n_loads(&boxes(&[[10.0, 20.0]; 4]), &[tight]), 1);
    }

    #[test]
    fn a_piece_as_large_as_the_bed_gets_a_load_of_its_own_whichever_way_it_is_turned() {
        let beds = [bed("220x220x250")];
        for degrees in 0..90 {
            let turn = f64::from(degrees) * std::f64::consts::PI / 180.0;
            let mut pieces = boxes(&[[210.0, 210.0]]);
            for p in &mut pieces[0].points_mm {
                let [x, y] = convex2d::turned(&[[p[0], p[1]]], turn)[0];
                (p[0], p[1]) = (x, y);
            }
            assert_eq!(n_loads(&pieces, &beds), 1);
        }
        // Within the contract's tolerance still in, past it out.
        assert_eq!(n_loads(&boxes(&[[210.000_000_9, 210.0]]), &beds), 1);
        let error = lay(&boxes(&[[210.01, 210.0]]), &beds, LayOptions::USUAL).unwrap_err();
        assert!(
            matches!(error, LayError::TooLarge { index: 0, over_mm, .. } if (over_mm - 0.01).abs() < 1e-9)
        );
        // A bar that fits only along the diagonal, and a disc as large as a round bed.
        assert_eq!(n_loads(&boxes(&[[280.0, 12.0]]), &beds), 1);
        assert_eq!(n_loads(&[prism(0, &regular(240, 125.0))], &[bed("d260x300")]), 1);
    }

    /// A slanted side set upright by the pose: its points are in line, their x differ by rounding.
    #[test]
    fn pieces_with_points_along_a_side_set_upright_keep_their_gap() {
        let corners = [[0., 0.], [51., -7.], [58., 31.], [33., 44.], [-9., 40.]];
        let along =
            |k: i32| move |(a, b): (P2, P2)| [0, 1].map(|c| a[c] + f64::from(k) / 6.0 * (b[c] - a[c]));
        let studded: Vec<P2> = (0..6).flat_map(|k| convex2d::edges(&corners).map(along(k))).collect();
        let pieces: Vec<LayPiece> = (0..20)
            .map(|i| {
                let (a, b) = (corners[i % 5], corners[(i + 1) % 5]);
                let upright = libm::atan2(b[0] - a[0], b[1] - a[1]);
                let moved = convex2d::moved(&studded, [1.37 * i as f64, 0.71 * i as f64]);
                prism(i, &convex2d::turned(&moved, upright))
            })
            .collect();
        n_loads(&pieces, &[bed("d260x300")]);
        n_loads(&pieces, &[bed("220x220x250")]);
    }

    #[test]
    fn a_piece_too_tall_for_the_bed_is_refused() {
        let error = lay(&boxes(&[[20.0, 20.0]]), &[bed("220x220x14")], LayOptions::USUAL).unwrap_err();
        assert!(matches!(error, LayError::TooLarge { over_mm, .. } if (over_mm - 1.0).abs() < 1e-9));
    }

    #[test]
    fn seven_equal_discs_share_a_circle_three_times_as_wide() {
        // Published: seven unit circles pack in a circle of radius 3 (trivially hexagonal, gap 0).
        // The bed is 0.1 % larger than that optimum and the discs have 24 corners; the search gets there.
        let mut round = bed("d250x50");
        (round.margin_mm, round.gap_mm) = (5.0, 0.0);
        let pieces: Vec<LayPiece> = (0..7).map(|i| prism(i, &regular(24, 40.0 - 0.04))).collect();
        assert_eq!(n_loads(&pieces, &[round]), 1);
    }

    #[test]
    fn keep_outs_and_gaps_of_each_bed_are_respected_and_pieces_stay_on_their_beds() {
        let mut small = bed("180x180x180");
        small.add_keep_out("0,0,60,60").unwrap();
        small.gap_mm = 8.0;
        let beds = [bed("220x220x250@2"), small, bed("d260x300")];
        let mut pieces =
            boxes(&[[80.0, 70.0], [60.0, 150.0], [100.0, 100.0], [30.0, 30.0], [90.0, 20.0], [110.0, 100.0]]);
        for (i, piece) in pieces.iter_mut().enumerate() {
            piece.beds = vec![i % 3, (i + 1) % 3];
        }
        pieces[3].fixed_turn_rad = Some(0.3);
        n_loads(&pieces, &beds);
        // All on the bed with the keep-out: 120 of 180 - 2 x 5 are left beside it.
        let kept_out = lay(
            &[LayPiece { beds: vec![1], ..boxes(&[[150.0, 150.0]]).remove(0) }],
            &beds,
            LayOptions::USUAL,
        );
        assert_eq!(kept_out, Err(LayError::KeptOut { index: 0, bed: "180x180x180".into() }));
    }

    #[test]
    fn a_piece_without_bed_or_points_is_refused_by_its_index() {
        let beds = [bed("220x220x250")];
        let mut piece = boxes(&[[20.0, 20.0]]).remove(0);
        piece.index = 7;
        let at = |beds_of: Vec<usize>| {
            lay(&[LayPiece { beds: beds_of, ..piece.clone() }], &beds, LayOptions::USUAL)
        };
        assert_eq!(at(vec![]), Err(LayError::NoBed { index: 7, n_beds: 1 }));
        assert_eq!(at(vec![1]), Err(LayError::NoBed { index: 7, n_beds: 1 }));
        piece.points_mm.clear();
        assert_eq!(lay(&[piece], &beds, LayOptions::USUAL), Err(LayError::NoPoints { index: 7 }));
        assert_eq!(lay(&[], &beds, LayOptions::USUAL), Ok(vec![]));
    }

    /// The part of a convex outline with `normal . p <= offset`.
    fn cut_off(outline: &[P2], normal: P2, offset: f64) -> Vec<P2> {
        let side = |p: P2| normal[0] * p[0] + normal[1] * p[1] - offset;
        let mut kept = Vec::new();
        for (p, q) in convex2d::edges(outline) {
            let (a, b) = (side(p), side(q));
            if a <= 0.0 {
                kept.push(p);
            }
            if (a < 0.0) != (b < 0.0) && a != b {
                let t = a / (a - b);
                kept.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
            }
        }
        convex2d::hull(&kept)
    }

    /// Three usable areas of 210 mm, each cut by random lines into six with a kerf of 16 mm, every
    /// part turned at random: three loads are the optimum, because the bound says so.
    fn three_beds_cut_up(seed: u64) -> Vec<LayPiece> {
        let mut state = seed;
        let mut chance = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / (1u64 << 31) as f64
        };
        let mut all = Vec::new();
        for _ in 0..3 {
            let mut parts = vec![vec![[0., 0.], [210., 0.], [210., 210.], [0., 210.]]];
            while parts.len() < 6 {
                let area = |&i: &usize| convex2d::area_mm2(&parts[i]);
                let largest = (0..parts.len()).max_by(|a, b| area(a).total_cmp(&area(b))).unwrap();
                let part = parts.remove(largest);
                let (sin, cos) = libm::sincos(std::f64::consts::TAU * chance());
                let middle = convex2d::centre(&part);
                let offset = cos * middle[0] + sin * middle[1] + 20.0 * (chance() - 0.5);
                parts.push(cut_off(&part, [cos, sin], offset - 8.0));
                parts.push(cut_off(&part, [-cos, -sin], -offset - 8.0));
            }
            all.extend(parts);
        }
        let pieces = all.iter().enumerate();
        pieces.map(|(i, part)| prism(i, &convex2d::turned(part, std::f64::consts::TAU * chance()))).collect()
    }

    #[test]
    fn three_beds_cut_up_with_wide_kerfs_are_laid_on_three_beds_again_given_the_work() {
        let mut tight = bed("220x220x250");
        tight.gap_mm = 2.0;
        let beds = [tight];
        let options = LayOptions { work: 40_000_000, ..LayOptions::USUAL };
        for seed in [1, 2, 3] {
            let pieces = three_beds_cut_up(seed);
            assert_eq!(loads_at_least(&pieces, &beds, options), Ok(3));
            let loads = lay(&pieces, &beds, options).unwrap();
            check(&pieces, &beds, &loads);
            assert_eq!(loads.len(), 3);
        }
    }

    fn drawn_piece(u: &mut Unstructured<'_>, index: usize) -> Drawn<LayPiece> {
        let reach = *u.choose(&[30i32, 60, 110])?;
        let n = u.int_in_range(3..=12)?;
        let outline: Drawn<Vec<P2>> = (0..n)
            .map(|_| {
                let mut coordinate = || Ok(f64::from(u.int_in_range(0..=reach * 1024)?) / 1024.0);
                Ok([coordinate()?, coordinate()?])
            })
            .collect();
        let beds = u.choose(&[vec![0], vec![1, 0], vec![2, 0, 1]])?.clone();
        let fixed_turn_rad = if u.ratio(1, 8)? { Some(0.5) } else { None };
        Ok(LayPiece { beds, fixed_turn_rad, ..prism(index, &outline?) })
    }

    #[test]
    fn random_pieces_are_laid_once_each_apart_inside_and_the_same_way_twice() {
        let mut square = bed("220x220x250");
        square.add_keep_out("180,0,40,15").unwrap();
        let mut ell = bed("300x200x250");
        ell.keep_out.push(vec![[0., 0.], [80., 0.], [80., 10.], [20., 10.], [20., 30.], [0., 30.]]);
        ell.gap_mm = 2.0;
        let beds = [square, bed("d260x300"), ell];
        let options = LayOptions { work: 100_000, ..LayOptions::USUAL };
        arbtest::arbtest(|u| {
            let n = u.int_in_range(1..=9)?;
            let pieces: Vec<LayPiece> = (0..n).map(|i| drawn_piece(u, i)).collect::<Drawn<_>>()?;
            let loads = lay(&pieces, &beds, options).unwrap();
            check(&pieces, &beds, &loads);
            assert_eq!(lay(&pieces, &beds, options).unwrap(), loads);
            assert!(loads.len() >= loads_at_least(&pieces, &beds, options).unwrap());
            Ok(())
        })
        .budget_ms(1500);
    }
}
