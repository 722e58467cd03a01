//! Draws triangles into buffers of depth, normal and part: an orthographic view without a graphics card.
//!
//! Units: mm in, pixels out; image x to the right, y down; depth in mm towards the viewer.
//! Not here: colour and ink (`ink.rs`), words and balloons (`label.rs`).

use seamwright_mesh::vec3::{add, cross, dot, length, scale, sub, unit};

/// One thing to draw.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// Positions, mm.
    pub points: Vec<[f64; 3]>,
    /// Triples of indices into `points`.
    pub triangles: Vec<[u32; 3]>,
    /// Cloth tone, 0 to 255.
    pub tone: [u8; 3],
}

/// An orthographic view.
#[derive(Debug, Clone, Copy)]
pub struct View {
    /// To the right in the picture, unit.
    pub right: [f64; 3],
    /// Up in the picture, unit.
    pub up: [f64; 3],
    /// Towards the viewer, unit.
    pub toward: [f64; 3],
    /// What lies in the middle of the picture, mm.
    pub centre_mm: [f64; 3],
    /// Pixels in one mm.
    pub px_per_mm: f64,
    /// Width and height, pixels.
    pub size_px: [usize; 2],
}

impl View {
    /// Seen from `azimuth` (0 from the front, that is from -y; growing towards the wearer's left)
    /// and `elevation` above the horizon, radians.
    pub fn from_angles(azimuth: f64, elevation: f64) -> Self {
        let (sa, ca) = (libm::sin(azimuth), libm::cos(azimuth));
        let (se, ce) = (libm::sin(elevation), libm::cos(elevation));
        Self {
            right: [ca, sa, 0.0],
            up: [-sa * se, ca * se, ce],
            toward: [sa * ce, -ca * ce, se],
            centre_mm: [0.0; 3],
            px_per_mm: 1.0,
            size_px: [1, 1],
        }
    }

    /// Where a point falls: pixels right and down, depth towards the viewer in mm.
    pub fn project(&self, point_mm: [f64; 3]) -> [f64; 3] {
        let from = sub(point_mm, self.centre_mm);
        [
            self.size_px[0] as f64 / 2.0 + dot(from, self.right) * self.px_per_mm,
            self.size_px[1] as f64 / 2.0 - dot(from, self.up) * self.px_per_mm,
            dot(from, self.toward),
        ]
    }

    /// Chooses centre and scale so that all of `drawn` fills the middle `[left, top, right, bottom]` pixels.
    pub fn fit(mut self, drawn: &[Drawn], frame_px: [f64; 4]) -> Self {
        let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
        for point in drawn.iter().flat_map(|d| d.triangles.iter().flatten().map(|&i| &d.points[i as usize])) {
            let seen = [dot(*point, self.right), dot(*point, self.up), dot(*point, self.toward)];
            low = std::array::from_fn(|a| low[a].min(seen[a]));
            high = std::array::from_fn(|a| high[a].max(seen[a]));
        }
        let (wide, high_px) = (frame_px[2] - frame_px[0], frame_px[3] - frame_px[1]);
        self.px_per_mm = (wide / (high[0] - low[0])).min(high_px / (high[1] - low[1]));
        // The frame's middle shows the middle of the things.
        let middle = [(frame_px[0] + frame_px[2]) / 2.0, (frame_px[1] + frame_px[3]) / 2.0];
        let shift = [
            (self.size_px[0] as f64 / 2.0 - middle[0]) / self.px_per_mm,
            (middle[1] - self.size_px[1] as f64 / 2.0) / self.px_per_mm,
        ];
        let along = |axis: [f64; 3], value: f64| scale(axis, value);
        self.centre_mm = add(
            add(
                along(self.right, (low[0] + high[0]) / 2.0 + shift[0]),
                along(self.up, (low[1] + high[1]) / 2.0 + shift[1]),
            ),
            along(self.toward, (low[2] + high[2]) / 2.0),
        );
        self
    }
}

/// One pixel: what is nearest there.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    /// Towards the viewer, mm; negative infinity where nothing is.
    pub depth_mm: f32,
    /// Smoothed unit normal in view axes (right, up, toward).
    pub normal: [f32; 3],
    /// Index of the part, or [`NOTHING`].
    pub part: u16,
}

