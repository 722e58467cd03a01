/** What is kept of undo and redo, by the bytes of the models they would bring back. */
import { expect, it } from "vitest";
import { type Decisions, firstState } from "../state/state.ts";
import { waysWithin } from "./ways.ts";

const MODELS: Record<string, number> = { a: 40, b: 30, c: 20, d: 60 };
const step = (keys: string): Decisions => ({
  ...firstState([]).decisions,
  models: [...keys].map((key) => ({ key, name: key, n_bytes: MODELS[key] ?? 0, settings: {} })),
});
const keysOf = (way: readonly Decisions[]): string[] => way.map((one) => one.models.map((model) => model.key).join(""));

it("is everything while the models fit, each counted once and those of now not at all", () => {
  const [past, future] = [[step(""), step("b"), step("ab")], [step("bc"), step("c")]];
  const kept = waysWithin(step("a"), { past, future }, 50);
  expect(kept.past).toBe(past);
  expect(kept.future).toBe(future);
});

it("is the steps nearest to now where they do not, the way back first", () => {
  const ways = { past: [step("d"), step("bc"), step("b")], future: [step("d"), step("a")] };
  const kept = waysWithin(step("a"), ways, 50);
  expect(keysOf(kept.past)).toEqual(["bc", "b"]);
  // The way back has used all there is, but the nearest step forth needs nothing more.
  expect(keysOf(waysWithin(step("a"), { ...ways, past: ways.past.slice(1) }, 50).future)).toEqual(["a"]);
  expect(kept.future).toEqual([]);
});
