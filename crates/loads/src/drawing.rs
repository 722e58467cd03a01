//! The lay plan of a load as a drawing: bed, margin, keep-outs, pieces with numbers, parts list.
//!
//! How: one A4 sheet, landscape; the bed drawn as large as the sheet allows, seen from above with
//! its front at the bottom; parts list above the title block (ISO 7200, ISO 6433 and ISO 129-1 in
//! spirit). Cloth tones tell neighbours apart, yet outline, number and hatching say everything in
//! black and white too.
//! Units and frame: millimetres on the bed; sheet millimetres in the drawing.
//! Not here: how lines and words become SVG (`ink.rs`), hours and grams (not known here).

use seamwright_bed::convex2d::{self, P2};
use seamwright_bed::{Bed, BedShape};

use crate::ink::{
    CHAIN, CLOTH, FINE, Hang, INK, PAPER, QUIET, Sheet, THICK, THIN, figure, size_words, width_of,
};
use crate::job::Load;

const WIDTH: f64 = 297.0;
const HEIGHT: f64 = 210.0;
/// Left edge of parts list and title block.
const LIST_LEFT: f64 = 200.0;
const LIST_RIGHT: f64 = WIDTH - 7.0;
const TITLE_TOP: f64 = HEIGHT - 7.0 - 46.0;
/// Where the bed with its dimensions may be drawn.
const BED_LOW: P2 = [26.0, 34.0];
const BED_HIGH: P2 = [LIST_LEFT - 10.0, HEIGHT - 24.0];

/// A piece as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPiece {
    /// [`crate::LayPiece::index`].
    pub index: usize,
    /// The number in its circle.
    pub number: u32,
    /// Its id, in the parts list.
    pub id: String,
    /// Its shadow in the resting pose, before the turn: closed outlines, inner ones are holes.
    pub outlines_mm: Vec<Vec<[f64; 2]>>,
    /// Where the item's front faces in the resting pose, seen from above; any length.
    pub front: Option<[f64; 2]>,
}

/// Words of the title block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayTitle {
    /// What is being made: name of the costume.
    pub costume: String,
    /// Which load this is, such as `Load 2 of 5`.
    pub load: String,
}

/// The lay plan of one load as a self-contained SVG. Pieces of the load that are not among
/// `drawn` are left out; others of `drawn` are not drawn.
pub fn lay_svg(load: &Load, bed: &Bed, drawn: &[DrawnPiece], title: &LayTitle) -> String {
    let size = bed.size_mm();
    let scale = ((BED_HIGH[0] - BED_LOW[0]) / size[0]).min((BED_HIGH[1] - BED_LOW[1]) / size[1]);
    let drawn_size = [scale * size[0], scale * size[1]];
    let left = 0.5 * (BED_LOW[0] + BED_HIGH[0] - drawn_size[0]);
    let bottom = 0.5 * (BED_LOW[1] + BED_HIGH[1] + drawn_size[1]);
    let on_sheet = |p: P2| [left + scale * p[0], bottom - scale * p[1]];

    let mut sheet = Sheet::new(WIDTH, HEIGHT, &format!("Lay plan, {}, {}", title.load, title.costume));
    sheet.border(WIDTH, HEIGHT);
    sheet.words([14.0, 18.5], 6.4, Hang::Start, INK, "Lay plan");
    let gap = format!("{} mm between pieces, seen from above", size_words(bed.gap_mm));
    sheet.words([14.0, 24.0], 3.6, Hang::Start, QUIET, &gap);

    draw_bed(&mut sheet, bed, on_sheet, scale);
    let mut listed: Vec<(&DrawnPiece, [String; 2])> = Vec::new();
    for laid in &load.pieces {
        let Some(piece) = drawn.iter().find(|d| d.index == laid.index) else { continue };
        let there: Vec<Vec<P2>> = piece
            .outlines_mm
            .iter()
            .map(|outline| convex2d::moved(&convex2d::turned(outline, laid.turn_rad), laid.move_mm))
            .collect();
        let all: Vec<P2> = there.iter().flatten().copied().collect();
        let (low, high) = convex2d::bounds(&all);
        listed.push((piece, [size_words(high[0] - low[0]), size_words(high[1] - low[1])]));
        let outlines: Vec<Vec<P2>> = there.iter().map(|o| o.iter().map(|&p| on_sheet(p)).collect()).collect();
        let front = piece.front.map(|front| convex2d::turned(&[front], laid.turn_rad)[0]);
        draw_piece(&mut sheet, piece, &outlines, front.map(|[x, y]| [x, -y]));
    }
    draw_dimensions(&mut sheet, [left, bottom - drawn_size[1]], [left + drawn_size[0], bottom], bed);
    draw_parts_list(&mut sheet, &listed, !bed.keep_out.is_empty());
    draw_title_block(&mut sheet, load, bed, title);
    sheet.finished()
}

