//! The steps of mending a maker may leave out, one by one.
//!
//! Each step is told with the code `mended-` and its name, so whoever reads what was done can undo it
//! alone. Triangles without three corners or without area always go: no solid can hold them.

use std::fmt;

/// A step of mending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Points of open edges that nearly meet are joined.
    Weld,
    /// Triangles that lie on another are dropped.
    Duplicates,
    /// Pairs that face opposite ways over the same corners are dropped.
    BackToBack,
    /// Edges are split at points that lie on them.
    Junctions,
    /// Triangles, and bodies, that face the wrong way are turned.
    Orient,
    /// Triangles inside the solid, where three sheets meet, go.
    Walls,
    /// Holes are patched.
    Holes,
    /// Surfaces of one side get a wall; without it they are patched like holes.
    Sheets,
    /// Bodies that enclose nothing are dropped.
    Dust,
}

impl Step {
    /// Each with its name on the command line, in files and in the codes of notices.
    pub const NAMES: [(Self, &'static str); 9] = [
        (Self::Weld, "weld"),
        (Self::Duplicates, "duplicates"),
        (Self::BackToBack, "back-to-back"),
        (Self::Junctions, "junctions"),
        (Self::Orient, "orient"),
        (Self::Walls, "walls"),
        (Self::Holes, "holes"),
        (Self::Sheets, "sheets"),
        (Self::Dust, "dust"),
    ];

    fn bit(self) -> u16 {
        1 << self as u16
    }
}

/// Steps that are left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LeftOut(u16);

impl LeftOut {
    /// The steps of these names.
    ///
    /// # Errors
    /// Says which names there are.
    pub fn named<'a>(names: impl IntoIterator<Item = &'a str>) -> Result<Self, String> {
        names.into_iter().try_fold(Self::default(), |all, name| {
            let known = Step::NAMES.iter().find(|(_, known)| *known == name);
            known.map(|(step, _)| all.and(*step)).ok_or_else(|| {
                format!("a step of mending is {}, not {name:?}", Step::NAMES.map(|(_, name)| name).join(", "))
            })
        })
    }

    /// These and one more.
    pub fn and(self, step: Step) -> Self {
        Self(self.0 | step.bit())
    }

    /// Whether this step is left out.
    pub fn has(self, step: Step) -> bool {
        self.0 & step.bit() != 0
    }

    /// Their names, in the order of the steps.
    pub fn names(self) -> Vec<&'static str> {
        Step::NAMES.iter().filter(|(step, _)| self.has(*step)).map(|(_, name)| *name).collect()
    }

    /// Whether every step is done.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}