/// No part there.
pub const NOTHING: u16 = u16::MAX;

/// Draws all parts.
pub fn draw(drawn: &[Drawn], view: &View) -> Vec<Seen> {
    let blank = Seen { depth_mm: f32::NEG_INFINITY, normal: [0.0; 3], part: NOTHING };
    let mut image = vec![blank; view.size_px[0] * view.size_px[1]];
    for (part, thing) in drawn.iter().enumerate() {
        let seen: Vec<[f64; 3]> = thing.points.iter().map(|&p| view.project(p)).collect();
        let normals = corner_normals(thing);
        for (index, triangle) in thing.triangles.iter().enumerate() {
            let corners = triangle.map(|i| seen[i as usize]);
            let turned = normals[index].map(|n| [dot(n, view.right), dot(n, view.up), dot(n, view.toward)]);
            fill(&mut image, view.size_px, corners, turned, part as u16);
        }
    }
    image
}

fn fill(image: &mut [Seen], size_px: [usize; 2], corners: [[f64; 3]; 3], normals: [[f64; 3]; 3], part: u16) {
    let [a, b, c] = corners;
    let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if area == 0.0 {
        return;
    }
    let range = |axis: usize| {
        let low = a[axis].min(b[axis]).min(c[axis]).floor().max(0.0) as usize;
        let high = (a[axis].max(b[axis]).max(c[axis]).ceil().max(0.0) as usize).min(size_px[axis]);
        low..high
    };
    for y in range(1) {
        for x in range(0) {
            let p = [x as f64 + 0.5, y as f64 + 0.5];
            let u = ((b[0] - p[0]) * (c[1] - p[1]) - (b[1] - p[1]) * (c[0] - p[0])) / area;
            let v = ((c[0] - p[0]) * (a[1] - p[1]) - (c[1] - p[1]) * (a[0] - p[0])) / area;
            let w = 1.0 - u - v;
            if u < 0.0 || v < 0.0 || w < 0.0 {
                continue;
            }
            let depth_mm = (u * a[2] + v * b[2] + w * c[2]) as f32;
            let pixel = &mut image[y * size_px[0] + x];
            if depth_mm > pixel.depth_mm {
                let normal = add(add(scale(normals[0], u), scale(normals[1], v)), scale(normals[2], w));
                let normal = unit(normal).unwrap_or([0.0, 0.0, 1.0]).map(|n| n as f32);
                *pixel = Seen { depth_mm, normal, part };
            }
        }
    }
}

/// A normal per corner of each triangle: the mean over the faces round the point, those that turn
/// away by 20 degrees counting less and by 42 degrees not at all, so creases stay creases.
fn corner_normals(thing: &Drawn) -> Vec<[[f64; 3]; 3]> {
    const WHOLE_COS: f64 = 0.940;
    const NONE_COS: f64 = 0.743;
    let faces: Vec<([f64; 3], f64)> = thing
        .triangles
        .iter()
        .map(|t| {
            let [p, q, r] = t.map(|i| thing.points[i as usize]);
            let area2 = cross(sub(q, p), sub(r, p));
            (unit(area2).unwrap_or([0.0, 0.0, 1.0]), length(area2))
        })
        .collect();
    let mut around = vec![Vec::new(); thing.points.len()];
    for (index, triangle) in thing.triangles.iter().enumerate() {
        triangle.iter().for_each(|&corner| around[corner as usize].push(index));
    }
    thing
        .triangles
        .iter()
        .enumerate()
        .map(|(index, triangle)| {
            triangle.map(|corner| {
                let sum = around[corner as usize].iter().map(|&other| faces[other]).fold(
                    [0.0; 3],
                    |sum, (normal, area)| {
                        let alike = (dot(normal, faces[index].0) - NONE_COS) / (WHOLE_COS - NONE_COS);
                        add(sum, scale(normal, area * alike.clamp(0.0, 1.0)))
                    },
                );
                unit(sum).unwrap_or(faces[index].0)
            })
        })
        .collect()
}