fn draw_bed(sheet: &mut Sheet, bed: &Bed, on_sheet: impl Fn(P2) -> P2, scale: f64) {
    let size = bed.size_mm();
    let usable = bed.usable();
    let centre = on_sheet(usable.centre_mm());
    match bed.shape {
        BedShape::Rect { .. } => {
            sheet.rect(on_sheet([0.0, size[1]]), on_sheet([size[0], 0.0]), "none", THICK)
        }
        BedShape::Round { diameter_mm } => sheet.circle(centre, 0.5 * scale * diameter_mm, "none", THICK),
    }
    if !bed.keep_out.is_empty() {
        // Hatching is drawn line by line: a pattern's name could clash with that of another
        // drawing in the same page.
        for outline in &bed.keep_out {
            let outline: Vec<P2> = outline.iter().map(|&p| on_sheet(p)).collect();
            hatch(sheet, &outline);
            sheet.outlines(&[outline], "none", THIN);
        }
    }
    if bed.margin_mm > 0.0 {
        let (low, inner) = (usable.low_mm, usable.size_mm());
        match usable.shape {
            BedShape::Rect { .. } => sheet.rect(
                on_sheet([low[0], low[1] + inner[1]]),
                on_sheet([low[0] + inner[0], low[1]]),
                "none",
                CHAIN,
            ),
            BedShape::Round { diameter_mm } => sheet.circle(centre, 0.5 * scale * diameter_mm, "none", CHAIN),
        }
    }
}

/// Lines at 45 degrees, 2 mm apart, where they are inside the outline.
fn hatch(sheet: &mut Sheet, outline: &[P2]) {
    const STEP: f64 = 2.0;
    let height = |p: P2| p[0] + p[1];
    let along = |p: P2| p[0] - p[1];
    let low = outline.iter().map(|&p| height(p)).fold(f64::INFINITY, f64::min);
    let high = outline.iter().map(|&p| height(p)).fold(f64::NEG_INFINITY, f64::max);
    let (first, last) = ((low / STEP).ceil() as i64, (high / STEP).floor() as i64);
    for k in first..=last {
        let level = STEP * k as f64;
        let mut crossed: Vec<f64> = convex2d::edges(outline)
            .filter(|&(p, q)| (height(p) > level) != (height(q) > level))
            .map(|(p, q)| along(p) + (level - height(p)) / (height(q) - height(p)) * (along(q) - along(p)))
            .collect();
        crossed.sort_by(f64::total_cmp);
        for pair in crossed.chunks_exact(2) {
            let at = |a: f64| [0.5 * (level + a), 0.5 * (level - a)];
            sheet.line(at(pair[0]), at(pair[1]), FINE);
        }
    }
}

