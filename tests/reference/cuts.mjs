// Our cut beside manifold-3d (npm): `node cuts.mjs DIR` with DIR/cuts.json from `cargo xtask test`.
// Volumes of both sides must agree to 1e-6 of the whole. Lines are counted by the caller.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import Module from "manifold-3d";

const TOLERANCE = 1e-6;
const kernel = await Module();
kernel.setup();
const counts = { passed: 0, failed: 0 };

function check(name, holds, whyNot) {
  counts[holds ? "passed" : "failed"] += 1;
  console.log(holds ? `ok ${name}` : `FAILED ${name}: ${whyNot}`);
}

/** A binary STL with equal corners joined: flat positions (exact f32) and corner indices. */
function readStl(path) {
  const bytes = readFileSync(path);
  const n = bytes.readUInt32LE(80);
  const index = new Map();
  const points = [];
  const corners = new Uint32Array(n * 3);
  for (let t = 0; t < n; t++) {
    for (let c = 0; c < 3; c++) {
      const at = 84 + t * 50 + 12 + c * 12;
      const p = [0, 4, 8].map((i) => bytes.readFloatLE(at + i));
      const key = p.join();
      if (!index.has(key)) {
        index.set(key, points.length / 3);
        points.push(...p);
      }
      corners[t * 3 + c] = index.get(key);
    }
  }
  return { points: Float32Array.from(points), corners };
}

/** Signed volume in f64, by tetrahedra from the first point. */
function volume({ points, corners }) {
  let six = 0;
  const p = (i) => [points[i * 3] - points[0], points[i * 3 + 1] - points[1], points[i * 3 + 2] - points[2]];
  for (let t = 0; t < corners.length; t += 3) {
    const [a, b, c] = [p(corners[t]), p(corners[t + 1]), p(corners[t + 2])];
    six += a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0]);
  }
  return six / 6;
}

const folder = process.argv[2];
for (const cut of JSON.parse(readFileSync(join(folder, "cuts.json"), "utf8"))) {
  const [whole, above, below] = [cut.whole, cut.above, cut.below].map((file) => readStl(join(folder, file)));
  const name = (side) => `cut ${cut.name}: ${side} as manifold-3d`;
  try {
    const solid = new kernel.Manifold(
      new kernel.Mesh({ numProp: 3, vertProperties: whole.points, triVerts: whole.corners }),
    );
    const theirs = solid.splitByPlane(cut.normal, cut.offset_mm).map((part) => part.volume());
    const limit = TOLERANCE * volume(whole);
    for (const [side, ours, other] of [["above", volume(above), theirs[0]], ["below", volume(below), theirs[1]]]) {
      check(name(side), Math.abs(ours - other) <= limit, `ours ${ours}, theirs ${other} mm3`);
    }
  } catch (error) {
    check(name("both sides"), false, String(error));
  }
}
console.log(`${counts.passed} passed, ${counts.failed} failed, 0 skipped`);
process.exit(counts.failed ? 1 : 0);
