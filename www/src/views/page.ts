/**
 * Puts the page together: state, views, drawing, planner, keeping.
 *
 * Views are drawn once a frame at most, whatever happens in between. Everything slow happens in
 * workers; this thread only changes the document.
 */
import { chooseFiles, fileNameOf, isProject, MODEL_ENDINGS, PROJECT_ENDING, readModels, saveAs } from "../keep/files.ts";
import { type Keep, openKeep } from "../keep/keep.ts";
import { createShelf, randomId, type Shelf } from "../keep/shelf.ts";
import type { Planner } from "../planner/protocol.ts";
import { reasonOf } from "../reason.ts";
import type { startDrawing } from "../scene/host.ts";
import { newBed, USUAL_BEDS } from "../state/beds.ts";
import { type Planning, startPlanning } from "../state/planning.ts";
import { type Decisions, firstState } from "../state/state.ts";
import { createStore, type Store } from "../state/store.ts";
import { words } from "../words/words.ts";
import { modelCardId } from "./costume.ts";
import type { Doing } from "./doing.ts";
import { patch } from "./dom.ts";
import { followingFocus } from "./focus.ts";
import { ownDrawing } from "./own-drawing.ts";
import { sheet } from "./sheet.ts";

/** After a change before it is kept; a burst of changes is kept once. */
const KEEP_AFTER_MS = 600;

export interface PageParts {
  /** Comes a little after the sheet is drawn. */
  planner: Promise<Planner>;
  /** Project file of the demo costume, for a first visit. */
  demo: () => Promise<Uint8Array<ArrayBuffer>>;
  /** Licences of everything the page is made with. */
  notices: () => Promise<string>;
}

export async function startPage(root: HTMLElement, parts: PageParts): Promise<Store> {
  const shelf = createShelf();
  const usual = USUAL_BEDS[1];
  const store = createStore(firstState(usual === undefined ? [] : [newBed(usual, [])]));
  const doing = makeDoing(store, parts, shelf);

  const dark = matchMedia("(prefers-color-scheme: dark)");
  const beforeDrawing = followingFocus();
  let is_asked = false;
  const draw = (): void => {
    is_asked = false;
    const { scheme, over } = store.get().look;
    const afterDrawing = beforeDrawing();
    const is_dark = scheme === "blueprint" || (scheme === "system" && dark.matches);
    document.documentElement.dataset["scheme"] = is_dark ? "blueprint" : "paper";
    patch(root, [sheet(store.get(), doing, { width: innerWidth, height: innerHeight, is_dark })]);
    afterDrawing(over);
  };
  const ask = (): void => {
    if (is_asked) return;
    is_asked = true;
    requestAnimationFrame(draw);
  };
  draw();
  store.watch((state) => state, ask);
  addEventListener("resize", ask);
  dark.addEventListener("change", ask);
  takeDrops(doing);
  takeKeys(store);

  const keep = await restoreOrBegin(store, parts, shelf);
  if (keep !== null) keepChanges(store, keep, shelf);
  return store;
}

/** What was kept, else the demo. Planning begins once it is known what to plan. */
async function restoreOrBegin(store: Store, parts: PageParts, shelf: Shelf): Promise<Keep | null> {
  let keep: Keep | null = null;
  try {
    keep = await openKeep();
    const before = await keep.restore(shelf);
    if (before !== null) {
      const { lost, ...kept } = before;
      store.send({ kind: "restored", ...kept });
      if (lost.length > 0) store.send({ kind: "said", text: lost.map(words.keep.lost_bytes).join(" "), warns: true });
      return keep;
    }
  } catch {
    // Private windows and switched-off storage: the page works, and says that nothing is kept.
    store.send({ kind: "kept", kept: { at: null, problem: words.keep.cannot } });
  }
  // Before it is there, so that a leaf the maker opens meanwhile stays open.
  store.send({ kind: "leaf-opened", leaf: "seams" });
  store.send({ kind: "demo-coming", is_coming: true });
  try {
    await showDemo(store, parts, shelf);
  } catch (problem) {
    store.send({ kind: "said", text: words.demo.failed(reasonOf(problem)), warns: true });
  }
  store.send({ kind: "demo-coming", is_coming: false });
  // Last, so that nothing that is shown now takes its place.
  if (store.get().kept.problem !== null) store.send({ kind: "said", text: words.keep.cannot, warns: true });
  return keep;
}

