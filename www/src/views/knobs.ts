/**
 * The two ends of a seam's line that are pulled on the drawing while it is moved: one end is pulled and the
 * other stays, with Shift both go along.
 *
 * For hands alone: by keyboard the same is done on the card (`moving.ts`).
 */
import type { PlaneRecord, Vec3 } from "../planner/protocol.ts";
import type { End } from "../scene/messages.ts";
import { type Moved, type Moving, movedTo, planeNow, pulledAt } from "../state/moving.ts";
import { h, type VNode } from "./dom.ts";

export interface Ends {
  ends: readonly [End, End];
  axes: { right: readonly [number, number, number]; up: readonly [number, number, number]; px_per_mm: number };
}

const RADIUS_PX = 9;
/** A plane looked at nearly face on moves at most so many mm a pixel. */
const MOST_MM_PER_PX = 3;

interface Pull {
  moving: Moving;
  plane: PlaneRecord;
  end: End;
  other: End;
  /** Mm along the normal for a pixel right and a pixel down. */
  per_px: readonly [number, number];
  from: readonly [number, number];
}

let pull: Pull | null = null;

/** How far along the normal a pixel leads, as the plane is seen. */
export function perPx(normal: readonly [number, number, number], { right, up, px_per_mm }: Ends["axes"]): [number, number] {
  const on = (axis: readonly [number, number, number]): number => axis[0] * normal[0] + axis[1] * normal[1] + axis[2] * normal[2];
  const [x, y] = [px_per_mm * on(right), -px_per_mm * on(up)];
  const square = Math.max(x * x + y * y, (Math.hypot(x, y) || 1e-9) / MOST_MM_PER_PX);
  return [x / square, y / square];
}

/** Where the pull leads: `null` where that is too far. */
function led({ moving, plane, end, other, per_px, from }: Pull, to: readonly [number, number], is_both: boolean): Moved | null {
  const by_mm = (to[0] - from[0]) * per_px[0] + (to[1] - from[1]) * per_px[1];
  const now = is_both ? { ...plane, offset_mm: plane.offset_mm + by_mm } : pulledAt(plane, [...end.at_mm] as Vec3, [...other.at_mm] as Vec3, by_mm);
  return movedTo(moving, now);
}

/** Ink of both ends. */
export function knobs(moving: Moving, { ends, axes }: Ends, move: (to: Moved) => void): VNode[] {
  return ends.map((end, index) => {
    const other = ends[index === 0 ? 1 : 0]!;
    const [x, y] = end.at;
    return h(
      "g",
      {
        key: `knob-${index}`,
        class: "knob",
        on: {
          pointerdown: (event) => {
            const down = event as PointerEvent;
            const plane = planeNow(moving);
            pull = { moving, plane, end, other, per_px: perPx(plane.normal, axes), from: [down.clientX, down.clientY] };
            (down.currentTarget as Element).setPointerCapture(down.pointerId);
            down.preventDefault();
          },
          pointermove: (event) => {
            const { clientX, clientY, shiftKey } = event as PointerEvent;
            const to = pull === null ? null : led(pull, [clientX, clientY], shiftKey);
            if (to !== null) move(to);
          },
          pointerup: () => (pull = null),
          pointercancel: () => (pull = null),
        },
      },
      h("circle", { class: "grip", cx: x.toFixed(1), cy: y.toFixed(1), r: 2 * RADIUS_PX }),
      h("circle", { class: "ring", cx: x.toFixed(1), cy: y.toFixed(1), r: RADIUS_PX }),
      h("circle", { class: "end", cx: x.toFixed(1), cy: y.toFixed(1), r: 3 }),
    );
  });
}