fn draw_piece(sheet: &mut Sheet, piece: &DrawnPiece, outlines: &[Vec<P2>], front: Option<P2>) {
    const BALLOON: f64 = 3.6;
    sheet.outlines(
        outlines,
        CLOTH[piece.number as usize % CLOTH.len()],
        crate::ink::Pen { width: 0.4, ..THIN },
    );
    let (at, room) = roomiest_point(outlines);
    let radius = (0.8 * room).clamp(1.5, BALLOON);
    if let Some([x, y]) = front
        && libm::hypot(x, y) > 0.0
    {
        let size = libm::hypot(x, y);
        let step = |by: f64| [at[0] + by * x / size, at[1] + by * y / size];
        sheet.arrow(step(radius), step(radius + 4.5));
    }
    sheet.circle(at, radius, PAPER, THIN);
    let number = piece.number.to_string();
    let letters = (1.25 * radius).min(1.7 * radius / width_of(&number, 1.0));
    sheet.words([at[0], at[1] + 0.35 * letters], letters, Hang::Middle, INK, &number);
}

/// A point inside far from every outline, of a grid of 24 by 24, and how far.
fn roomiest_point(outlines: &[Vec<P2>]) -> (P2, f64) {
    const N: usize = 24;
    let all: Vec<P2> = outlines.iter().flatten().copied().collect();
    let (low, high) = convex2d::bounds(&all);
    let mut best = ([0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])], 0.0);
    for i in 0..N * N {
        let part = |k: usize| (k as f64 + 0.5) / N as f64;
        let at = [low[0] + part(i % N) * (high[0] - low[0]), low[1] + part(i / N) * (high[1] - low[1])];
        let mut inside = false;
        let mut room = f64::INFINITY;
        for (p, q) in outlines.iter().flat_map(|o| convex2d::edges(o)) {
            if (p[1] > at[1]) != (q[1] > at[1])
                && at[0] < p[0] + (at[1] - p[1]) / (q[1] - p[1]) * (q[0] - p[0])
            {
                inside = !inside;
            }
            room = room.min(convex2d::separation_mm(&[at], &[p, q]).abs());
        }
        if inside && room > best.1 + 1e-9 {
            best = (at, room);
        }
    }
    best
}

fn draw_dimensions(sheet: &mut Sheet, low: P2, high: P2, bed: &Bed) {
    let size = bed.size_mm();
    let sign = if matches!(bed.shape, BedShape::Round { .. }) { "\u{2300} " } else { "" };
    let y = high[1] + 7.0;
    for x in [low[0], high[0]] {
        let from = if sign.is_empty() { high[1] + 1.0 } else { 0.5 * (low[1] + high[1]) };
        sheet.line([x, from], [x, y + 2.0], FINE);
    }
    sheet.dimension([low[0], y], [high[0], y], &format!("{sign}{}", size_words(size[0])));
    sheet.words([0.5 * (low[0] + high[0]), high[1] + 3.6], 2.8, Hang::Middle, QUIET, "front of the bed");
    if sign.is_empty() {
        let x = low[0] - 7.0;
        for y in [low[1], high[1]] {
            sheet.line([x - 2.0, y], [low[0] - 1.0, y], FINE);
        }
        let length = high[1] - low[1];
        sheet.upward([x, high[1]], |sheet| {
            sheet.dimension([x, high[1]], [x + length, high[1]], &size_words(size[1]));
        });
    }
}

