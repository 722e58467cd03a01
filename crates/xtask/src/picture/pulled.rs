//! Draws one item of a plan folder pulled apart along its seams, pieces numbered.
//!
//! How: `plan.json` says in which order and direction pieces are pushed together; every step is
//! undone by half a gap on either side, so later seams carry earlier ones with them. Balloons stand
//! left and right of the item, each on a line to the middle of what shows of its piece.
//! Not here: proving anything about the plan; the audit does that.

use super::ink::{self, Picture};
use super::raster::{self, Drawn, View};
use super::{label, shape_of};
use anyhow::{Context, Result, ensure};
use seamwright_mesh::vec3::{add, scale};
use serde_json::Value;
use std::path::Path;

/// Share of the picture's width kept free on each side for balloons.
const SIDE: f64 = 0.13;

/// Draws the item `wanted` (the first of the plan where none is named), its seams opened by
/// `gap_mm` each.
///
/// # Errors
/// Where the folder holds no readable plan, no such item or an unreadable piece.
pub fn draw(
    folder: &Path,
    wanted: Option<&str>,
    gap_mm: f64,
    view: View,
    size_px: [usize; 2],
) -> Result<Picture> {
    let path = folder.join("plan.json");
    let text =
        std::fs::read_to_string(&path).with_context(|| format!("{} cannot be read", path.display()))?;
    let plan: Value = serde_json::from_str(&text)?;
    let first = plan["items"][0]["id"].as_str().context("the plan holds no item")?;
    let item = wanted.unwrap_or(first);
    let rows: Vec<&Value> = array(&plan["pieces"]).iter().filter(|piece| piece["item"] == item).collect();
    ensure!(!rows.is_empty(), "the plan holds no piece of an item {item}");
    let mut pieces = Vec::new();
    for (index, row) in rows.iter().enumerate() {
        let (id, file) = (row["id"].as_str().unwrap_or_default(), row["file"].as_str().unwrap_or_default());
        let tone = ink::CLOTH[index % ink::CLOTH.len()];
        let mut piece = shape_of(&folder.join(file), tone)?;
        let away = shift_of(&plan, id, gap_mm);
        piece.points.iter_mut().for_each(|p| *p = add(*p, away));
        pieces.push(piece);
    }
    Ok(numbered(&pieces, view, size_px))
}

/// How far a piece moves when every step that joins it is undone by `gap_mm`.
fn shift_of(plan: &Value, id: &str, gap_mm: f64) -> [f64; 3] {
    array(&plan["join_order"]).iter().fold([0.0; 3], |sum, step| {
        let direction: Vec<f64> = array(&step["direction"]).iter().filter_map(Value::as_f64).collect();
        let [x, y, z] = direction[..] else { return sum };
        let named = |side: &str| array(&step[side]).iter().any(|other| other == id);
        // `from` is pushed along the direction, so it is pulled back against it.
        let sign = f64::from(u8::from(named("to"))) - f64::from(u8::from(named("from")));
        add(sum, scale([x, y, z], sign * gap_mm / 2.0))
    })
}

