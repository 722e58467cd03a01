/**
 * Beds leaf: usual sizes, a bed of one's own numbers, margin, gap, what to keep clear; and each
 * bed drawn from above.
 *
 * Not here: how many such printers there are; no figure follows from it yet.
 */
import type { Bed } from "../planner/protocol.ts";
import { bedProblem, boundsOf, newBed, rectangle, resized, USUAL_BEDS, usable_mm, USUAL_GAP_MM } from "../state/beds.ts";
import type { State } from "../state/state.ts";
import { bedBare } from "../words/figures.ts";
import { words } from "../words/words.ts";
import { bedDrawing } from "./bed-drawing.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { number, tick, warning, word } from "./parts.ts";

export function bedsLeaf(state: State, doing: Doing): VNode[] {
  const { beds } = state.decisions;
  const text = words.beds;
  const add = (bed: Bed): void => doing.send({ kind: "bed-added", bed });
  const own = newBed({ round: false, size_mm: [200, 200, 200] }, beds);
  return [
    h("h1", {}, text.heading),
    h("p", { class: "quiet" }, text.lead),
    h("h2", { class: "small" }, text.usual),
    h(
      "p",
      { class: "doable" },
      USUAL_BEDS.map((usual) => {
        const bed = newBed(usual, beds);
        return word(bedBare(bed), () => add(bed), { label: text.add(bed) });
      }),
      word(text.own, () => add(own)),
    ),
    h("div", { class: "items" }, beds.map((bed) => bedCard(bed, beds, doing))),
  ];
}

function bedCard(bed: Bed, beds: readonly Bed[], doing: Doing): VNode {
  const text = words.beds;
  const others = beds.filter((other) => other.id !== bed.id);
  const is_round = bed.shape === "round";
  const [width, depth, height] = bed.size_mm;
  const change = (next: Bed): void => doing.send({ kind: "bed-changed", id: bed.id, bed: next });
  const resize = (round: boolean, size_mm: [number, number, number]): void => change(resized(bed, round, size_mm, others));
  const length = { least: 1, most: 4096, unit: "mm" };
  const problem = bedProblem(bed);
  return h(
    "section",
    { key: `bed-${beds.indexOf(bed)}`, class: "card bed", "aria-label": text.settings(bed) },
    bedDrawing(bed),
    h(
      "div",
      { class: "bed-fields" },
      h("h2", {}, text.bed(bed)),
      problem === null ? h("p", { class: "quiet" }, text.left(usable_mm(bed))) : warning(text.problem[problem]),
      h(
        "div",
        { class: "fields" },
        number({ ...length, label: is_round ? text.diameter : text.width, value: width, change: (mm) => resize(is_round, [mm, is_round ? mm : depth, height]) }),
        is_round ? null : number({ ...length, label: text.depth, value: depth, change: (mm) => resize(false, [width, mm, height]) }),
        number({ ...length, label: text.height, value: height, change: (mm) => resize(is_round, [width, depth, mm]) }),
        tick(text.round, is_round, (round) => resize(round, [width, depth, height])),
      ),
      h(
        "div",
        { class: "fields" },
        number({ label: text.margin, value: bed.margin_mm, least: 0, most: 1000, unit: "mm", change: (mm) => change({ ...bed, margin_mm: mm }) }),
        number({ label: text.gap, value: bed.gap_mm ?? USUAL_GAP_MM, least: 0, most: 1000, unit: "mm", change: (mm) => change({ ...bed, gap_mm: mm }) }),
      ),
      keepOuts(bed, change),
      h(
        "p",
        { class: "doable" },
        word(text.add_keep_out, () => change({ ...bed, keep_out: [...bed.keep_out, rectangle([0, 0, 30, 30])] })),
        others.length === 0
          ? null
          : word(text.remove_short, () => doing.send({ kind: "bed-removed", id: bed.id }), { label: text.remove(bed) }),
      ),
    ),
  );
}

function keepOuts(bed: Bed, change: (bed: Bed) => void): VNode | null {
  if (bed.keep_out.length === 0) return null;
  const text = words.beds;
  const rows = bed.keep_out.map((area, index) => {
    const [x, y, w, d] = boundsOf(area);
    const set = (next: [number, number, number, number]): void =>
      change({ ...bed, keep_out: bed.keep_out.map((other, at) => (at === index ? rectangle(next) : other)) });
    const of = (label: string, value: number, take: (mm: number) => [number, number, number, number], least = 0): VNode =>
      number({ label, said: `${text.keep_out} ${index + 1}: ${label}`, value, least, most: 4096, unit: "mm", change: (mm) => set(take(mm)) });
    return h(
      "div",
      { class: "fields", key: `area-${index}` },
      of(text.from_left, x, (mm) => [mm, y, w, d]),
      of(text.from_front, y, (mm) => [x, mm, w, d]),
      of(text.width, w, (mm) => [x, y, mm, d], 0.1),
      of(text.depth, d, (mm) => [x, y, w, mm], 0.1),
      word(text.keep_out_short, () => change({ ...bed, keep_out: bed.keep_out.filter((_, at) => at !== index) }), { label: text.remove_keep_out(index + 1) }),
    );
  });
  return h("div", { class: "keep-outs" }, h("p", { class: "quiet" }, text.keep_out_lead), rows);
}
