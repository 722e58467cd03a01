/** Views as functions of the state: what stands on the sheet, and what does not. */
import { describe, expect, it } from "vitest";
import type { News, Plan } from "../planner/protocol.ts";
import type { Action } from "../state/actions.ts";
import { newBed, USUAL_BEDS } from "../state/beds.ts";
import { reduce } from "../state/reduce.ts";
import { firstState, LEAVES, type State } from "../state/state.ts";
import { curve } from "./curve.ts";
import type { Doing } from "./doing.ts";
import type { VNode } from "./dom.ts";
import { faultReport } from "./report.ts";
import { sheet } from "./sheet.ts";

const asked: string[] = [];
const doing = new Proxy({} as Doing, { get: (_, name) => () => asked.push(String(name)) });
const SIZE = { width: 1280, height: 800, is_dark: false };

type Node = VNode | string;
const all = (node: Node): VNode[] => (typeof node === "string" ? [] : [node, ...node.children.flatMap(all)]);
const textOf = (node: Node): string => (typeof node === "string" ? node : node.children.map(textOf).join(""));
const drawn = (state: State): VNode => sheet(state, doing, SIZE);
const words = (state: State): string => textOf(drawn(state)).replaceAll("\u202f", " ");
const buttons = (state: State): VNode[] => all(drawn(state)).filter((node) => node.tag === "button");
const step = (state: State): VNode => buttons(state).find((node) => node.attributes["class"] === "step")!;

const bed = newBed(USUAL_BEDS[1]!, []);
const after = (actions: readonly Action[], from: State = firstState([bed])): State => actions.reduce(reduce, from);
const model = (key: string, name = `${key}.stl`): Action => ({ kind: "models-added", models: [{ key, name, n_bytes: 84, settings: {} }] });
const shape = { points_mm: new Float32Array(9), triangles: new Uint32Array([0, 1, 2]) };
const read = (item: string, in_doubt: boolean): News => ({
  kind: "read", key: item, item, name: item, triangles: 1200, size_mm: [10.04, 20, 30], shape, notices: [{ code: "x", text: "two bodies touch", count: 1, at_mm: [] }],
  units: { guess: "inch", why: "254 mm in inch, 10 mm in mm", in_doubt, up: "z", up_why: "nothing says otherwise", up_in_doubt: in_doubt },
});
const cut: Extract<News, { kind: "item-plan" }> = {
  kind: "item-plan", item: "helm", first: true, seams: [{ id: "helm-s1", pieces: ["helm-1", "helm-2"], line_mm: new Float32Array(6), weight: 2, at_mm: [0, 0, 0], is_kept: false }], cuts: [], seam_mm: 1012.4, grid_pieces: 4,
  pieces: [1, 2].map((number) => ({ id: `helm-${number}`, number, shape, skin: new Uint8Array([1]), pull_mm: [0, 0, 30 * number], size_mm: [128, 174, 211], fits: number === 1, is_printed: false, at_mm: [0, 0, 0] })),
};
const plan = {
  items: [{ id: "helm", name: "helm" }],
  pieces: [{ id: "helm-1", item: "helm", load: "load-01", pose_kind: "face" }, { id: "helm-2", item: "helm", load: "load-02", pose_kind: "held" }],
  seams: [{ id: "helm-s1", item: "helm", line_mm: 1001, visible_mm: 214, through_detail_mm: 0, cost_min: 175 }],
  loads: [{ id: "load-01", pieces: ["helm-1"], used_fraction: 0.5 }, { id: "load-02", pieces: ["helm-2"], used_fraction: 0.25 }],
  totals: { pieces: 2, loads: 2, held: 1 },
  assumed: { finishing_piece: { value: 10 }, finishing_held_piece: { value: 40 } },
} as unknown as Plan;
const outline: [number, number][] = [[10, 10], [60, 10], [60, 60], [10, 60]];
const finished: News = {
  kind: "finished", plan, findings: [],
  lays: [1, 2].map((n) => ({ load: `load-0${n}`, bed, pieces: [{ id: `helm-${n}`, number: n, outline_mm: [outline], ...(n === 1 ? { front: [0, -1] as [number, number] } : {}) }] })),
};
const run = (news: readonly News[], from: State): State => after([{ kind: "run-started", run: 1 }, ...news.map((one): Action => ({ kind: "news", news: one, run: 1 }))], from);
const open = (leaf: (typeof LEAVES)[number], state: State): State => reduce(state, { kind: "leaf-opened", leaf });

