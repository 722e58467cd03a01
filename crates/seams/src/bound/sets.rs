//! Groups of points as bits of a word, and the sets known not to fit a bed together.

/// The most points a proof is made of: bits of a [`Group`].
pub(super) const MOST_POINTS: usize = 128;

/// Some of the points, as bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(super) struct Group(u128);

impl Group {
    /// This point alone.
    pub(super) fn of(point: usize) -> Self {
        Self(1 << point)
    }

    pub(super) fn with(self, point: usize) -> Self {
        self.and(Self::of(point))
    }

    pub(super) fn without(self, point: usize) -> Self {
        Self(self.0 & !(1 << point))
    }

    /// Points of either.
    pub(super) fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    pub(super) fn has(self, point: usize) -> bool {
        self.0 >> point & 1 == 1
    }

    pub(super) fn is_within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    pub(super) fn is_empty(self) -> bool {
        self.0 == 0
    }

    pub(super) fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Ascending.
    pub(super) fn points(self) -> impl Iterator<Item = usize> {
        (0..MOST_POINTS).filter(move |&point| self.has(point))
    }
}

/// Sets of points that no bed holds together, found so far.
#[derive(Debug, Default)]
pub(super) struct Sets {
    all: Vec<Group>,
    /// Positions in `all`, by point.
    of_point: Vec<Vec<usize>>,
    /// Which of them the run at work has leant on.
    leant_on: Vec<bool>,
}

impl Sets {
    pub(super) fn add(&mut self, set: Group) {
        let at = self.all.len();
        self.all.push(set);
        self.leant_on.push(false);
        for point in set.points() {
            if self.of_point.len() <= point {
                self.of_point.resize_with(point + 1, Vec::new);
            }
            self.of_point[point].push(at);
        }
    }

    /// How many sets a point is in.
    pub(super) fn degree(&self, point: usize) -> usize {
        self.of_point.get(point).map_or(0, Vec::len)
    }

    /// A set that would be whole in `group` with `point` added, if one is known.
    pub(super) fn bar(&self, group: Group, point: usize) -> Option<usize> {
        let with = group.with(point);
        self.of_point.get(point)?.iter().copied().find(|&at| self.all[at].is_within(with))
    }

    pub(super) fn get(&self, at: usize) -> Group {
        self.all[at]
    }

    /// Notes that a set is needed for what is being proved.
    pub(super) fn lean_on(&mut self, at: usize) {
        self.leant_on[at] = true;
    }

    /// Begins another run.
    pub(super) fn forget_use(&mut self) {
        self.leant_on.fill(false);
    }

    /// The sets leant on since.
    pub(super) fn used(&self) -> Vec<Group> {
        let used = self.all.iter().zip(&self.leant_on).filter(|(_, used)| **used);
        used.map(|(set, _)| *set).collect()
    }
}
