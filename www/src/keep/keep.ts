/**
 * The copy of the costume that this browser keeps, so that a reload loses nothing.
 *
 * How: one record a costume under a random id, and the file of each model beside it, written once.
 * Files are blobs: the browser writes them in its own time, where bytes would be copied on the spot.
 * All pages opened from disk share one database in some browsers, hence the random id; and browsers
 * may drop it all, hence the sentence beside it that a project file is the only safe copy.
 * The record holds decisions and the ways back and forth through them (`ways.ts`), no results: they
 * are found again.
 */
import { type DBSchema, type IDBPDatabase, openDB } from "idb";
import type { Decisions, Scheme, State } from "../state/state.ts";
import { randomId, type Shelf } from "./shelf.ts";
import { MOST_BYTES, waysWithin } from "./ways.ts";

interface CostumeRecord {
  id: string;
  version: typeof VERSION;
  saved_ms: number;
  decisions: Decisions;
  past: readonly Decisions[];
  future: readonly Decisions[];
  scheme: Scheme;
}

interface Tables extends DBSchema {
  costumes: { key: string; value: CostumeRecord };
  files: { key: [string, string]; value: { costume: string; key: string; file: Blob } };
}

export interface Restored {
  decisions: Decisions;
  past: readonly Decisions[];
  future: readonly Decisions[];
  scheme: Scheme;
  /** Names of models whose bytes the browser dropped. */
  lost: string[];
}

export interface Keep {
  /** What was kept last, its bytes put on the shelf; `null` where nothing was. */
  restore(shelf: Shelf): Promise<Restored | null>;
  /** Keeps the costume. Where another page has kept this one meanwhile, it becomes a costume of its own: `forked`. */
  save(state: State, shelf: Shelf, now_ms: number): Promise<"kept" | "forked">;
}

/** Which costume this tab works on, through its reloads; others open the one that was kept last. */
const OWN = "seamwright-costume";

function ownId(): string | null {
  try {
    return sessionStorage.getItem(OWN);
  } catch {
    return null;
  }
}

function rememberId(id: string): void {
  try {
    sessionStorage.setItem(OWN, id);
  } catch {
    // Then a reload opens what was kept last.
  }
}

const NAME = "seamwright"
/** What another version kept is dropped. */
const VERSION = 2;

/**
 * Opens the database.
 *
 * Throws where the browser keeps nothing (private windows, storage switched off), and where a page of
 * an older version is open and holds it.
 */
export async function openKeep(): Promise<Keep> {
  const db = await new Promise<IDBPDatabase<Tables>>((done, fail) => {
    openDB<Tables>(NAME, VERSION, {
      upgrade(fresh) {
        for (const old of [...fresh.objectStoreNames]) fresh.deleteObjectStore(old);
        fresh.createObjectStore("costumes", { keyPath: "id" });
        fresh.createObjectStore("files", { keyPath: ["costume", "key"] });
      },
      blocked: () => fail(new Error("a page of an older version is open")),
      blocking: (_now, _next, { target }) => (target as IDBDatabase).close(),
    }).then(done, fail);
  });
  let id = randomId();
  const stored = new Set<string>();
  /** When the record was kept that this page read or wrote last. */
  let known_ms: number | null = null;
  /** What it holds: to open a costume is not to change it. */
  let known: unknown[] = [];

  return {
    async restore(shelf) {
      const all = await db.getAll("costumes");
      const usable = all.filter((record) => record.version === VERSION).sort((a, b) => b.saved_ms - a.saved_ms);
      const own = ownId();
      const last = usable.find((record) => record.id === own) ?? usable[0];
      if (last === undefined) return null;
      id = last.id;
      known_ms = last.saved_ms;
      for (const model of await db.getAll("files", IDBKeyRange.bound([id, ""], [id, "\uffff"]))) {
        // A file the browser can no longer read is lost, and the page says so.
        const bytes = await model.file.arrayBuffer().catch(() => null);
        if (bytes === null) continue;
        shelf.put(model.key, new Uint8Array(bytes));
        stored.add(model.key);
      }
      const is_lost = (key: string): boolean => shelf.get(key) === undefined;
      const lost = last.decisions.models.filter((model) => is_lost(model.key)).map((model) => model.name);
      const whole = (decisions: Decisions): Decisions => ({ ...decisions, models: decisions.models.filter((model) => !is_lost(model.key)) });
      const restored = { decisions: whole(last.decisions), past: last.past.map(whole), future: last.future.map(whole), scheme: last.scheme, lost };
      known = [restored.decisions, restored.past, restored.future, restored.scheme];
      return restored;
    },

    async save(state, shelf, now_ms) {
      const { decisions, look } = state;
      const now = [decisions, state.past, state.future, look.scheme];
      if (known.length > 0 && now.every((one, k) => one === known[k])) return "kept";
      const { past, future } = waysWithin(decisions, state, MOST_BYTES);
      const needed = new Set([decisions, ...past, ...future].flatMap((one) => one.models.map((model) => model.key)));
      let kept: "kept" | "forked" = "kept";
      for (;;) {
        for (const key of needed) {
          const bytes = shelf.get(key);
          if (stored.has(key) || bytes === undefined) continue;
          await db.put("files", { costume: id, key, file: new Blob([bytes]) });
          stored.add(key);
        }
        // Looked at and written in one transaction, so that no other page comes between.
        const both = db.transaction("costumes", "readwrite");
        const there = await both.store.get(id);
        const is_own = there === undefined || there.saved_ms === known_ms;
        if (is_own) await both.store.put({ id, version: VERSION, saved_ms: now_ms, decisions, past, future, scheme: look.scheme });
        await both.done;
        if (is_own) break;
        id = randomId();
        stored.clear();
        kept = "forked";
      }
      known_ms = now_ms;
      known = now;
      rememberId(id);
      for (const key of [...stored]) {
        if (needed.has(key)) continue;
        await db.delete("files", [id, key]);
        stored.delete(key);
      }
      return kept;
    },
  };
}