fn draw_parts_list(sheet: &mut Sheet, listed: &[(&DrawnPiece, [String; 2])], hatched: bool) {
    const TOP: f64 = 12.0;
    const COLUMNS: [f64; 2] = [LIST_LEFT + 9.0, LIST_RIGHT - 30.0];
    // The list grows upward from the title block; many pieces make its rows lower.
    let row = ((TITLE_TOP - TOP - 8.0) / (listed.len() as f64 + 1.0)).min(6.0);
    let letters = 0.58 * row;
    let top = TITLE_TOP - row * (listed.len() as f64 + 1.0);
    let base = |k: usize| top + row * (k as f64 + 0.68);
    for (x, words) in
        [(LIST_LEFT + 1.5, "No."), (COLUMNS[0] + 1.5, "Piece"), (COLUMNS[1] + 1.5, "as laid, mm")]
    {
        sheet.words_within([x, base(0)], 0.9 * letters, 27.0, QUIET, words);
    }
    for (k, (piece, [x, y])) in listed.iter().enumerate() {
        let line_y = top + row * (k as f64 + 1.0);
        sheet.line([LIST_LEFT, line_y], [LIST_RIGHT, line_y], FINE);
        let middle = [0.5 * (LIST_LEFT + COLUMNS[0]), line_y + 0.5 * row];
        let number = piece.number.to_string();
        sheet.circle(middle, 0.42 * row, "none", FINE);
        let size = (0.55 * row).min(0.72 * row / width_of(&number, 1.0));
        sheet.words([middle[0], middle[1] + 0.35 * size], size, Hang::Middle, INK, &number);
        let room = COLUMNS[1] - COLUMNS[0] - 3.0;
        sheet.words_within([COLUMNS[0] + 1.5, base(k + 1)], letters, room, INK, &piece.id);
        let size = format!("{x} \u{d7} {y}");
        sheet.words([LIST_RIGHT - 1.5, base(k + 1)], letters, Hang::End, INK, &size);
    }
    for x in COLUMNS {
        sheet.line([x, top], [x, TITLE_TOP], FINE);
    }
    sheet.rect([LIST_LEFT, top], [LIST_RIGHT, TITLE_TOP], "none", THIN);

    // What the lines mean, above the list.
    let mut y = top - 3.0;
    if hatched {
        let box_low = [LIST_LEFT, y - 2.4];
        hatch(sheet, &[box_low, [LIST_LEFT + 8.0, y - 2.4], [LIST_LEFT + 8.0, y], [LIST_LEFT, y]]);
        sheet.rect(box_low, [LIST_LEFT + 8.0, y], "none", FINE);
        sheet.words([LIST_LEFT + 10.0, y - 0.2], 2.8, Hang::Start, QUIET, "kept out");
        y -= 4.2;
    }
    sheet.line([LIST_LEFT, y - 1.0], [LIST_LEFT + 8.0, y - 1.0], CHAIN);
    sheet.words([LIST_LEFT + 10.0, y - 0.2], 2.8, Hang::Start, QUIET, "margin, kept free");
    if listed.iter().any(|(piece, _)| piece.front.is_some()) {
        sheet.arrow([LIST_LEFT + 46.0, y - 1.0], [LIST_LEFT + 51.0, y - 1.0]);
        sheet.words([LIST_LEFT + 53.0, y - 0.2], 2.8, Hang::Start, QUIET, "front of the item");
    }
}

