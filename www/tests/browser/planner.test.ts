/**
 * The planner in a real browser, in both outputs: demo, bytes equal to the native program's, zip
 * that holds for the native audit, pause and stop, workers that die or hang, no network, no server.
 */
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, canLook, finished, launch, openLeaf, stopAndFinish, takeFiles } from "./look.ts";
import { serve, visit, workers } from "./site.ts";

const NATIVE = join(import.meta.dirname, "../../../target/page-tests");
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
        const link = Object.assign(document.createElement("link"), { rel: "stylesheet", href: `${address}/x.css` });
        document.body.append(frame, form, script, link);
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
    await free.goto(`${listener.address}/index.html`).catch(() => {});
    expect(listener.asked.length).toBeGreaterThan(0);
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
  describe.each([["rect", 1], ["two-beds", 2], ["round", 2]] as const)("on bed %s", (name, searchers) => {
    const folder = join(NATIVE, name);
    it.skipIf(!existsSync(folder))(`gives the native bytes with ${searchers} searchers`, async () => {
      const due = JSON.parse(readFileSync(join(folder, "plan.json"), "utf8"));
      // The project itself fixes the effort.
      const { context, page } = await visit(browser, `?searchers=${searchers}`);
      await openProject(page, join(folder, "costume.seam.json"));
      await finished(page, 4);
      const files = await takeFiles(page);
      expect(files.size).toBeGreaterThan(due.pieces.length + due.loads.length);
      for (const [path, bytes] of files) {
        if (path !== "run.json") expect(bytes.equals(readFileSync(join(folder, path))), path).toBe(true);
      }
      await context.close();
    });
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
