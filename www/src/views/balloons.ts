/**
 * Ink of the balloons over the drawing: circles with numbers, leader lines, their ends.
 *
 * Not here: where they go (`scene/balloons.ts`).
 */
import { type Balloon, layBalloons, radiusFor } from "../scene/balloons.ts";
import type { Anchor, Frame } from "../scene/messages.ts";
import { h, patch, type VNode } from "./dom.ts";

export interface BalloonsShown {
  anchors: readonly Anchor[];
  box: Frame | null;
  frame: Frame;
  is_narrow: boolean;
  marked: string | null;
  mark(piece: string | null): void;
  /** The place that is ringed. */
  spot: readonly [number, number] | null;
  /** What is drawn over them. */
  over: readonly VNode[];
}

/** Redraws the overlay; called for every frame of the drawing and whenever the mark moves. */
export function drawBalloons(overlay: Element, { anchors, box, frame, is_narrow, marked, mark, spot, over }: BalloonsShown): void {
  const laid = box === null ? [] : layBalloons(anchors, box, frame, radiusFor(is_narrow));
  patch(overlay, [...laid.map((one) => balloonInk(one, marked, mark)), ...(spot === null ? [] : [spotInk(spot)]), ...over]);
}

/** A ring with four ticks, so that it is told from a balloon without colour. */
function spotInk([x, y]: readonly [number, number]): VNode {
  const tick = (dx: number, dy: number): string => `M${(x + 13 * dx).toFixed(1)} ${(y + 13 * dy).toFixed(1)}l${9 * dx} ${9 * dy}`;
  return h("g", { key: "spot", class: "spot" }, h("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: 13 }), h("path", { d: tick(1, 0) + tick(-1, 0) + tick(0, 1) + tick(0, -1) }));
}

function balloonInk(one: Balloon, marked: string | null, mark: (piece: string | null) => void): VNode {
  const { radius } = one;
  const [tx, ty] = one.to;
  const length = Math.hypot(tx - one.x, ty - one.y) || 1;
  const [sx, sy] = [one.x + ((tx - one.x) / length) * radius, one.y + ((ty - one.y) / length) * radius];
  return h(
    "g",
    {
      key: one.piece,
      class: `${one.piece === marked ? "marked " : ""}${one.is_seen ? "" : "behind"}`.trim(),
      on: { pointerenter: () => mark(one.piece), pointerleave: () => mark(null) },
    },
    length <= radius ? null : h("path", { class: "leader", d: `M${sx.toFixed(1)} ${sy.toFixed(1)}L${tx.toFixed(1)} ${ty.toFixed(1)}` }),
    length <= radius ? null : h("circle", { class: "end", cx: tx.toFixed(1), cy: ty.toFixed(1), r: 2.6 }),
    h("circle", { class: "ring", cx: one.x.toFixed(1), cy: one.y.toFixed(1), r: radius }),
    h("text", { x: one.x.toFixed(1), y: (one.y + radius * 0.32).toFixed(1), "font-size": radius * 0.95, "text-anchor": "middle" }, String(one.number)),
  );
}
