/**
 * The drawing: pieces, ink and thread on a canvas, drawn only when something changed.
 *
 * How: while something moves it is drawn once, plainly; when it has rested for a moment it is drawn
 * fine (two samples a side), and the picture of facts is read back: from it come the places where
 * balloons point. What the pointer is on others find out, by the ray that is told of it here.
 * Runs in a worker or on the page's own thread; knows neither. Units: mm; CSS pixels on the screen.
 * Not here: what the shaders do (`materials.ts`), how pieces are held (`item.ts`).
 */
import { ColorManagement, type Mesh, OrthographicCamera, Scene, type ShaderMaterial, WebGLRenderer, type WebGLRenderTarget } from "three";
import { aim, inkCover, twoPictures } from "./aim.ts";
import { axesOf, FIRST_EYE, fitted, middle, moved, onScreen, rayThrough, turned, type Vec, zoomed } from "./camera.ts";
import { type Built, build, drop, type Inked, lined, placesOf, threaded } from "./item.ts";
import { give } from "./materials.ts";
import type { Ray } from "../planner/records.ts";
import type { Anchor, Canvas, CreateStage, End, Frame, Inks, ItemDrawn } from "./messages.ts";
import { createPictures, type TakePicture } from "./pictures.ts";
import { flownTo } from "./sight.ts";
import { reasonOf } from "../reason.ts";

// Colours are mixed as the style sheet writes them.
ColorManagement.enabled = false;

/** Rest before the fine drawing; shorter than a hand takes to move on. */
const REST_MS = 140;
/** A press as near as this to a line is on it. */
const PRESS_PX = 9;
/** Fine pictures are not made larger than this, so that slow graphics stay usable. */
const MOST_FINE_PX = 9_000_000;

