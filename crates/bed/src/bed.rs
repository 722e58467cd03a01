//! Printer beds: shape, height, margins and areas to keep out of; reading `220x220x250@2`.
//!
//! Units and frame: millimetres; the origin is the front-left corner of the bed (of the bounding
//! square of a round one), x right, y back, z up; the bed's surface is z = 0.
//! Margin: kept free on each side in X and Y and at the top; nothing is taken off at the bed's
//! surface, because that is what a piece stands on.
//! Not here: whether something fits (`upright.rs`, `fit.rs`) or where it goes (`place.rs`).

/// Kept free on each side and at the top unless told otherwise, mm (common practice, no source).
pub const MARGIN_MM: f64 = 5.0;

/// Kept free between footprints of a load unless told otherwise, mm (common practice, no source).
pub const GAP_MM: f64 = 5.0;

/// The largest bed, mm: as far as coordinates of a solid reach.
pub const LARGEST_MM: f64 = 4096.0;

/// The outline of a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BedShape {
    /// A rectangle, X by Y.
    Rect {
        /// Size along X.
        width_mm: f64,
        /// Size along Y.
        depth_mm: f64,
    },
    /// A disc.
    Round {
        /// Its diameter.
        diameter_mm: f64,
    },
}

/// One kind of printer bed and how many of it there are.
#[derive(Debug, Clone, PartialEq)]
pub struct Bed {
    /// Name made of the size: `220x220x250`, `d260x300`; see [`make_ids_unique`].
    pub id: String,
    /// Outline of the whole bed.
    pub shape: BedShape,
    /// Whole height above the bed's surface.
    pub height_mm: f64,
    /// Kept free on each side and at the top.
    pub margin_mm: f64,
    /// Kept free between footprints.
    pub gap_mm: f64,
    /// Number of such printers, at least one.
    pub count: u32,
    /// Convex polygons of the bed no footprint may meet, counter-clockwise.
    pub keep_out: Vec<Vec<[f64; 2]>>,
}

/// What is left of a bed once its margin is taken off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Usable {
    /// The outline.
    pub shape: BedShape,
    /// Front-left corner of the outline (of its bounding square).
    pub low_mm: [f64; 2],
    /// From the bed's surface up.
    pub height_mm: f64,
}

/// Why a bed cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BedError {
    /// The text is not a size.
    #[error(
        "`{text}` is not a bed: write WIDTHxDEPTHxHEIGHT or dDIAMETERxHEIGHT in mm, such as 220x220x250 or d260x300, with @2 after it for two such printers"
    )]
    Unreadable {
        /// What was given.
        text: String,
    },
    /// A size is zero, negative or larger than the planner's world.
    #[error("`{text}`: a bed measures more than 0 and at most 4096 mm each way, not {size_mm}")]
    BadSize {
        /// What was given.
        text: String,
        /// The size at fault.
        size_mm: f64,
    },
    /// The number of printers is not a number from 1 on.
    #[error("`{text}`: after @ comes the number of such printers, from 1 to 1000")]
    BadCount {
        /// What was given.
        text: String,
    },
    /// The margin leaves nothing.
    #[error("a margin of {margin_mm} mm leaves nothing of bed {id}")]
    NothingLeft {
        /// The bed.
        id: String,
        /// Its margin.
        margin_mm: f64,
    },
    /// The margin or gap is negative or not a number.
    #[error("bed {id}: margin and gap are 0 mm or more, not {value_mm}")]
    Negative {
        /// The bed.
        id: String,
        /// The value at fault.
        value_mm: f64,
    },
    /// The text is not a rectangle to keep out of.
    #[error(
        "`{text}` is not an area to keep out of: write X,Y,WIDTH,DEPTH in mm from the front-left corner, such as 0,200,40,20"
    )]
    BadKeepOut {
        /// What was given.
        text: String,
    },
}

impl Bed {
    /// A bed of this shape and height, one of it, with the usual margin and gap.
    pub fn new(shape: BedShape, height_mm: f64) -> Self {
        let id = match shape {
            BedShape::Rect { width_mm, depth_mm } => format!("{width_mm}x{depth_mm}x{height_mm}"),
            BedShape::Round { diameter_mm } => format!("d{diameter_mm}x{height_mm}"),
        };
        // Ids know no dots.
        let id = id.replace('.', "-").chars().take(40).collect();
        Self { id, shape, height_mm, margin_mm: MARGIN_MM, gap_mm: GAP_MM, count: 1, keep_out: Vec::new() }
    }

