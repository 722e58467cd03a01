//! Draw on a sheet of paper: lines, outlines, words and the drawing border, as SVG text.
//!
//! How: everything is one string of elements with presentation attributes only, so that several
//! drawings can stand in one page without disturbing each other, and nothing is fetched.
//! Units and frame: sheet millimetres, x right, y down; figures to 2 decimals, so that the same
//! drawing is the same text.
//! Not here: what is drawn (`drawing.rs`).

use std::fmt::Write as _;

use seamwright_bed::convex2d::P2;

pub(crate) const PAPER: &str = "#f3eddf";
pub(crate) const INK: &str = "#1f2a4a";
pub(crate) const QUIET: &str = "#5b6480";
/// Undyed cloth: linen, flax, oat, hemp, wool, ash.
pub(crate) const CLOTH: [&str; 6] = ["#e8dcc3", "#d9c8a4", "#c9b78f", "#b7a27a", "#cfcabd", "#bdb8ab"];

/// Advance of a figure over its size in a wide serif face, so that words stay within their room in
/// whatever face the reader has (our measure).
const LETTER: f64 = 0.64;

/// Where words hang on their point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hang {
    Start,
    Middle,
    End,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pen {
    pub ink: &'static str,
    pub width: f64,
    pub dashes: &'static str,
}

/// Widths after ISO 128 in spirit: thick twice thin.
pub(crate) const THICK: Pen = Pen { ink: INK, width: 0.5, dashes: "" };
pub(crate) const THIN: Pen = Pen { ink: INK, width: 0.25, dashes: "" };
pub(crate) const FINE: Pen = Pen { ink: QUIET, width: 0.18, dashes: "" };
pub(crate) const CHAIN: Pen = Pen { ink: INK, width: 0.18, dashes: "4 1 0.6 1" };

/// A sheet being drawn.
pub(crate) struct Sheet {
    svg: String,
}

