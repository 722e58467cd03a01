/**
 * A bed from above as an ink drawing: outline, margin as a chain line, what is kept clear hatched,
 * dimension lines outside. Used alone and under the pieces of a load.
 *
 * Units and frame: SVG user units are mm of the bed; y is turned so that the front is at the bottom.
 * Source: dimension lines with end strokes after ISO 129-1 in spirit.
 */
import type { Bed } from "../planner/protocol.ts";
import { figure } from "../words/figures.ts";
import { words } from "../words/words.ts";
import { h, type VNode } from "./dom.ts";

type Point = readonly [number, number];

/** Room around the bed for dimensions, as a part of its larger side. */
const ROOM = 0.16;

export interface BedFrame {
  view_box: string;
  /** One hundredth of the larger side. */
  unit: number;
  /** Size of letters that makes them `LETTERS_PX` tall on the screen. */
  letters: number;
}

const LETTERS_PX = 12.5;

/** The frame of a bed drawn `drawn_px` wide. */
export function bedFrame(bed: Bed, drawn_px: number): BedFrame {
  const [width, depth] = bed.size_mm;
  const larger = Math.max(width, depth);
  const room = ROOM * larger;
  const lead = 0.02 * larger;
  const whole = width + room + lead;
  return { view_box: `${-room} ${-lead} ${whole} ${depth + room + lead}`, unit: larger / 100, letters: (LETTERS_PX * whole) / drawn_px };
}

export function bedDrawing(bed: Bed): VNode {
  const frame = bedFrame(bed, 280);
  return h("svg", { class: "bed-drawing", viewBox: frame.view_box, role: "img", "aria-label": words.beds.drawing(bed) }, bedInk(bed, frame, `bed-${bed.id}`));
}

/** The lines of a bed, without the pieces; `name` keeps hatchings of several drawings apart. */
export function bedInk(bed: Bed, { unit, letters }: BedFrame, name: string): VNode[] {
  const [width, depth] = bed.size_mm;
  const is_round = bed.shape === "round";
  const margin = bed.margin_mm;
  const outline = (inset: number, className: string): VNode =>
    is_round
      ? h("circle", { class: className, cx: width / 2, cy: depth / 2, r: Math.max(0, width / 2 - inset) })
      : h("rect", { class: className, x: inset, y: inset, width: Math.max(0, width - 2 * inset), height: Math.max(0, depth - 2 * inset) });
  const drawn: VNode[] = [outline(0, "bed-edge")];
  if (margin > 0) drawn.push(outline(margin, "bed-margin"));
  bed.keep_out.forEach((area, index) => {
    const corners = area.map(([x, y]): Point => [x, depth - y]);
    drawn.push(
      h("path", { class: "keep-clear", d: hatching(corners, unit * 1.8), key: `${name}-hatch-${index}` }),
      h("path", { class: "bed-edge area", d: closed(corners), key: `${name}-area-${index}` }),
    );
  });
  const below = depth + unit * 7;
  drawn.push(dimension([0, below], [width, below], `${is_round ? "⌀\u202f" : ""}${figure(width, 1)}`, unit, letters));
  if (!is_round) {
    const left = -unit * 7;
    drawn.push(dimension([left, depth], [left, 0], figure(depth, 1), unit, letters));
  }
  return drawn;
}

/** A dimension line with end strokes and its figure in a gap in the middle. */
function dimension(from: Point, to: Point, label: string, unit: number, letters: number): VNode {
  const along = [to[0] - from[0], to[1] - from[1]] as const;
  const length = Math.hypot(...along);
  const [ux, uy] = [along[0] / length, along[1] / length];
  const half_gap = letters * (0.4 + 0.32 * label.length);
  const middle: Point = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  const stroke = (p: Point): string => `M${p[0] - uy * unit * 1.6} ${p[1] + ux * unit * 1.6}L${p[0] + uy * unit * 1.6} ${p[1] - ux * unit * 1.6}`;
  const line = `M${from[0]} ${from[1]}L${middle[0] - ux * half_gap} ${middle[1] - uy * half_gap}M${middle[0] + ux * half_gap} ${middle[1] + uy * half_gap}L${to[0]} ${to[1]}`;
  const turn = ux === 0 ? `rotate(-90 ${middle[0]} ${middle[1]})` : undefined;
  return h(
    "g",
    { class: "dimension" },
    h("path", { d: `${stroke(from)}${stroke(to)}${line}` }),
    h("text", { x: middle[0], y: middle[1] + letters * 0.35, "font-size": letters, "text-anchor": "middle", transform: turn }, label),
  );
}

export function closed(points: readonly Point[]): string {
  return points.length === 0 ? "" : `M${points.map(([x, y]) => `${round(x)} ${round(y)}`).join("L")}Z`;
}

/** Lines at 45 degrees, `step` apart, where they are inside the outline. */
export function hatching(outline: readonly Point[], step: number): string {
  const levels = outline.map(([x, y]) => x + y);
  let path = "";
  for (let level = Math.ceil(Math.min(...levels) / step) * step; level < Math.max(...levels); level += step) {
    const crossed: number[] = [];
    outline.forEach((p, index) => {
      const q = outline[(index + 1) % outline.length] as Point;
      const [a, b] = [p[0] + p[1] - level, q[0] + q[1] - level];
      if (a > 0 !== b > 0) crossed.push(p[0] + (a / (a - b)) * (q[0] - p[0]));
    });
    crossed.sort((a, b) => a - b);
    for (let index = 0; index + 1 < crossed.length; index += 2) {
      const [x, far] = [crossed[index] as number, crossed[index + 1] as number];
      path += `M${round(x)} ${round(level - x)}L${round(far)} ${round(level - far)}`;
    }
  }
  return path;
}

const round = (value: number): number => Math.round(value * 100) / 100;
