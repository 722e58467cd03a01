/**
 * An item as it is held for drawing: a mesh a piece, threads along its seams, places for balloons.
 *
 * Units and frame: mm; points stay in item coordinates, `at_mm` says where the item stands and the
 * pull how far each piece has moved.
 */
import { BufferAttribute, BufferGeometry, DataTexture, FloatType, InstancedBufferAttribute, InstancedBufferGeometry, Mesh, RGBAFormat, type ShaderMaterial } from "three";
import type { Vec } from "./camera.ts";
import { corners, farthest, places } from "./creases.ts";
import { cloth, give, MOST_DABS, thread } from "./materials.ts";
import type { Inks, ItemDrawn, SeamDrawn } from "./messages.ts";
import { LAID, runs, strokes, THREADS, UNBROKEN } from "./stitches.ts";

/** Directions in which a piece's reach is known; the drawing is fitted to them within about 2 %. */
const N_WAYS = 120;
/** Places tried for the end of a balloon's line. */
const N_PLACES = 60;

export interface PartBuilt {
  id: string;
  number: number;
  /** Number in the picture of facts; unlike `number` never 0 and never twice. */
  owner: number;
  pull_mm: Vec;
  places_mm: Float32Array;
  /** Its points that reach farthest. */
  reach_mm: Float32Array;
  chosen: number;
  is_seen: boolean;
  stand_mm: Vec;
}

export interface Inked {
  pull: number;
  marked: string | null;
  inks: Inks;
  hatch_px: number;
}

export interface Built {
  id: string;
  size_mm: Vec;
  n_triangles: number;
  parts: PartBuilt[];
  meshes: Mesh[];
  threads: Mesh[];
  thread_materials: ShaderMaterial[];
  /** Points that reach farthest, where they now stand. */
  reach(pull: number): Vec[];
  stand(at_mm: Vec): void;
  /** A place of the drawing in the item's own coordinates, nothing pulled apart. */
  from(place_mm: Vec): [number, number, number];
  set(state: Inked): void;
  /** Chalk on it: place and radius after place and radius. */
  chalk(dabs: Float32Array): void;
  /** What the threads were last made for. */
  px_per_mm: number;
  chosen: string | null;
  seams: readonly SeamDrawn[];
}

export function build(item: ItemDrawn): Built {
  const materials: ShaderMaterial[] = [];
  const meshes: Mesh[] = [];
  const parts = item.parts.map((part, index): PartBuilt => {
    const { positions, normals } = corners(part.points_mm, part.triangles);
    const skin = new Uint8Array(part.triangles.length);
    for (let k = 0; k < skin.length; k += 1) skin[k] = part.skin === null || part.skin[Math.floor(k / 3)] === 1 ? 255 : 0;
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(positions, 3));
    geometry.setAttribute("normal", new BufferAttribute(normals, 4, true));
    geometry.setAttribute("skin", new BufferAttribute(skin, 1, true));
    const material = cloth();
    const mesh = new Mesh(geometry, material);
    mesh.frustumCulled = false;
    materials.push(material);
    meshes.push(mesh);
    return { id: part.id, number: part.number, owner: index + 1, pull_mm: part.pull_mm, places_mm: places(part.points_mm, part.triangles, part.skin, N_PLACES), reach_mm: farthest(part.points_mm, N_WAYS), chosen: 0, is_seen: false, stand_mm: [0, 0, 0] };
  });

  let chalk: DataTexture | null = null;
  const built: Built = {
    id: item.id,
    size_mm: item.size_mm,
    n_triangles: item.parts.reduce((sum, part) => sum + part.triangles.length / 3, 0),
    parts,
    meshes,
    threads: [],
    thread_materials: [],
    px_per_mm: 0,
    chosen: null,
    seams: item.seams,
    reach: (pull) => parts.flatMap((part) => pointsOf(part, part.reach_mm, pull)),
    stand(at_mm) {
      for (const part of parts) part.stand_mm = at_mm;
    },
    from(place_mm) {
      const by = parts[0]?.stand_mm ?? [0, 0, 0];
      return [place_mm[0] - by[0], place_mm[1] - by[1], place_mm[2] - by[2]];
    },
    chalk(dabs) {
      chalk?.dispose();
      chalk = dabs.length === 0 ? null : chalkTexture(dabs);
    },
    set({ pull, marked, inks, hatch_px }) {
      parts.forEach((part, index) => {
        give(materials[index]!, {
          tone: toneOf(inks, part.number),
          ink: inks.ink,
          number: part.owner,
          marked: part.id === marked ? 1 : 0,
          dark: inks.is_dark ? 1 : 0,
          hatch_px,
          chalk,
          n_dabs: chalk === null ? 0 : chalk.image.width,
          offset: offset(part, pull),
        });
      });
      built.threads.forEach((mesh, index) => {
        const part = parts.find((one) => one.id === mesh.name);
        if (part !== undefined) give(built.thread_materials[index]!, { offset: offset(part, pull) });
        // Together, one thread does for both sides of a seam.
        mesh.visible = pull > 0 || mesh.userData["is_first"] === true;
      });
    },
  };
  return built;
}

