/**
 * The card while a seam is moved or set: three measures to pull or type, and what the plane makes there.
 */
import type { Probed } from "../planner/protocol.ts";
import type { Markable } from "../state/marks.ts";
import { MOST_SLIDE_MM, MOST_TURN_DEG, type Moved, type Moving, setSeam } from "../state/moving.ts";
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { number, warning, word } from "./parts.ts";

const text = words.moving;

export function movingCard(doing: Doing, on: Markable, moving: Moving, heading: string): VNode[] {
  const to = (change: Moved): void => doing.send({ kind: "moved", to: change });
  const settings = setSeam(on, moving);
  const set = (): void => {
    if (settings !== null) doing.send({ kind: "settings-changed", key: on.key, settings });
  };
  return [
    h("h2", {}, heading),
    h(
      "div",
      { class: "measures" },
      measure(text.slide, "mm", moving.slide_mm, MOST_SLIDE_MM, 0.5, (slide_mm) => to({ slide_mm })),
      measure(text.turn, "\u00b0", moving.turn_deg, MOST_TURN_DEG, 0.5, (turn_deg) => to({ turn_deg })),
      measure(text.tilt, "\u00b0", moving.tilt_deg, MOST_TURN_DEG, 0.5, (tilt_deg) => to({ tilt_deg })),
    ),
    h("div", { class: "probed", role: "status" }, found(moving.probed)),
    h("p", { class: "doable" }, word(text.set, set, { off: settings === null }), word(text.leave, () => doing.send({ kind: "moving", moving: null }))),
  ];
}

/** A length or an angle to pull along a line or to type. */
function measure(label: string, unit: string, value: number, most: number, step: number, change: (value: number) => void): VNode {
  const take = (event: Event): void => change(Number((event.target as HTMLInputElement).value));
  const rounded = Math.round(value * 10) / 10;
  return h(
    "div",
    { class: "measure" },
    h("input", { type: "range", min: String(-most), max: String(most), step: String(step), value: String(rounded), "aria-label": text.pull(label), "aria-valuetext": `${rounded} ${unit}`, on: { input: take } }),
    number({ label, unit, value: rounded, least: -most, most, change }),
  );
}

function found(probed: Probed | null | undefined): VNode[] {
  if (probed === undefined) return [h("p", { class: "quiet" }, text.looking)];
  if (probed === null) return [warning(text.misses)];
  const side = (name: string, lumps: Probed["below"]): VNode => {
    const needs = lumps.reduce((sum, lump) => sum + lump.needs, 0);
    const fits = lumps.every((lump) => lump.fits);
    const said = fits ? text.fits(name, lumps.map((lump) => lump.size_mm)) : text.needs(name, needs);
    return h("p", { class: fits ? undefined : "unfit" }, said, lumps.some((lump) => lump.is_held) ? ` ${text.held}` : null);
  };
  return [
    h("p", {}, text.line(probed.line_mm, probed.cost_min)),
    probed.chalked_mm >= 1 ? warning(text.chalked(probed.chalked_mm)) : null,
    side(text.below, probed.below),
    side(text.above, probed.above),
  ].filter((node): node is VNode => node !== null);
}
