/**
 * The pointer on the drawing in a real browser: the piece that is marked is the one seen there,
 * whatever the planner is doing, and a finder that dies or hangs is replaced.
 *
 * What is seen is known by the picture of facts, through the balloons: a balloon that is not behind
 * points at a place where that picture shows its piece.
 */
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Met } from "../../src/planner/records.ts";
import { addModels, bar, boxesStl, canLook, keep, launch, openLeaf, still, stopAndFinish } from "./look.ts";
import { visit, workers } from "./site.ts";

const MINUTE = 60_000;
/** A place on the canvas where nothing is drawn. */
const NOWHERE = [5, 300] as const;

if (!canLook) console.log("skipped: the pointer in a browser: no chromium or no target/seamwright.html");

/**
 * Keeps what finders answer. A keeper that has read an item named "uncut" is ended without a word,
 * so that it is never cut.
 */
const LISTENS = (): void => {
  const kept: { answers: (Met | null)[] } = Object.assign(window, { answers: [] });
  const Plain = window.Worker;
  window.Worker = class extends Plain {
    constructor(address: string | URL, options?: WorkerOptions) {
      super(address, options);
      this.addEventListener("message", ({ data }) => {
        if (options?.name === "finder" && data.kind === "found") kept.answers.push(data.met);
        if (data.kind === "news" && data.news.kind === "read" && data.news.item === "uncut") this.terminate();
      });
    }
  };
};

/** What was answered last. */
const answer = (page: Page): Promise<Met | null | undefined> => page.evaluate(() => (window as unknown as { answers: (Met | null)[] }).answers.at(-1));

async function pointAt(page: Page, [x, y]: readonly [number, number]): Promise<void> {
  const box = (await page.locator("#drawing").boundingBox())!;
  await page.mouse.move(box.x + x, box.y + y);
}

/** Waits until the pieces with these numbers, and no others, are marked on the drawing. */
const marks = (page: Page, due: readonly string[]): Promise<void> =>
  expect.poll(() => page.locator(".balloons g.marked text").allTextContents(), { timeout: MINUTE }).toEqual(due);

/** Balloons whose piece is in sight: number and where they point. */
const seen = (page: Page): Promise<{ number: string; at: [number, number] }[]> =>
  page.locator(".balloons g:not(.behind)").evaluateAll((all) =>
    all.flatMap((one) => {
      const end = one.querySelector(".end");
      return end === null ? [] : [{ number: one.querySelector("text")?.textContent ?? "", at: [Number(end.getAttribute("cx")), Number(end.getAttribute("cy"))] as [number, number] }];
    }),
  );

/** Places all over the canvas that no balloon covers: those well inside what is drawn, and well outside. */
async function covered(page: Page): Promise<{ all: [number, number][]; none: [number, number][] }> {
  await keep(page, "sight");
  return page.evaluate(() => {
    const drawing = document.querySelector("#drawing")!;
    const { left, top } = drawing.getBoundingClientRect();
    const { data, width } = (window as unknown as { kept: Record<string, ImageData> }).kept["sight"]!;
    const places = Array.from({ length: 48 }, (_, k): [number, number] => [330 + 75 * (k % 8), 130 + 95 * Math.floor(k / 8)]);
    const free = places.filter(([x, y]) => document.elementFromPoint(left + x, top + y) === drawing);
    const around = ([x, y]: [number, number]): number[] => [-4, 0, 4].flatMap((dx) => [-4, 0, 4].map((dy) => data[4 * ((y + dy) * width + x + dx) + 3]!));
    return { all: free.filter((place) => around(place).every((alpha) => alpha === 255)), none: free.filter((place) => around(place).every((alpha) => alpha === 0)) };
  });
}

