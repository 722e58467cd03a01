/**
 * Loads leaf: each load from above like a pattern cutter's lay, pieces in cloth with their number in
 * a circle and a small arrow where the item's front faces.
 *
 * Units and frame: SVG user units are mm of the bed, front at the bottom. Outlines are drawn as the
 * core gives them; a load's paths are made once and kept while its lay stays the same object.
 */
import type { Lay } from "../planner/protocol.ts";
import type { State } from "../state/state.ts";
import { mm } from "../words/figures.ts";
import { words } from "../words/words.ts";
import { bedFrame, bedInk, closed } from "./bed-drawing.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { marking, word } from "./parts.ts";

const text = words.loads;

export function loadsLeaf(state: State, doing: Doing): VNode[] {
  const { finished, phase } = state.run;
  if (finished === null || finished.lays.length === 0) {
    return [h("h1", {}, text.heading), h("p", { class: "lead" }, text.nothing)];
  }
  const gaps = [...new Set(finished.lays.map((lay) => lay.bed.gap_mm ?? 0))].sort((a, b) => a - b);
  return [
    h("h1", {}, text.heading),
    h("p", { class: "quiet" }, text.lead(gaps.map((gap) => mm(gap, 1)).join(", "))),
    h("p", { class: "phone-only doable" }, word(words.parts.open, () => doing.send({ kind: "laid-over", over: "parts" }), { opens: "parts" })),
    phase === "finished" ? null : h("p", { class: "quiet", role: "status" }, text.older),
    h("div", { class: "lays" }, finished.lays.map((lay, index) => layFigure(state, doing, lay, index + 1))),
  ].filter((node): node is VNode => node !== null);
}

function layFigure(state: State, doing: Doing, lay: Lay, n: number): VNode {
  const used = state.run.finished?.plan.loads.find((load) => load.id === lay.load)?.used_fraction;
  const frame = bedFrame(lay.bed, 370);
  const { marked } = state.look;
  return h(
    "figure",
    { key: lay.load, class: "lay" },
    h("figcaption", {}, h("span", { class: "name" }, text.load(n)), used === undefined ? null : h("span", { class: "quiet" }, text.used(used, lay.pieces.length))),
    h(
      "svg",
      { viewBox: frame.view_box, role: "img", "aria-label": text.drawing(n, lay.pieces.length, lay.bed) },
      bedInk(lay.bed, frame, lay.load),
      inkOf(lay).map((piece) => {
        const { pointerenter, pointerleave } = marking(doing, piece.id);
        return h(
          "g",
          { key: piece.id, class: piece.id === marked ? "laid marked" : "laid", on: { pointerenter, pointerleave } },
          h("path", { class: `cloth tone-${piece.tone}`, d: piece.outline }),
          piece.id === marked ? h("path", { class: "hatch", d: piece.hatch() }) : null,
          piece.arrow === null ? null : h("path", { class: "front", d: piece.arrow }),
          h("circle", { class: "ring", cx: piece.at[0], cy: piece.at[1], r: piece.radius }),
          h("text", { x: piece.at[0], y: piece.at[1] + piece.radius * 0.36, "font-size": piece.radius * (piece.number > 99 ? 0.8 : 1.05), "text-anchor": "middle" }, String(piece.number)),
        );
      }),
    ),
  );
}

type Point = readonly [number, number];

interface LaidInk {
  id: string;
  number: number;
  tone: number;
  outline: string;
  hatch: () => string;
  at: Point;
  radius: number;
  arrow: string | null;
}

const kept = new WeakMap<Lay, LaidInk[]>();

function inkOf(lay: Lay): LaidInk[] {
  let ink = kept.get(lay);
  if (ink === undefined) {
    ink = lay.pieces.map((piece) => laid(piece, lay));
    kept.set(lay, ink);
  }
  return ink;
}

function laid(piece: Lay["pieces"][number], { bed }: Lay): LaidInk {
  const [width, depth] = bed.size_mm;
  const unit = Math.max(width, depth) / 100;
  const outlines = piece.outline_mm.map((outline) => outline.map(([x, y]): Point => [x, depth - y]));
  const { at, room } = roomiest(outlines);
  const radius = Math.min(4.2 * unit, Math.max(2.2 * unit, 0.8 * room));
  return {
    id: piece.id,
    number: piece.number,
    tone: (piece.number - 1) % 6,
    outline: outlines.map(closed).join(""),
    hatch: () => hatchingOf(outlines, 1.6 * unit),
    at,
    radius,
    arrow: piece.front == null ? null : arrow(at, [piece.front[0], -piece.front[1]], radius, unit),
  };
}

