//! Get pieces and beds ready for laying: outlines at every turn tried, and the spot alone on a bed.
//!
//! How: the shadow's hull, made simpler outward where it has many corners; turns all round, turns
//! that bring one of the longest edges to an axis, and the turn with most room on each bed.
//! Units and frame: millimetres, radians; the frame of the bed.
//! Not here: which piece goes where (`search.rs`).

use std::f64::consts::{FRAC_PI_2, PI};

use seamwright_bed::convex2d::{self, P2};
use seamwright_bed::place::{Region, place};
use seamwright_bed::room::{Edge, Room, TOUCH_MM};
use seamwright_bed::{Bed, BedShape, FITS_MM, fits, upright};

use crate::job::{LayError, LayOptions, LayPiece};

/// Outlines of more corners than this are made simpler before the search.
const MANY_CORNERS: usize = 24;

/// And may grow by this much doing so, mm: a fiftieth of the usual gap, our choice.
const SIMPLER_MM: f64 = 0.1;

/// Longest edges brought to the axes, our choice: a piece seldom has more long straight sides.
const N_ALIGNED_EDGES: usize = 3;

/// Two turns closer than this are one, rad: 0.06 degrees, a fifth of a mm over 200 mm.
const SAME_TURN_RAD: f64 = 1e-3;

/// A bed's room and what the search needs of it.
pub(crate) struct BedRoom {
    pub room: Room,
    pub shape: BedShape,
    pub centre: P2,
    pub height_mm: f64,
    pub gap_mm: f64,
    /// Area of the usable outline grown by half the gap: footprints grown likewise share it
    /// without overlap, so it bounds what a load holds. Keep-outs are not taken off.
    pub shared_mm2: f64,
    /// Longest distance inside the usable outline.
    pub across_mm: f64,
}

impl BedRoom {
    pub(crate) fn new(bed: &Bed) -> BedRoom {
        let usable = bed.usable();
        let size = usable.size_mm();
        let low = usable.low_mm;
        let centre = usable.centre_mm();
        let half_gap = 0.5 * bed.gap_mm;
        let (room, shared_mm2, across_mm) = match usable.shape {
            BedShape::Rect { width_mm, depth_mm } => (
                Room::rect(low, [low[0] + width_mm, low[1] + depth_mm]),
                band_area(width_mm * depth_mm, 2.0 * (width_mm + depth_mm), half_gap),
                libm::hypot(size[0], size[1]),
            ),
            BedShape::Round { diameter_mm } => {
                let radius = 0.5 * diameter_mm;
                (Room::round(centre, radius), PI * (radius + half_gap) * (radius + half_gap), diameter_mm)
            }
        };
        BedRoom {
            room: room.without(&bed.keep_out),
            shape: usable.shape,
            centre,
            height_mm: usable.height_mm,
            gap_mm: bed.gap_mm,
            shared_mm2,
            across_mm,
        }
    }

    /// The room of this piece's shadow: area grown by half the gap.
    pub(crate) fn share_mm2(&self, piece: &Ready) -> f64 {
        band_area(piece.area_mm2, piece.girth_mm, 0.5 * self.gap_mm)
    }
}

/// Area of a convex outline grown by `by_mm` (Steiner's formula).
fn band_area(area_mm2: f64, girth_mm: f64, by_mm: f64) -> f64 {
    area_mm2 + girth_mm * by_mm + PI * by_mm * by_mm
}

/// The outline at one turn.
#[derive(Debug, Clone)]
pub(crate) struct Turned {
    pub turn_rad: f64,
    pub outline: Vec<P2>,
    pub low: P2,
    pub high: P2,
    /// Where it may be moved on each bed of the list; none where too large or not asked for.
    pub regions: Vec<Option<Region>>,
}

/// Where a piece lies alone on a bed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Alone {
    pub turn_rad: f64,
    pub move_mm: P2,
}

