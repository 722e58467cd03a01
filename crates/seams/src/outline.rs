//! What decides between two plans of an item.

/// What decides between two partitions; travels where the parts need not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Whether every piece fits a bed.
    pub all_fit: bool,
    /// How many pieces there are.
    pub n_pieces: usize,
    /// How many of them stand only with supports.
    pub n_held: usize,
    /// The room these lack to stand, in all: the nearer to standing the better.
    pub short_mm: f64,
    /// Sum of the section lengths of all cuts.
    pub section_mm: f64,
}

impl Outline {
    /// Whether it is the better plan: fewer pieces where one that must be held counts as two, then fewer
    /// held, then those nearer to standing, then the shorter section.
    pub fn is_better_than(&self, other: &Self) -> bool {
        let counts = |outline: &Self| (outline.n_pieces + outline.n_held, outline.n_held);
        let order = counts(self).cmp(&counts(other)).then(self.short_mm.total_cmp(&other.short_mm));
        order.then(self.section_mm.total_cmp(&other.section_mm)).is_lt()
    }
}