function arrow([x, y]: Point, [fx, fy]: Point, radius: number, unit: number): string {
  const length = Math.hypot(fx, fy) || 1;
  const [ux, uy] = [fx / length, fy / length];
  const [from, to] = [radius + unit, radius + 7 * unit];
  const tip: Point = [x + ux * to, y + uy * to];
  const barb = (side: number): Point => [tip[0] - ux * 2.2 * unit - side * uy * 1.2 * unit, tip[1] - uy * 2.2 * unit + side * ux * 1.2 * unit];
  const [left, right] = [barb(1), barb(-1)];
  return `M${x + ux * from} ${y + uy * from}L${tip[0]} ${tip[1]}M${left[0]} ${left[1]}L${tip[0]} ${tip[1]}L${right[0]} ${right[1]}`;
}

/** The outlines of a piece hatched together, so that holes stay clear. */
function hatchingOf(outlines: readonly (readonly Point[])[], step: number): string {
  const edges = outlines.flatMap((outline) => outline.map((p, index): [Point, Point] => [p, outline[(index + 1) % outline.length] as Point]));
  const levels = edges.map(([p]) => p[0] + p[1]);
  let path = "";
  for (let level = Math.ceil(Math.min(...levels) / step) * step; level < Math.max(...levels); level += step) {
    const crossed: number[] = [];
    for (const [p, q] of edges) {
      const [a, b] = [p[0] + p[1] - level, q[0] + q[1] - level];
      if (a > 0 !== b > 0) crossed.push(p[0] + (a / (a - b)) * (q[0] - p[0]));
    }
    crossed.sort((a, b) => a - b);
    for (let index = 0; index + 1 < crossed.length; index += 2) {
      const [x, far] = [crossed[index] as number, crossed[index + 1] as number];
      path += `M${x.toFixed(1)} ${(level - x).toFixed(1)}L${far.toFixed(1)} ${(level - far).toFixed(1)}`;
    }
  }
  return path;
}

/** A point inside far from every outline, of a grid of 16 by 16, and how far: there the number goes. */
export function roomiest(given: readonly (readonly Point[])[]): { at: Point; room: number } {
  const N = 16;
  const outlines = given.map(thinned);
  const all = outlines.flat();
  const xs = all.map((p) => p[0]);
  const ys = all.map((p) => p[1]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  let best: { at: Point; room: number } = { at: [(x0 + x1) / 2, (y0 + y1) / 2], room: 0 };
  for (let k = 0; k < N * N; k += 1) {
    const at: Point = [x0 + (((k % N) + 0.5) / N) * (x1 - x0), y0 + ((Math.floor(k / N) + 0.5) / N) * (y1 - y0)];
    let is_inside = false;
    let room_2 = Infinity;
    for (const outline of outlines) {
      for (let index = 0; index < outline.length; index += 1) {
        const p = outline[index] as Point;
        const q = outline[(index + 1) % outline.length] as Point;
        if (p[1] > at[1] !== q[1] > at[1] && at[0] < p[0] + ((at[1] - p[1]) / (q[1] - p[1])) * (q[0] - p[0])) is_inside = !is_inside;
        room_2 = Math.min(room_2, distance_2(at, p, q));
      }
    }
    if (is_inside && room_2 > best.room ** 2) best = { at, room: Math.sqrt(room_2) };
  }
  return best;
}

/** Every so many points of an outline: a number's place needs no more. */
function thinned(outline: readonly Point[]): readonly Point[] {
  const MOST = 96;
  const step = Math.ceil(outline.length / MOST);
  return step <= 1 ? outline : outline.filter((_, index) => index % step === 0);
}

function distance_2(at: Point, p: Point, q: Point): number {
  const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
  const length_2 = dx * dx + dy * dy;
  const t = length_2 === 0 ? 0 : Math.min(1, Math.max(0, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / length_2));
  return (at[0] - p[0] - t * dx) ** 2 + (at[1] - p[1] - t * dy) ** 2;
}