/// A piece ready for laying.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub index: usize,
    /// The exact hull of the shadow, grown by the brim.
    pub footprint: Vec<P2>,
    pub turns: Vec<Turned>,
    /// Beds it fits alone, in the order preferred, and where.
    pub alone: Vec<(usize, Alone)>,
    pub area_mm2: f64,
    pub girth_mm: f64,
    pub width_mm: f64,
    pub longest_mm: f64,
}

impl Ready {
    pub(crate) fn new(
        piece: &LayPiece,
        beds: &[Bed],
        rooms: &[BedRoom],
        options: LayOptions,
    ) -> Result<Ready, LayError> {
        let index = piece.index;
        if piece.points_mm.is_empty() || piece.points_mm.iter().flatten().any(|c| !c.is_finite()) {
            return Err(LayError::NoPoints { index });
        }
        let Some(&preferred) = piece.beds.first().filter(|_| piece.beds.iter().all(|&b| b < beds.len()))
        else {
            return Err(LayError::NoBed { index, n_beds: beds.len() });
        };
        let bare = convex2d::hull(&piece.points_mm.iter().map(|p| [p[0], p[1]]).collect::<Vec<_>>());
        let height_mm = piece.points_mm.iter().map(|p| p[2]).fold(0.0, f64::max);
        let footprint = convex2d::grown(&bare, options.brim_mm);
        let search_outline = if footprint.len() > MANY_CORNERS {
            convex2d::simplified_outward(&footprint, SIMPLER_MM)
        } else {
            footprint.clone()
        };

        // Most room on each bed it may go on; the turn of the best is also one to search with.
        let rooms_left: Vec<(usize, f64, f64)> = piece
            .beds
            .iter()
            .map(|&b| {
                let (margin_mm, turn_rad) = match piece.fixed_turn_rad {
                    Some(turn_rad) => {
                        (room_left(&convex2d::turned(&bare, turn_rad), rooms[b].shape), turn_rad)
                    }
                    None => upright::best_turn(&bare, rooms[b].shape),
                };
                (b, margin_mm.min(rooms[b].height_mm - height_mm), turn_rad)
            })
            .collect();
        let fitting: Vec<_> = rooms_left.iter().filter(|r| fits(r.1)).collect();
        if fitting.is_empty() {
            let least = rooms_left.iter().max_by(|a, b| a.1.total_cmp(&b.1));
            let (bed, margin_mm, _) = least.copied().unwrap_or((preferred, 0.0, 0.0));
            return Err(LayError::TooLarge { index, bed: beds[bed].id.clone(), over_mm: -margin_mm });
        }
        let turn_list = match piece.fixed_turn_rad {
            Some(turn_rad) => vec![turn_rad],
            None => turns(&search_outline, options.n_turns, fitting.iter().map(|r| r.2)),
        };
        let turns: Vec<Turned> = turn_list
            .into_iter()
            .map(|turn_rad| {
                let outline = convex2d::turned(&search_outline, turn_rad);
                let (low, high) = convex2d::bounds(&outline);
                let region = |(b, bed): (usize, &BedRoom)| {
                    fitting.iter().any(|r| r.0 == b).then(|| Region::new(&outline, &bed.room)).flatten()
                };
                let regions = rooms.iter().enumerate().map(region).collect();
                Turned { turn_rad, outline, low, high, regions }
            })
            .collect();
        let alone: Vec<(usize, Alone)> = fitting
            .iter()
            .filter_map(|&&(b, _, turn_rad)| {
                alone_spot(&bare, &footprint, &turns, turn_rad, &rooms[b]).map(|spot| (b, spot))
            })
            .collect();
        if alone.is_empty() {
            return Err(LayError::KeptOut { index, bed: beds[preferred].id.clone() });
        }
        Ok(Ready {
            index,
            area_mm2: convex2d::area_mm2(&footprint),
            girth_mm: convex2d::girth_mm(&footprint),
            width_mm: convex2d::width_mm(&footprint).0,
            longest_mm: longest(&footprint),
            footprint,
            turns,
            alone,
        })
    }
}