describe("the sheet", () => {
  it("has one dark field, whose word is the next real step", () => {
    const empty = firstState([bed]);
    const begun = open("seams", after([model("helm")]));
    const label = (state: State): string => textOf(step(state));
    expect(label(empty)).toBe("Choose models");
    expect(label(open("costume", begun))).toBe("See the seams");
    expect(label(run([], begun))).toBe("Reading …");
    expect(label(run([read("helm", false), cut], begun))).toBe("Stop and finish");
    expect(label(run([read("helm", false), cut, { kind: "stage", text: "laying" }], begun))).toBe("Finishing …");
    const done = run([read("helm", false), cut, finished], begun);
    expect(label(done)).toBe("Take the pieces");
    expect(label(open("loads", done))).toBe("Take the loads");
    for (const state of [empty, begun, done]) expect(buttons(state).filter((node) => node.attributes["class"] === "step")).toHaveLength(1);
  });

  it("never has markup from a file: names are text", () => {
    const name = "<img src=x onerror=alert(1)>.stl";
    const state = after([model("helm", name)]);
    expect(all(drawn(state)).some((node) => node.tag === "img")).toBe(false);
    expect(words(state)).toContain(name);
  });

  it("says on leaves not built yet what they will hold, in one sentence each and nothing more", () => {
    for (const leaf of ["wearer", "sheet"] as const) {
      const section = all(drawn(open(leaf, firstState([bed])))).find((node) => String(node.attributes["class"]).startsWith("leaf "))!;
      expect(section.children.map((child) => (child as VNode).tag)).toEqual(["h1", "p"]);
      expect(textOf(section)).toContain("not built yet");
    }
  });

  it("gives every input and button a name", () => {
    const done = run([read("helm", true), cut, finished], after([model("helm")]));
    for (const leaf of LEAVES) {
      const root = drawn(open(leaf, done));
      for (const node of all(root)) {
        if (node.tag === "button") expect(textOf(node) + String(node.attributes["aria-label"] ?? "")).not.toBe("");
        if (node.tag !== "input" && node.tag !== "select") continue;
        const label = all(root).find((other) => other.tag === "label" && all(other).includes(node));
        expect(label === undefined ? node.attributes["aria-label"] : textOf(label)).toBeTruthy();
      }
    }
  });
});

describe("the costume leaf", () => {
  it("asks for units and up axis only where the core is in doubt, with its reason", () => {
    const sure = words(run([read("helm", false)], after([model("helm")])));
    const doubting = words(run([read("helm", true)], after([model("helm")])));
    expect(sure).not.toContain("Which unit");
    expect(doubting).toContain("Which unit is it drawn in?");
    expect(doubting).toContain("Taken as inch: 254 mm in inch, 10 mm in mm.");
    expect(doubting).toContain("Which axis of the file points up?");
    expect(doubting).toContain("10 × 20 × 30 mm · 1 200 triangles");
  });

  it("offers a report of what fell, without names of files", () => {
    const state = run([{ kind: "worker-replaced", text: "The planner stopped (index out of bounds) and was started again." }], after([model("secret-helm")]));
    const shown = words(open("seams", state));
    expect(shown).toContain("A report of what went wrong, to copy");
    const report = JSON.stringify(faultReport(state));
    expect(report).toContain("index out of bounds");
    expect(report).toContain(".stl, 84 bytes");
    expect(report).not.toContain("secret");
    expect(faultReport(after([model("helm")]))).toBeNull();
  });

  it("shows the notices of a file, or what could not be used: then they are of the plan before", () => {
    const found = run([read("helm", false)], after([model("helm")]));
    expect(words(found)).toContain("two bodies touch");
    const failed = run([{ kind: "failed", key: "helm", text: "the model is open in 3 places" }], found);
    expect(words(failed)).not.toContain("two bodies touch");
    expect(words(failed)).toContain("helm.stl could not be used: the model is open in 3 places.");
  });

  it("names a model that could not be used once, and leads from one leaf to the other until it is left out", () => {
    const failed = run([{ kind: "failed", key: "helm", text: "helm.stl: the file is empty (0 bytes)" }], open("seams", after([model("helm")])));
    for (const leaf of ["seams", "costume"] as const) {
      expect(words(open(leaf, failed))).toContain("helm.stl could not be used: the file is empty (0 bytes). Nothing is planned until it is mended or left out.");
    }
    expect(words(failed)).not.toContain("0 items");
    expect(textOf(step(failed))).toBe("See to the model");
    expect(textOf(step(open("costume", failed)))).toBe("Leave out helm.stl");
    const too_small = run([read("helm", false), cut, { kind: "failed", key: null, text: "helm: the bed is too small" }], open("seams", after([model("helm")])));
    expect(textOf(step(too_small))).toBe("See to the beds");
    // What is drawn is from the plan before.
    expect(words(too_small)).not.toContain("so far");
  });

  it("tells a guess with its question, not once more among the notices", () => {
    const { units } = read("helm", true) as Extract<News, { kind: "read" }>;
    const guess = { code: "units-guess", text: units.why, count: 1, at_mm: [] };
    const told = (in_doubt: boolean): number => words(run([{ ...read("helm", in_doubt), notices: [guess] } as News], after([model("helm")]))).split(units.why).length - 1;
    expect(told(true)).toBe(1);
    expect(told(false)).toBe(1);
  });

  it("tells models of one name apart by what the plan calls them", () => {
    const both = run([{ ...read("helm-2", false), key: "b", name: "helm" } as News], after([model("a", "helm.stl"), model("b", "helm.stl")]));
    expect(words(both)).toContain("helm-2 in the plan · 10 × 20 × 30 mm");
  });
});

