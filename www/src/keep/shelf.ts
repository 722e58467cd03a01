/**
 * The bytes of model files by key. Nothing is taken off it while the page is open, so that undo can
 * bring a removed model back and a worker that died can be given everything again.
 */
import type { ModelFile } from "../planner/protocol.ts";
import type { ModelDecision } from "../state/state.ts";

export interface Shelf {
  put(key: string, bytes: Uint8Array<ArrayBuffer>): void;
  get(key: string): Uint8Array<ArrayBuffer> | undefined;
  keys(): string[];
  /** Models with their bytes; one whose bytes are lost is left out. */
  models(decided: readonly ModelDecision[]): ModelFile[];
}

export function createShelf(): Shelf {
  const held = new Map<string, Uint8Array<ArrayBuffer>>();
  return {
    put: (key, bytes) => void held.set(key, bytes),
    get: (key) => held.get(key),
    keys: () => [...held.keys()],
    models: (decided) =>
      decided.flatMap(({ key, name, settings }) => {
        const bytes = held.get(key);
        return bytes === undefined ? [] : [{ key, name, settings, bytes }];
      }),
  };
}

/** A name that no other costume and no other model has. */
export function randomId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
