/**
 * Chalk: the words to take it in the hand, and its card while it is there.
 */
import { type Chalk, chalkOn, RADII_MM } from "../state/chalk.ts";
import { isOriginal } from "../state/marks.ts";
import { itemsShown, type State } from "../state/state.ts";
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { number, word } from "./parts.ts";

const text = words.chalk;

/** Chalk of both kinds and what rubs it out, where one item is shown that can be chalked. */
export function chalkWords(state: State, doing: Doing): VNode | null {
  const items = itemsShown(state);
  const only = items.length === 1 ? items[0] : undefined;
  if (only === undefined || only.size_mm === null || !isOriginal(state, only)) return null;
  const { chalk, over } = state.look;
  const radius_mm = chalk?.radius_mm ?? usualRadius(only.size_mm);
  const take = (tool: Chalk["tool"]) => (): void => {
    doing.send({ kind: "chosen", id: null });
    doing.send({ kind: "chalk-taken", chalk: chalk?.tool === tool ? null : { tool, radius_mm } });
    // Where these words lie over the drawing, it is to be seen.
    if (over === "leaf") doing.send({ kind: "laid-over", over: "none" });
  };
  const tool = (name: Chalk["tool"]): VNode => word(text[name], take(name), { pressed: chalk?.tool === name });
  const is_chalked = chalkOn(state, only).length > 0;
  return h("p", { class: "doable chalk" }, tool("off"), tool("in"), is_chalked || chalk?.tool === "rub" ? tool("rub") : null);
}

/** While chalk is in the hand: how broad it is, how it is laid, and the way out. */
export function chalkCard(chalk: Chalk, doing: Doing): VNode[] {
  const take = (taken: Chalk | null) => (): void => doing.send({ kind: "chalk-taken", chalk: taken });
  return [
    h("h2", {}, text.heading[chalk.tool]),
    h("p", { class: "quiet small" }, text.how),
    number({ label: text.radius, unit: "mm", value: chalk.radius_mm, least: RADII_MM[0], most: RADII_MM[1], change: (radius_mm) => take({ ...chalk, radius_mm })() }),
    h("p", { class: "doable" }, word(text.down, take(null))),
  ];
}

/** A twentieth of what is chalked, in whole mm. */
const usualRadius = (size_mm: readonly number[]): number => Math.min(RADII_MM[1], Math.max(3, Math.round(Math.max(...size_mm) / 20)));
