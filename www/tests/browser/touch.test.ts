/** The drawing under fingers, as a phone tells of them: one turns, two zoom, a tap marks a piece. */
import type { Browser, CDPSession, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, balloonEnds, bar, canLook, changed, keep, launch, open, openLeaf, still, stopAndFinish } from "./look.ts";

if (!canLook) console.log("skipped: the drawing under fingers: no chromium or no target/seamwright.html");

type Place = readonly [number, number];

/** Lays fingers on places of the canvas, moves each to where it ends, and lifts them. */
async function touch(page: Page, hand: CDPSession, fingers: readonly { from: Place; to: Place }[]): Promise<void> {
  const box = (await page.locator("#drawing").boundingBox())!;
  const at = (part: number) => fingers.map(({ from, to }, id) => ({ id, x: box.x + from[0] + part * (to[0] - from[0]), y: box.y + from[1] + part * (to[1] - from[1]) }));
  await hand.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: at(0) });
  for (let step = 1; step <= 8; step += 1) await hand.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: at(step / 8) });
  await hand.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
}

/** A place on the canvas that nothing covers and where nothing is drawn. */
async function nowhere(page: Page): Promise<Place> {
  await keep(page, "bare");
  return page.evaluate(() => {
    const drawing = document.querySelector("#drawing")!;
    const { left, top, width, height } = drawing.getBoundingClientRect();
    const bare = (window as unknown as { kept: Record<string, ImageData> }).kept["bare"]!;
    const places = Array.from({ length: 400 }, (_, k): [number, number] => [Math.floor((width * ((k % 20) + 0.5)) / 20), Math.floor((height * (Math.floor(k / 20) + 0.5)) / 20)]);
    const alpha = ([x, y]: [number, number]): number => bare.data[4 * (Math.floor((y * bare.height) / height) * bare.width + Math.floor((x * bare.width) / width)) + 3]!;
    const free = places.find((place) => document.elementFromPoint(left + place[0], top + place[1]) === drawing && alpha(place) === 0);
    if (free === undefined) throw new Error("the drawing is covered everywhere");
    return free;
  });
}

describe.skipIf(!canLook)("the drawing under fingers", { timeout: 300_000 }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, 60_000);
  afterAll(() => browser?.close());

  it("is turned by one, zoomed by two, and tells the piece that is tapped", async () => {
    const { context, page, problems } = await open(browser, { width: 390, height: 844, scheme: "light", touch: true });
    const hand = await context.newCDPSession(page);
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await stopAndFinish(page);
    await still(page);
    const canvas = (await page.locator("#drawing").boundingBox())!;
    const [x, y] = [canvas.width / 2, canvas.height / 2];

    for (const [index, [end_x, end_y]] of (await balloonEnds(page)).entries()) {
      await page.touchscreen.tap(canvas.x + end_x!, canvas.y + end_y!);
      await expect.poll(() => page.locator(".balloons g.marked text").allTextContents(), { timeout: 30_000 }).toEqual([String(index + 1)]);
    }
    const [free_x, free_y] = await nowhere(page);
    await page.touchscreen.tap(canvas.x + free_x, canvas.y + free_y);
    await expect.poll(() => page.locator(".balloons g.marked").count(), { timeout: 30_000 }).toBe(0);

    await keep(page, "before");
    await touch(page, hand, [{ from: [x, y - 60], to: [x + 90, y + 40] }]);
    await still(page);
    await keep(page, "turned");
    expect(await changed(page, "before", "turned")).toBeGreaterThan(0.05);
    // Turning is no tap.
    expect(await page.locator(".balloons g.marked").count()).toBe(0);
    await touch(page, hand, [{ from: [x - 20, y], to: [x - 90, y] }, { from: [x + 20, y], to: [x + 90, y] }]);
    await still(page);
    await keep(page, "zoomed");
    expect(await changed(page, "turned", "zoomed")).toBeGreaterThan(0.05);
    expect(problems).toEqual([]);
    await context.close();
  });
});
