/** Files in and out of the page in a real browser: doubts about units, the zip, projects, a pause. */
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, boxesStl, canLook, finished, launch, open, openLeaf, stopAndFinish, taken } from "./look.ts";

if (!canLook) console.log("skipped: files in a browser: no chromium or no target/seamwright.html");

const plain = (text: string | null): string => (text ?? "").replaceAll("\u202f", " ");

describe.skipIf(!canLook)("files", { timeout: 300_000 }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, 60_000);
  afterAll(() => browser?.close());

  it("of an unsure unit are asked about with the reason, and the answer sizes the item", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await addModels(page, [{ name: "small.stl", mimeType: "model/stl", buffer: boxesStl([{ low: [0, 0, 0], high: [11, 4, 2] }]) }]);
    const card = page.locator(".card", { hasText: "small.stl" });
    await card.getByText("Which unit is it drawn in?").waitFor();
    const said = plain(await card.locator(".doubt p").first().textContent());
    expect(said).toMatch(/^Taken as inch: .+\.$/);
    await card.getByText("279.4 × 101.6 × 50.8 mm").waitFor();
    await card.locator(".choosable", { hasText: /^cm$/ }).click();
    await card.getByText("110 × 40 × 20 mm").waitFor();
    await page.keyboard.press("Control+z");
    await card.getByText("279.4 × 101.6 × 50.8 mm").waitFor();
    expect(problems).toEqual([]);
    await context.close();
  });

  it("that are no models are refused in a sentence beside their name, and the page goes on", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    // Of several all are told at once, and what is sound is read.
    const letter = { name: "letter.stl", mimeType: "model/stl", buffer: Buffer.from("Dear planner, <b>this is no model</b>.") };
    await addModels(page, [letter, bar("sound.stl"), { ...letter, name: "empty.obj", buffer: Buffer.alloc(0) }]);
    await page.getByText("letter.stl could not be used:").first().waitFor();
    await page.getByText("empty.obj could not be used:").first().waitFor();
    await page.locator(".card", { hasText: "sound.stl" }).getByText("12 triangles").waitFor();
    await page.locator(".card").getByRole("button", { name: "Leave out empty.obj" }).click();
    await page.locator(".card").getByRole("button", { name: "Leave out sound.stl" }).click();
    expect(await page.locator("b").count()).toBe(0);
    await page.locator(".card").getByRole("button", { name: "Leave out letter.stl" }).click();
    await addModels(page, [bar()]);
    await stopAndFinish(page);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("come out as one zip and as a project that opens again with the same decisions", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await addModels(page, [bar()]);
    await page.getByRole("combobox", { name: "worn as" }).selectOption("blade");
    await page.locator(".block-costume input").fill("Lantern Fair");
    await page.locator(".block-costume input").press("Enter");
    await stopAndFinish(page);
    const zip = await taken(page, () => page.locator(".step").click());
    expect(zip.name).toBe("Lantern Fair.zip");
    for (const name of ["plan.json", "pieces/bar-1.stl", "loads/load-01.3mf", "items/bar.stl"]) expect(zip.bytes.includes(name), name).toBe(true);
    await openLeaf(page, "Costume");
    const project = await taken(page, () => page.getByRole("button", { name: "Save the project" }).click());
    expect(project.name).toBe("Lantern Fair.seam.json");
    const { begun, ...settings } = JSON.parse(project.bytes.toString()).models[0].settings;
    expect(settings).toEqual({ role: "blade" });
    // A search by time goes on from the plan it came to: a bar is cut at least twice.
    expect(begun.cuts.length).toBeGreaterThan(1);

    await page.getByRole("button", { name: "Begin an empty costume" }).click();
    await page.getByRole("heading", { name: "bar.stl" }).waitFor({ state: "detached" });
    const chooser = page.waitForEvent("filechooser");
    await page.getByRole("button", { name: "Open a project" }).click();
    await (await chooser).setFiles([{ name: project.name, mimeType: "application/json", buffer: project.bytes }]);
    await page.getByRole("heading", { name: "bar.stl" }).waitFor();
    expect(await page.getByRole("combobox", { name: "worn as" }).inputValue()).toBe("blade");
    expect(await page.locator(".block-costume input").inputValue()).toBe("Lantern Fair");
    await stopAndFinish(page);
    expect(problems).toEqual([]);
    await context.close();
  });

  it("are searched until a pause, which rests the search until the maker goes on", async () => {
    const { context, page, problems } = await open(browser, { width: 1280, height: 800, scheme: "light" });
    await openLeaf(page, "Seams");
    // The demo: its search goes on for seconds, so there is something to pause, even once the first
    // plan is there and its counts can be compared.
    await page.locator(".counts").waitFor({ timeout: 60_000 });
    await page.getByRole("button", { name: "Pause" }).click({ timeout: 60_000 });
    await page.getByText("The search rests. Nothing is lost.").waitFor();
    const before = await page.locator(".counts").textContent();
    await page.waitForTimeout(3000);
    expect(await page.locator(".counts").textContent()).toBe(before);
    expect(await page.locator(".step").textContent()).toBe("Stop and finish");
    await page.getByRole("button", { name: "Go on" }).click();
    await page.getByText("The search rests. Nothing is lost.").waitFor({ state: "detached" });
    await page.locator(".step", { hasText: "Stop and finish" }).click();
    await finished(page);
    expect(problems).toEqual([]);
    await context.close();
  });
});
