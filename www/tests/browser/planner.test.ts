/**
 * The planner in a real browser, in both outputs: demo, bytes equal to the native program's, zip
 * that holds for the native audit, pause, stop and giving up, workers that die or hang, no network, no server.
 */
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, boxesStl, canLook, finished, launch, openLeaf, stopAndFinish, takeFiles } from "./look.ts";
import { serve, visit, workers } from "./site.ts";

const TWO_BEDS = join(import.meta.dirname, "../../../target/page-tests/two-beds");
const PROGRAM = process.env["SEAMWRIGHT_PROGRAM"] ?? "";
const MINUTE = 60_000;

const counts = (page: Page) => page.locator(".counts strong").first();
const rounds = async (page: Page): Promise<number> => {
  const said = (await page.locator(".searching").textContent()) ?? "";
  return Number(/round (\d+)/.exec(said)?.[1] ?? "0");
};

async function openProject(page: Page, file: string): Promise<void> {
  await openLeaf(page, "Costume");
  const chooser = page.waitForEvent("filechooser");
  await page.getByRole("button", { name: "Open a project" }).first().click();
  await (await chooser).setFiles(file);
  await page.getByText(/The project is open/).waitFor();
}

describe.skipIf(!canLook)("the planner in a browser", { timeout: 6 * MINUTE }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  });
  afterAll(() => browser?.close());

  it("plans the demo from the single file without any network, whatever is tried", async () => {
    const listener = await serve();
    const { context, page, problems, network } = await visit(browser, "?searchers=1");
    await openLeaf(page, "Seams");
    await counts(page).waitFor({ timeout: MINUTE });
    const tries = (address: string): Promise<string[]> => {
      const done: string[] = [];
      const attempt = (name: string, what: () => unknown): Promise<void> =>
        Promise.resolve().then(what).then(() => void done.push(name), () => {});
      const all = [attempt("fetch", () => fetch(address)), attempt("import", () => import(/* @vite-ignore */ `${address}/x.js`))];
      const on = (target: EventTarget, name: string, good: string): void => target.addEventListener(good, () => done.push(name));
      try { on(new WebSocket(address.replace("http", "ws")), "socket", "open"); } catch { /* refused */ }
      try { on(new EventSource(address), "events", "open"); } catch { /* refused */ }
      try { on(new Worker(`${address}/worker.js`), "worker", "message"); } catch { /* refused */ }
      const { importScripts } = globalThis as { importScripts?: (address: string) => void };
      if (importScripts !== undefined) all.push(attempt("scripts", () => importScripts(`${address}/x.js`)));
      all.push(attempt("request", () => new Promise((loaded, failed) => {
        const request = new XMLHttpRequest();
        Object.assign(request, { onload: loaded, onerror: failed });
        request.open("GET", address);
        request.send();
      })));
      all.push(attempt("font", () => new FontFace("tried", `url(${address}/x.woff2)`).load()));
      if (typeof document !== "undefined") {
        navigator.sendBeacon(address, "x");
        const image = new Image();
        on(image, "image", "load");
        image.src = `${address}/x.png`;
        const frame = document.createElement("iframe");
        frame.src = address;
        const form = document.createElement("form");
        Object.assign(form, { action: address, method: "post", target: "_blank" });
        const script = Object.assign(document.createElement("script"), { src: `${address}/x.js` });
        const links = ["stylesheet", "prefetch", "preload", "modulepreload", "prerender", "icon", "manifest"].map((rel) =>
          Object.assign(document.createElement("link"), { rel, href: `${address}/${rel}`, as: "font" }),
        );
        const media = ["audio", "video", "embed"].map((name) => Object.assign(document.createElement(name), { src: `${address}/${name}`, preload: "auto" }));
        const thing = Object.assign(document.createElement("object"), { data: `${address}/object` });
        const painted = document.createElement("div");
        painted.style.cssText = `background: url("${address}/background.png"); width: 9px; height: 9px`;
        document.body.append(frame, form, script, ...links, ...media, thing, painted);
        form.submit();
      }
      return Promise.all(all).then(() => new Promise((go) => setTimeout(() => go(done), 1500)));
    };
    expect(await page.evaluate(tries, listener.address)).toEqual([]);
    for (const worker of page.workers()) expect(await worker.evaluate(tries, listener.address)).toEqual([]);
    expect(listener.asked).toEqual([]);
    expect(network.filter((one) => !one.startsWith(listener.address))).toEqual([]);
    // The listener does hear: the same tries from a page without a policy reach it.
    const free = await context.newPage();
    await free.goto(`${listener.address}/notices.txt`);
    await free.evaluate(tries, listener.address);
    const heard = ["/", "/x.js", "/x.png", "/x.woff2", "/worker.js", "/stylesheet", "/prefetch", "/preload", "/audio", "/video", "/embed", "/object", "/background.png"];
    expect(heard.filter((path) => !listener.asked.includes(path))).toEqual([]);
    expect(problems).toEqual([]);
    await context.close();
    await listener.close();
  });

  it("plans the demo from the folder, and again without the server", async () => {
    const site = await serve();
    const { context, page, problems } = await visit(browser, "?searchers=2", site.address);
    await openLeaf(page, "Seams");
    await counts(page).waitFor({ timeout: MINUTE });
    expect((await workers(page, "searcher")).length).toBe(2);
    await page.waitForFunction(() => navigator.serviceWorker.ready.then(() => navigator.serviceWorker.controller !== null), null, { timeout: MINUTE });
    await site.close();
    await page.reload();
    await page.locator("h1").waitFor();
    await openLeaf(page, "Seams");
    await counts(page).waitFor({ timeout: MINUTE });
    expect(problems).toEqual([]);
    await context.close();
  });

  // Every case in node (`same-bytes.test.ts`); here, that workers and downloads keep the bytes.
  it.skipIf(!existsSync(TWO_BEDS))("gives the native bytes with two searchers", async () => {
    const due = JSON.parse(readFileSync(join(TWO_BEDS, "plan.json"), "utf8"));
    // The project itself fixes the effort.
    const { context, page } = await visit(browser, "?searchers=2");
    await openProject(page, join(TWO_BEDS, "costume.seam.json"));
    await finished(page, 4);
    const files = await takeFiles(page);
    expect(files.size).toBeGreaterThan(due.pieces.length + due.loads.length);
    for (const [path, bytes] of files) {
      if (path !== "run.json") expect(bytes.equals(readFileSync(join(TWO_BEDS, path))), path).toBe(true);
    }
    await context.close();
  });

  it.skipIf(!existsSync(PROGRAM))("gives a zip that holds for the native audit", async () => {
    const { context, page } = await visit(browser, "?searchers=1&effort=1");
    await addModels(page, [bar(), bar("other.stl")]);
    await finished(page);
    const folder = mkdtempSync(join(tmpdir(), "seamwright-"));
    for (const [path, bytes] of await takeFiles(page)) {
      mkdirSync(dirname(join(folder, path)), { recursive: true });
      writeFileSync(join(folder, path), bytes);
    }
    const audit = spawnSync(PROGRAM, ["audit", folder], { encoding: "utf8" });
    expect(audit.stdout + audit.stderr).toContain("holds:");
    expect(audit.status).toBe(0);
    await context.close();
  });

  it("rests when paused, goes on, and ends when stopped", async () => {
    const { context, page } = await visit(browser, "?searchers=1&effort=100000");
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(1);
    await page.getByRole("button", { name: "Pause" }).click();
    await page.getByText("The search rests").waitFor();
    // A round being merged may still be told.
    await page.waitForTimeout(500);
    const resting = await rounds(page);
    await page.waitForTimeout(2000);
    expect(await rounds(page)).toBe(resting);
    await page.getByRole("button", { name: "Go on" }).first().click();
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(resting);
    await stopAndFinish(page);
    await context.close();
  });

  it("gives up reading a file at once, and reads it when asked again", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=1");
    // Thousands of boxes, each without a triangle, so that there is much to mend.
    const boxes = boxesStl(Array.from({ length: 6000 }, (_, k) => ({ low: [9 * (k % 80), 9 * Math.floor(k / 80), 0], high: [9 * (k % 80) + 8, 9 * Math.floor(k / 80) + 8, 8] })));
    const kept = Array.from({ length: 72_000 }, (_, t) => boxes.subarray(84 + 50 * t, 134 + 50 * t)).filter((_, t) => t % 12 !== 0);
    const head = Buffer.from(boxes.subarray(0, 84));
    head.writeUInt32LE(kept.length, 80);
    await addModels(page, [{ name: "many.stl", mimeType: "model/stl", buffer: Buffer.concat([head, ...kept]) }]);
    await page.getByRole("button", { name: "Stop reading many.stl" }).click();
    await page.getByRole("button", { name: "Stop reading many.stl" }).waitFor({ state: "detached" });
    await openLeaf(page, "Seams");
    await page.getByText("Stopped before it was finished.").waitFor();
    expect(await page.getByText("mended").count()).toBe(0);
    // Nothing is lost: it is read again, given up again, and another takes its place.
    await page.locator(".searching").getByRole("button", { name: "Search again" }).click();
    await openLeaf(page, "Costume");
    await page.getByRole("button", { name: "Stop reading many.stl" }).waitFor();
    await page.getByRole("button", { name: "Leave out many.stl" }).click();
    await addModels(page, [bar()]);
    await finished(page);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("gives up finishing when told, and keeps what was found", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=100000");
    await addModels(page, Array.from({ length: 6 }, (_, k) => bar(`bar-${k}.stl`)));
    await openLeaf(page, "Seams");
    // Until then the rounds may be those of the demo.
    await page.getByRole("button", { name: /^bar-5/ }).first().waitFor({ timeout: MINUTE });
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(0);
    const found = await counts(page).textContent();
    // Pressed as soon as it is there: finishing so few pieces is short.
    await page.evaluate(() => {
      new MutationObserver((_, watch) => {
        const now = [...document.querySelectorAll("button")].find((one) => one.textContent === "Stop now");
        if (now === undefined) return;
        watch.disconnect();
        now.click();
      }).observe(document.body, { childList: true, subtree: true, characterData: true });
    });
    await page.locator(".searching").getByRole("button", { name: "Stop and finish" }).click();
    await page.getByText("Stopped before it was finished.").waitFor({ timeout: MINUTE });
    expect(await page.getByText("Every file was read again and holds.").count()).toBe(0);
    expect(await counts(page).textContent()).toBe(found);
    await page.locator(".searching").getByRole("button", { name: "Search again" }).click();
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(0);
    await stopAndFinish(page);
    expect((await takeFiles(page)).has("plan.json")).toBe(true);
    expect(problems).toEqual([]);
    await context.close();
  });

  it.each(["searcher", "keeper"])("replaces a %s that dies, says so and loses nothing", async (role) => {
    const { context, page } = await visit(browser, "?searchers=1&effort=100000");
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(0);
    const [victim] = await workers(page, role);
    await victim?.evaluate(() => void setTimeout(() => { throw new Error("felled by a test"); }));
    await page.locator("p", { hasText: /felled by a test/ }).waitFor({ timeout: MINUTE });
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(0);
    const before = await rounds(page);
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(before);
    await stopAndFinish(page);
    expect((await takeFiles(page)).has("plan.json")).toBe(true);
    await context.close();
  });

  it("replaces a searcher that hangs", async () => {
    const { context, page } = await visit(browser, "?searchers=1&effort=100000&hang-ms=4000");
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(0);
    const [victim] = await workers(page, "searcher");
    await victim?.evaluate(() => void setTimeout(() => { for (;;); }));
    await page.locator("p", { hasText: /did not answer/ }).waitFor({ timeout: MINUTE });
    const before = await rounds(page);
    await expect.poll(() => rounds(page), { timeout: MINUTE }).toBeGreaterThan(before);
    await stopAndFinish(page);
    await context.close();
  });
});
