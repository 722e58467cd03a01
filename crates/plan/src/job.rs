//! What is asked of a plan: models with their settings, beds, how long to search.

use crate::item::SizedItem;
use crate::records::marks::{BegunRecord, MarksRecord};
use seamwright_bed::Bed;
use seamwright_mesh::Unit;
use seamwright_mesh::mend::{LeftOut, Open, WALL_MM, Wishes};
use seamwright_mesh::units::Up;
use seamwright_seams::ground::Wish;
use seamwright_seams::outline::Prefer;

/// Armourers' names for what an item is worn as, and the rest of a costume.
pub const ROLES: [&str; 23] = [
    "helm",
    "mask",
    "gorget",
    "pauldron",
    "rerebrace",
    "couter",
    "vambrace",
    "gauntlet",
    "breastplate",
    "backplate",
    "fauld",
    "tasset",
    "cuisse",
    "poleyn",
    "greave",
    "sabaton",
    "belt",
    "pack",
    "wings",
    "blade",
    "haft",
    "shield",
    "other",
];

/// What becomes of a model that is no closed solid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mend {
    /// Mended: holes patched, single-sided surfaces thickened.
    #[default]
    AsItLooks,
    /// Mended: whatever is open is patched.
    Fill,
    /// Mended: whatever is open gets a wall.
    Wall,
    /// Refused.
    No,
}

impl Mend {
    /// Each with its name on the command line and in files.
    pub const NAMES: [(Self, &'static str); 4] =
        [(Self::AsItLooks, "as-it-looks"), (Self::Fill, "fill"), (Self::Wall, "wall"), (Self::No, "no")];

    /// The way of this name.
    ///
    /// # Errors
    /// Says which names there are.
    pub fn named(name: &str) -> Result<Self, String> {
        let known = Self::NAMES.iter().find(|(_, known)| *known == name);
        known.map(|(mend, _)| *mend).ok_or_else(|| {
            format!("mending is {}, not {name:?}", Self::NAMES.map(|(_, name)| name).join(", "))
        })
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(mend, _)| *mend == self).map_or("", |(_, name)| name)
    }
}

/// The walls that can be asked for, in mm: from one line of the finest nozzle to a thumb's width.
pub const WALLS_MM: std::ops::RangeInclusive<f64> = 0.2..=25.0;

/// How one model is to be made.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ItemSettings {
    /// What it is worn as, in the armourers' names; one of [`ROLES`].
    pub role: Option<String>,
    /// Factor on the size in the file.
    pub scale: Option<f64>,
    /// Largest extent along Z in mm, instead of a factor.
    pub height_mm: Option<f64>,
    /// Volume in cm3, instead of a factor.
    pub volume_cm3: Option<f64>,
    /// Unit of the file, where it is not to be guessed.
    pub units: Option<Unit>,
    /// The file's axis that points up, where it is not Z.
    pub up: Option<Up>,
    /// Also the mirrored other side.
    pub pair: bool,
    /// How many of it; 1 if not said.
    pub copies: Option<u32>,
    /// Only this part of the file, counted from 1, of those that stand apart by 1 mm.
    pub part: Option<u32>,
    /// What becomes of it where it is no closed solid.
    pub mend: Mend,
    /// Steps of mending that are not done.
    pub leave_out: LeftOut,
    /// The wall in mm a single-sided surface gets; [`WALL_MM`] if not said.
    pub wall_mm: Option<f64>,
    /// Simplified to so many triangles, if it has more.
    pub simplify: Option<u32>,
    /// Bodies that overlap become one.
    pub unite: bool,
    /// What the maker marked on it.
    pub marks: MarksRecord,
    /// Cuts of a plan made before.
    pub begun: BegunRecord,
}

impl ItemSettings {
    /// How the model is to be mended, if it is.
    pub fn mending(&self) -> Option<Wishes> {
        let open = match self.mend {
            Mend::AsItLooks => Open::AsItLooks,
            Mend::Fill => Open::Fill,
            Mend::Wall => Open::Thicken,
            Mend::No => return None,
        };
        Some(Wishes { open, wall_mm: self.wall_mm.unwrap_or(WALL_MM), leave_out: self.leave_out })
    }
}

/// A model file and its settings.
#[derive(Debug, Clone)]
pub struct ModelInput {
    /// File name, for ids and messages.
    pub name: String,
    /// The file's bytes.
    pub bytes: Vec<u8>,
    /// How it is to be made.
    pub settings: ItemSettings,
}

/// How long to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Budget {
    /// Until the watch says stop.
    Watch,
    /// So many rounds, the same result to the byte wherever it runs.
    Effort(u64),
}

/// Everything beside the models.
#[derive(Debug, Clone)]
pub struct Options {
    /// Beds, at least one, ids unique.
    pub beds: Vec<Bed>,
    /// What the maker prefers.
    pub prefer: Prefer,
    /// How long to search.
    pub budget: Budget,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Threads to work on; the result does not depend on it with [`Budget::Effort`].
    pub n_threads: usize,
    /// Also write every piece in its pose.
    pub posed: bool,
    /// Leave the models out of the project file.
    pub no_models: bool,
}

impl Options {
    /// What is asked of the search for an item.
    pub fn wish(&self, item: &SizedItem) -> Wish {
        Wish { begun: item.begun.clone(), ..self.wish_for(item.role.clone(), &item.marks) }
    }

    /// What is asked of the search for an item worn as `role` and marked so.
    pub fn wish_for(&self, role: Option<String>, marks: &MarksRecord) -> Wish {
        let (beds, marks) = (self.beds.clone(), marks.marks());
        Wish { beds, seed: self.seed, prefer: self.prefer, role, marks, begun: Vec::new() }
    }
}

/// What the planner tells while it works.
#[derive(Debug, Clone, PartialEq)]
pub enum News {
    /// A model's file is about to be read, which takes long where it is large or needs mending.
    Reading {
        /// Its name.
        name: String,
    },
    /// An item was read and sized.
    Read {
        /// Its id.
        item: String,
        /// Triangles as cut.
        triangles: usize,
        /// Its size.
        size_mm: [f64; 3],
    },
    /// The plain grid of some item is being cut; told often.
    Grid {
        /// Planes done.
        n_done: usize,
        /// Planes in all, about.
        n_all: usize,
    },
    /// The first plan of an item is there: the plain grid.
    FirstPlan {
        /// Its id.
        item: String,
        /// Pieces.
        pieces: usize,
    },
    /// A round of the search is over.
    Round {
        /// Counted from 1.
        round: u64,
        /// Pieces of the whole costume.
        pieces: usize,
        /// Planes looked at.
        candidates: u64,
    },
    /// Something after the search has begun: measuring, laying, auditing.
    Stage(&'static str),
}

/// The planner's only link to clock, screen and person; core code has none of its own.
pub trait Watch: Sync {
    /// Seconds since the call began.
    fn seconds(&self) -> f64;
    /// Whether the search should end with the best so far.
    fn stop(&self) -> bool;
    /// Whether the person asked for an end, whatever the clock says. Before the first plan only this
    /// ends the call, without a plan.
    fn interrupted(&self) -> bool;
    /// Something happened.
    fn tell(&self, news: News);
}
