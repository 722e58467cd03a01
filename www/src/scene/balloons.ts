/**
 * Numbers in circles round the drawing, with a leader line to each piece (ISO 6433 in spirit).
 *
 * How: a balloon goes out from the middle of the drawing past its own place, to the left or right
 * of the item's outline; on each side they are then moved apart up and down, in the order of their
 * places, and two whose leader lines cross change places. Of an item that lies they stand above and below.
 * Units: CSS pixels. Not here: their ink (`views/balloons.ts`).
 */
import type { Anchor, Frame } from "./messages.ts";

export const RADIUS = 16;
/** From the item's outline to the middle of a balloon. */
const OUT = 38;
/** More than this round one drawing, and their lines would be all that one sees: they go onto the pieces. */
const MOST_AROUND = 12;
/** So much wider than high is an item that lies. */
const LIES = 1.7;
/** Radius of those that stand on their piece. */
const SMALL = 10.5;
const APART = 2 * RADIUS + 7;

export interface Balloon {
  piece: string;
  number: number;
  /** Middle of the circle. */
  x: number;
  y: number;
  /** Where the leader line ends. */
  to: readonly [number, number];
  is_seen: boolean;
  radius: number;
}

export const radiusFor = (is_narrow: boolean): number => (is_narrow ? 13 : RADIUS);

/** Room the balloons need on either side of the item, and above and below it. */
export const roomFor = (n: number, is_narrow: boolean): { aside: number; above: number } =>
  n > MOST_AROUND ? { aside: SMALL, above: SMALL } : { aside: OUT + radiusFor(is_narrow), above: 6 };

/** Where the balloons go; they stay within `frame`. */
export function layBalloons(anchors: readonly Anchor[], box: Frame, frame: Frame, radius = RADIUS): Balloon[] {
  if (anchors.length > MOST_AROUND) return onPieces(anchors);
  if (box.right - box.left > LIES * (box.bottom - box.top)) {
    const over = (one: Frame): Frame => ({ left: one.top, top: one.left, right: one.bottom, bottom: one.right });
    const swap = ([x, y]: readonly [number, number]): [number, number] => [y, x];
    const standing = aside(anchors.map((anchor) => ({ ...anchor, at: swap(anchor.at) })), over(box), over(frame), radius);
    return standing.map((one) => ({ ...one, x: one.y, y: one.x, to: swap(one.to) }));
  }
  return aside(anchors, box, frame, radius);
}

/** Half of them to the left, half to the right. */
function aside(anchors: readonly Anchor[], box: Frame, frame: Frame, radius: number): Balloon[] {
  const [cx, cy] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const [half_w, half_h] = [Math.max(1, (box.right - box.left) / 2), Math.max(1, (box.bottom - box.top) / 2)];
  const sides: Balloon[][] = [[], []];
  const sorted = [...anchors].sort((a, b) => a.at[0] - b.at[0] || a.number - b.number);
  sorted.forEach((anchor, index) => {
    // Half of them to each side, however the places are spread.
    const is_left = index < sorted.length / 2;
    const [dx, dy] = [(anchor.at[0] - cx) / half_w, (anchor.at[1] - cy) / half_h];
    const out = Math.hypot(dx, dy) || 1;
    const wide = Math.max(0.8, Math.sqrt(Math.max(0, 1 - Math.min(1, (dy / out) ** 2))));
    const x = cx + (is_left ? -1 : 1) * (half_w * wide + OUT);
    const y = cy + (dy / Math.max(out, 0.6)) * half_h * 0.9;
    (sides[is_left ? 0 : 1] as Balloon[]).push({ piece: anchor.piece, number: anchor.number, x: clamp(x, frame.left + radius, frame.right - radius), y, to: anchor.at, is_seen: anchor.is_seen, radius });
  });
  const apart = APART - 2 * (RADIUS - radius);
  for (const side of sides) spread(side, frame.top + radius, frame.bottom - radius, apart);
  uncross(sides.flat());
  return sides.flat().sort((a, b) => a.number - b.number);
}

/** Each on its own place, moved a little where two would cover each other. */
function onPieces(anchors: readonly Anchor[]): Balloon[] {
  const laid = anchors.map((anchor): Balloon => ({ piece: anchor.piece, number: anchor.number, x: anchor.at[0], y: anchor.at[1], to: anchor.at, is_seen: anchor.is_seen, radius: SMALL }));
  for (let round = 0; round < 30; round += 1) {
    for (const [index, a] of laid.entries()) {
      for (const b of laid.slice(index + 1)) {
        const [dx, dy] = [b.x - a.x, b.y - a.y];
        const gap = Math.hypot(dx, dy);
        const push = (2 * SMALL + 2 - gap) / 2;
        if (push <= 0) continue;
        const [ux, uy] = gap < 1e-6 ? [0, 1] : [dx / gap, dy / gap];
        a.x -= ux * push;
        a.y -= uy * push;
        b.x += ux * push;
        b.y += uy * push;
      }
    }
  }
  return laid.sort((a, b) => a.number - b.number);
}

/** Moves balloons of one side apart, keeping their order from top to bottom. */
function spread(side: Balloon[], top: number, bottom: number, wanted: number): void {
  side.sort((a, b) => a.y - b.y || a.to[1] - b.to[1]);
  const apart = Math.min(wanted, side.length > 1 ? (bottom - top) / (side.length - 1) : wanted);
  let least = top;
  for (const one of side) {
    one.y = Math.max(one.y, least);
    least = one.y + apart;
  }
  let most = bottom;
  for (const one of [...side].reverse()) {
    one.y = Math.min(one.y, most);
    most = one.y - apart;
  }
}

/** Two whose lines cross change places: their lines together get shorter, so it comes to an end. */
function uncross(laid: readonly Balloon[]): void {
  // The count ends what rounding might keep going.
  for (let round = 0, is_changed = true; is_changed && round < 4 * laid.length; round += 1) {
    is_changed = false;
    for (const [index, a] of laid.entries()) {
      for (const b of laid.slice(index + 1)) {
        if (!cross(a, b)) continue;
        [a.x, a.y, b.x, b.y] = [b.x, b.y, a.x, a.y];
        is_changed = true;
      }
    }
  }
}

/** Whether the lines of two run through each other; where they only touch, they do not. */
export function cross(a: Balloon, b: Balloon): boolean {
  const from = (one: Balloon): [number, number] => [one.x, one.y];
  const side = ([px, py]: readonly [number, number], [qx, qy]: readonly [number, number], [x, y]: readonly [number, number]): number =>
    Math.sign((qx - px) * (y - py) - (qy - py) * (x - px));
  const parts = (one: Balloon, other: Balloon): boolean => side(from(one), one.to, from(other)) * side(from(one), one.to, other.to) < 0;
  return parts(a, b) && parts(b, a);
}

const clamp = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value));
