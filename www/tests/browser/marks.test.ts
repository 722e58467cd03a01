/**
 * Seams and pieces chosen in a real browser, by hand and by keyboard, and what is marked on them: the plan
 * that follows keeps to it, undo takes it back.
 */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { Plan } from "../../src/planner/records.ts";
import { addModels, balloonEnds, bar, canLook, changed, finished, keep, launch, openLeaf, still, stopAndFinish, takePlan } from "./look.ts";
import { visit } from "./site.ts";

const GLAIVE = join(import.meta.dirname, "../../../demo-meshes/glaive.ply");
const MINUTE = 60_000;

if (!canLook) console.log("skipped: marks in a browser: no chromium or no target/seamwright.html");

/** Presses what marks something, and waits until the plan that is there is left for another. */
async function leaving(page: Page, press: () => Promise<void>): Promise<void> {
  // A small plan may be there again before a test outside has looked.
  const is_left = page.evaluate(
    () =>
      new Promise<void>((left) => {
        const watch = new MutationObserver(() => {
          if (document.querySelector(".step")?.textContent === "Take the pieces") return;
          watch.disconnect();
          left();
        });
        watch.observe(document.body, { subtree: true, childList: true, characterData: true });
      }),
  );
  await press();
  await is_left;
}

/** The same, and waits for the plan that follows. */
async function marking(page: Page, press: () => Promise<void>): Promise<Plan> {
  await leaving(page, press);
  await finished(page);
  return takePlan(page);
}

const named = (page: Page, name: string) => page.getByRole("button", { name, exact: true });