/** The costume this page brought along, unless the maker has begun already. */
async function showDemo(store: Store, parts: PageParts, shelf: Shelf): Promise<void> {
  const [bytes, planner] = await Promise.all([parts.demo(), parts.planner]);
  const opened = await openProject(planner, shelf, bytes, store.get().decisions);
  const { decisions, past, look } = store.get();
  if (decisions.models.length > 0 || past.length > 0) return;
  store.send({ kind: "restored", decisions: { ...opened, costume: words.demo.name, is_demo: true }, past: [], future: [], scheme: look.scheme });
}

function keepChanges(store: Store, keep: Keep, shelf: Shelf): void {
  let timer: ReturnType<typeof setTimeout> | null = null;
  let writing: Promise<void> = Promise.resolve();
  const write = (): void => {
    timer = null;
    const state = store.get();
    writing = writing
      .then(() => keep.save(state, shelf, Date.now()))
      .then((kept) => {
        store.send({ kind: "kept", kept: { at: clock(new Date()), problem: null } });
        if (kept === "forked") store.send({ kind: "said", text: words.keep.forked, warns: true });
      })
      .catch(() => {
        // Most often the browser's quota: large models may not fit.
        store.send({ kind: "kept", kept: { at: state.kept.at, problem: words.keep.cannot } });
        store.send({ kind: "said", text: words.keep.cannot, warns: true });
      });
  };
  const soon = (): void => {
    if (timer !== null) clearTimeout(timer);
    timer = setTimeout(write, KEEP_AFTER_MS);
  };
  store.watch((state) => state.decisions, soon);
  store.watch((state) => state.look.scheme, soon);
  addEventListener("pagehide", () => {
    if (timer !== null) write();
  });
}

const clock = (now: Date): string => `${String(now.getHours()).padStart(2, "0")}:${String(now.getMinutes()).padStart(2, "0")}`;

async function openProject(planner: Planner, shelf: Shelf, bytes: Uint8Array<ArrayBuffer>, before: Decisions): Promise<Decisions> {
  const { models, options } = await planner.openProject(bytes);
  const decided = models.map((model) => {
    const key = randomId();
    shelf.put(key, model.bytes);
    return { key, name: model.name, n_bytes: model.bytes.length, settings: model.settings };
  });
  const { beds, prefer, seed, effort } = options;
  return { costume: "", is_demo: false, models: decided, beds, prefer, seed, effort, seconds: options.seconds ?? before.seconds };
}

