/** The state: decisions with their way back, news of runs, what is looked at. */
import { describe, expect, it } from "vitest";
import type { News, PieceShape } from "../planner/protocol.ts";
import type { Action } from "./actions.ts";
import { newBed, USUAL_BEDS } from "./beds.ts";
import { reduce } from "./reduce.ts";
import { ALL, firstState, itemsShown, leastOf, nameOf, piecesOf, type State, sumMade } from "./state.ts";

const bed = newBed(USUAL_BEDS[1]!, []);
const model = (key: string): { key: string; name: string; n_bytes: number; settings: object } => ({ key, name: `${key}.stl`, n_bytes: 84, settings: {} });
const after = (actions: readonly Action[], from: State = firstState([bed])): State => actions.reduce(reduce, from);
const shape = { points_mm: new Float32Array(9), triangles: new Uint32Array([0, 1, 2]) };
const read = (item: string, height_mm = 30): News => ({
  kind: "read", key: item, item, name: item, triangles: 1, size_mm: [10, 20, height_mm], shape, notices: [],
  units: { guess: "mm", why: "the file says mm", in_doubt: false, up: "z", up_why: "as usual", up_in_doubt: false },
});
const piece = (id: string, number: number): PieceShape => ({ id, number, shape, skin: new Uint8Array([1]), pull_mm: [0, 0, 5], size_mm: [1, 2, 3], fits: true, is_printed: false, at_mm: [0, 0, 0] });
const cut = (item: string, n: number): News => ({
  kind: "item-plan", item, first: true, pieces: Array.from({ length: n }, (_, k) => piece(`${item}-${k + 1}`, k + 1)), seams: [], cuts: [], seam_mm: 12, grid_pieces: n + 1,
});
const told = (news: readonly News[], run: number, from: State): State => after(news.map((one): Action => ({ kind: "news", news: one, run })), from);

describe("decisions", () => {
  it("go back and forth through undo and redo, one step a decision", () => {
    const start = firstState([bed]);
    const done = after([{ kind: "models-added", models: [model("helm")] }, { kind: "seed-changed", seed: 7 }, { kind: "costume-named", name: "Heron" }]);
    expect(done.past).toHaveLength(3);
    const back = after([{ kind: "undo" }, { kind: "undo" }, { kind: "undo" }], done);
    expect(back.decisions).toEqual(start.decisions);
    expect(after([{ kind: "undo" }], back)).toBe(back);
    const forth = after([{ kind: "redo" }, { kind: "redo" }, { kind: "redo" }], back);
    expect(forth.decisions).toBe(done.decisions);
  });

  it("forget what was undone once something else is decided", () => {
    const done = after([{ kind: "seed-changed", seed: 2 }, { kind: "undo" }, { kind: "seed-changed", seed: 3 }]);
    expect(done.future).toEqual([]);
    expect(done.decisions.seed).toBe(3);
  });

  it("that change nothing leave the state as it is", () => {
    const start = firstState([bed]);
    for (const action of [{ kind: "seed-changed", seed: 1 }, { kind: "preferred", prefer: "balanced" }, { kind: "models-added", models: [] }, { kind: "bed-removed", id: bed.id }] as const) {
      expect(reduce(start, action)).toBe(start);
    }
  });

  it("say one size at a time: a height takes the place of a scale", () => {
    const done = after([{ kind: "models-added", models: [model("helm")] }, { kind: "settings-changed", key: "helm", settings: { scale: 1.2, role: "helm" } }, { kind: "settings-changed", key: "helm", settings: { height_mm: 300 } }]);
    expect(done.decisions.models[0]?.settings).toEqual({ role: "helm", height_mm: 300 });
    const without = reduce(done, { kind: "settings-changed", key: "helm", settings: { role: undefined } });
    expect(without.decisions.models[0]?.settings).toEqual({ height_mm: 300 });
  });

  it("let the maker's own models take the place of the demo, and undo brings it back", () => {
    const demo = after([{ kind: "restored", decisions: { ...firstState([bed]).decisions, costume: "Demo", is_demo: true, models: [model("demo")] }, past: [], future: [], scheme: "system" }]);
    const own = reduce(demo, { kind: "models-added", models: [model("mine")] });
    expect(own.decisions).toMatchObject({ is_demo: false, costume: "", models: [{ key: "mine" }] });
    expect(reduce(own, { kind: "undo" }).decisions).toBe(demo.decisions);
    const more = reduce(own, { kind: "models-added", models: [model("more")] });
    expect(more.decisions.models.map((one) => one.key)).toEqual(["mine", "more"]);
  });
});

