//! A part cut into rows by parallel cuts, and each row into pieces by cuts across it: fewest pieces in all. Wide flat
//! things want that, whose rows are not equally long.
//!
//! How: what a row needs grows with it, so from any offset the farthest that a row of so many pieces reaches is
//! found by halving; the farthest that so many pieces reach in all follows from those of fewer, row by row, by
//! dynamic programming. Rows are judged by points (`slabs.rs`), their pieces standing on cuts; the cuts are then made
//! exactly, square to the skin (`squared.rs`), which lets them stand straight.
//! One step judges one row or cuts by one plane. Not here: what becomes of the plan (`improve.rs`).

use crate::estimate;
use crate::few;
use crate::frames::{self, AXES};
use crate::ground::Ground;
use crate::outline::Prefer;
use crate::partition::Partition;
use crate::seek::Seek;
use crate::slabs::{Chain, Cloud};
use crate::squared::squared;
use seamwright_mesh::{Plane, vec3};

/// The most pieces of a row (ours).
const MOST: usize = 4;

/// Plans that are handed on (ours).
const N_FOUND: usize = 2;

/// Sine of the least angle between a row and a direction it is cut in: 45 degrees (ours).
const NEARLY_SQUARE: f64 = 0.7;

/// Offsets are found to this share of the part's extent (ours).
const NEAR: f64 = 1.0 / 256.0;

/// The search for one item.
pub struct Rows {
    start: Partition,
    /// Plans of no more pieces are looked for.
    most: usize,
    prefer: Prefer,
    cloud: Option<Cloud>,
    normals: std::vec::IntoIter<[f64; 3]>,
    at_work: Option<Reaching>,
    making: Option<Making>,
    found: Vec<Partition>,
    candidates: u64,
}

/// Along one direction: how far so many pieces reach.
struct Reaching {
    normal: [f64; 3],
    /// Directions in which rows are cut.
    ways: Vec<[f64; 3]>,
    end_mm: f64,
    near_mm: f64,
    /// By pieces in all: the farthest offset, and pieces of the last row.
    reached: Vec<(f64, usize)>,
    /// By pieces of a row that begins where so many pieces reach: the farthest offset known to do and the nearest
    /// known not to.
    between_mm: [[f64; 2]; MOST],
    /// Pieces in all whose rows are being halved.
    n_pieces: usize,
}

/// Rows being cut, then what does not fit of them.
struct Making {
    made: Partition,
    normal: [f64; 3],
    offsets_mm: std::vec::IntoIter<f64>,
    /// Parts still to be cut across.
    rows: Option<std::vec::IntoIter<usize>>,
}

impl Rows {
    /// Will look for plans with at most `most` pieces for what is one part so far; nothing where it is more, or
    /// where so few are looked for by halving (`few.rs`). Some pieces of what it finds may have to be held, and where
    /// a row takes more than points tell a plan has more.
    pub fn new(start: Partition, most: usize, prefer: Prefer, ground: &Ground) -> Self {
        let (mut cloud, mut normals) = (None, Vec::new());
        if let ([part], true) = (&start.parts[..], start.steps.is_empty() && most > few::MOST) {
            cloud = Some(Cloud::of(part));
            normals = frames::distinct(ground.own_frame.into_iter().chain(AXES));
        }
        let normals = normals.into_iter();
        Self {
            start,
            most,
            prefer,
            cloud,
            normals,
            at_work: None,
            making: None,
            found: Vec::new(),
            candidates: 0,
        }
    }
}

impl Seek for Rows {
    fn step(&mut self, ground: &Ground) -> bool {
        let Some(cloud) = &self.cloud else { return false };
        self.candidates += 1;
        if let Some(making) = &mut self.making {
            if making.step(ground, self.prefer) {
                return true;
            }
            let plan = self.making.take().map(|making| making.made);
            self.found.extend(plan.filter(Partition::all_fit));
            return true;
        }
        let Some(reaching) = &mut self.at_work else {
            let Some(normal) = self.normals.next() else { return false };
            let points_mm = &self.start.parts[0].hull.points_mm;
            self.at_work = Some(Reaching::new(normal, estimate::ends_mm(points_mm, normal), ground));
            return true;
        };
        if reaching.step(cloud, self.most, ground) {
            return true;
        }
        if let Some(offsets_mm) = reaching.offsets_mm() {
            self.making = Some(Making {
                made: self.start.clone(),
                normal: reaching.normal,
                offsets_mm: offsets_mm.into_iter(),
                rows: None,
            });
        }
        self.at_work = None;
        true
    }

