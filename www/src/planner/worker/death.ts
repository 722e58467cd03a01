/** What a worker says when it cannot go on: the core's own words about its last panic, where it had one. */
import { lastPanic } from "../gen/planner.js";

export function deathOf(error: unknown): string {
  if (!(error instanceof WebAssembly.RuntimeError)) return String(error);
  let panic: string | undefined;
  try {
    panic = lastPanic();
  } catch {
    // An instance that ran out of memory may not answer any more.
  }
  return panic ?? String(error);
}