    /// Reads `WxDxH` or `dDIAxH`, with `@N` for N such printers.
    ///
    /// # Errors
    /// [`BedError`] naming the text and what was expected.
    pub fn parse(text: &str) -> Result<Self, BedError> {
        let (size, count) = match text.split_once('@') {
            None => (text, 1),
            Some((size, count)) => match count.trim().parse::<u32>() {
                Ok(count @ 1..=1000) => (size, count),
                _ => return Err(BedError::BadCount { text: text.into() }),
            },
        };
        let unreadable = || BedError::Unreadable { text: text.into() };
        let size = size.trim().to_ascii_lowercase();
        let (round, numbers) = match size.strip_prefix('d') {
            Some(rest) => (true, rest),
            None => (false, size.as_str()),
        };
        let numbers: Vec<f64> = numbers
            .split('x')
            .map(|n| n.trim().parse().map_err(|_| unreadable()))
            .collect::<Result<_, _>>()?;
        if let Some(&size_mm) = numbers.iter().find(|&&n| n.is_nan() || n <= 0.0 || n > LARGEST_MM) {
            return Err(BedError::BadSize { text: text.into(), size_mm });
        }
        let mut bed = match (round, numbers.as_slice()) {
            (false, &[width_mm, depth_mm, height_mm]) => {
                Self::new(BedShape::Rect { width_mm, depth_mm }, height_mm)
            }
            (true, &[diameter_mm, height_mm]) => Self::new(BedShape::Round { diameter_mm }, height_mm),
            _ => return Err(unreadable()),
        };
        bed.count = count;
        Ok(bed)
    }

    /// Width, depth and height of the whole bed; a round one's bounding box.
    pub fn size_mm(&self) -> [f64; 3] {
        match self.shape {
            BedShape::Rect { width_mm, depth_mm } => [width_mm, depth_mm, self.height_mm],
            BedShape::Round { diameter_mm } => [diameter_mm, diameter_mm, self.height_mm],
        }
    }

    /// What the margin leaves. Sizes go below zero where it leaves nothing ([`Self::check`]).
    pub fn usable(&self) -> Usable {
        let both_sides = 2.0 * self.margin_mm;
        let shape = match self.shape {
            BedShape::Rect { width_mm, depth_mm } => {
                BedShape::Rect { width_mm: width_mm - both_sides, depth_mm: depth_mm - both_sides }
            }
            BedShape::Round { diameter_mm } => BedShape::Round { diameter_mm: diameter_mm - both_sides },
        };
        Usable { shape, low_mm: [self.margin_mm; 2], height_mm: self.height_mm - self.margin_mm }
    }

    /// Whether margin and gap make sense and the margin leaves something.
    ///
    /// # Errors
    /// [`BedError::Negative`] or [`BedError::NothingLeft`].
    pub fn check(&self) -> Result<(), BedError> {
        if let Some(value_mm) = [self.margin_mm, self.gap_mm].into_iter().find(|v| v.is_nan() || *v < 0.0) {
            return Err(BedError::Negative { id: self.id.clone(), value_mm });
        }
        let usable = self.usable();
        if usable.size_mm().into_iter().any(|size| size.is_nan() || size <= 0.0) {
            return Err(BedError::NothingLeft { id: self.id.clone(), margin_mm: self.margin_mm });
        }
        Ok(())
    }

    /// Adds the rectangle `X,Y,WIDTH,DEPTH` to what no footprint may meet.
    ///
    /// # Errors
    /// [`BedError::BadKeepOut`] where the text is not four numbers with a positive size.
    pub fn add_keep_out(&mut self, text: &str) -> Result<(), BedError> {
        let bad = || BedError::BadKeepOut { text: text.into() };
        let numbers: Vec<f64> =
            text.split(',').map(|n| n.trim().parse().map_err(|_| bad())).collect::<Result<_, _>>()?;
        match numbers.as_slice() {
            &[x, y, width, depth]
                if width > 0.0 && depth > 0.0 && numbers.iter().all(|n| n.abs() <= LARGEST_MM) =>
            {
                self.keep_out.push(vec![[x, y], [x + width, y], [x + width, y + depth], [x, y + depth]]);
                Ok(())
            }
            _ => Err(bad()),
        }
    }
}

impl Usable {
    /// Width, depth and height; a round bed's bounding box.
    pub fn size_mm(&self) -> [f64; 3] {
        match self.shape {
            BedShape::Rect { width_mm, depth_mm } => [width_mm, depth_mm, self.height_mm],
            BedShape::Round { diameter_mm } => [diameter_mm, diameter_mm, self.height_mm],
        }
    }

    /// Middle of the outline on the bed.
    pub fn centre_mm(&self) -> [f64; 2] {
        let size = self.size_mm();
        [self.low_mm[0] + size[0] / 2.0, self.low_mm[1] + size[1] / 2.0]
    }

