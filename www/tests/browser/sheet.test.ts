/**
 * The sheet in a real browser: what is drawn, what a hand and a key do, what assistive tools find.
 *
 * Kept as files for looking at: screenshots of every leaf in both schemes at desk and phone width.
 */
import { readFileSync } from "node:fs";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, AXE, balloonEnds, bar, canLook, changed, coloursAt, keep, keepScreen, launch, open, openLeaf, shoot, SINGLE_FILE, still, stopAndFinish } from "./look.ts";
import { serve } from "./site.ts";

const LEAVES = ["Costume", "Wearer", "Beds", "Seams", "Loads", "Sheet"];

if (!canLook) console.log("skipped: the sheet in a browser: no chromium or no target/seamwright.html");

describe.skipIf(!canLook)("the sheet", { timeout: 300_000 }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, 60_000);
  afterAll(() => browser?.close());

  for (const scheme of ["light", "dark"] as const) {
    for (const [width, height] of [[1280, 800], [390, 844]] as const) {
      it(`breaks no rule of accessibility and is kept as pictures: ${scheme}, ${width} wide`, async () => {
        const { context, page, problems } = await open(browser, { width, height, scheme });
        await addModels(page, [bar(), bar("second.stl")]);
        await stopAndFinish(page);
        await page.evaluate(readFileSync(AXE, "utf8"));
        for (const leaf of LEAVES) {
          await openLeaf(page, leaf);
          if (leaf === "Seams") {
            // With the card of a piece open at any width.
            await page.locator(".balloons .ring").first().waitFor();
            const ends = await balloonEnds(page);
            const box = (await page.locator("#drawing").boundingBox())!;
            await page.mouse.click(box.x + ends[0]![0], box.y + ends[0]![1]);
            await page.locator(".card-of h2").waitFor();
            await still(page);
          }
          const found = await page.evaluate(async () => {
            const { axe } = window as unknown as { axe: { run: (root: Document, how: object) => Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } };
            const { violations } = await axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
            return violations.map((rule) => `${rule.id}: ${rule.nodes.map((node) => node.html).join(" ")}`);
          });
          expect(found, leaf).toEqual([]);
          await shoot(page, `${leaf.toLowerCase()}-${scheme}-${width}`);
        }
        expect(problems).toEqual([]);
        await context.close();
      });
    }
  }

  describe("with a bar cut for a bed", () => {
    let page: Page;
    let problems: string[];
    let n_pieces = 0;
    beforeAll(async () => {
      const opened = await open(browser, { width: 1280, height: 800, scheme: "light" });
      ({ page, problems } = opened);
      await addModels(page, [bar()]);
      await stopAndFinish(page);
      await still(page);
      n_pieces = await page.locator(".parts tbody tr").count();
    }, 300_000);
    afterAll(async () => {
      expect(problems).toEqual([]);
      await page.context().close();
    });

    it("draws at least as many tones as there are pieces, where the balloons point", async () => {
      expect(n_pieces).toBeGreaterThan(1);
      const ends = await balloonEnds(page);
      expect(ends).toHaveLength(n_pieces);
      await keep(page, "whole");
      const tones = await coloursAt(page, "whole", ends);
      for (const tone of tones) expect(tone[3]).toBe(255);
      for (const [index, a] of tones.entries()) {
        for (const b of tones.slice(index + 1)) expect(Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!, a[2]! - b[2]!)).toBeGreaterThan(6);
      }
    });

    it("moves the pieces when they are pulled apart, and leaves gaps between them", async () => {
      await keep(page, "together");
      await page.getByRole("slider", { name: "Pull apart" }).fill("100");
      await still(page);
      await keep(page, "apart");
      expect(await changed(page, "together", "apart")).toBeGreaterThan(0.1);
      await shoot(page, "pulled-apart");
      await page.getByRole("slider", { name: "Pull apart" }).fill("0");
      await still(page);
      await keep(page, "again");
      // Stitches may be of another length, since they follow the scale in steps.
      expect(await changed(page, "together", "again")).toBeLessThan(0.03);
    });

    it("shows a piece's number everywhere when the pointer is on it", async () => {
      const end = page.locator(".balloons g").first();
      const x = Number(await end.locator(".end").getAttribute("cx"));
      const y = Number(await end.locator(".end").getAttribute("cy"));
      const box = (await page.locator("#drawing").boundingBox())!;
      await page.mouse.move(box.x + x, box.y + y);
      await page.locator(".parts tr.marked").waitFor();
      expect(await page.locator(".balloons g.marked").count()).toBe(1);
      const id = await page.locator(".parts tr.marked .piece span").last().textContent();
      await page.mouse.move(box.x + 5, box.y + 300);
      await page.locator(".parts tr.marked").waitFor({ state: "detached" });
      // The other way: from the parts list to the drawing, by the keyboard.
      await page.locator(".parts .piece", { hasText: id! }).focus();
      await page.locator(".balloons g.marked").waitFor();
    });

    it("is turned by the arrow keys and shown whole again by 0", async () => {
      await page.locator("#drawing").focus();
      await still(page);
      await keep(page, "before");
      for (let k = 0; k < 4; k += 1) await page.keyboard.press("ArrowRight");
      await page.keyboard.press("+");
      await still(page);
      await keep(page, "turned");
      expect(await changed(page, "before", "turned")).toBeGreaterThan(0.1);
      await page.keyboard.press("0");
      await still(page);
      await keep(page, "whole");
      expect(await changed(page, "turned", "whole")).toBeGreaterThan(0.1);
    });

    it("goes back and forth through decisions, and a reload keeps the costume", async () => {
      await openLeaf(page, "Beds");
      await page.getByRole("button", { name: "Add a bed of 180" }).click();
      await expect.poll(() => page.locator(".bed").count(), { timeout: 30_000 }).toBe(2);
      await page.keyboard.press("Control+z");
      await expect.poll(() => page.locator(".bed").count(), { timeout: 30_000 }).toBe(1);
      await page.keyboard.press("Control+Shift+z");
      await expect.poll(() => page.locator(".bed").count(), { timeout: 30_000 }).toBe(2);
      await page.locator(".block-costume input").fill("Heron & <b>Son</b>");
      await page.locator(".block-costume input").press("Enter");
      await page.waitForTimeout(4000); // kept a moment after the last change
      await page.reload();
      await page.locator(".block-costume input").waitFor();
      await expect.poll(() => page.locator(".block-costume input").inputValue(), { timeout: 30_000 }).toBe("Heron & <b>Son</b>");
      await openLeaf(page, "Beds");
      expect(await page.locator(".bed").count()).toBe(2);
      await openLeaf(page, "Costume");
      await page.getByRole("heading", { name: "bar.stl" }).waitFor();
      expect(await page.locator("b").count()).toBe(0);
    });
  });

  it.each(["single file", "folder"])("is drawn on the page's own thread where workers cannot draw: %s", async (output) => {
    const site = await serve();
    const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
    const page = await context.newPage();
    const problems: string[] = [];
    page.on("pageerror", (problem) => problems.push(problem.message));
    page.on("console", (message) => {
      if (message.type() === "error") problems.push(message.text());
    });
    await page.addInitScript(() => {
      delete (window as { OffscreenCanvas?: unknown }).OffscreenCanvas;
    });
    await page.goto(`${output === "folder" ? `${site.address}/` : `file://${SINGLE_FILE}`}?searchers=1`);
    await addModels(page, [bar()]);
    await stopAndFinish(page);
    await still(page);
    const ends = await balloonEnds(page);
    expect(ends.length).toBeGreaterThan(1);
    await keepScreen(page, "whole");
    // The last place is paper.
    const tones = await coloursAt(page, "whole", [...ends, [5, 300]]);
    for (const [index, a] of tones.entries()) {
      for (const b of tones.slice(index + 1)) expect(Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!, a[2]! - b[2]!)).toBeGreaterThan(6);
    }
    // Nothing of the drawing runs elsewhere.
    const names = await Promise.all(page.workers().map((one) => one.evaluate(() => self.name)));
    expect(names).not.toContain("drawing");
    await shoot(page, `own-thread-${output.replace(" ", "-")}`);
    expect(problems).toEqual([]);
    await context.close();
    await site.close();
  });

  it("begins its drawing anew when its worker dies, with all that was drawn", async () => {
    const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
    const page = await context.newPage();
    await page.addInitScript(() => {
      const post = Worker.prototype.postMessage;
      Worker.prototype.postMessage = function (this: Worker, message: { kind?: string }, more: never) {
        if (message.kind === "start") (window as unknown as { drawer: Worker }).drawer = this;
        return post.call(this, message, more);
      };
    });
    await page.goto(`file://${SINGLE_FILE}?searchers=1`);
    await addModels(page, [bar()]);
    await stopAndFinish(page);
    await still(page);
    // What the finished plan changes may be told a moment after it is said to be finished.
    await expect.poll(async () => {
      await keep(page, "before");
      await page.waitForTimeout(300);
      await keep(page, "a moment later");
      return changed(page, "before", "a moment later");
    }).toBe(0);
    // An item that is none: the worker throws, as it would on a fault of ours.
    await page.evaluate(() => (window as unknown as { drawer: Worker }).drawer.postMessage({ kind: "item", item: null }));
    await page.getByText("The drawing stopped and was begun anew.").waitFor();
    // A drawing just begun is still too, until it is told what to draw.
    await expect.poll(async () => {
      await still(page);
      await keep(page, "after");
      return changed(page, "before", "after");
    }, { timeout: 30_000 }).toBeLessThan(0.01);
    await context.close();
  });
});
