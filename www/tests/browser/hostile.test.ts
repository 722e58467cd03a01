/**
 * What a page must bear in a real browser: storage that is full or switched off, a tab that is killed, names that
 * are markup or paths, and models beyond the limit. Quota, settings and crash are the browser's own.
 */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Browser, chromium } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, ARGUMENTS, bar, boxesStl, canLook, CHROMIUM, launch, openLeaf, SINGLE_FILE, stopAndFinish, taken } from "./look.ts";
import { serve, type Site, visit } from "./site.ts";
import { unzipped } from "../unzip.ts";

const MINUTE = 60_000;
/** After a change before it is surely kept. */
const KEPT_MS = 5000;
const CANNOT = "This browser will not keep the costume";

if (!canLook) console.log("skipped: storage, crashes and hostile names in a browser: no chromium or no target/seamwright.html");

describe.runIf(canLook)("the page", { timeout: 4 * MINUTE }, () => {
  let browser: Browser;
  let site: Site;
  const folder = mkdtempSync(join(tmpdir(), "seamwright-hostile-"));
  beforeAll(async () => {
    browser = await launch();
    site = await serve();
  });
  afterAll(async () => {
    await browser.close();
    await site.close();
    rmSync(folder, { recursive: true });
  });

  it("says when storage is full, and still gives away pieces and project", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1", site.address);
    const browser_tools = await context.newCDPSession(page);
    await browser_tools.send("Storage.overrideQuotaForOrigin", { origin: site.address, quotaSize: 1000 });
    await addModels(page, [bar()]);
    await page.getByText(CANNOT).first().waitFor({ timeout: MINUTE });
    expect(await page.locator(".block-kept, .block").filter({ hasText: "not kept" }).count()).toBeGreaterThan(0);
    await stopAndFinish(page);
    const zip = await taken(page, () => page.locator(".step", { hasText: "Take the pieces" }).click());
    expect(unzipped(zip.bytes).has("plan.json")).toBe(true);
    await openLeaf(page, "Costume");
    const project = await taken(page, () => page.getByRole("button", { name: "Save the project" }).click());
    expect(JSON.parse(project.bytes.toString()).models[0].name).toBe("bar.stl");
    expect(problems).toEqual([]);
    await context.close();
  });

  it("plans and gives away where storage is switched off", async () => {
    const profile = join(folder, "no-storage");
    mkdirSync(join(profile, "Default"), { recursive: true });
    // The setting "block all cookies", which shuts every storage.
    writeFileSync(join(profile, "Default/Preferences"), JSON.stringify({ profile: { default_content_setting_values: { cookies: 2 } } }));
    const context = await chromium.launchPersistentContext(profile, { executablePath: CHROMIUM, args: ARGUMENTS, acceptDownloads: true });
    const page = await context.newPage();
    await page.goto(`${site.address}/?searchers=1`);
    await page.getByText(CANNOT).first().waitFor({ timeout: MINUTE });
    await addModels(page, [bar()]);
    await stopAndFinish(page);
    const zip = await taken(page, () => page.locator(".step", { hasText: "Take the pieces" }).click());
    expect(unzipped(zip.bytes).has("plan.json")).toBe(true);
    await context.close();
  });

  it("opens the costume again that was kept before its tab was killed", async () => {
    const { context, page } = await visit(browser, "?searchers=1&effort=100000");
    await addModels(page, [bar()]);
    await openLeaf(page, "Beds");
    await page.getByRole("button", { name: "Add a bed of 180" }).click();
    await page.waitForTimeout(KEPT_MS);
    // Searching all the while.
    const fell = page.waitForEvent("crash");
    page.goto("chrome://crash").catch(() => undefined);
    await fell;
    const again = await context.newPage();
    await again.goto(`file://${SINGLE_FILE}?searchers=1`);
    await openLeaf(again, "Costume");
    await again.getByRole("heading", { name: "bar.stl" }).waitFor();
    await openLeaf(again, "Beds");
    expect(await again.locator(".bed").count()).toBe(2);
    await context.close();
  });

  it("shows a name that is markup or a path as a name, and writes none such into what it gives away", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=1");
    const names = ["<script>document.title='taken'</script>.stl", "<img src=x onerror=document.title='taken'>.stl", "=HYPERLINK(1,2).stl"];
    const box = boxesStl([{ low: [0, 0, 0], high: [90, 60, 40] }]);
    await addModels(page, names.map((name) => ({ name, mimeType: "model/stl", buffer: box })));
    expect(await page.locator(".card h2").allTextContents()).toEqual(names);
    expect(await page.locator("main img, .leaf script, .leaf img").count()).toBe(0);
    expect(await page.title()).not.toContain("taken");
    await page.locator(".block-costume input").fill("../../<b>x</b>\u0000: con");
    await page.locator(".block-costume input").press("Enter");
    await stopAndFinish(page);
    const zip = await taken(page, () => page.locator(".step", { hasText: "Take the pieces" }).click());
    expect(zip.name).toMatch(/^[^/\\:<>|?*"\u0000]+\.zip$/);
    const files = [...unzipped(zip.bytes).keys()];
    expect(files.length).toBeGreaterThan(6);
    for (const file of files) expect(file).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*(\/[a-z0-9]+(-[a-z0-9]+)*)?\.[a-z0-9.]+$/);
    expect(await page.title()).not.toContain("taken");
    expect(problems).toEqual([]);
    await context.close();
  });

  it("refuses a model beyond the limit with the way out beside it", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1");
    const n_triangles = 3_000_001;
    const bytes = Buffer.alloc(84 + 50 * n_triangles);
    bytes.writeUInt32LE(n_triangles, 80);
    const one = boxesStl([{ low: [0, 0, 0], high: [90, 60, 40] }]).subarray(84, 134);
    for (let t = 0; t < n_triangles; t++) one.copy(bytes, 84 + 50 * t);
    writeFileSync(join(folder, "many.stl"), bytes);
    await openLeaf(page, "Costume");
    const chooser = page.waitForEvent("filechooser");
    await page.locator(".leaf .word").first().click();
    await (await chooser).setFiles(join(folder, "many.stl"));
    await page.getByText("3000001 triangles, more than the 3000000 that are planned in a browser").first().waitFor({ timeout: 2 * MINUTE });
    await page.getByRole("button", { name: "Simplify to 1 million" }).click();
    // So many copies of one triangle are no solid, but they are read.
    await page.getByText("more than the 3000000").first().waitFor({ state: "detached", timeout: 2 * MINUTE });
    expect(problems).toEqual([]);
    await context.close();
  });
});
