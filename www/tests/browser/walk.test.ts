/** The page by keyboard alone, where parts of it lie over others, and the way out of what cannot be used. */
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, boxesStl, canLook, finished, launch, open, openLeaf } from "./look.ts";

if (!canLook) console.log("skipped: the page by keyboard: no chromium or no target/seamwright.html");

const MINUTE = 60_000;

const isIn = (page: Page, selector: string): Promise<boolean> => page.evaluate((selector) => document.activeElement?.closest(selector) != null, selector);

async function press(page: Page, name: string): Promise<void> {
  await page.getByRole("button", { name, exact: true }).focus();
  await page.keyboard.press("Enter");
}

describe.skipIf(!canLook)("the page by keyboard", { timeout: 300_000 }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, MINUTE);
  afterAll(() => browser?.close());

  it("takes the focus to what is laid over the drawing and back where it was", async () => {
    const { context, page, problems } = await open(browser, { width: 390, height: 844, scheme: "light" });
    await addModels(page, [bar(), bar("second.stl")]);
    await openLeaf(page, "Seams");
    await page.locator(".counts").waitFor({ timeout: MINUTE });
    for (const [name, panel] of [["Items and search", ".searching"], ["Parts list", "#parts"], ["Notices", ".notices-sheet"]] as const) {
      await press(page, name);
      await expect.poll(() => isIn(page, panel), { timeout: MINUTE }).toBe(true);
      await page.keyboard.press("Escape");
      await expect.poll(() => page.evaluate(() => document.activeElement?.textContent?.slice(0, 40)), { message: name, timeout: MINUTE }).toBe(name);
    }
    // An item chosen from the cards is drawn, with nothing over it.
    await press(page, "Items and search");
    await expect.poll(() => isIn(page, ".searching"), { timeout: MINUTE }).toBe(true);
    await page.locator(".pinned", { hasText: "second" }).focus();
    await page.keyboard.press("Enter");
    await page.locator("h1", { hasText: "second" }).waitFor();
    expect(await page.locator(".sheet").getAttribute("data-over")).toBe("none");
    expect(problems).toEqual([]);
    await context.close();
  });

  it("leads from a model that cannot be read to the plan of the others by the next step alone", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "dark" });
    await addModels(page, [bar(), { name: "nothing.stl", mimeType: "model/stl", buffer: Buffer.alloc(0) }]);
    await openLeaf(page, "Seams");
    await page.getByText("nothing.stl could not be used: the file is empty (0 bytes).").waitFor();
    for (const label of ["See to the model", "Leave out nothing.stl", "See the seams"]) {
      await page.locator(".step", { hasText: label }).waitFor();
      await page.locator(".step").focus();
      await page.keyboard.press("Enter");
      // The card of the model takes the focus two frames after its leaf is drawn; a key before that would go to it.
      if (label === "See to the model") await expect.poll(() => isIn(page, "[id^=model-]"), { timeout: MINUTE }).toBe(true);
    }
    await finished(page);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("goes on beside what was taken away, and stays on a step that is not to be done now", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await addModels(page, [bar(), bar("second.stl")]);
    await page.getByRole("button", { name: "Leave out" }).first().focus();
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { name: "bar.stl" }).waitFor({ state: "detached" });
    await expect.poll(() => isIn(page, ".leaf"), { timeout: MINUTE }).toBe(true);
    const step = page.locator(".step");
    await step.focus();
    await page.keyboard.press("Enter");
    // The parts list comes above it.
    await page.locator("#parts").waitFor({ timeout: MINUTE });
    await step.filter({ hasText: "Stop and finish" }).waitFor({ timeout: MINUTE });
    expect(await isIn(page, ".step")).toBe(true);
    // Waiting, it cannot be pressed, and pressing it does nothing.
    for (const _ of [1, 2]) await page.keyboard.press("Enter");
    await step.filter({ hasText: "Take the pieces" }).waitFor({ timeout: MINUTE });
    expect(await isIn(page, ".step")).toBe(true);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("keeps a number that cannot be taken as it was typed, says what is asked, and plans with the one before", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await openLeaf(page, "Beds");
    const width = page.getByRole("textbox", { name: /^width/ });
    for (const typed of ["abc", "", "5000"]) {
      await width.fill(typed);
      await width.press("Tab");
      // Whatever else is drawn meanwhile.
      await page.getByRole("button", { name: "Add a bed of 180" }).click();
      await expect.poll(() => page.locator(".bed").count(), { timeout: MINUTE }).toBe(2);
      expect([await width.first().inputValue(), await width.first().getAttribute("aria-invalid")], typed).toEqual([typed, "true"]);
      await page.getByRole("button", { name: "Leave out the bed of 180" }).click();
      await expect.poll(() => page.locator(".bed").count(), { timeout: MINUTE }).toBe(1);
    }
    await page.getByRole("heading", { name: "220 × 220 × 250" }).waitFor();
    await width.fill("230,5");
    await width.press("Enter");
    await page.getByRole("heading", { name: "230.5 × 220 × 250" }).waitFor();
    expect(await width.inputValue()).toBe("230.5");
    expect(await page.locator("[aria-invalid=true]").count()).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("says on the Seams leaf what it guessed about a file, and leads to the question", async () => {
    const { context, page, problems } = await open(browser, { width: 390, height: 844, scheme: "dark" });
    // A bead in mm, a haft in dm; the file does not say.
    const haft = { name: "haft.stl", mimeType: "model/stl", buffer: boxesStl([{ low: [0, 0, 0], high: [6.2, 0.6, 0.4] }]) };
    await addModels(page, [bar(), bar("second.stl"), haft]);
    await openLeaf(page, "Seams");
    await page.getByText("haft.stl does not say its unit").waitFor({ timeout: 60_000 });
    await press(page, "Answer for haft.stl");
    const card = page.getByRole("region", { name: "How haft.stl is made" });
    await expect.poll(() => card.evaluate((element) => element === document.activeElement)).toBe(true);
    expect(await card.getByText("Which unit is it drawn in?").isVisible()).toBe(true);
    await card.getByRole("radio", { name: "dm", exact: true }).focus();
    await page.keyboard.press("Space");
    await card.getByText("620 × 60 × 40").waitFor({ timeout: 60_000 });
    await openLeaf(page, "Seams");
    expect(await page.getByText("does not say its unit").count()).toBe(0);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("says of a file that is no project that it is none, takes it for no model, and is put away when read", async () => {
    const { context, page, problems } = await open(browser, { width: 390, height: 844, scheme: "light" });
    await addModels(page, [bar()]);
    for (const away of ["button", "Escape"]) {
      const chooser = page.waitForEvent("filechooser");
      await page.getByRole("button", { name: "Open a project" }).click();
      await (await chooser).setFiles([{ name: "costume.zip", mimeType: "application/zip", buffer: Buffer.from("PK\u0003\u0004 no project") }]);
      const said = page.getByRole("status").filter({ hasText: "costume.zip could not be opened" });
      await said.waitFor();
      expect(await page.locator(".card").count()).toBe(1);
      if (away === "button") await page.getByRole("button", { name: "Put away" }).click();
      else await page.keyboard.press("Escape");
      await said.waitFor({ state: "detached" });
    }
    expect(problems).toEqual([]);
    await context.close();
  });
});
