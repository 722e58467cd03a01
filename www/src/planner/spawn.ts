/**
 * Starts the planner's workers in the browser: from a blob, with one compiled wasm for all.
 *
 * Not here: what they say (`planner.ts`).
 */
import type { Spawn } from "./lane.ts";
import type { Birth } from "./messages.ts";
import { part } from "../parts.ts";
import { startPlanner, type PlannerOptions } from "./planner.ts";
import type { Planner } from "./protocol.ts";
import PlannerWorker from "./worker/worker.ts?worker&inline";

/** One core stays for drawing, one for the page itself. */
const usualSearchers = (): number => Math.min(4, Math.max(1, navigator.hardwareConcurrency - 2));

/** What the address asks, for tests: `?searchers=2&hang-ms=3000&effort=2`. */
function optionsOf(search: string): PlannerOptions {
  const wish = new URLSearchParams(search);
  const number = (name: string): number | null => {
    const value = Number(wish.get(name));
    return Number.isInteger(value) && value > 0 ? value : null;
  };
  return { searchers: number("searchers") ?? usualSearchers(), hangMs: number("hang-ms") ?? 30_000, effort: number("effort") };
}

/** The page's planner. */
export async function openPlanner(options: PlannerOptions = optionsOf(location.search)): Promise<Planner> {
  const module = await WebAssembly.compile(await part("planner.wasm"));
  const spawn: Spawn = (role, hear, fell) => {
    const worker = new PlannerWorker({ name: role });
    worker.onmessage = (event: MessageEvent) => hear(event.data);
    worker.onerror = (event) => {
      event.preventDefault();
      fell(event.message || "an error in the worker");
    };
    worker.onmessageerror = () => fell("a message could not be read");
    const birth: Birth = { role, module };
    worker.postMessage(birth);
    return {
      post: (message, moved = []) => worker.postMessage(message, moved),
      end: () => worker.terminate(),
    };
  };
  return startPlanner(spawn, options);
}
