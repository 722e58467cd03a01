/**
 * Corners of triangles with the normals a draughtsman sees: smooth over curves, broken at creases.
 *
 * How: every corner takes the area-weighted mean of the normals of the triangles round its point
 * that lean less than `CREASE` from its own. Points are shared by index; each corner becomes a
 * vertex of its own.
 * Cost: O(n) for n triangles, times the triangles round a point.
 */

/** cos 38 degrees: what bends more is drawn as an edge. Our choice, by eye on the demo items. */
const CREASE = Math.cos((38 * Math.PI) / 180);

export interface Corners {
  /** xyz a corner, three corners a triangle. */
  positions: Float32Array<ArrayBuffer>;
  /** Unit normals times 127, four bytes a corner. */
  normals: Int8Array<ArrayBuffer>;
}

/** Twice the area of triangle `t` times its normal. */
function doubled(points_mm: Float32Array, triangles: Uint32Array, t: number): [number, number, number] {
  const [a, b, c] = [triangles[3 * t]! * 3, triangles[3 * t + 1]! * 3, triangles[3 * t + 2]! * 3];
  const [ux, uy, uz] = [points_mm[b]! - points_mm[a]!, points_mm[b + 1]! - points_mm[a + 1]!, points_mm[b + 2]! - points_mm[a + 2]!];
  const [vx, vy, vz] = [points_mm[c]! - points_mm[a]!, points_mm[c + 1]! - points_mm[a + 1]!, points_mm[c + 2]! - points_mm[a + 2]!];
  return [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
}

export function corners(points_mm: Float32Array, triangles: Uint32Array): Corners {
  const n_points = points_mm.length / 3;
  const n = triangles.length / 3;
  const face = new Float32Array(triangles.length);
  const first = new Uint32Array(n_points + 1);
  for (let t = 0; t < n; t += 1) {
    face.set(doubled(points_mm, triangles, t), 3 * t);
    for (let k = 0; k < 3; k += 1) first[triangles[3 * t + k]! + 1]! += 1;
  }
  for (let p = 0; p < n_points; p += 1) first[p + 1]! += first[p]!;
  const around = new Uint32Array(triangles.length);
  const filled = first.slice(0, n_points);
  for (let k = 0; k < triangles.length; k += 1) {
    const p = triangles[k]!;
    around[filled[p]!] = Math.floor(k / 3);
    filled[p]! += 1;
  }
  const length = new Float32Array(n);
  for (let t = 0; t < n; t += 1) length[t] = Math.hypot(face[3 * t]!, face[3 * t + 1]!, face[3 * t + 2]!);

  const positions = new Float32Array(triangles.length * 3);
  const normals = new Int8Array(triangles.length * 4);
  for (let k = 0; k < triangles.length; k += 1) {
    const t = Math.floor(k / 3);
    const p = triangles[k]!;
    const [fx, fy, fz] = [face[3 * t]!, face[3 * t + 1]!, face[3 * t + 2]!];
    let [nx, ny, nz] = [0, 0, 0];
    for (let i = first[p]!; i < first[p + 1]!; i += 1) {
      const o = around[i]!;
      const [ox, oy, oz] = [face[3 * o]!, face[3 * o + 1]!, face[3 * o + 2]!];
      if (fx * ox + fy * oy + fz * oz >= CREASE * length[t]! * length[o]!) {
        nx += ox;
        ny += oy;
        nz += oz;
      }
    }
    const size = Math.hypot(nx, ny, nz) || 1;
    normals[4 * k] = Math.round((127 * nx) / size);
    normals[4 * k + 1] = Math.round((127 * ny) / size);
    normals[4 * k + 2] = Math.round((127 * nz) / size);
    for (let axis = 0; axis < 3; axis += 1) positions[3 * k + axis] = points_mm[3 * p + axis]!;
  }
  return { positions, normals };
}

/** Points well spread over the skin, where a balloon's line may end: middles of triangles, by area. */
export function places(points_mm: Float32Array, triangles: Uint32Array, skin: Uint8Array | null, n_wanted: number): Float32Array {
  const n = triangles.length / 3;
  const upTo = new Float64Array(n);
  let sum = 0;
  for (let t = 0; t < n; t += 1) {
    if (skin === null || skin[t] === 1) sum += Math.hypot(...doubled(points_mm, triangles, t));
    upTo[t] = sum;
  }
  const found: number[] = [];
  let t = 0;
  for (let k = 0; k < n_wanted && sum > 0; k += 1) {
    const wanted = ((k + 0.5) / n_wanted) * sum;
    while (t < n - 1 && upTo[t]! < wanted) t += 1;
    for (let axis = 0; axis < 3; axis += 1) {
      found.push([0, 1, 2].reduce((total, corner) => total + points_mm[3 * triangles[3 * t + corner]! + axis]! / 3, 0));
    }
  }
  return new Float32Array(found);
}

/**
 * The points of a shape that reach farthest, one in each of `n_ways` directions spread evenly over a
 * sphere: enough to say how far it reaches on the screen from any side.
 */
export function farthest(points_mm: Float32Array, n_ways: number): Float32Array {
  const found = new Float32Array(3 * n_ways);
  const n = points_mm.length / 3;
  for (let way = 0; way < n_ways; way += 1) {
    // Even spread by the golden angle.
    const z = 1 - (2 * (way + 0.5)) / n_ways;
    const turn = way * Math.PI * (3 - Math.sqrt(5));
    const [x, y] = [Math.sqrt(1 - z * z) * Math.cos(turn), Math.sqrt(1 - z * z) * Math.sin(turn)];
    let [most, best] = [-Infinity, 0];
    for (let k = 0; k < n; k += 1) {
      const reach = x * points_mm[3 * k]! + y * points_mm[3 * k + 1]! + z * points_mm[3 * k + 2]!;
      if (reach > most) [most, best] = [reach, k];
    }
    if (n > 0) found.set(points_mm.subarray(3 * best, 3 * best + 3), 3 * way);
  }
  return found;
}
