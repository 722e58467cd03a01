/** A panic of the shipped wasm: it ends the instance, and what it said can still be asked for. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { initSync, Keeper, lastPanic } from "../../src/planner/gen/planner.js";
import { deathOf } from "../../src/planner/worker/death.ts";
import { newBed, USUAL_BEDS } from "../../src/state/beds.ts";

test("a panic is told in the core's own words", () => {
  initSync({ module: readFileSync(join(import.meta.dirname, "../../src/planner/gen/planner_bg.wasm")) });
  const keeper = new Keeper(JSON.stringify({ beds: [newBed(USUAL_BEDS[1]!, [])], prefer: "balanced", seed: 1 }));
  expect(lastPanic()).toBeUndefined();
  let thrown: unknown = null;
  try {
    // There is no such item: a mistake only the page's own code could make.
    keeper.shape(99);
  } catch (error) {
    thrown = error;
  }
  expect(thrown).toBeInstanceOf(WebAssembly.RuntimeError);
  expect(deathOf(thrown)).toMatch(/index out of bounds: the len is 0 but the index is 99/);
  expect(deathOf(new Error("plain"))).toBe("Error: plain");
});