fn array(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// Draws the pieces with balloons 1, 2, 3 ...
fn numbered(pieces: &[Drawn], view: View, size_px: [usize; 2]) -> Picture {
    let fine = size_px.map(|n| n * ink::FINER);
    let [wide, high] = fine.map(|n| n as f64);
    let frame = [wide * SIDE, high * 0.05, wide * (1.0 - SIDE), high * 0.95];
    let view = View { size_px: fine, ..view }.fit(pieces, frame);
    let seen = raster::draw(pieces, &view);
    let tones: Vec<[u8; 3]> = pieces.iter().map(|d| d.tone).collect();
    let mut picture = ink::shade(&seen, &view, &tones);
    let targets: Vec<_> = (0..pieces.len()).map(|part| middle_of(&seen, fine, part as u16)).collect();
    let middle_px = size_px[0] as f64 / 2.0;
    let balloon_px = (size_px[0].min(size_px[1]) as f64 * 0.055).max(22.0);
    for left in [true, false] {
        let mut side: Vec<(usize, [f64; 2])> = targets
            .iter()
            .enumerate()
            .filter_map(|(part, target)| target.map(|t| (part, t)))
            .filter(|(_, t)| (t[0] < middle_px) == left)
            .collect();
        side.sort_by(|a, b| a.1[1].total_cmp(&b.1[1]).then(a.0.cmp(&b.0)));
        let heights =
            spread(&side.iter().map(|s| s.1[1]).collect::<Vec<_>>(), balloon_px * 1.35, size_px[1] as f64);
        let x = size_px[0] as f64 * if left { SIDE * 0.5 } else { 1.0 - SIDE * 0.5 };
        for (&(part, target), y) in side.iter().zip(heights) {
            label::balloon(&mut picture, part + 1, [x, y], target, balloon_px);
        }
    }
    picture
}

/// The shown place of a part that lies deepest inside what shows of it, rather near its middle;
/// `None` where it is hidden. On a raster of 4 x 4 pixels, depth counted in steps.
fn middle_of(seen: &[raster::Seen], fine: [usize; 2], part: u16) -> Option<[f64; 2]> {
    const COARSE: usize = 4 * ink::FINER;
    let [wide, high] = fine.map(|n| n / COARSE);
    let mut depth = vec![0i64; wide * high];
    let shows = |i: usize| {
        seen[(i / wide * COARSE + COARSE / 2) * fine[0] + i % wide * COARSE + COARSE / 2].part == part
    };
    let near = |depth: &[i64], i: usize, next: usize, inside: bool| {
        if inside { depth[next].min(depth[i]) } else { 0 }
    };
    (0..wide * high).filter(|&i| shows(i)).for_each(|i| depth[i] = i64::MAX / 2);
    for i in 0..wide * high {
        let before = near(&depth, i, i.saturating_sub(1), i % wide > 0);
        depth[i] = depth[i].min(before.min(near(&depth, i, i.saturating_sub(wide), i >= wide)) + 1)
            * i64::from(depth[i] > 0);
    }
    for i in (0..wide * high).rev() {
        let after = near(&depth, i, i + 1, i % wide + 1 < wide);
        depth[i] = depth[i].min(after.min(near(&depth, i, i + wide, i / wide + 1 < high)) + 1)
            * i64::from(depth[i] > 0);
    }
    let shown: Vec<usize> = (0..depth.len()).filter(|&i| depth[i] > 0).collect();
    let n = shown.len() as f64;
    let place = |i: usize| [(i % wide) as f64, (i / wide) as f64];
    let sum = shown.iter().fold([0.0; 2], |sum, &i| [sum[0] + place(i)[0], sum[1] + place(i)[1]]);
    let worth = |i: usize| {
        let [x, y] = place(i);
        depth[i] as f64 - 0.3 * libm::hypot(x - sum[0] / n, y - sum[1] / n)
    };
    let best = shown.iter().copied().max_by(|&a, &b| worth(a).total_cmp(&worth(b)).then(b.cmp(&a)))?;
    Some(place(best).map(|v| (v + 0.5) * (COARSE / ink::FINER) as f64))
}

/// Sorted heights moved apart to at least `apart`, inside 0 to `limit`.
fn spread(wanted: &[f64], apart: f64, limit: f64) -> Vec<f64> {
    let mut heights = wanted.to_vec();
    let mut lowest = apart / 2.0;
    for height in &mut heights {
        *height = height.max(lowest);
        lowest = *height + apart;
    }
    let mut highest = limit - apart / 2.0;
    for height in heights.iter_mut().rev() {
        *height = height.min(highest);
        highest = *height - apart;
    }
    heights
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn balloons_that_would_overlap_stand_apart_and_inside() {
        assert_eq!(spread(&[10.0, 11.0, 99.0], 20.0, 100.0), [10.0, 30.0, 90.0]);
    }

    #[test]
    fn each_step_opens_its_seam_by_the_whole_gap() {
        let plan = serde_json::json!({"join_order": [
            {"direction": [0, 0, 1], "from": ["a"], "to": ["b"]},
            {"direction": [1, 0, 0], "from": ["a", "b"], "to": ["c"]},
        ]});
        assert_eq!(shift_of(&plan, "a", 10.0), [-5.0, 0.0, -5.0]);
        assert_eq!(shift_of(&plan, "b", 10.0), [-5.0, 0.0, 5.0]);
        assert_eq!(shift_of(&plan, "c", 10.0), [5.0, 0.0, 0.0]);
    }
}