describe("the seams leaf", () => {
  const begun = open("seams", after([model("helm")]));

  it("says that fewer pieces are impossible as soon as it is proved, and at the end what is", () => {
    const round = (pieces: number): News => ({ kind: "round", round: 1, pieces: 2, at_least: [{ item: "helm", pieces }], candidates: 3, seconds: 1 });
    expect(words(run([read("helm", false), cut, round(1)], begun))).toContain("the plain grid needs 4");
    expect(words(run([read("helm", false), cut, round(2)], begun))).toContain("fewer than 2 is impossible");
    const ended = (pieces_at_least: number): News => ({ ...finished, plan: { ...plan, bounds: [{ item: "helm", pieces_at_least, proven_fewest: pieces_at_least === 2, how: "", proof: { lumps: [] } }] } });
    expect(words(run([read("helm", false), cut, ended(2)], begun))).toContain("fewer than 2 is impossible");
    expect(words(run([read("helm", false), cut, ended(1)], begun))).toContain("the plain grid needs 4");
    const three: News = { ...cut, pieces: [...cut.pieces, { ...cut.pieces[0]!, id: "helm-3", number: 3 }] };
    expect(words(run([read("helm", false), three, ended(2)], begun))).toContain("at least 2 are needed");
  });

  it("says what was guessed about a file until it is answered, and leads to the question", () => {
    const doubting = run([read("helm", true), cut], begun);
    expect(words(doubting)).toContain("helm.stl does not say its unit: inch is a guess. Which way helm.stl stands is a guess: z points up.");
    const answer = buttons(doubting).find((node) => textOf(node) === "Answer")!;
    asked.length = 0;
    answer.on["click"]!({} as Event);
    expect(asked).toEqual(["showModel"]);
    const half = reduce(doubting, { kind: "settings-changed", key: "helm", settings: { units: "mm" } });
    expect(words(half)).not.toContain("does not say its unit");
    expect(words(half)).toContain("Which way helm.stl stands is a guess");
    expect(words(run([read("helm", false), cut], begun))).not.toContain("is a guess");
  });

  it("gives about figures while it searches and exact ones when the plan is finished", () => {
    const searching = words(run([read("helm", false), cut], begun));
    expect(searching).toContain("2 pieces the plain grid needs 4");
    expect(searching).toContain("about 1 012 mm of seam so far");
    const done = words(run([read("helm", false), cut, finished], begun));
    expect(done).toContain("1 001 mm of seam, 214 shows, 0 through detail, about 4 h to join, fill and sand");
    expect(done).toContain("1 piece stands only with supports.");
    expect(done).toContain("No bed takes piece 2 yet.");
  });

  it("lists pieces with loads and rests only once they exist", () => {
    const heads = (state: State): string[] => all(drawn(state)).filter((node) => node.tag === "th" && node.attributes["scope"] === "col").map(textOf);
    expect(heads(run([read("helm", false), cut], begun))).toEqual(["Piece", "mm"]);
    expect(heads(run([read("helm", false), cut, finished], begun))).toEqual(["Piece", "Load", "mm", "Rests"]);
  });

  it("shows a plan whose audit found faults as one not to print", () => {
    const bad = words(run([read("helm", false), cut, { ...finished, findings: ["helm-1 overlaps helm-2"] } as News], begun));
    expect(bad).toContain("do not print this plan");
    expect(bad).toContain("helm-1 overlaps helm-2");
    expect(bad).not.toContain("Every file was read again and holds.");
  });

  it("marks a piece everywhere at once", () => {
    const done = run([read("helm", false), cut, finished], begun);
    const marked = reduce(done, { kind: "marked", piece: "helm-2" });
    const rows = all(drawn(marked)).filter((node) => node.tag === "tr" && node.attributes["class"] === "marked");
    expect(rows.map((node) => node.key)).toEqual(["helm-2"]);
    const laid = all(drawn(open("loads", marked))).filter((node) => node.attributes["class"] === "laid marked");
    expect(laid.map((node) => node.key)).toEqual(["helm-2"]);
  });
});

it("draws a step curve that ends at the last count, with the proven least where there is one", () => {
  const rounds = [[0, 9, 0.1], [1, 6, 2], [2, 4, 8]].map(([round, pieces, seconds]) => ({ round: round!, pieces: pieces!, candidates: 5, seconds: seconds! }));
  const drawing = curve(rounds, 4)!;
  expect(String(drawing.attributes["aria-label"]).replaceAll("\u202f", " ")).toContain("From 9 pieces down to 4 in 8 s.");
  const found = all(drawing).find((node) => node.attributes["class"] === "found")!;
  expect(String(found.attributes["d"]).match(/H[\d.]+V[\d.]+/g)).toHaveLength(3);
  expect(textOf(drawing)).toContain("proven least");
  expect(textOf(curve(rounds, null)!)).not.toContain("proven least");
  expect(curve([], null)).toBeNull();
});