export const createStage: CreateStage = (tell) => {
  let renderer: WebGLRenderer | null = null;
  let view: { width: number; height: number; ratio: number; frame: Frame } = { width: 1, height: 1, ratio: 1, frame: { left: 0, top: 0, right: 1, bottom: 1 } };
  let eye = FIRST_EYE;
  let inks: Inks = { ink: "#000000", paper: "#ffffff", tones: ["#cccccc"], is_dark: false };
  let pull = 0;
  let marked: string | null = null;
  let chosen: string | null = null;
  /** A line that is laid round an item and no seam yet. */
  let laid: { item: string; segments_mm: Float32Array; at_px_per_mm: number; mesh: Mesh; material: ShaderMaterial } | null = null;
  let shown: readonly string[] = [];
  let pointer: readonly [number, number] | null = null;
  /** The place that is ringed. */
  let spot: { item: string; at_mm: readonly [number, number, number] } | null = null;
  const items = new Map<string, Built>();
  const chalk = new Map<string, Float32Array>();
  const scene = new Scene();
  const camera = new OrthographicCamera();
  const cover = inkCover();
  let takePicture: TakePicture | null = null;
  let had_ends = false;
  /** Items whose picture on their card is older than they are. */
  const unpictured = new Set<string>();
  /** What is on pictures alone, until they are taken. */
  const guests = new Map<string, ItemDrawn>();
  const thread_scene = new Scene();
  let plain: WebGLRenderTarget | null = null;
  let fine: WebGLRenderTarget | null = null;
  let facts: Uint8Array | null = null;
  let is_asked = false;
  let n_heard = 0;
  let rest: ReturnType<typeof setTimeout> | null = null;

  const drawn = (): Built[] => shown.map((id) => items.get(id)).filter((one): one is Built => one !== undefined);

  function ask(): void {
    if (rest !== null) clearTimeout(rest);
    rest = setTimeout(() => draw(true), REST_MS);
    if (is_asked) return;
    is_asked = true;
    nextFrame(() => {
      // A browser in a hurry gives the frame after the rest; the fine drawing is there by then.
      if (is_asked) draw(false);
    });
  }

  function start(canvas: Canvas): void {
    try {
      renderer = new WebGLRenderer({ canvas, alpha: true, antialias: false, depth: false, powerPreference: "low-power" });
      renderer.autoClear = false;
      canvas.addEventListener("webglcontextrestored", ask);
      tell({ kind: "ready" });
      resize();
    } catch (problem) {
      renderer = null;
      tell({ kind: "failed", text: reasonOf(problem) });
    }
  }

  function resize(): void {
    if (renderer === null) return;
    renderer.setPixelRatio(view.ratio);
    renderer.setSize(view.width, view.height, false);
    plain?.dispose();
    fine?.dispose();
    const [w, h] = bufferSize();
    plain = twoPictures(w, h);
    fine = w * h * 4 <= MOST_FINE_PX ? twoPictures(w * 2, h * 2) : null;
    facts = null;
    ask();
  }

  const bufferSize = (): [number, number] => [Math.max(1, Math.floor(view.width * view.ratio)), Math.max(1, Math.floor(view.height * view.ratio))];

  /** Sets the camera from the eye; gives the depth its range covers. */
  function look(): number {
    const all = drawn();
    const points = all.flatMap((one) => one.reach(pull));
    if (!eye.is_free) eye = fitted(eye, points, view.frame);
    return aim(camera, { eye, frame: view.frame, width: view.width, height: view.height }, points);
  }

  function draw(is_still: boolean): void {
    is_asked = false;
    if (renderer === null || plain === null) return;
    const far_mm = look();
    const all = drawn();
    threaded(all, eye.px_per_mm, chosen);
    scene.clear();
    thread_scene.clear();
    for (const one of all) {
      one.meshes.forEach((mesh) => scene.add(mesh));
      one.threads.forEach((mesh) => thread_scene.add(mesh));
    }
    const is_fine = is_still && fine !== null;
    const laid_on = all.find((one) => one.id === laid?.item);
    if (laid !== null && laid_on !== undefined) {
      if (laid.at_px_per_mm !== eye.px_per_mm) layLine(laid.item, laid.segments_mm);
      thread_scene.add(laid.mesh);
    }
    pictures(plain, 1);
    if (is_still) readFacts();
    const used = is_fine ? (fine as WebGLRenderTarget) : plain;
    if (is_fine) pictures(used, 2);

    const [w, h] = bufferSize();
    cover.set({ from: used, scale: is_fine ? 2 : 1, ratio: view.ratio, steep: far_mm * eye.px_per_mm, ink: inks.ink });
    renderer.setRenderTarget(null);
    renderer.setClearColor(0x000000, 0);
    renderer.clear();
    renderer.render(cover.scene, camera);
    if (laid !== null && laid_on !== undefined) give(laid.material, { offset: laid_on.parts[0]?.stand_mm ?? [0, 0, 0] });
    for (const one of all) {
      for (const material of [...one.thread_materials, ...(one === laid_on && laid !== null ? [laid.material] : [])]) {
        // Thread lies on the surface: it hides only behind what is `slack` nearer.
        const slack = (1.2 + 2.5 / eye.px_per_mm) / far_mm;
        give(material, { ink: inks.ink, depths: used.depthTexture, half_view: [w / 2, h / 2], ratio: view.ratio, slack });
      }
    }
    renderer.render(thread_scene, camera);
    anchors(is_still);
    ends(laid_on);
    if (is_still) {
      point();
      pictureNext();
    }
    tell({ kind: "drawn", is_still, n_heard, n_triangles: all.reduce((sum, one) => sum + one.n_triangles, 0) });
  }

  function layLine(item: string, segments_mm: Float32Array | null): void {
    laid?.mesh.geometry.dispose();
    laid?.material.dispose();
    laid = segments_mm === null ? null : { item, segments_mm, at_px_per_mm: eye.px_per_mm, ...lined(segments_mm, eye.px_per_mm) };
  }

  /** One picture at a time, so that a hand on the drawing never waits for more than one. */
  function pictureNext(): void {
    const [id] = unpictured;
    const guest = id === undefined ? undefined : guests.get(id);
    const item = id === undefined ? undefined : guest !== undefined ? build(guest) : items.get(id);
    if (id === undefined || renderer === null) return;
    unpictured.delete(id);
    guests.delete(id);
    takePicture ??= createPictures(renderer);
    if (item !== undefined) tell({ kind: "picture", item: id, image: takePicture(item, inks) });
    if (item !== undefined && guest !== undefined) drop(item);
    if (rest !== null) clearTimeout(rest);
    if (unpictured.size > 0) rest = setTimeout(pictureNext, REST_MS);
  }

  function pictures(into: WebGLRenderTarget, scale: number): void {
    if (renderer === null) return;
    const state: Inked = { pull, marked, inks, hatch_px: 7 * view.ratio * scale };
    for (const one of drawn()) one.set(state);
    renderer.setRenderTarget(into);
    renderer.setClearColor(0x000000, 0);
    renderer.clear();
    renderer.render(scene, camera);
  }

  function readFacts(): void {
    if (renderer === null || plain === null) return;
    const { width, height } = plain;
    if (facts === null || facts.length !== width * height * 4) facts = new Uint8Array(width * height * 4);
    renderer.readRenderTargetPixels(plain, 0, 0, width, height, facts, undefined, 1);
  }

  /** Owner of the surface at a place on the screen: the number given to a part, 0 for none. */
  function ownerAt(x: number, y: number): number {
    if (facts === null || plain === null) return 0;
    const [px, py] = [Math.floor(x * view.ratio), plain.height - 1 - Math.floor(y * view.ratio)];
    if (px < 0 || py < 0 || px >= plain.width || py >= plain.height) return 0;
    const at = 4 * (py * plain.width + px);
    return facts[at + 2]! * 256 + facts[at + 3]!;
  }

  function anchors(is_still: boolean): void {
    const axes = axesOf(eye);
    const found: Anchor[] = [];
    const box: Frame = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity };
    for (const one of drawn()) {
      for (const p of one.reach(pull)) {
        const [x, y] = onScreen(p, eye, axes, view.frame);
        box.left = Math.min(box.left, x);
        box.right = Math.max(box.right, x);
        box.top = Math.min(box.top, y);
        box.bottom = Math.max(box.bottom, y);
      }
      for (const part of one.parts) {
        const screen = placesOf(part, pull).map((p) => onScreen(p, eye, axes, view.frame));
        if (part.number === 0) continue;
        if (is_still) choose(part, screen);
        const at = screen[part.chosen];
        if (at !== undefined) found.push({ piece: part.id, number: part.number, at, is_seen: part.is_seen });
      }
    }
    const on = drawn().find((one) => one.id === spot?.item);
    const at = spot === null || on === undefined ? null : onScreen(standing(on, spot.at_mm), eye, axes, view.frame);
    tell({ kind: "anchors", anchors: found, box: box.left <= box.right ? box : null, spot: at });
  }

  /** Of a laid line the two places farthest apart on the screen: there it is pulled. */
  function ends(on: Built | undefined): void {
    const axes = axesOf(eye);
    const told = { right: axes.right, up: axes.up, px_per_mm: eye.px_per_mm };
    if (laid === null || on === undefined) {
      if (had_ends) tell({ kind: "ends", ends: null, axes: told });
      had_ends = false;
      return;
    }
    had_ends = true;
    const stand = on.parts[0]?.stand_mm ?? [0, 0, 0];
    const places: End[] = [];
    for (let k = 0; k + 2 < laid.segments_mm.length; k += 3) {
      const at_mm = [laid.segments_mm[k]!, laid.segments_mm[k + 1]!, laid.segments_mm[k + 2]!] as const;
      places.push({ at_mm, at: onScreen([at_mm[0] + stand[0], at_mm[1] + stand[1], at_mm[2] + stand[2]], eye, axes, view.frame) });
    }
    const farthest = (from: readonly [number, number]): End | undefined =>
      places.reduce<End | undefined>((best, one) => (best === undefined || apart(one.at, from) > apart(best.at, from) ? one : best), undefined);
    const one = places[0] === undefined ? undefined : farthest(places[0].at);
    const other = one === undefined ? undefined : farthest(one.at);
    tell({ kind: "ends", ends: one === undefined || other === undefined ? null : [one, other], axes: told });
  }

  /** Points the balloon at the middle of what is seen of the part, well inside it. */
  function choose(part: Built["parts"][number], screen: readonly (readonly [number, number])[]): void {
    const around = [[0, 0], [7, 0], [-7, 0], [0, 7], [0, -7]] as const;
    const seen: { index: number; inside: number }[] = [];
    screen.forEach(([x, y], index) => {
      const inside = around.filter(([dx, dy]) => ownerAt(x + dx, y + dy) === part.owner).length;
      if (ownerAt(x, y) === part.owner) seen.push({ index, inside });
    });
    part.is_seen = seen.length > 0;
    if (!part.is_seen) return;
    const most = Math.max(...seen.map((one) => one.inside));
    const best = seen.filter((one) => one.inside === most);
    const mean = [0, 1].map((axis) => seen.reduce((sum, one) => sum + screen[one.index]![axis as 0 | 1], 0) / seen.length);
    const off = (index: number): number => Math.hypot(screen[index]![0] - mean[0]!, screen[index]![1] - mean[1]!);
    part.chosen = best.reduce((least, one) => (off(one.index) < off(least.index) ? one : least)).index;
  }

  function point(): void {
    tell({ kind: "aimed", ray: pointer === null ? null : rayAt(pointer) });
  }

  function rayAt(at: readonly [number, number]): Ray {
    const { from_mm, direction } = rayThrough(at, eye, view.frame);
    return { direction: [...direction], pull, starts: drawn().map((one) => ({ item: one.id, at_mm: one.from(from_mm) })) };
  }

  return (message) => {
    if (message.kind !== "pointed" && message.kind !== "pressed" && message.kind !== "stroked") n_heard += 1;
    switch (message.kind) {
      case "start":
        return start(message.canvas);
      case "sized":
        view = { width: Math.max(1, message.width), height: Math.max(1, message.height), ratio: message.ratio, frame: message.frame };
        return resize();
      case "inks":
        inks = message.inks;
        for (const id of items.keys()) unpictured.add(id);
        return ask();
      case "item": {
        const before = items.get(message.item.id);
        if (before !== undefined) drop(before);
        const built = build(message.item);
        built.chalk(chalk.get(message.item.id) ?? new Float32Array());
        items.set(message.item.id, built);
        unpictured.add(message.item.id);
        arrange(drawn());
        return ask();
      }
      case "shown":
        for (const [id, item] of items) {
          if (message.keep.includes(id)) continue;
          drop(item);
          items.delete(id);
          chalk.delete(id);
        }
        if (message.ids.join() !== shown.join()) eye = { ...eye, is_free: false };
        shown = message.ids;
        arrange(drawn());
        return ask();
      case "pulled":
        pull = message.pull;
        return ask();
      case "marked":
        marked = message.piece;
        return ask();
      case "chosen":
        chosen = message.seam;
        return ask();
      case "picture-of":
        guests.set(message.item.id, message.item);
        unpictured.add(message.item.id);
        return ask();
      case "chalked":
        chalk.set(message.item, message.dabs);
        items.get(message.item)?.chalk(message.dabs);
        return ask();
      case "stroked":
        return tell({ kind: "stroked", ray: rayAt(message.at ?? middle(view.frame)), is_end: message.is_end });
      case "lined":
        layLine(message.item, message.segments_mm);
        return ask();
      case "turned":
        eye = turned(eye, message.across_px, message.down_px);
        return ask();
      case "moved":
        eye = moved(eye, message.across_px, message.down_px);
        return ask();
      case "zoomed":
        eye = zoomed(eye, message.factor, message.at, view.frame);
        return ask();
      case "flown": {
        spot = message.at_mm === null ? null : { item: message.item, at_mm: message.at_mm };
        const on = drawn().find((one) => one.id === message.item);
        if (spot !== null && on !== undefined) {
          const half = on.size_mm.map((mm) => mm / 2) as unknown as Vec;
          // In the item's own coordinates, as nothing is pulled apart.
          const corners = on.meshes.map((mesh) => mesh.geometry.getAttribute("position").array);
          const flown = flownTo(eye, spot.at_mm, half, on.size_mm, view.frame, pull === 0 ? corners : []);
          eye = { ...flown, centre_mm: standing(on, spot.at_mm) };
        }
        return ask();
      }
      case "whole":
        eye = { ...eye, is_free: false };
        return ask();
      case "pointed":
        pointer = message.at;
        return point();
      case "pressed":
        return tell({ kind: "pressed", ray: rayAt(message.at), near_mm: PRESS_PX / eye.px_per_mm });
    }
  };
};

/** Where a place of an item is on the drawing. */
function standing(item: Built, at_mm: Vec): Vec {
  const [x, y, z] = item.parts[0]?.stand_mm ?? [0, 0, 0];
  return [at_mm[0] + x, at_mm[1] + y, at_mm[2] + z];
}

const apart = (a: readonly [number, number], b: readonly [number, number]): number => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** Items stand in a row, a hand's width apart; owners are counted over all of them. */
function arrange(all: readonly Built[]): void {
  const widest = Math.max(1, ...all.map((one) => one.size_mm[0]));
  const gap = 0.18 * widest;
  let x = 0;
  let owner = 1;
  const deepest = Math.max(0, ...all.map((one) => one.size_mm[1]));
  for (const one of all) {
    one.stand([x, (deepest - one.size_mm[1]) / 2, 0]);
    x += one.size_mm[0] + gap;
    for (const part of one.parts) {
      part.owner = owner;
      owner += 1;
    }
  }
}

/** Workers have frames of their own where the browser gives them; a timer does otherwise. */
function nextFrame(then: () => void): void {
  if (typeof requestAnimationFrame === "function") requestAnimationFrame(then);
  else setTimeout(then, 16);
}