impl fmt::Display for LeftOut {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(&self.names().join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mend::tests::{both, codes, cuboid, mended};
    use crate::mend::{Mended, Wishes, mend};
    use crate::solid::NotSolid;
    use crate::vec3;

    /// Mended without these steps.
    fn without(mesh: &(Vec<[f64; 3]>, Vec<[u32; 3]>), steps: &[&str]) -> Result<Mended, NotSolid> {
        let leave_out = LeftOut::named(steps.iter().copied()).unwrap();
        mend(&mesh.0, &mesh.1, &Wishes { leave_out, ..Wishes::default() })
    }

    /// A block with every fault a step of its own mends, beside each other and 100 mm apart.
    fn faults() -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
        let at = |k: usize| cuboid([40.0; 3], [100.0 * k as f64, 0.0, 0.0]);
        let torn = {
            let (mut points, mut triangles) = at(0);
            points.push(vec3::add(points[7], [0.004, 0.0, 0.0]));
            let one = triangles.iter_mut().find(|t| t.contains(&7)).unwrap();
            *one = one.map(|i| if i == 7 { 8 } else { i });
            (points, triangles)
        };
        let twice = {
            let (points, mut triangles) = at(1);
            triangles.push(triangles[0]);
            (points, triangles)
        };
        let junction = {
            let (mut points, mut triangles) = at(2);
            // One of two triangles is divided at the middle of the edge it shares with another face.
            let [a, b, c] = triangles[0];
            points.push(vec3::scale(vec3::add(points[a as usize], points[b as usize]), 0.5));
            triangles.splice(0..1, [[a, 8, c], [8, b, c]]);
            (points, triangles)
        };
        let flipped = {
            let (points, mut triangles) = at(3);
            triangles[5].swap(0, 1);
            (points, triangles)
        };
        let holed = {
            let (points, mut triangles) = cuboid([40.0, 40.0, 400.0], [400.0, 0.0, 0.0]);
            triangles.drain(2..4);
            (points, triangles)
        };
        let walled = {
            let (one, other) = (at(5), cuboid([40.0; 3], [540.0, 0.0, 0.0]));
            let rest = other.1.iter().copied().filter(|t| !t.iter().all(|&i| i % 2 == 0)).collect();
            both(one, (other.0, rest))
        };
        let specks = cuboid([0.01; 3], [700.0, 0.0, 0.0]);
        let cloth = (
            vec![[800.0, 0.0, 0.0], [900.0, 0.0, 0.0], [900.0, 90.0, 50.0], [800.0, 90.0, 0.0]],
            vec![[0, 1, 2], [0, 2, 3]],
        );
        let back_to_back = {
            let (points, mut triangles) = cuboid([40.0; 3], [1000.0, 0.0, 0.0]);
            triangles.extend([[0, 3, 5], [5, 3, 0]]);
            (points, triangles)
        };
        [torn, twice, junction, flipped, holed, walled, specks, cloth, back_to_back]
            .into_iter()
            .reduce(both)
            .unwrap()
    }

    /// Undoing a step: it is told no more, and the others do what they did, but where a later one closes in
    /// its own way what was left.
    #[test]
    fn each_step_can_be_left_out_by_itself() {
        let mesh = faults();
        let steps_of = |mended: &Mended| -> Vec<(&'static str, usize)> {
            let told = codes(mended).into_iter().filter(|(code, _)| code.starts_with("mended-"));
            told.filter(|(code, _)| *code != "mended-degenerate").collect()
        };
        let whole = mended(&mesh, Wishes::default());
        let all = steps_of(&whole);
        assert_eq!(all.len(), Step::NAMES.len(), "{all:?}");
        // What a later step does instead.
        let instead: [(&str, &[(&str, usize)]); 9] = [
            ("weld", &[("mended-holes", 2)]),
            ("duplicates", &[("mended-walls", 3)]),
            ("back-to-back", &[]),
            ("junctions", &[("mended-holes", 2)]),
            // The one triangle that faces the wrong way gets a wall, and the hole it leaves a patch.
            ("orient", &[("mended-sheets", 2)]),
            ("walls", &[("mended-holes", 2), ("mended-sheets", 3)]),
            ("holes", &[]),
            ("sheets", &[("mended-holes", 2)]),
            ("dust", &[]),
        ];
        for (name, instead) in instead {
            let found = match without(&mesh, &[name]) {
                // The rim of four edges stays, and no solid has one.
                Err(why) if name == "holes" => {
                    assert!(why.to_string().contains("4 open edges"), "{why}");
                    continue;
                }
                found => found.unwrap(),
            };
            let due: Vec<(&str, usize)> = all
                .iter()
                .filter(|(code, _)| *code != format!("mended-{name}"))
                .map(|step| *instead.iter().find(|(code, _)| *code == step.0).unwrap_or(step))
                .collect();
            assert_eq!(steps_of(&found), due, "without {name}");
            assert!(found.steps.iter().any(|s| s.code == "steps-left-out" && s.text.ends_with(name)));
        }
        let n_dust = without(&mesh, &["dust"]).unwrap().solid.n_triangles() - whole.solid.n_triangles();
        assert_eq!(n_dust, 12);
        // Several at once, and nothing unknown.
        let few = without(&mesh, &["weld", "junctions", "dust"]).unwrap();
        assert_eq!(steps_of(&few).len(), all.len() - 3);
        assert!(
            LeftOut::named(["weld", "everything"]).unwrap_err().contains("weld, duplicates, back-to-back")
        );
    }
}
