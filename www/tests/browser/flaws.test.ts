/**
 * A model that does not close, in a real browser: its flaws are listed and flown to, what was mended is
 * told and compared with the file, a step of it left out, all of it left out, undone.
 */
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, boxesStl, canLook, finished, launch, open, openLeaf } from "./look.ts";

const MINUTE = 60_000;

if (!canLook) console.log("skipped: flaws in a browser: no chromium or no target/seamwright.html");

/** A tall box without its roof, so that patching it is what it looks like: the roof's two triangles are left out. */
function openBox(name: string): { name: string; mimeType: string; buffer: Buffer } {
  const whole = boxesStl([{ low: [0, 0, 0], high: [60, 50, 400] }]);
  const facets = Array.from({ length: 12 }, (_, k) => whole.subarray(84 + 50 * k, 134 + 50 * k));
  const isRoof = (facet: Buffer): boolean => [0, 1, 2].every((corner) => facet.readFloatLE(12 + 12 * corner + 8) === 400);
  const kept = facets.filter((facet) => !isRoof(facet));
  const head = Buffer.from(whole.subarray(0, 84));
  head.writeUInt32LE(kept.length, 80);
  return { name, mimeType: "model/stl", buffer: Buffer.concat([head, ...kept]) };
}

describe.runIf(canLook)("a model that does not close", () => {
  let browser: Browser;
  beforeAll(async () => void (browser = await launch()));
  afterAll(() => browser.close());

  it("is mended, told where, compared with its file, and left as it is when that is asked", { timeout: 4 * MINUTE }, async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await addModels(page, [openBox("open.stl")]);
    await finished(page);
    await openLeaf(page, "Costume");
    const card = page.locator(".card", { hasText: "open.stl" });
    // 60 x 50 mm of roof.
    await card.getByText("holes were closed with 30.0 cm2 of patches").waitFor();
    // By keyboard: the place is a button with a name of its own.
    const place = card.getByRole("button", { name: /^Show place 1 of 1: holes were closed/ });
    await place.focus();
    await page.keyboard.press("Enter");
    await page.locator(".balloons .spot").waitFor();
    expect(await place.getAttribute("aria-pressed")).toBe("true");
    const ring = await page.locator(".balloons .spot circle").evaluate((circle) => [Number(circle.getAttribute("cx")), Number(circle.getAttribute("cy"))]);
    const { width, height } = await page.locator("canvas").evaluate((canvas) => ({ width: canvas.clientWidth, height: canvas.clientHeight }));
    expect(ring[0]).toBeGreaterThan(0.3 * width);
    expect(ring[0]).toBeLessThan(width);
    expect(ring[1]).toBeGreaterThan(0);
    expect(ring[1]).toBeLessThan(height);
    await page.keyboard.press("Enter");
    await page.locator(".balloons .spot").waitFor({ state: "detached" });

    await card.getByRole("button", { name: "What is in the file open.stl" }).click();
    const rows = card.locator(".file .figures tbody tr");
    await rows.first().waitFor();
    const told = Object.fromEntries(await rows.evaluateAll((all) => all.map((row) => [row.children[0]!.textContent, [row.children[1]!.textContent, row.children[2]!.textContent]])));
    expect(told["triangles"]).toEqual(["10", "12"]);
    expect(told["open edges"]).toEqual(["4", "0"]);
    expect(told["volume"]![1]).toContain("1\u202f200");
    await card.getByText("edges with a triangle on one side only").waitFor();
    // Drawn as it is: no balloons, since it is not cut.
    expect(await page.locator(".balloons .ring").count()).toBeGreaterThan(0);
    await card.getByLabel("draw it as in the file").check();
    await page.locator(".balloons .ring").first().waitFor({ state: "detached" });
    await card.getByRole("button", { name: "Put away" }).click();
    await page.locator(".balloons .ring").first().waitFor();

    // The one step by itself: without it the model does not close, and that is said; then with it again.
    await card.getByRole("button", { name: /^Mend without this step: holes were closed/ }).click();
    await card.locator(".warning", { hasText: "4 open edges" }).waitFor({ timeout: MINUTE });
    await card.getByText("Mending goes without closing holes.").waitFor();
    await card.getByRole("button", { name: "Mend with closing holes again" }).click();
    await card.getByText("holes were closed with 30.0 cm2").waitFor({ timeout: MINUTE });
    await card.getByText("Mending goes without").waitFor({ state: "detached" });

    // A wall instead, then nothing at all, then back.
    await card.getByLabel("where it is open").selectOption("wall");
    await card.getByText("surfaces of one side got a wall of 2.4 mm").waitFor({ timeout: MINUTE });
    await card.getByLabel("where it is open").selectOption("no");
    await card.getByText("open edges").first().waitFor({ timeout: MINUTE });
    await card.locator(".warning").waitFor({ timeout: MINUTE });
    await page.keyboard.press("Control+z");
    await card.getByText("surfaces of one side got a wall").waitFor({ timeout: MINUTE });
    await page.keyboard.press("Control+z");
    await card.getByText("holes were closed with 30.0 cm2").waitFor({ timeout: MINUTE });
    expect(problems).toEqual([]);
    await context.close();
  });
});