describe("news", () => {
  const start = after([{ kind: "models-added", models: [model("helm"), model("blade")] }, { kind: "run-started", run: 1 }]);

  it("of an older run change nothing", () => {
    const later = reduce(start, { kind: "run-started", run: 2 });
    expect(reduce(later, { kind: "news", news: read("helm"), run: 1 })).toBe(later);
  });

  it("of a run whose models are all gone change nothing", () => {
    const emptied = reduce(told([read("helm")], 1, start), { kind: "run-emptied" });
    expect(told([cut("helm", 4), { kind: "stage", text: "measuring" }], 1, emptied)).toBe(emptied);
  });

  it("keep the old pieces in the drawing until new ones come, unless the size changed or the model is gone", () => {
    const first = told([read("helm"), cut("helm", 4)], 1, start);
    const gone = reduce(first, { kind: "model-removed", key: "helm" });
    expect(gone.run.items).toHaveLength(1);
    expect(reduce(gone, { kind: "run-started", run: 2 }).run.items).toEqual([]);
    const again = reduce(first, { kind: "run-started", run: 2 });
    expect(told([read("helm")], 2, again).run.items[0]?.cut?.pieces).toHaveLength(4);
    expect(told([read("helm", 31)], 2, again).run.items[0]?.cut).toBeNull();
  });

  it("let items that the new run does not have go when it is finished", () => {
    const first = told([read("helm"), read("blade")], 1, start);
    const again = reduce(first, { kind: "run-started", run: 2 });
    const plan = { items: [{ id: "blade", name: "blade" }], pieces: [], loads: [] } as never;
    const done = told([read("blade"), { kind: "finished", plan, lays: [], findings: [] }], 2, again);
    expect(done.run.items.map((one) => one.item)).toEqual(["blade"]);
    expect(done.run.phase).toBe("finished");
  });

  it("count copies and mirrored sides before the finished plan tells of them", () => {
    const settings = { pair: true, copies: 3 };
    const pair = after([{ kind: "settings-changed", key: "helm", settings }, { kind: "run-started", run: 2 }], start);
    const cut_once = told([read("helm"), cut("helm", 4), read("blade"), cut("blade", 2)], 2, pair);
    expect(sumMade(cut_once, cut_once.run.items, piecesOf)).toBe(6 * 4 + 2);
    expect(sumMade(cut_once, cut_once.run.items.slice(0, 1), piecesOf)).toBe(4);
    const made = ["", "-mirrored", "-c2", "-c2-mirrored", "-c3", "-c3-mirrored"].map((end) => ({
      id: `helm${end}`, name: "helm", size_mm: [10, 20, 30], ...(end.endsWith("mirrored") ? { mirror_of: "helm" } : end === "" ? {} : { copy_of: "helm" }),
    }));
    const plan = { items: [...made, { id: "blade", name: "blade" }], pieces: [], loads: [] } as never;
    const done = told([{ kind: "finished", plan, lays: [], findings: [] }], 2, cut_once);
    expect(done.run.items).toHaveLength(7);
    expect(sumMade(done, done.run.items, piecesOf)).toBe(6 * 4 + 2);
    const again = reduce(done, { kind: "run-started", run: 3 });
    expect(again.run.finished).toBe(done.run.finished);
    // Loads of a costume nothing is left of are nobody's.
    const other = after([{ kind: "model-removed", key: "helm" }, { kind: "model-removed", key: "blade" }, { kind: "models-added", models: [model("other")] }, { kind: "run-started", run: 4 }], done);
    expect(other.run).toMatchObject({ items: [], finished: null });
    expect(sumMade(again, again.run.items, piecesOf)).toBe(6 * 4 + 2);
    expect(sumMade(again, again.run.items, () => 1)).toBe(7);
  });

  it("do not end a pause, and a stop ends it", () => {
    const searching = told([read("helm"), cut("helm", 4)], 1, start);
    const paused = told([{ kind: "round", round: 1, pieces: 4, at_least: [{ item: "helm", pieces: 3 }], candidates: 9, seconds: 1 }], 1, told([{ kind: "paused" }], 1, searching));
    expect(paused.run.phase).toBe("paused");
    expect(paused.run.rounds).toHaveLength(1);
    expect(leastOf(paused, paused.run.items)).toBe(3);
    expect(leastOf(searching, searching.run.items)).toBeNull();
    expect(reduce(paused, { kind: "stopped" }).run.phase).toBe("ending");
    expect(told([{ kind: "going-on" }], 1, paused).run.phase).toBe("searching");
  });

  it("of a failure end the run and keep what was drawn", () => {
    const failed = told([read("helm"), { kind: "failed", key: "helm", text: "the model is open" }], 1, start);
    expect(failed.run).toMatchObject({ phase: "idle", failures: [{ key: "helm", text: "the model is open" }] });
    expect(failed.run.items).toHaveLength(1);
  });

  it("of a failure that does not end the run leave it reading, until all are read", () => {
    const first = told([{ kind: "reading", key: "helm" }, { kind: "failed", key: "helm", text: "the model is open", goes_on: true }, { kind: "reading", key: "blade" }], 1, start);
    expect(first.run).toMatchObject({ phase: "reading", reading: ["blade"], failures: [{ key: "helm" }] });
    const both = told([{ kind: "failed", key: "blade", text: "the file is empty", goes_on: true }, { kind: "not-planned" }], 1, first);
    expect(both.run).toMatchObject({ phase: "idle", reading: [], failures: [{ key: "helm" }, { key: "blade" }] });
  });
});

describe("what is looked at", () => {
  const two = told([read("helm"), read("blade")], 1, after([{ kind: "leaf-opened", leaf: "seams" }, { kind: "run-started", run: 1 }]));

  it("is the first item, one chosen, or all; on the costume leaf all at first", () => {
    const ids = (state: State): string[] => itemsShown(state).map((one) => one.item);
    expect(ids(two)).toEqual(["helm"]);
    expect(ids(reduce(two, { kind: "shown", item: "blade" }))).toEqual(["blade"]);
    expect(ids(reduce(two, { kind: "shown", item: ALL }))).toEqual(["helm", "blade"]);
    expect(ids(reduce(two, { kind: "leaf-opened", leaf: "costume" }))).toEqual(["helm", "blade"]);
  });

  it("is called by its id where two items have one name", () => {
    const pair = told([{ ...read("blade-mirrored"), name: "blade" } as News], 1, two);
    expect(pair.run.items.map((one) => nameOf(pair, one))).toEqual(["helm", "blade", "blade-mirrored"]);
  });

  it("stays within the slider and no decision, so undo leaves it alone", () => {
    const pulled = reduce(two, { kind: "pulled", pull: 3 });
    expect(pulled.look.pull).toBe(1);
    expect(pulled.past).toBe(two.past);
  });
});
