/**
 * The shipped wasm, driven by the page's own planner code in node, gives the native program's plans
 * to the byte: `plan.json`, pieces, loads, items and the project, for three kinds of bed and for a marked item,
 * an effort fixed, two searchers, and one on the first: how many there are changes nothing.
 *
 * The native folders are made by `cargo xtask test` beforehand; without them the tests are skipped.
 */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { initSync } from "../../src/planner/gen/planner.js";
import type { Spawn } from "../../src/planner/lane.ts";
import { startPlanner } from "../../src/planner/planner.ts";
import type { News } from "../../src/planner/protocol.ts";
import { finder } from "../../src/planner/worker/finder.ts";
import { keeper } from "../../src/planner/worker/keeper.ts";
import { searcher } from "../../src/planner/worker/searcher.ts";
import { unzipped } from "../unzip.ts";

/** Native plan folders, one a case, each with its own project. */
const NATIVE = join(import.meta.dirname, "../../../target/page-tests");
const CASES: readonly [string, number][] = [["rect", 1], ["rect", 2], ["two-beds", 2], ["round", 2], ["marked", 2]];
const MINUTES = 60_000;

beforeAll(() => {
  initSync({ module: readFileSync(join(import.meta.dirname, "../../src/planner/gen/planner_bg.wasm")) });
});

/** Keeper and searchers in this thread; messages cross as copies and never at once, as between workers. */
const spawn: Spawn = (role, hear) => {
  let alive = true;
  const post = (message: unknown): void => {
    const copy = structuredClone(message);
    setImmediate(() => alive && hear(copy));
  };
  const own = { keeper, searcher, finder }[role](post) as (message: unknown) => void;
  return {
    post(message) {
      const copy = structuredClone(message);
      setImmediate(() => alive && own(copy));
    },
    end: () => (alive = false),
  };
};

async function planned(project: Buffer, searchers: number): Promise<{ news: News[]; files: Map<string, Buffer> }> {
  const planner = startPlanner(spawn, { searchers, hangMs: 10 * MINUTES, effort: null });
  const { models, options } = await planner.openProject(new Uint8Array(project));
  const news: News[] = [];
  await new Promise<void>((done, fail) => {
    planner.listen((one) => {
      news.push(one);
      if (one.kind === "finished") done();
      if (one.kind === "failed" || one.kind === "worker-replaced") fail(new Error(one.text));
    });
    planner.plan(models, options);
  });
  const files = unzipped(await planner.zip());
  planner.close();
  return { news, files };
}

describe.each(CASES)("native and wasm give the same bytes on bed %s", (name, searchers) => {
  const folder = join(NATIVE, name);
  test.skipIf(!existsSync(folder))(`with ${searchers} searchers`, async () => {
    const { news, files } = await planned(readFileSync(join(folder, "costume.seam.json")), searchers);
    const due = JSON.parse(readFileSync(join(folder, "plan.json"), "utf8"));
    // A plan in which nothing was searched would prove little.
    expect(due.search.rounds).toBeGreaterThan(0);
    expect(due.pieces.length).toBeGreaterThan(due.items.length);
    expect(files.size).toBeGreaterThan(due.pieces.length + due.loads.length);
    for (const [path, bytes] of files) {
      if (path === "run.json") continue;
      const native = readFileSync(join(folder, path));
      expect(bytes.equals(native), `${path}: ${bytes.length} bytes here, ${native.length} natively`).toBe(true);
    }
    for (const { file } of [...due.items, ...due.pieces, ...due.loads]) expect(files.has(file), file).toBe(true);
    expect(news.filter((one) => one.kind === "item-plan").length).toBeGreaterThanOrEqual(2 * new Set(news.flatMap((one) => (one.kind === "read" ? [one.item] : []))).size);
  }, 10 * MINUTES);
});