describe.skipIf(!canLook)("the pointer", { timeout: 6 * MINUTE }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, MINUTE);
  afterAll(() => browser?.close());

  const opened = (search: string) => visit(browser, search, undefined, LISTENS);

  it("marks the piece that is seen under it from several sides, and says where on its surface", async () => {
    const { context, page, problems } = await opened("?searchers=1&effort=2");
    await addModels(page, [bar(), { ...bar("tower.stl"), buffer: boxesStl([{ low: [0, 0, 0], high: [90, 90, 470] }]) }]);
    await stopAndFinish(page);
    await page.locator(".pinned", { hasText: "all items" }).click();
    expect(await workers(page, "finder")).toEqual([]);
    const sizes: Record<string, readonly number[]> = { bar: [620, 60, 40], tower: [90, 90, 470] };
    const numbers = new Set<string>();
    let n_places = 0;
    for (const [keys, pull] of [["", 0], ["ArrowRight ".repeat(5), 0], ["ArrowUp ".repeat(4), 60], ["ArrowLeft ".repeat(12), 100]] as const) {
      await page.locator("#drawing").focus();
      for (const key of keys.split(" ").filter((one) => one !== "")) await page.keyboard.press(key);
      await page.getByRole("slider", { name: "Pull apart" }).fill(String(pull));
      await still(page);
      const sights = await seen(page);
      expect(sights.length).toBeGreaterThan(1);
      for (const { number, at } of sights) {
        await pointAt(page, at);
        await marks(page, [number]);
        numbers.add(number);
        // The place is told in the item, as if nothing was pulled apart, and lies on its box; cut
        // faces, seen when pulled apart, are inside of it. Source: the boxes above.
        const met = (await answer(page))!;
        const size = sizes[met.item]!;
        const outside_mm = met.at_mm.map((mm, axis) => Math.max(-mm, mm - size[axis]!));
        expect(Math.max(...outside_mm)).toBeLessThan(1e-3);
        if (pull === 0) expect(Math.max(...outside_mm)).toBeGreaterThan(-1e-3);
        await pointAt(page, NOWHERE);
        await marks(page, []);
      }
      // All over the drawing: there is a piece exactly where something is drawn. In turns, so that
      // every step has to change the mark.
      const { all, none } = await covered(page);
      for (const [k, place] of all.entries()) {
        await pointAt(page, place);
        await expect.poll(async () => (await page.locator(".balloons g.marked").count()) === 1, { timeout: MINUTE }).toBe(true);
        await pointAt(page, none[k % none.length]!);
        await marks(page, []);
      }
      n_places += all.length;
    }
    expect(numbers.size).toBe(await page.locator(".parts tbody tr").count());
    expect(n_places).toBeGreaterThan(10);
    expect(await workers(page, "finder")).toHaveLength(1);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("marks while the keeper is in a step of finishing that does not end", async () => {
    const { context, page, problems } = await opened("?searchers=1&effort=100000");
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await page.locator(".balloons .end").nth(1).waitFor({ timeout: MINUTE });
    const [keeper] = await workers(page, "keeper");
    await keeper!.evaluate(() => void setTimeout(() => { for (;;); }));
    await page.locator(".step", { hasText: "Stop and finish" }).click();
    await still(page);
    const sights = await seen(page);
    expect(sights.length).toBeGreaterThan(1);
    for (const { number, at } of sights) {
      await pointAt(page, at);
      await marks(page, [number]);
    }
    expect(problems).toEqual([]);
    await context.close();
  });

  it("is on an item that is not cut yet without marking a piece", async () => {
    const { context, page, problems } = await opened("?searchers=1&effort=1");
    await addModels(page, [bar(), { ...bar("uncut.stl"), buffer: boxesStl([{ low: [0, 0, 0], high: [400, 300, 400] }]) }]);
    await openLeaf(page, "Seams");
    await page.locator(".pinned", { hasText: "uncut" }).click({ timeout: MINUTE });
    await still(page);
    const { all, none } = await covered(page);
    expect(all.length).toBeGreaterThan(2);
    for (const [k, place] of all.entries()) {
      await pointAt(page, place);
      await expect.poll(() => answer(page), { timeout: MINUTE }).toEqual({ item: "uncut", at_mm: expect.any(Array) });
      await pointAt(page, none[k % none.length]!);
      await expect.poll(() => answer(page), { timeout: MINUTE }).toBeNull();
      await marks(page, []);
    }
    expect(problems).toEqual([]);
    await context.close();
  });

  it.each([["dies", "felled by a test"], ["hangs", "did not answer"]])("is answered by another finder where one %s", async (what, said) => {
    const { context, page } = await opened("?searchers=1&effort=2&hang-ms=4000");
    await addModels(page, [bar()]);
    await stopAndFinish(page);
    await still(page);
    const [first, second] = await seen(page);
    await pointAt(page, first!.at);
    await marks(page, [first!.number]);
    const [victim] = await workers(page, "finder");
    if (what === "dies") await victim!.evaluate(() => void setTimeout(() => { throw new Error("felled by a test"); }));
    else await victim!.evaluate(() => void setTimeout(() => { for (;;); }));
    await pointAt(page, second!.at);
    await marks(page, [second!.number]);
    await page.locator("p", { hasText: new RegExp(said) }).waitFor({ timeout: MINUTE });
    await pointAt(page, first!.at);
    await marks(page, [first!.number]);
    await context.close();
  });
});