function makeDoing(store: Store, parts: PageParts, shelf: Shelf): Doing {
  let planning: Planning | null = null;
  parts.planner.then(
    (planner) => (planning = startPlanning(store, planner, shelf)),
    (problem: unknown) => say(words.page.no_planner(reasonOf(problem)), true),
  );
  const say = (text: string, warns = false): void => store.send({ kind: "said", text, warns });
  const fail = (problem: unknown): void => say(words.take.failed(reasonOf(problem)), true);
  const nameOf = (): string => fileNameOf(store.get().decisions.costume, "costume");
  let drawing: ReturnType<typeof startDrawing> | null = null;
  let overlay: SVGSVGElement | null = null;

  async function add(files: readonly File[]): Promise<void> {
    const projects = files.filter(isProject);
    if (projects[0] !== undefined) await open(projects[0]);
    const read = await readModels(files.filter((file) => !isProject(file)), shelf);
    if (read.models.length > 0) store.send({ kind: "models-added", models: read.models });
    if (read.too_large.length > 0) say(read.too_large.map(words.costume.too_large).join(" "), true);
    if (read.unread.length > 0) say(words.costume.none_read, true);
  }
  async function open(file: File): Promise<void> {
    try {
      const decisions = await openProject(await parts.planner, shelf, new Uint8Array(await file.arrayBuffer()), store.get().decisions);
      const costume = file.name.replace(/(\.seam)?\.json$/, "");
      store.send({ kind: "project-opened", decisions: { ...decisions, costume } });
      say(words.take.opened(decisions.models.length));
    } catch (problem) {
      say(words.take.not_opened(file.name, reasonOf(problem)), true);
    }
  }
  async function take(what: "zip" | "project"): Promise<void> {
    store.send({ kind: "taking", what });
    const name = what === "zip" ? words.take.zip_name(nameOf()) : words.take.project_name(nameOf());
    try {
      const planner = await parts.planner;
      const bytes = what === "zip" ? await planner.zip() : await planner.project();
      saveAs(name, bytes, what === "zip" ? "application/zip" : "application/json");
      say(what === "zip" ? words.take.took(name) : words.take.saved(name));
    } catch (problem) {
      fail(problem);
    } finally {
      store.send({ kind: "taking", what: "none" });
    }
  }

  return {
    send: store.send,
    chooseModels: () => void chooseFiles(MODEL_ENDINGS, true).then(add),
    addFiles: (files) => void add(files),
    // Whatever the file is called: what is no project is said to be none, and becomes no model.
    chooseProject: () => void chooseFiles(PROJECT_ENDING, false).then(([file]) => (file === undefined ? undefined : open(file))),
    pause: () => planning?.pause(),
    goOn: () => planning?.goOn(),
    stop: () => planning?.stop(),
    giveUp: () => planning?.giveUp(),
    again: () => planning?.again(),
    showModel(key) {
      store.send({ kind: "leaf-opened", leaf: "costume" });
      // The leaf is on the document one frame later.
      requestAnimationFrame(() => requestAnimationFrame(() => document.getElementById(modelCardId(key))?.focus()));
    },
    lookInto(key) {
      const model = store.get().decisions.models.find((one) => one.key === key);
      if (model === undefined) return;
      parts.planner.then((planner) => planner.look(key)).then(
        (looked) => store.send({ kind: "file-looked", file: { ...looked, key, settings: model.settings, is_drawn: false } }),
        fail,
      );
    },
    showNotices: () => void parts.notices().then((text) => store.send({ kind: "notices-opened", text }), fail),
    takeZip: () => void take("zip"),
    saveProject: () => void take("project"),
    clear: () => store.send({ kind: "project-opened", decisions: { ...store.get().decisions, costume: "", is_demo: false, models: [], effort: null } }),
    ownBalloons: (element) => void (overlay = element),
    showWhole: () => drawing?.whole(),
    ownCanvas(canvas) {
      // A canvas whose drawing fell is replaced by a fresh one.
      drawing?.close();
      drawing = ownDrawing(store, canvas, () => overlay, parts.planner);
    },
  };
}

function takeDrops(doing: Doing): void {
  const hasFiles = (event: DragEvent): boolean => event.dataTransfer?.types.includes("Files") ?? false;
  addEventListener("dragover", (event) => {
    if (!hasFiles(event)) return;
    event.preventDefault();
    document.documentElement.dataset["dropping"] = "";
  });
  addEventListener("dragleave", (event) => {
    if (event.relatedTarget === null) delete document.documentElement.dataset["dropping"];
  });
  addEventListener("drop", (event) => {
    delete document.documentElement.dataset["dropping"];
    if (!hasFiles(event)) return;
    event.preventDefault();
    doing.addFiles([...(event.dataTransfer?.files ?? [])]);
  });
}

/** Undo and redo by the keys every program uses for them, except where a field undoes its own typing. */
function takeKeys(store: Store): void {
  addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      const { look, moving } = store.get();
      if (look.chalk !== null) store.send({ kind: "chalk-taken", chalk: null });
      if (moving !== null) store.send({ kind: "moving", moving: null });
      else if (look.over === "none") store.send({ kind: "chosen", id: null });
      store.send({ kind: "laid-over", over: "none" });
      store.send({ kind: "said-read" });
    }
    const is_typing = event.target instanceof HTMLInputElement && event.target.type === "text";
    if (!(event.ctrlKey || event.metaKey) || event.altKey || is_typing) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    store.send({ kind: key === "y" || event.shiftKey ? "redo" : "undo" });
  });
}
