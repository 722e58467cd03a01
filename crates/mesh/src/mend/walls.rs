//! Where three or more sheets meet at an edge: turning sheets that face the wrong way, leaving out
//! walls inside the solid, and giving each sheet points of its own where it only hangs on another.
//!
//! How: at such an edge as many triangles must run one way as the other. Sheets are asked from the
//! smallest: turn it over if that pairs more edges; leave it out if all its rim is on such edges and
//! that pairs more (of the sheets that meet round a wall the smallest is the inner one).

use super::orient::sheets;
use super::surface::{Surface, excess};
use crate::edges::{self, Joined, QuickMap};
use crate::flaws::Found;

/// What was done to whole sheets.
#[derive(Default)]
pub(super) struct Settled {
    /// Triangles that were turned.
    pub turned: Found,
    /// Triangles of inner walls that were left out.
    pub left_out: Found,
}

/// What a sheet runs at one edge: which edge, how often more up than down.
type Rim = Vec<(usize, i32)>;

/// Settles the edges where three or more triangles meet.
pub(super) fn settle(surface: &mut Surface) -> Settled {
    let uses = surface.edge_uses();
    let (sheet_of, n_sheets) = sheets(surface, &uses);
    let mut edge_excess: Vec<i32> = Vec::new();
    let mut rims: Vec<Rim> = vec![Vec::new(); n_sheets];
    let mut has_free_rim = vec![false; n_sheets];
    for run in edges::runs(&uses).filter(|run| run.len() != 2) {
        if run.len() == 1 {
            has_free_rim[sheet_of[run[0].triangle()] as usize] = true;
            continue;
        }
        let edge = edge_excess.len();
        edge_excess.push(excess(run, &surface.triangles));
        for one in run {
            let rim = &mut rims[sheet_of[one.triangle()] as usize];
            let way = if one.forward(&surface.triangles) { 1 } else { -1 };
            match rim.last_mut().filter(|last| last.0 == edge) {
                Some(last) => last.1 += way,
                None => rim.push((edge, way)),
            }
        }
    }
    let mut settled = Settled::default();
    if edge_excess.iter().all(|&excess| excess == 0) {
        return settled;
    }
    let mut area_mm2 = vec![0.0; n_sheets];
    for (triangle, &sheet) in sheet_of.iter().enumerate() {
        area_mm2[sheet as usize] += surface.area_mm2(triangle);
    }
    let mut order: Vec<usize> = (0..n_sheets).filter(|&sheet| !rims[sheet].is_empty()).collect();
    order.sort_by(|&a, &b| area_mm2[a].total_cmp(&area_mm2[b]).then(a.cmp(&b)));
    let mut turned = vec![false; n_sheets];
    let mut left_out = vec![false; n_sheets];
    loop {
        let unpaired = |sheet: usize, times: i32| -> i32 {
            rims[sheet].iter().map(|&(edge, way)| (edge_excess[edge] - times * way).abs()).sum()
        };
        let mut asked = order.iter().copied().filter(|&sheet| !left_out[sheet]);
        let turn = asked.clone().find(|&sheet| unpaired(sheet, 2) < unpaired(sheet, 0));
        let (sheet, times) = match turn {
            Some(sheet) => (sheet, 2),
            None => match asked.find(|&s| !has_free_rim[s] && unpaired(s, 1) < unpaired(s, 0)) {
                Some(sheet) => (sheet, 1),
                None => break,
            },
        };
        for &(edge, way) in &rims[sheet] {
            edge_excess[edge] -= times * way;
        }
        if times == 2 {
            turned[sheet] = !turned[sheet];
            rims[sheet].iter_mut().for_each(|entry| entry.1 = -entry.1);
        } else {
            left_out[sheet] = true;
        }
    }
    for (triangle, &sheet) in sheet_of.iter().enumerate() {
        if left_out[sheet as usize] {
            settled.left_out.add(|| surface.middle_mm(triangle));
        } else if turned[sheet as usize] {
            surface.turn_over(triangle);
            settled.turned.add(|| surface.middle_mm(triangle));
        }
    }
    let stays: Vec<bool> = sheet_of.iter().map(|&sheet| !left_out[sheet as usize]).collect();
    surface.keep(&stays);
    settled
}

/// Gives every triangle the number of the body it is part of, and every body points of its own.
///
/// Bodies are connected across edges that pair up; where an edge does not, each sheet is a body.
pub(super) fn into_bodies(surface: &mut Surface) -> (Vec<u32>, usize) {
    let uses = surface.edge_uses();
    let mut joined = Joined::new(surface.triangles.len());
    for run in edges::runs(&uses).filter(|run| run.len() == 2 || excess(run, &surface.triangles) == 0) {
        run.iter().skip(1).for_each(|u| joined.join(run[0].triangle() as u32, u.triangle() as u32));
    }
    let mut names: QuickMap<u32, u32> = QuickMap::default();
    let body_of: Vec<u32> = (0..surface.triangles.len() as u32)
        .map(|triangle| {
            let next = names.len() as u32;
            *names.entry(joined.find(triangle)).or_insert(next)
        })
        .collect();
    let points = std::mem::take(&mut surface.points);
    let mut owner = vec![u32::MAX; points.len()];
    let mut copies: QuickMap<u64, u32> = QuickMap::default();
    surface.points.clone_from(&points);
    for (triangle, &body) in surface.triangles.iter_mut().zip(&body_of) {
        for corner in triangle {
            let point = *corner;
            if owner[point as usize] == u32::MAX {
                owner[point as usize] = body;
            } else if owner[point as usize] != body {
                *corner = *copies.entry(u64::from(point) << 32 | u64::from(body)).or_insert_with(|| {
                    surface.points.push(points[point as usize]);
                    surface.points.len() as u32 - 1
                });
            }
        }
    }
    let n_bodies = names.len();
    (body_of, n_bodies)
}