    fn take_found(&mut self) -> Vec<Partition> {
        let mut found = std::mem::take(&mut self.found);
        found.sort_by(|a, b| a.outline().order(&b.outline(), self.prefer));
        found.truncate(N_FOUND);
        found
    }

    fn candidates(&self) -> u64 {
        self.candidates
    }
}

impl Reaching {
    fn new(normal: [f64; 3], [low_mm, high_mm]: [f64; 2], ground: &Ground) -> Self {
        let mut reaching = Self {
            normal,
            ways: across(normal, ground),
            end_mm: high_mm,
            near_mm: NEAR * (high_mm - low_mm),
            reached: vec![(low_mm, 0)],
            between_mm: [[0.0; 2]; MOST],
            n_pieces: 0,
        };
        reaching.begin();
        reaching
    }

    fn begin(&mut self) {
        self.between_mm = [[self.reached[self.n_pieces].0, self.end_mm + 2.0 * self.near_mm]; MOST];
    }

    fn is_done(&self) -> bool {
        self.reached.last().is_some_and(|&(offset_mm, _)| offset_mm >= self.end_mm)
    }

    /// Judges one row; whether there is more to do.
    fn step(&mut self, cloud: &Cloud, most: usize, ground: &Ground) -> bool {
        let from_mm = self.reached[self.n_pieces].0;
        let open = (0..MOST).find(|&k| {
            let [low, high] = self.between_mm[k];
            self.n_pieces + k < most && low < self.end_mm && high - low > self.near_mm
        });
        if let Some(k) = open {
            let [low, high] = self.between_mm[k];
            let middle_mm = (0.5 * (low + high)).min(self.end_mm);
            let n = cloud.n_across(self.normal, [from_mm, middle_mm], &self.ways, MOST, &ground.beds);
            let n = n.unwrap_or(MOST + 1);
            for (k, between) in self.between_mm.iter_mut().enumerate() {
                if n <= k + 1 {
                    between[0] = between[0].max(middle_mm);
                } else {
                    between[1] = between[1].min(middle_mm);
                }
            }
            return true;
        }
        for k in 0..MOST {
            let n = self.n_pieces + k + 1;
            if self.reached.len() <= n {
                self.reached.push((f64::MIN, 0));
            }
            if self.between_mm[k][0] > self.reached[n].0 {
                self.reached[n] = (self.between_mm[k][0], k + 1);
            }
        }
        if let Some(n) = self.reached.iter().position(|&(offset_mm, _)| offset_mm >= self.end_mm) {
            self.reached.truncate(n + 1);
            return false;
        }
        // A row that begins no farther than with fewer pieces leads nowhere new.
        loop {
            self.n_pieces += 1;
            if self.n_pieces >= most.min(self.reached.len()) {
                return false;
            }
            if self.reached[self.n_pieces].0 > self.reached[self.n_pieces - 1].0 + self.near_mm {
                break;
            }
        }
        self.begin();
        true
    }

    /// Offsets between the rows, lowest first, where the end was reached.
    fn offsets_mm(&self) -> Option<Vec<f64>> {
        if !self.is_done() {
            return None;
        }
        let mut n = self.reached.len() - 1;
        let mut offsets_mm = Vec::new();
        while n > 0 {
            n -= self.reached[n].1;
            offsets_mm.push(self.reached[n].0);
        }
        // The last is where the part begins.
        offsets_mm.pop();
        offsets_mm.reverse();
        Some(offsets_mm)
    }
}

impl Making {
    /// Cuts by one plane or looks at one row; whether there is more to do.
    fn step(&mut self, ground: &Ground, prefer: Prefer) -> bool {
        if let Some(offset_mm) = self.offsets_mm.next() {
            let plane = Plane { normal: self.normal, offset_mm };
            let pieces = self.made.pieces();
            cut(&mut self.made, pieces, plane, ground);
            return true;
        }
        let rows = self.rows.get_or_insert_with(|| self.made.pieces().into_iter());
        let Some(row) = rows.next() else { return false };
        if self.made.parts[row].is_done() {
            return true;
        }
        let Some(chain) = self.chain(row, ground) else { return true };
        // Points tell of a few mm more or less: where the cheapest does not fit, the roomiest may.
        let middle = |(plane, ends_mm): (&Plane, &[f64; 2])| Plane {
            offset_mm: f64::midpoint(ends_mm[0], ends_mm[1]),
            ..*plane
        };
        let roomiest: Vec<Plane> = chain.planes.iter().zip(&chain.windows_mm).map(middle).collect();
        let made = [&chain.planes, &roomiest].map(|planes| {
            let mut made = self.made.alone(row);
            let mut rest = vec![0];
            for &plane in planes {
                rest = cut(&mut made, rest, plane, ground);
            }
            made
        });
        let order = |a: &&Partition, b: &&Partition| {
            b.all_fit().cmp(&a.all_fit()).then(a.outline().order(&b.outline(), prefer))
        };
        let Some(best) = made.iter().min_by(order) else { return true };
        // Parts that were there keep their places.
        self.made = self.made.with_part_cut(row, best);
        true
    }