fn draw_title_block(sheet: &mut Sheet, load: &Load, bed: &Bed, title: &LayTitle) {
    let (left, right, top) = (LIST_LEFT, LIST_RIGHT, TITLE_TOP);
    let bottom = HEIGHT - 7.0;
    let middle = 0.5 * (left + right);
    let size = bed.size_mm().map(size_words);
    let bed_words = match bed.shape {
        BedShape::Rect { .. } => format!("{} \u{d7} {} \u{d7} {} mm", size[0], size[1], size[2]),
        BedShape::Round { .. } => format!("\u{2300} {} \u{d7} {} mm", size[0], size[2]),
    };
    let n_pieces = load.pieces.len();
    let pieces = format!("{n_pieces} {}", if n_pieces == 1 { "piece" } else { "pieces" });
    let fields = [
        ([left, top + 20.0], "Bed", bed_words),
        (
            [middle, top + 20.0],
            "Margin and gap",
            format!("{} and {} mm", size_words(bed.margin_mm), size_words(bed.gap_mm)),
        ),
        ([left, top + 33.0], "In this load", pieces),
        (
            [middle, top + 33.0],
            "Bed covered",
            format!("{} %", figure(100.0 * load.used_fraction).split('.').next().unwrap_or("0")),
        ),
    ];
    sheet.rect([left, top], [right, bottom], PAPER, THICK);
    sheet.words_within([left + 2.0, top + 9.5], 6.4, right - left - 4.0, INK, &title.load);
    sheet.words_within([left + 2.0, top + 16.0], 4.0, right - left - 4.0, QUIET, &title.costume);
    for y in [top + 20.0, top + 33.0] {
        sheet.line([left, y], [right, y], THIN);
    }
    sheet.line([middle, top + 20.0], [middle, bottom], THIN);
    for (at, name, words) in fields {
        sheet.words([at[0] + 2.0, at[1] + 4.2], 2.8, Hang::Start, QUIET, name);
        sheet.words_within([at[0] + 2.0, at[1] + 9.6], 4.2, middle - left - 4.0, INK, &words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{LayOptions, LayPiece, lay};

    fn demo(bed_text: &str, n: usize) -> (Vec<Load>, Bed, Vec<DrawnPiece>) {
        let mut bed = Bed::parse(bed_text).unwrap();
        bed.keep_out.push(vec![[0., 0.], [40., 0.], [40., 8.], [8., 8.], [8., 25.], [0., 25.]]);
        let mut drawn = Vec::new();
        let mut pieces = Vec::new();
        for index in 0..n {
            let k = index as f64;
            let (a, b) = (25.0 + 9.0 * libm::sin(3.0 * k), 55.0 + 30.0 * libm::cos(2.0 * k));
            // A curved plate with a hollow side, as a shadow of a shell.
            let mut outline: Vec<P2> = Vec::new();
            for step in 0..=20 {
                let t = std::f64::consts::PI * f64::from(step) / 20.0;
                outline.push([a * libm::sin(t) * 1.6, b * libm::cos(t)]);
            }
            for step in (1..20).rev() {
                let t = std::f64::consts::PI * f64::from(step) / 20.0;
                outline.push([a * libm::sin(t) * 0.6 - 2.0, 0.9 * b * libm::cos(t)]);
            }
            outline.reverse();
            let points_mm = outline.iter().map(|p| [p[0], p[1], 0.0]).collect();
            pieces.push(LayPiece { index, points_mm, beds: vec![0], fixed_turn_rad: None });
            drawn.push(DrawnPiece {
                index,
                number: index as u32 + 1,
                id: format!("vambrace-left-{}", index + 1),
                outlines_mm: vec![outline],
                front: (index % 4 != 3).then_some([1.0, 0.2]),
            });
        }
        let loads = lay(&pieces, std::slice::from_ref(&bed), LayOptions::USUAL).unwrap();
        (loads, bed, drawn)
    }

    fn title(costume: &str) -> LayTitle {
        LayTitle { costume: costume.into(), load: "Load 1 of 2".into() }
    }

    /// Element names and the words between, as an XML reader finds them; panics on malformed text.
    fn read(svg: &str) -> (Vec<String>, Vec<String>) {
        let mut reader = quick_xml::Reader::from_str(svg);
        reader.config_mut().check_end_names = true;
        let (mut names, mut words, mut depth) = (Vec::new(), Vec::new(), 0i32);
        loop {
            use quick_xml::events::Event;
            match reader.read_event().unwrap() {
                Event::Start(e) => {
                    depth += 1;
                    names.push(e.name().as_ref().to_string());
                    assert!(e.attributes().all(|a| a.is_ok()));
                }
                Event::Empty(e) => {
                    names.push(e.name().as_ref().to_string());
                    assert!(e.attributes().all(|a| a.is_ok()));
                }
                Event::End(_) => depth -= 1,
                Event::Eof => break,
                Event::Text(e) => words.push(e.to_string()),
                _ => {}
            }
        }
        assert_eq!(depth, 0);
        (names, words)
    }

    #[test]
    fn a_lay_plan_is_well_formed_names_every_piece_and_fetches_nothing() {
        for (bed, n) in [("220x220x250", 9), ("d260x300", 3), ("180x180x180", 1)] {
            let (loads, bed, drawn) = demo(bed, n);
            for load in &loads {
                let svg = lay_svg(load, &bed, &drawn, &title("Warden"));
                let (names, words) = read(&svg);
                for piece in &load.pieces {
                    assert!(words.contains(&drawn[piece.index].id));
                    // In its circle on the bed and in the parts list.
                    let number = drawn[piece.index].number.to_string();
                    assert!(words.iter().filter(|w| **w == number).count() >= 2);
                }
                assert_eq!(svg.matches("fill-rule").count(), load.pieces.len() + bed.keep_out.len());
                let known = ["svg", "title", "rect", "circle", "line", "path", "text", "g"];
                assert!(names.iter().all(|name| known.contains(&name.as_str())));
                assert_eq!(svg.matches("http").count(), 1, "only the name of the language itself");
                assert_eq!(svg, lay_svg(load, &bed, &drawn, &title("Warden")));
            }
        }
    }

    #[test]
    fn outlines_are_drawn_where_the_pieces_lie() {
        let mut bed = Bed::parse("100x100x50").unwrap();
        bed.margin_mm = 0.0;
        let outline = vec![[0., 0.], [100., 0.], [100., 40.], [0., 40.]];
        let laid = crate::Laid { index: 3, turn_rad: std::f64::consts::FRAC_PI_2, move_mm: [40., 0.] };
        let load = Load { bed_index: 0, pieces: vec![laid], used_fraction: 0.4 };
        let piece =
            DrawnPiece { index: 3, number: 1, id: "bar".into(), outlines_mm: vec![outline], front: None };
        let svg = lay_svg(&load, &bed, &[piece], &title("Bar"));
        // The bed's rectangle on the sheet; the piece covers its left two fifths from front to back.
        let scale = (BED_HIGH[1] - BED_LOW[1]) / 100.0;
        let (left, bottom) = (0.5 * (BED_LOW[0] + BED_HIGH[0]) - 50.0 * scale, BED_HIGH[1]);
        let corner = |x: f64, y: f64| format!("{:.2} {:.2}", left + scale * x, bottom - scale * y);
        let expected =
            format!("M{}L{}L{}L{}Z", corner(40., 0.), corner(40., 100.), corner(0., 100.), corner(0., 0.));
        assert!(svg.contains(&expected), "{expected}");
    }

    #[test]
    fn words_from_outside_are_escaped_and_made_to_fit() {
        let (loads, bed, mut drawn) = demo("220x220x250", 2);
        drawn[0].id = "a-very-long-name-of-a-piece-of-armour-04".into();
        let words = "<script>alert(\"&\")</script>\u{1}";
        let svg = lay_svg(&loads[0], &bed, &drawn, &title(words));
        assert!(!svg.contains("<script"));
        assert!(read(&svg).1.iter().any(|w| w.contains("script")));
        let id_line = svg.lines().find(|line| line.contains("a-very-long")).unwrap();
        let size: f64 =
            id_line.split("font-size=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
        assert!(
            width_of("a-very-long-name-of-a-piece-of-armour-04", size) <= LIST_RIGHT - LIST_LEFT - 42.0 + 0.2
        );
    }

    #[test]
    fn figures_have_two_decimals_and_no_minus_zero() {
        assert_eq!([figure(-0.001), figure(1.005), figure(12.0)], ["0.00", "1.00", "12.00"]);
        assert_eq!([size_words(220.0), size_words(67.36), size_words(0.04)], ["220", "67.4", "0"]);
    }

    #[test]
    fn a_roomy_point_lies_inside_and_off_the_hole() {
        let square = |low: f64, high: f64| vec![[low, low], [high, low], [high, high], [low, high]];
        let ([x, y], room) = roomiest_point(&[square(0., 10.), square(3., 10.)]);
        assert!((x < 3.0 || y < 3.0) && room > 1.2 && room <= 1.5 + 0.3);
    }
}