describe.skipIf(!canLook)("what is marked", { timeout: 6 * MINUTE }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, MINUTE);
  afterAll(() => browser?.close());

  it("keeps a seam, gives it free and keeps it away, by keyboard alone", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=2");
    await addModels(page, [bar()]);
    await finished(page);
    const before = await takePlan(page);
    expect(before.seams).toHaveLength(2);
    const list = page.getByRole("list", { name: "Seams" }).getByRole("button");
    expect(await list.count()).toBe(2);
    // One of the two cuts ends at no other.
    for (const k of [0, 1]) {
      await list.nth(k).focus();
      await page.keyboard.press("Enter");
      await page.locator(`.seam-list li:nth-child(${k + 1}) [aria-pressed="true"]`).waitFor();
      if ((await page.getByText("With it stay").count()) === 0) break;
    }
    await named(page, "Keep this seam").focus();
    const kept = await marking(page, () => page.keyboard.press("Enter"));
    const mark = kept.items[0]!.marks!.locked![0]!;
    expect(kept.items[0]!.marks!.locked).toHaveLength(1);
    expect(before.seams.some((seam) => JSON.stringify(seam.plane) === JSON.stringify(mark.plane))).toBe(true);
    expect(kept.seams.some((seam) => JSON.stringify(seam.plane) === JSON.stringify(mark.plane))).toBe(true);
    // The card is still of that seam, and says so.
    await page.getByText("It stays where it is in every plan.").waitFor();
    const unwanted = await marking(page, () => named(page, "No seam here").press("Enter"));
    expect(unwanted.items[0]!.marks!.locked).toBeUndefined();
    const { plane, at_mm } = unwanted.items[0]!.marks!.forbidden![0]!;
    for (const seam of unwanted.seams) {
      const along = Math.abs(seam.plane.normal.reduce((sum, c, axis) => sum + c * plane.normal[axis]!, 0));
      const off_mm = Math.abs(seam.plane.normal.reduce((sum, c, axis) => sum + c * at_mm[axis]!, -seam.plane.offset_mm));
      expect(along < 0.95 || off_mm > 14.7).toBe(true);
    }
    await page.keyboard.press("Escape");
    await page.getByText("1 seam is not wanted").waitFor();
    const free = await marking(page, () => named(page, "Allow them again").press("Enter"));
    expect(free.items[0]!.marks).toBeUndefined();
    expect(free.seams).toEqual(before.seams);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("holds a printed piece that was pressed on the drawing, and undo takes the mark off", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=2");
    await addModels(page, [bar()]);
    await finished(page);
    await still(page);
    const box = (await page.locator("#drawing").boundingBox())!;
    const end = page.locator(".balloons .end").first();
    const [x, y] = [Number(await end.getAttribute("cx")), Number(await end.getAttribute("cy"))];
    await page.mouse.click(box.x + x, box.y + y);
    await page.locator(".card-of h2").waitFor();
    const heading = (await page.locator(".card-of h2").textContent())!;
    expect(heading).toMatch(/^Piece \d, bar-\d$/);
    const id = heading.split(", ")[1]!;
    const printed = await marking(page, () => named(page, "It is printed already").click());
    expect(printed.items[0]!.marks!.printed).toHaveLength(1);
    await named(page, "It is not printed").waitFor();
    expect(await page.locator(".card-of h2").textContent()).toBe(heading);
    const piece = printed.pieces.find((one) => one.id === id)!;
    expect(printed.items[0]!.marks!.printed![0]).toEqual(piece.at_mm);
    // All seams round it stay, no other.
    const round = printed.seams.filter((seam) => seam.pieces.includes(id)).length;
    expect(printed.items[0]!.marks!.locked).toHaveLength(round);
    const free = await marking(page, () => page.getByRole("button", { name: /undo/ }).click());
    expect(free.items[0]!.marks).toBeUndefined();
    // A press beside everything closes the card.
    await page.mouse.click(box.x + box.width * 0.62, box.y + box.height * 0.93);
    await page.locator(".card-of").waitFor({ state: "detached" });
    await openLeaf(page, "Costume");
    expect(problems).toEqual([]);
    await context.close();
  });

  it("begins the search anew with the plan that was there", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1");
    await addModels(page, [bar()]);
    await openLeaf(page, "Seams");
    await page.getByText(/round [3-9]/).waitFor({ timeout: MINUTE });
    await page.locator(".step", { hasText: "Stop and finish" }).click();
    await finished(page);
    const before = await takePlan(page);
    await page.getByRole("list", { name: "Seams" }).getByRole("button").nth(1).click();
    await leaving(page, () => named(page, "Keep this seam").click());
    await stopAndFinish(page);
    const after = await takePlan(page);
    expect(after.items[0]!.marks!.locked!.length).toBeGreaterThan(0);
    expect(after.totals.pieces).toBeLessThanOrEqual(before.totals.pieces);
    expect(after.totals.finishing_min!).toBeLessThanOrEqual(before.totals.finishing_min! + 1e-6);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("moves a seam while it says what it costs and what fits, and sets a new one", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=2");
    await addModels(page, [bar()]);
    await finished(page);
    const before = await takePlan(page);
    await page.getByRole("list", { name: "Seams" }).getByRole("button").first().click();
    const length = async (): Promise<string> => (await page.locator(".probed p").first().textContent())!;
    await named(page, "Move it").click();
    await page.getByText("to join, fill and sand.").waitFor();
    await page.getByLabel("Pull to slide it").fill("60");
    await page.getByText("needs about 2 pieces").waitFor();
    // The page writes what was pulled into the field first, or it would write over what is typed.
    const typed = page.locator(".measure .asked input").first();
    await expect.poll(() => typed.inputValue(), { timeout: MINUTE }).toBe("60");
    await typed.fill("-12.5");
    await typed.press("Enter");
    await expect.poll(() => page.locator(".probed .unfit").count(), { timeout: MINUTE }).toBeLessThanOrEqual(1);
    expect(await length()).toMatch(/^\d+.mm long, about .* to join, fill and sand.$/);
    const moved = await marking(page, () => named(page, "Set it here").click());
    const { plane } = moved.items[0]!.marks!.locked!.at(-1)!;
    const was = before.seams.find((seam) => seam.plane.normal.every((c, axis) => Math.abs(c - plane.normal[axis]!) < 1e-9) && Math.abs(seam.plane.offset_mm - 12.5 - plane.offset_mm) < 1e-6);
    expect(was).toBeDefined();
    expect(moved.seams.some((seam) => JSON.stringify(seam.plane) === JSON.stringify(plane))).toBe(true);

    // A new one through the first piece, square to its longest side.
    await page.locator(".parts .piece").first().click();
    await named(page, "Add a seam").click();
    await page.getByText("A new seam through 1").waitFor();
    await page.getByText("One side fits a bed").waitFor();
    await page.getByText("The other side fits a bed").waitFor();
    const added = await marking(page, () => named(page, "Set it here").press("Enter"));
    expect(added.totals.pieces).toBeGreaterThan(moved.totals.pieces);
    const marks = added.items[0]!.marks!.locked!;
    for (const mark of marks) expect(added.seams.some((seam) => Math.abs(seam.plane.offset_mm - mark.plane.offset_mm) < 0.26)).toBe(true);

    // What is left as it was leaves nothing behind.
    await page.getByRole("list", { name: "Seams" }).getByRole("button").first().click();
    await named(page, "Move it").click();
    await page.getByText("to join, fill and sand.").waitFor();
    // An end of its line is pulled on the drawing, the other stays: it turns or tilts.
    await still(page);
    const ring = (await page.locator(".knob .ring").first().boundingBox())!;
    await page.mouse.move(ring.x + ring.width / 2, ring.y + ring.height / 2);
    await page.mouse.down();
    for (const step of [1, 2, 3]) await page.mouse.move(ring.x + ring.width / 2 + 7 * step, ring.y + ring.height / 2 - 5 * step);
    await page.mouse.up();
    const measures = (): Promise<string[]> => page.locator(".measure .asked input").evaluateAll((inputs) => inputs.map((input) => (input as HTMLInputElement).value));
    await expect.poll(async () => (await measures()).slice(1).some((value) => Number(value) !== 0), { timeout: MINUTE }).toBe(true);
    await page.keyboard.press("Escape");
    await page.getByRole("heading", { name: "Seam between" }).waitFor();
    expect((await takePlan(page)).items[0]!.marks!.locked).toEqual(marks);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("keeps seams off what is chalked by hand, and lets the hand rub it out", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=2");
    await addModels(page, [bar()]);
    await finished(page);
    await still(page);
    const box = (await page.locator("#drawing").boundingBox())!;
    // A place on a seam: between the middles of two neighbours there is one.
    const [from, to] = await balloonEnds(page);
    let at: [number, number] | null = null;
    for (let k = 1; k < 40 && at === null; k += 1) {
      const [x, y] = [0, 1].map((axis) => box[axis === 0 ? "x" : "y"] + from![axis as 0 | 1] + (k / 40) * (to![axis as 0 | 1] - from![axis as 0 | 1]));
      await page.mouse.click(x!, y!);
      await page.waitForTimeout(60);
      if (/^Seam/.test((await page.locator(".card-of h2").allTextContents()).join())) at = [x!, y!];
    }
    expect(at).not.toBeNull();
    await page.keyboard.press("Escape");
    await named(page, "Chalk off").click();
    await page.locator(".card-of .asked input").fill("25");
    await page.locator(".card-of .asked input").press("Enter");
    await keep(page, "bare");
    const chalked = await marking(page, async () => {
      await page.mouse.move(...at!);
      await page.mouse.down();
      await page.mouse.move(at![0] + 3, at![1]);
      await page.mouse.up();
    });
    const chalk = chalked.items[0]!.marks!.chalk!;
    expect(chalk.length).toBeGreaterThan(0);
    for (const { at_mm, kind, radius_mm } of chalk) {
      expect([kind, radius_mm]).toEqual(["off", 25]);
      for (const { plane } of chalked.seams) {
        const off_mm = Math.abs(plane.normal.reduce((sum, c, axis) => sum + c * at_mm[axis]!, -plane.offset_mm));
        expect(off_mm).toBeGreaterThan(20);
      }
    }
    await still(page);
    await keep(page, "chalked");
    // The circle is crossed on the drawing, or what is cut otherwise is seen: both show.
    expect(await changed(page, "bare", "chalked")).toBeGreaterThan(0.002);
    await named(page, "Rub out").click();
    const rubbed = await marking(page, async () => {
      await page.mouse.move(...at!);
      await page.mouse.down();
      await page.mouse.up();
    });
    expect(rubbed.items[0]!.marks).toBeUndefined();
    // Chalk by key: the middle of the drawing.
    await named(page, "Chalk in").click();
    await page.locator("#drawing").focus();
    const by_key = await marking(page, () => page.keyboard.press(" "));
    expect(by_key.items[0]!.marks!.chalk!.map((dab) => dab.kind)).toEqual(["in"]);
    await named(page, "Chalk in").click();
    await named(page, "Lay the chalk down").press("Enter");
    await page.locator(".card-of").waitFor({ state: "detached" });
    expect(problems).toEqual([]);
    await context.close();
  });

  it.skipIf(!existsSync(GLAIVE))("shows plans to choose with small pictures, and makes the one that is taken", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=2");
    await addModels(page, [{ name: "glaive.ply", mimeType: "model/ply", buffer: readFileSync(GLAIVE) }]);
    await finished(page);
    const before = await takePlan(page);
    const cards = page.locator(".plans .pinned");
    await cards.first().locator("canvas").waitFor({ timeout: MINUTE });
    const said = (await cards.first().textContent())!;
    const n_pieces = Number(/(\d+) pieces/.exec(said)![1]);
    const n_held = Number(/(\d+) on supports/.exec(said)?.[1] ?? 0);
    const taken = await marking(page, () => cards.first().press("Enter"));
    expect([n_pieces, n_held]).not.toEqual([before.totals.pieces, before.totals.held]);
    expect([taken.totals.pieces, taken.totals.held]).toEqual([n_pieces, n_held]);
    const marks = taken.items[0]!.marks!.locked!;
    for (const seam of taken.seams) expect(marks.some((mark) => JSON.stringify(mark.plane) === JSON.stringify(seam.plane))).toBe(true);
    expect(taken.audit!.ok).toBe(true);
    const back = await marking(page, () => page.getByRole("button", { name: /undo/ }).click());
    expect(back.seams).toEqual(before.seams);
    expect(problems).toEqual([]);
    await context.close();
  });
});