impl Sheet {
    pub(crate) fn new(width: f64, height: f64, title: &str) -> Sheet {
        let (w, h) = (figure(width), figure(height));
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
             role=\"img\" font-family=\"serif\" font-variant-numeric=\"tabular-nums\">\n\
             <title>{}</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"{PAPER}\"/>\n",
            escaped(title)
        );
        Sheet { svg }
    }

    pub(crate) fn finished(mut self) -> String {
        self.svg.push_str("</svg>\n");
        self.svg
    }

    pub(crate) fn line(&mut self, from: P2, to: P2, pen: Pen) {
        let (a, b) = (from.map(figure), to.map(figure));
        let _ = writeln!(
            self.svg,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>",
            a[0],
            a[1],
            b[0],
            b[1],
            pen_text(pen)
        );
    }

    pub(crate) fn rect(&mut self, low: P2, high: P2, fill: &str, pen: Pen) {
        let _ = writeln!(
            self.svg,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\" {}/>",
            figure(low[0]),
            figure(low[1]),
            figure(high[0] - low[0]),
            figure(high[1] - low[1]),
            pen_text(pen)
        );
    }

    pub(crate) fn circle(&mut self, centre: P2, radius: f64, fill: &str, pen: Pen) {
        let _ = writeln!(
            self.svg,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\" {}/>",
            figure(centre[0]),
            figure(centre[1]),
            figure(radius),
            pen_text(pen)
        );
    }

    /// Closed outlines as one shape; inner ones are holes.
    pub(crate) fn outlines(&mut self, outlines: &[Vec<P2>], fill: &str, pen: Pen) {
        let mut path = String::new();
        for outline in outlines {
            for (i, p) in outline.iter().enumerate() {
                let _ = write!(path, "{}{} {}", if i == 0 { "M" } else { "L" }, figure(p[0]), figure(p[1]));
            }
            path.push('Z');
        }
        let _ = writeln!(
            self.svg,
            "<path d=\"{path}\" fill=\"{fill}\" fill-rule=\"evenodd\" stroke-linejoin=\"round\" {}/>",
            pen_text(pen)
        );
    }

    pub(crate) fn words(&mut self, at: P2, size: f64, hang: Hang, ink: &str, words: &str) {
        let anchor = match hang {
            Hang::Start => "start",
            Hang::Middle => "middle",
            Hang::End => "end",
        };
        let _ = writeln!(
            self.svg,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{ink}\">{}</text>",
            figure(at[0]),
            figure(at[1]),
            figure(size),
            escaped(words)
        );
    }

    /// Words set smaller where they would be wider than `room`.
    pub(crate) fn words_within(&mut self, at: P2, size: f64, room: f64, ink: &str, words: &str) {
        self.words(at, size.min(room / width_of(words, 1.0)), Hang::Start, ink, words);
    }

    /// The same elements turned a quarter left about `at`.
    pub(crate) fn upward(&mut self, at: P2, draw: impl FnOnce(&mut Sheet)) {
        let _ = writeln!(self.svg, "<g transform=\"rotate(-90 {} {})\">", figure(at[0]), figure(at[1]));
        draw(self);
        self.svg.push_str("</g>\n");
    }

    /// Border, frame and zone marks (ISO 5457 in spirit): figures along, letters down.
    pub(crate) fn border(&mut self, width: f64, height: f64) {
        const EDGE: f64 = 3.0;
        const FRAME: f64 = 7.0;
        self.rect([EDGE; 2], [width - EDGE, height - EDGE], "none", THIN);
        self.rect([FRAME; 2], [width - FRAME, height - FRAME], "none", THICK);
        let (n_across, n_down) = (6usize, 4usize);
        let zone = |k: usize, n: usize, size: f64| FRAME + (size - 2.0 * FRAME) * k as f64 / n as f64;
        for (low, high, base) in
            [(EDGE, FRAME, FRAME - 1.1), (height - FRAME, height - EDGE, height - EDGE - 1.1)]
        {
            for k in 0..n_across {
                let (from, to) = (zone(k, n_across, width), zone(k + 1, n_across, width));
                if k > 0 {
                    self.line([from, low], [from, high], FINE);
                }
                self.words([0.5 * (from + to), base], 2.6, Hang::Middle, QUIET, &(k + 1).to_string());
            }
        }
        for (low, high) in [(EDGE, FRAME), (width - FRAME, width - EDGE)] {
            for (k, letter) in ('A'..).enumerate().take(n_down) {
                let (from, to) = (zone(k, n_down, height), zone(k + 1, n_down, height));
                if k > 0 {
                    self.line([low, from], [high, from], FINE);
                }
                let at = [0.5 * (low + high), 0.5 * (from + to) + 0.9];
                self.words(at, 2.6, Hang::Middle, QUIET, &letter.to_string());
            }
        }
    }

    /// A dimension between two points of a level line: line with end strokes, figure in a gap.
    pub(crate) fn dimension(&mut self, from: P2, to: P2, words: &str) {
        const STROKE: f64 = 1.3;
        let middle = 0.5 * (from[0] + to[0]);
        let half = 0.5 * width_of(words, 3.6) + 1.2;
        for x in [from[0], to[0]] {
            self.line([x, from[1] - STROKE], [x, from[1] + STROKE], THIN);
        }
        self.line(from, [(middle - half).max(from[0]), from[1]], THIN);
        self.line([(middle + half).min(to[0]), from[1]], to, THIN);
        self.words([middle, from[1] + 1.25], 3.6, Hang::Middle, INK, words);
    }

    /// A small open arrow ending at `tip`.
    pub(crate) fn arrow(&mut self, from: P2, tip: P2) {
        let (dx, dy) = (tip[0] - from[0], tip[1] - from[1]);
        let size = libm::hypot(dx, dy).max(1e-9);
        let (u, v) = (1.5 * dx / size, 1.5 * dy / size);
        self.line(from, tip, THIN);
        self.line([tip[0] - u - 0.5 * v, tip[1] - v + 0.5 * u], tip, THIN);
        self.line([tip[0] - u + 0.5 * v, tip[1] - v - 0.5 * u], tip, THIN);
    }
}

/// Width of words at a size, roughly.
pub(crate) fn width_of(words: &str, size: f64) -> f64 {
    LETTER * size * words.chars().count().max(1) as f64
}

fn pen_text(pen: Pen) -> String {
    let dashes =
        if pen.dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", pen.dashes) };
    format!("stroke=\"{}\" stroke-width=\"{}\"{dashes}", pen.ink, pen.width)
}

/// Two decimals, and never minus zero.
pub(crate) fn figure(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".into() } else { text }
}

/// A size for reading: at most one decimal, none where it is whole.
pub(crate) fn size_words(mm: f64) -> String {
    let text = format!("{mm:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// Text for XML; characters XML does not know become blanks.
pub(crate) fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