/// Room left in all by an outline as it is turned now; see [`upright::best_turn`].
fn room_left(outline: &[P2], shape: BedShape) -> f64 {
    match shape {
        BedShape::Rect { width_mm, depth_mm } => {
            let (low, high) = convex2d::bounds(outline);
            (width_mm - (high[0] - low[0])).min(depth_mm - (high[1] - low[1]))
        }
        BedShape::Round { diameter_mm } => diameter_mm - 2.0 * convex2d::smallest_circle(outline).1,
    }
}

/// In the middle of the bed at the turn with most room; where a keep-out is in the way, the first
/// free spot at that or another turn.
fn alone_spot(
    bare: &[P2],
    footprint: &[P2],
    turns: &[Turned],
    turn_rad: f64,
    bed: &BedRoom,
) -> Option<Alone> {
    let turned = convex2d::turned(bare, turn_rad);
    let middle = middle_of(&turned, bed.room.edge());
    let move_mm = [bed.centre[0] - middle[0], bed.centre[1] - middle[1]];
    let there = convex2d::moved(&turned, move_mm);
    // The edge by the contract's measure of fitting, which is wider than touching.
    let inside = bed.room.edge_margin_mm(&there) >= FITS_MM;
    let clear = bed.room.keep_out().iter().all(|part| convex2d::separation_mm(part, &there) >= -TOUCH_MM);
    if inside && clear {
        return Some(Alone { turn_rad, move_mm });
    }
    let exact = convex2d::turned(footprint, turn_rad);
    let bare_exact = [(turn_rad, &exact), (turn_rad, &turned)];
    bare_exact.into_iter().chain(turns.iter().map(|t| (t.turn_rad, &t.outline))).find_map(
        |(turn_rad, outline)| place(outline, &bed.room, &[], 0.0).map(|move_mm| Alone { turn_rad, move_mm }),
    )
}

/// The point of an outline that belongs in the middle of a bed.
pub(crate) fn middle_of(outline: &[P2], edge: Edge) -> P2 {
    match edge {
        Edge::Rect { .. } => {
            let (low, high) = convex2d::bounds(outline);
            [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])]
        }
        Edge::Round { .. } => convex2d::smallest_circle(outline).0,
    }
}

/// Turns worth trying, without near repeats: all round, long edges to the axes, and those given.
fn turns(outline: &[P2], n_turns: u32, given: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut long: Vec<(f64, f64)> = convex2d::edges(outline)
        .map(|(a, b)| (libm::hypot(b[0] - a[0], b[1] - a[1]), libm::atan2(b[1] - a[1], b[0] - a[0])))
        .collect();
    long.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
    let quarters = |turn: f64| (0..4).map(move |k| turn + FRAC_PI_2 * f64::from(k));
    let all_round = (0..n_turns).map(|k| 2.0 * PI * f64::from(k) / f64::from(n_turns));
    let aligned = long.iter().take(N_ALIGNED_EDGES).flat_map(|&(_, direction)| quarters(-direction));
    let wanted = all_round.chain(aligned).chain(given.flat_map(quarters));
    let mut kept: Vec<f64> = Vec::new();
    for turn in wanted {
        let turn = turn - 2.0 * PI * (turn / (2.0 * PI)).floor();
        let near = |&other: &f64| {
            let apart = (turn - other).abs();
            apart.min(2.0 * PI - apart) < SAME_TURN_RAD
        };
        if !kept.iter().any(near) {
            kept.push(turn);
        }
    }
    kept
}

fn longest(outline: &[P2]) -> f64 {
    let mut longest: f64 = 0.0;
    for (i, a) in outline.iter().enumerate() {
        for b in &outline[..i] {
            longest = longest.max(libm::hypot(a[0] - b[0], a[1] - b[1]));
        }
    }
    longest
}