function chalkTexture(dabs: Float32Array): DataTexture {
  const n = Math.min(MOST_DABS, dabs.length / 4);
  const texture = new DataTexture(dabs.slice(0, 4 * n), n, 1, RGBAFormat, FloatType);
  texture.needsUpdate = true;
  return texture;
}

/** Tones go round; each round is a shade darker, so that no two pieces of a costume look the same. */
function toneOf(inks: Inks, number: number): string {
  const n = inks.tones.length;
  const k = Math.max(0, number - 1);
  const tone = inks.tones[k % n] ?? "#888888";
  const round = Math.floor(k / n);
  if (round === 0) return tone;
  const by = inks.is_dark ? 1 + 0.07 * round : 1 - 0.06 * round;
  const part = (from: number): string => Math.round(Math.min(255, Math.max(40, parseInt(tone.slice(from, from + 2), 16) * by))).toString(16).padStart(2, "0");
  return `#${part(1)}${part(3)}${part(5)}`;
}

function offset(part: PartBuilt, pull: number): [number, number, number] {
  return [0, 1, 2].map((axis) => part.stand_mm[axis]! + pull * part.pull_mm[axis]!) as [number, number, number];
}

function at(part: PartBuilt, p: Vec, pull: number): Vec {
  const by = offset(part, pull);
  return [p[0] + by[0], p[1] + by[1], p[2] + by[2]];
}

function pointsOf(part: PartBuilt, points_mm: Float32Array, pull: number): Vec[] {
  const found: Vec[] = [];
  for (let k = 0; k + 2 < points_mm.length; k += 3) found.push(at(part, [points_mm[k]!, points_mm[k + 1]!, points_mm[k + 2]!], pull));
  return found;
}

/** Where the places of a part for its balloon are. */
export const placesOf = (part: PartBuilt, pull: number): Vec[] => pointsOf(part, part.places_mm, pull);

/** Makes threads whose stitches look equally long on the screen; made anew when the scale has changed much. */
export function threaded(items: readonly Built[], px_per_mm: number, chosen: string | null): void {
  for (const item of items) {
    const change = item.px_per_mm === 0 ? Infinity : Math.max(px_per_mm / item.px_per_mm, item.px_per_mm / px_per_mm);
    if (change < 1.5 && item.chosen === chosen) continue;
    item.px_per_mm = px_per_mm;
    item.chosen = chosen;
    dropThreads(item);
    for (const seam of item.seams) {
      const { stroke, gap, width } = seam.id === chosen ? UNBROKEN.chosen : seam.is_kept ? UNBROKEN.kept : THREADS[seam.weight];
      const points = runs(seam.line_mm).flatMap((run) => strokes(run, stroke / px_per_mm, gap / px_per_mm));
      if (points.length === 0) continue;
      seam.pieces.forEach((piece, side) => {
        const material = thread();
        const mesh = new Mesh(strokeGeometry(points, width), material);
        mesh.name = piece;
        mesh.userData["is_first"] = side === 0;
        mesh.frustumCulled = false;
        item.threads.push(mesh);
        item.thread_materials.push(material);
      });
    }
  }
}

/** A line that is no seam yet, in long stitches; it lies where the item stands, nothing pulled apart. */
export function lined(segments_mm: Float32Array, px_per_mm: number): { mesh: Mesh; material: ShaderMaterial } {
  const { stroke, gap, width } = LAID;
  const points = runs(segments_mm).flatMap((run) => strokes(run, stroke / px_per_mm, gap / px_per_mm));
  const material = thread();
  const mesh = new Mesh(strokeGeometry(points, width), material);
  mesh.frustumCulled = false;
  return { mesh, material };
}

function strokeGeometry(points: readonly number[], width: number): InstancedBufferGeometry {
  const n = points.length / 6;
  const from = new Float32Array(3 * n);
  const to = new Float32Array(3 * n);
  for (let k = 0; k < n; k += 1) {
    for (let axis = 0; axis < 3; axis += 1) {
      from[3 * k + axis] = points[6 * k + axis]!;
      to[3 * k + axis] = points[6 * k + 3 + axis]!;
    }
  }
  const geometry = new InstancedBufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array([0, -1, 0, 1, -1, 0, 1, 1, 0, 0, 1, 0]), 3));
  geometry.setIndex([0, 1, 2, 0, 2, 3]);
  geometry.setAttribute("from", new InstancedBufferAttribute(from, 3));
  geometry.setAttribute("to", new InstancedBufferAttribute(to, 3));
  geometry.setAttribute("width", new InstancedBufferAttribute(new Float32Array(n).fill(width), 1));
  geometry.instanceCount = n;
  return geometry;
}

function dropThreads(item: Built): void {
  for (const mesh of item.threads) mesh.geometry.dispose();
  for (const material of item.thread_materials) material.dispose();
  item.threads = [];
  item.thread_materials = [];
}

/** Gives back what the graphics hold. */
export function drop(item: Built): void {
  dropThreads(item);
  item.chalk(new Float32Array());
  for (const mesh of item.meshes) {
    mesh.geometry.dispose();
    (mesh.material as ShaderMaterial).dispose();
  }
}
