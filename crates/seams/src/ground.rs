//! What every task of a search stands on: the item before any cut, the beds, the seed.
//!
//! A task depends on nothing but this, its own settings and the limit on pieces, so it can run on
//! another thread or in another worker, which makes its own [`Ground`] from the same solid.
//! Not here: what was found so far (`search.rs`), how a task runs (`task.rs`).

use crate::estimate;
use crate::frames::{self, Frame};
use crate::part::Part;
use crate::partition::Partition;
use crate::proxy::Proxy;
use seamwright_bed::Bed;
use seamwright_mesh::{Solid, lumps};
use std::sync::{Arc, OnceLock};

/// The state no task changes.
pub struct Ground {
    /// Beds a piece may be printed on.
    pub beds: Vec<Bed>,
    /// Box sizes they offer, for estimates.
    pub boxes: Vec<[f64; 3]>,
    /// The item as it falls apart by itself.
    pub whole: Partition,
    /// Its principal frame.
    pub own_frame: Frame,
    /// Seed of everything drawn.
    pub seed: u64,
    item: Solid,
    stand_in: OnceLock<Option<Arc<Self>>>,
}

impl Ground {
    /// Looks at an item and its lumps.
    pub fn new(item: &Solid, beds: &[Bed], seed: u64) -> Self {
        let look = |lump| Arc::new(Part::new(lump, beds));
        Self {
            whole: Partition::of(lumps::lumps(item.clone()).into_iter().map(look).collect()),
            beds: beds.to_vec(),
            boxes: estimate::boxes_of(beds),
            own_frame: frames::principal(item),
            seed,
            item: item.clone(),
            stand_in: OnceLock::new(),
        }
    }

    /// The same for a stand-in of few triangles, made when first asked for; `None` where the item
    /// stands for itself. Its beds are smaller by what it is narrower.
    pub fn stand_in(&self) -> Option<&Arc<Self>> {
        let make = || {
            let proxy = Proxy::of(&self.item)?;
            let smaller = |bed: &Bed| Bed { margin_mm: bed.margin_mm + proxy.short_mm, ..bed.clone() };
            let beds: Vec<Bed> = self.beds.iter().map(smaller).collect();
            Some(Arc::new(Self::new(&proxy.solid, &beds, self.seed)))
        };
        self.stand_in.get_or_init(make).as_ref()
    }

    /// Hull and best pose of a lump.
    pub fn look(&self, lump: Solid) -> Part {
        Part::new(lump, &self.beds)
    }

    /// Points of the whole item's hulls.
    pub(crate) fn hull_points(&self) -> Vec<[f64; 3]> {
        self.whole.parts.iter().flat_map(|part| part.hull.points_mm.clone()).collect()
    }
}