    /// Fewest cuts across a row; of equally few those that let its pieces stand on cuts.
    fn chain(&self, row: usize, ground: &Ground) -> Option<Chain> {
        let part = &self.made.parts[row];
        let cloud = Cloud::of(part);
        let stand_on =
            self.made.steps.iter().filter(|step| step.below.contains(&row) || step.above.contains(&row));
        let own: Vec<[f64; 3]> = stand_on.map(|step| self.made.planes[step.plane].normal).collect();
        let mut found: Option<Chain> = None;
        for way in across(self.normal, ground) {
            let mut ups = own.clone();
            ups.extend([self.normal, way, vec3::cross(self.normal, way)]);
            for ups in [&ups[..], &[]] {
                let Some(chain) = cloud.chain_upright(part, way, ups, MOST, ground) else { continue };
                if found.as_ref().is_none_or(|best| chain.planes.len() < best.planes.len()) {
                    found = Some(chain);
                }
            }
        }
        found
    }
}

/// Cuts each of some pieces square to its skin near a plane; those that the next plane can meet.
fn cut(made: &mut Partition, pieces: Vec<usize>, plane: Plane, ground: &Ground) -> Vec<usize> {
    let mut rest = Vec::new();
    for piece in pieces {
        let plane = squared(&made.parts[piece], plane);
        match made.cut_near(piece, plane, ground) {
            Ok(()) => rest.extend(made.steps.last().into_iter().flat_map(|step| step.above.clone())),
            Err(_) => rest.push(piece),
        }
    }
    rest
}

/// Directions in which rows along a direction are cut: axes, made square to it where they are nearly so.
fn across(normal: [f64; 3], ground: &Ground) -> Vec<[f64; 3]> {
    let flat = |way: [f64; 3]| {
        let aside = vec3::sub(way, vec3::scale(normal, vec3::dot(way, normal)));
        vec3::unit(aside).filter(|_| vec3::length(aside) > NEARLY_SQUARE)
    };
    frames::distinct(ground.own_frame.into_iter().chain(AXES).filter_map(flat))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::tests::wish;
    use seamwright_mesh::Solid;

    /// A round board of 600 mm, 8 mm thick, of 48 sides, about the middle of its lower face.
    fn board() -> Solid {
        const N: u32 = 48;
        let ring = |z: f64| {
            (0..N).map(move |i| {
                let turn_rad = std::f64::consts::TAU * f64::from(i) / f64::from(N);
                [300.0 * libm::cos(turn_rad), 300.0 * libm::sin(turn_rad), z]
            })
        };
        let points_mm: Vec<[f64; 3]> =
            ring(0.0).chain(ring(8.0)).chain([[0.0, 0.0, 0.0], [0.0, 0.0, 8.0]]).collect();
        let sides = (0..N).flat_map(|i| {
            let k = (i + 1) % N;
            [[i, k, N + k], [i, N + k, N + i], [2 * N, k, i], [2 * N + 1, N + i, N + k]]
        });
        Solid::from_triangles(&points_mm, &sides.collect::<Vec<_>>()).expect("a round board").0
    }

    #[test]
    fn a_round_board_takes_fewer_pieces_in_its_outer_rows() {
        // Pieces of 210 mm and, standing aslant, of up to 288 mm: three rows of three would do for the square
        // around the board, and no two rows can hold it.
        let ground = Ground::new(&board(), &wish("220x220x250"));
        let find = |most: usize| {
            let mut rows = Rows::new(ground.whole.clone(), most, Prefer::Fewest, &ground);
            while rows.step(&ground) {}
            rows.take_found()
        };
        let found = find(8);
        let best = found.first().expect("there is such a plan");
        assert!(best.all_fit() && best.n_pieces() < 9, "{} pieces", best.n_pieces());
        let volume_mm3: f64 = best.pieces().iter().map(|&i| best.parts[i].volume_mm3).sum();
        assert!((volume_mm3 / ground.whole.parts[0].volume_mm3 - 1.0).abs() < 1e-6);
        assert!(find(few::MOST).is_empty(), "very few cuts are tried elsewhere");
    }
}
