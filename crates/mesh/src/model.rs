//! What a file holds before anything is proved: points and triangles as read, and notices.

/// A length unit a file can be in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Unit {
    Micron,
    Mm,
    Cm,
    Dm,
    Inch,
    Foot,
    M,
}

impl Unit {
    /// Millimetres in one unit.
    pub fn mm(self) -> f64 {
        match self {
            Self::Micron => 0.001,
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::Dm => 100.0,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
            Self::M => 1000.0,
        }
    }

    /// The name used on the command line and in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Micron => "micron",
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::Dm => "dm",
            Self::Inch => "inch",
            Self::Foot => "foot",
            Self::M => "m",
        }
    }
}

/// A flaw found in the person's file, what was done about it or what is left; not an error.
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    /// Stable name, e.g. `degenerate-triangles`.
    pub code: &'static str,
    /// One plain sentence without a dot at its end.
    pub text: String,
    /// How many places.
    pub count: usize,
    /// A few of the places, in mm.
    pub at_mm: Vec<[f64; 3]>,
}

/// One named object of a file, in file units.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Part {
    /// Name in the file, or empty.
    pub name: String,
    /// Positions as written; STL repeats a corner for every triangle that uses it.
    pub points: Vec<[f64; 3]>,
    /// Triples of indices into `points`.
    pub triangles: Vec<[u32; 3]>,
}

/// All that was read from one file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Model {
    /// Objects in file order, transforms applied; never empty of triangles altogether.
    pub parts: Vec<Part>,
    /// The unit the file declares (3MF), if it does.
    pub unit: Option<Unit>,
    /// Flaws of the file itself.
    pub notices: Vec<Notice>,
}
