/**
 * The search's own curve: pieces found so far against time, coming down to the proven least.
 *
 * How: a step line in ink; the least, where one is proven, as a dotted line with its name. Figures
 * at both ends of each axis only, as on a drawing.
 */
import type { RoundFound } from "../state/state.ts";
import { figure, seconds } from "../words/figures.ts";
import { words } from "../words/words.ts";
import { h, type VNode } from "./dom.ts";

const WIDTH = 250;
const HEIGHT = 82;
const LEFT = 22;
const TOP = 8;
const BOTTOM = HEIGHT - 18;
const RIGHT = WIDTH - 6;
const LINE = 11;

export function curve(rounds: readonly RoundFound[], least: number | null): VNode | null {
  const first = rounds[0];
  const last = rounds.at(-1);
  if (first === undefined || last === undefined) return null;
  const low = Math.min(least ?? Infinity, ...rounds.map((round) => round.pieces));
  const high = Math.max(...rounds.map((round) => round.pieces));
  const span_s = Math.max(last.seconds, 1e-3);
  const x = (at_s: number): number => LEFT + (RIGHT - LEFT) * (at_s / span_s);
  const y = (n: number): number => (high === low ? (TOP + BOTTOM) / 2 : TOP + 4 + (BOTTOM - TOP - 12) * ((high - n) / (high - low)));
  // The last figure stands clear of the first, also where the curve hardly moved.
  const clear = last.pieces < first.pieces ? Math.max(y(last.pieces), y(first.pieces) + LINE) : Math.min(y(last.pieces), y(first.pieces) - LINE);
  let line = `M${LEFT} ${y(first.pieces)}`;
  for (const round of rounds) line += `H${x(round.seconds).toFixed(1)}V${y(round.pieces).toFixed(1)}`;
  return h(
    "svg",
    { class: "curve", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": `${words.seams.curve}. ${words.seams.curve_said(first.pieces, last.pieces, last.seconds)}` },
    h("path", { class: "axis", d: `M${LEFT} ${TOP - 6}V${BOTTOM}H${RIGHT}` }),
    least === null ? null : h("path", { class: "least", d: `M${LEFT} ${y(least)}H${RIGHT}` }),
    least === null ? null : h("text", { x: LEFT + 38, y: y(least) - 4 }, words.seams.least),
    h("path", { class: "found", d: line }),
    h("text", { x: LEFT - 6, y: y(first.pieces) + 3.5, "text-anchor": "end" }, figure(first.pieces)),
    last.pieces === first.pieces ? null : h("text", { x: LEFT - 6, y: clear + 3.5, "text-anchor": "end" }, figure(last.pieces)),
    h("text", { x: LEFT, y: HEIGHT - 3 }, seconds(0)),
    h("text", { x: RIGHT, y: HEIGHT - 3, "text-anchor": "end" }, seconds(last.seconds)),
  );
}
