/**
 * Helpers to look at the page in a real browser: open the single file, give it models, read pixels.
 *
 * Models are made here, small enough for software graphics. Nothing is faked: the page under test is
 * the built one with its real planner.
 */
import { existsSync, mkdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { type Browser, type BrowserContext, chromium, type Page } from "playwright-core";
import type { Plan } from "../../src/planner/records.ts";
import { unzipped } from "../unzip.ts";

const at = (path: string): string => fileURLToPath(new URL(path, import.meta.url));
export const SINGLE_FILE = at("../../../target/seamwright.html");
export const AXE = at("../../node_modules/axe-core/axe.min.js");
const SHOTS = at("../../../target/shots/");
export const CHROMIUM = process.env["SEAMWRIGHT_CHROMIUM"] ?? "/usr/bin/chromium";

export const canLook = existsSync(CHROMIUM) && existsSync(SINGLE_FILE);

export const ARGUMENTS = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--use-gl=angle", "--use-angle=swiftshader"];

export function launch(): Promise<Browser> {
  return chromium.launch({ executablePath: CHROMIUM, args: ARGUMENTS });
}

export interface Opened {
  context: BrowserContext;
  page: Page;
  /** What went wrong in the page, which no test allows. */
  problems: string[];
}

export async function open(browser: Browser, how: { width: number; height: number; scheme: "light" | "dark"; touch?: boolean }): Promise<Opened> {
  const context = await browser.newContext({ viewport: { width: how.width, height: how.height }, colorScheme: how.scheme, hasTouch: how.touch ?? false, acceptDownloads: true });
  const page = await context.newPage();
  const problems: string[] = [];
  page.on("pageerror", (problem) => problems.push(problem.stack ?? problem.message));
  page.on("console", (message) => {
    if (message.type() === "error") problems.push(message.text());
  });
  await page.goto(`file://${SINGLE_FILE}?searchers=1`);
  await page.locator("h1").waitFor();
  return { context, page, problems };
}

/** A binary STL of boxes, each closed and outward. */
export function boxesStl(boxes: readonly { low: readonly number[]; high: readonly number[] }[]): Buffer {
  const faces = [[0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7]];
  const bytes = Buffer.alloc(84 + 50 * 12 * boxes.length);
  bytes.writeUInt32LE(12 * boxes.length, 80);
  boxes.forEach(({ low, high }, b) => {
    const corner = (k: number): number[] => [(k & 1) !== ((k >> 1) & 1) ? high[0]! : low[0]!, k & 2 ? high[1]! : low[1]!, k & 4 ? high[2]! : low[2]!];
    faces.forEach((face, t) =>
      face.forEach((k, c) => corner(k).forEach((value, axis) => bytes.writeFloatLE(value, 84 + 50 * (12 * b + t) + 12 + 12 * c + 4 * axis))),
    );
  });
  return bytes;
}

/** A bar 620 mm long: no bed of 220 takes it whole, so it is cut. */
export const bar = (name = "bar.stl"): { name: string; mimeType: string; buffer: Buffer } => ({
  name,
  mimeType: "model/stl",
  buffer: boxesStl([{ low: [0, 0, 0], high: [620, 60, 40] }]),
});

/** Gives models to the page as the maker does; they take the place of the demo. */
export async function addModels(page: Page, files: readonly { name: string; mimeType: string; buffer: Buffer }[]): Promise<void> {
  await openLeaf(page, "Costume");
  const chooser = page.waitForEvent("filechooser");
  await page.locator(".leaf .word").first().click();
  await (await chooser).setFiles([...files]);
  for (const file of files) await page.getByRole("heading", { name: file.name }).waitFor();
}

export async function openLeaf(page: Page, name: string): Promise<void> {
  await page.locator(".tabs button", { hasText: name }).click();
  await page.locator(`.tabs [aria-current]`, { hasText: name }).waitFor();
}

/** Waits until the plan of what is on the sheet now is finished. */
export async function finished(page: Page, minutes = 3): Promise<void> {
  await openLeaf(page, "Seams");
  await page.locator(".step", { hasText: "Take the pieces" }).waitFor({ timeout: minutes * 60_000 });
}

/** Ends the search and waits for the plan. */
export async function stopAndFinish(page: Page): Promise<void> {
  await openLeaf(page, "Seams");
  const step = page.locator(".step", { hasText: /Stop and finish|Take the pieces/ });
  await step.waitFor({ timeout: 120_000 });
  if ((await step.textContent()) === "Stop and finish") await step.click();
  await finished(page);
}

/** Presses what gives a file away; its name and what is in it. */
export async function taken(page: Page, press: () => Promise<void>): Promise<{ name: string; bytes: Buffer }> {
  const coming = page.waitForEvent("download");
  await press();
  const download = await coming;
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

/** Takes the pieces away: files by path. */
export async function takeFiles(page: Page): Promise<Map<string, Buffer>> {
  const zip = await taken(page, () => page.locator(".step", { hasText: "Take the pieces" }).click());
  return unzipped(zip.bytes);
}

/** Takes the pieces away: the plan among them. */
export async function takePlan(page: Page): Promise<Plan> {
  return JSON.parse((await takeFiles(page)).get("plan.json")!.toString()) as Plan;
}

/** Waits until all that was said to the drawing is on the canvas. */
export async function still(page: Page): Promise<void> {
  const drawing = page.locator("#drawing");
  await page
    .waitForFunction(() => document.querySelector<HTMLCanvasElement>("#drawing")?.dataset["drawn"] === "still", null, { timeout: 60_000 })
    .catch(async () => {
      throw new Error(`the drawing is ${await drawing.getAttribute("data-drawn")}; said: ${await page.locator(".said").allTextContents()}`);
    });
}

/** Where the balloons' lines end, on the canvas. */
export const balloonEnds = (page: Page): Promise<[number, number][]> =>
  page.locator(".balloons .end").evaluateAll((circles) => circles.map((circle): [number, number] => [Number(circle.getAttribute("cx")), Number(circle.getAttribute("cy"))]));

export async function shoot(page: Page, name: string): Promise<void> {
  mkdirSync(SHOTS, { recursive: true });
  await page.screenshot({ path: `${SHOTS}${name}.png` });
}

/**
 * Keeps the pixels of the drawing alone, without what lies over it, in the page under a name.
 *
 * They stay there: four million numbers take longer to carry over than to compare.
 */
export function keep(page: Page, name: string): Promise<void> {
  return page.evaluate((name) => {
    const drawing = document.querySelector<HTMLCanvasElement>("#drawing")!;
    const copy = document.createElement("canvas");
    [copy.width, copy.height] = [drawing.width, drawing.height];
    const context = copy.getContext("2d", { willReadFrequently: true })!;
    context.drawImage(drawing, 0, 0);
    const kept = ((window as unknown as { kept?: Record<string, ImageData> }).kept ??= {});
    kept[name] = context.getImageData(0, 0, copy.width, copy.height);
  }, name);
}

/**
 * Keeps the drawing as it stands on the screen, with paper below it and balloons above.
 *
 * A canvas drawn on the page's own thread shows its pixels to nobody else once they are on the screen.
 */
export async function keepScreen(page: Page, name: string): Promise<void> {
  const png = await page.screenshot({ clip: (await page.locator("#drawing").boundingBox())! });
  await page.evaluate(
    async ([name, base64]) => {
      const bytes = Uint8Array.from(atob(base64!), (letter) => letter.charCodeAt(0));
      const image = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
      const copy = document.createElement("canvas");
      [copy.width, copy.height] = [image.width, image.height];
      const context = copy.getContext("2d")!;
      context.drawImage(image, 0, 0);
      const kept = ((window as unknown as { kept?: Record<string, ImageData> }).kept ??= {});
      kept[name!] = context.getImageData(0, 0, copy.width, copy.height);
    },
    [name, png.toString("base64")],
  );
}

/** Part of what is drawn in either of two kept pictures that differs so much that one sees it. */
export function changed(page: Page, a: string, b: string): Promise<number> {
  return page.evaluate(
    ([a, b]) => {
      const { kept } = window as unknown as { kept: Record<string, ImageData> };
      const [from, to] = [kept[a!]!.data, kept[b!]!.data];
      let [n_drawn, n_changed] = [0, 0];
      for (let k = 0; k < from.length; k += 4) {
        if (from[k + 3] === 0 && to[k + 3] === 0) continue;
        n_drawn += 1;
        if ([0, 1, 2, 3].some((channel) => Math.abs(from[k + channel]! - to[k + channel]!) > 12)) n_changed += 1;
      }
      return n_changed / Math.max(1, n_drawn);
    },
    [a, b],
  );
}

/** The middle colour, rgba, of nine pixels of a kept picture round each place. */
export function coloursAt(page: Page, name: string, places: readonly (readonly [number, number])[]): Promise<number[][]> {
  return page.evaluate(
    ([name, places]) => {
      const { data, width } = (window as unknown as { kept: Record<string, ImageData> }).kept[name]!;
      return places.map(([x, y]) => {
        const around = [-3, 0, 3].flatMap((dx) => [-3, 0, 3].map((dy) => 4 * ((Math.round(y) + dy) * width + Math.round(x) + dx)));
        return [0, 1, 2, 3].map((channel) => around.map((k) => data[k + channel]!).sort((a, b) => a - b)[4]!);
      });
    },
    [name, places] as const,
  );
}