    /// The sizes of the largest upright box inside that the plain grid uses: the usable volume
    /// itself, or over the square inscribed in a usable circle.
    pub fn inscribed_box_mm(&self) -> [f64; 3] {
        match self.shape {
            BedShape::Rect { .. } => self.size_mm(),
            BedShape::Round { diameter_mm } => {
                let side = diameter_mm * std::f64::consts::FRAC_1_SQRT_2;
                [side, side, self.height_mm]
            }
        }
    }
}

/// Appends `-2`, `-3` ... to ids that repeat, in order.
pub fn make_ids_unique(beds: &mut [Bed]) {
    for index in 1..beds.len() {
        let plain = beds[index].id.clone();
        let mut number = 2;
        while beds[..index].iter().any(|bed| bed.id == beds[index].id) {
            let suffix = format!("-{number}");
            let kept: String = plain.chars().take(40 - suffix.len()).collect();
            beds[index].id = kept + &suffix;
            number += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_and_counts_are_read() {
        let bed = Bed::parse("220x210x250@2").unwrap();
        assert_eq!(bed.shape, BedShape::Rect { width_mm: 220.0, depth_mm: 210.0 });
        assert_eq!((bed.height_mm, bed.count, bed.id.as_str()), (250.0, 2, "220x210x250"));
        let round = Bed::parse("d260x300").unwrap();
        assert_eq!(round.shape, BedShape::Round { diameter_mm: 260.0 });
        assert_eq!((round.height_mm, round.count, round.id.as_str()), (300.0, 1, "d260x300"));
        assert_eq!(Bed::parse("220.5x220x250").unwrap().id, "220-5x220x250");
    }

    #[test]
    fn the_margin_is_taken_off_each_side_and_the_top_only() {
        let usable = Bed::parse("180x170x160").unwrap().usable();
        assert_eq!(usable.size_mm(), [170.0, 160.0, 155.0]);
        assert_eq!(usable.low_mm, [5.0, 5.0]);
        assert_eq!(usable.centre_mm(), [90.0, 85.0]);
        let round = Bed::parse("d260x300").unwrap().usable();
        assert_eq!(round.shape, BedShape::Round { diameter_mm: 250.0 });
        assert_eq!(round.height_mm, 295.0);
        assert_eq!(round.centre_mm(), [130.0, 130.0]);
    }

    #[test]
    fn what_is_not_a_bed_is_refused_with_its_text() {
        for text in ["", "220", "220x220", "d260", "d260x300x5", "220x220x250x1", "axbxc", "x220x250"] {
            assert_eq!(Bed::parse(text), Err(BedError::Unreadable { text: text.into() }), "{text}");
        }
        for text in ["0x220x250", "220x-1x250", "220x220x5000", "infx220x250", "nanx220x250"] {
            assert!(matches!(Bed::parse(text), Err(BedError::BadSize { .. })), "{text}");
        }
        for text in ["220x220x250@", "220x220x250@0", "220x220x250@two", "220x220x250@1.5"] {
            assert_eq!(Bed::parse(text), Err(BedError::BadCount { text: text.into() }), "{text}");
        }
        assert!(Bed::parse("huge").unwrap_err().to_string().contains("`huge`"));
    }

    #[test]
    fn a_margin_that_leaves_nothing_is_refused() {
        let mut bed = Bed::parse("20x220x250").unwrap();
        assert_eq!(bed.check(), Ok(()));
        bed.margin_mm = 10.0;
        assert!(matches!(bed.check(), Err(BedError::NothingLeft { .. })));
        bed.margin_mm = -1.0;
        assert!(matches!(bed.check(), Err(BedError::Negative { .. })));
    }

    #[test]
    fn repeated_beds_get_ids_of_their_own() {
        let mut beds = vec![Bed::parse("220x220x250").unwrap(); 3];
        beds.push(Bed::parse("d260x300").unwrap());
        make_ids_unique(&mut beds);
        let ids: Vec<&str> = beds.iter().map(|bed| bed.id.as_str()).collect();
        assert_eq!(ids, ["220x220x250", "220x220x250-2", "220x220x250-3", "d260x300"]);
    }

    #[test]
    fn areas_to_keep_out_of_are_rectangles_counter_clockwise() {
        let mut bed = Bed::parse("220x220x250").unwrap();
        bed.add_keep_out("0,200,40,20").unwrap();
        assert_eq!(bed.keep_out, [vec![[0.0, 200.0], [40.0, 200.0], [40.0, 220.0], [0.0, 220.0]]]);
        for text in ["", "1,2,3", "0,0,0,5", "0,0,5,-5", "a,b,c,d", "0,0,nan,5"] {
            assert!(bed.add_keep_out(text).is_err(), "{text}");
        }
        assert_eq!(bed.keep_out.len(), 1);
    }
}
