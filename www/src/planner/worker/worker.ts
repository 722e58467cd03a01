/** Entry of the planner's workers: the first message says which it is and brings the wasm. */
import { initSync } from "../gen/planner.js";
import type { Birth } from "../messages.ts";
import { finder } from "./finder.ts";
import { keeper } from "./keeper.ts";
import { searcher } from "./searcher.ts";

declare const self: DedicatedWorkerGlobalScope;

self.onmessage = (first: MessageEvent<Birth>) => {
  const post = (message: unknown, moved: Transferable[] = []): void => self.postMessage(message, moved);
  // Left in sight for a bench, or a person with the browser's own tools, to see its memory.
  Object.assign(self, { wasm: initSync({ module: first.data.module }) });
  const hear = { keeper, searcher, finder }[first.data.role](post) as (message: unknown) => void;
  self.onmessage = (event: MessageEvent) => hear(event.data);
};
