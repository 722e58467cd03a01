/**
 * Serves the built folder on this machine and counts what is asked of it; opens either output.
 */
import { readFileSync } from "node:fs";
import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import { extname, join, normalize } from "node:path";
import type { Browser, BrowserContext, Page, Worker } from "playwright-core";
import { SINGLE_FILE } from "./look.ts";

const FOLDER = join(import.meta.dirname, "../../../target/page");
const KINDS: Record<string, string> = { ".html": "text/html; charset=utf-8", ".js": "text/javascript", ".css": "text/css", ".wasm": "application/wasm", ".json": "application/json" };

export interface Site {
  address: string;
  /** Every address asked for. */
  asked: string[];
  close(): Promise<void>;
}

export async function serve(): Promise<Site> {
  const asked: string[] = [];
  const server: Server = createServer((request, answer) => {
    const path = new URL(request.url ?? "/", "http://here").pathname;
    asked.push(request.url ?? "");
    try {
      const file = join(FOLDER, normalize(path === "/" ? "/index.html" : path));
      const bytes = readFileSync(file);
      answer.writeHead(200, { "content-type": KINDS[extname(file)] ?? "text/plain" }).end(bytes);
    } catch {
      answer.writeHead(404).end();
    }
  });
  await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
  const address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const close = (): Promise<void> => {
    server.closeAllConnections();
    return new Promise((done) => server.close(() => done()));
  };
  return { address, asked, close };
}

/** Workers of a role; names are given when they are started. */
export async function workers(page: Page, role: string): Promise<Worker[]> {
  const all = page.workers();
  const names = await Promise.all(all.map((one) => one.evaluate(() => self.name).catch(() => "")));
  return all.filter((_, k) => names[k] === role);
}

export interface Visit {
  context: BrowserContext;
  page: Page;
  problems: string[];
  /** Requests of the page and its workers that left for a network. */
  network: string[];
}

/** Opens an address, or the single file from the disk where none is given; `first` runs before the page's own script. */
export async function visit(browser: Browser, search: string, address = `file://${SINGLE_FILE}`, first?: () => void): Promise<Visit> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, acceptDownloads: true });
  const page = await context.newPage();
  if (first !== undefined) await page.addInitScript(first);
  const problems: string[] = [];
  const network: string[] = [];
  page.on("pageerror", (problem) => problems.push(problem.message));
  context.on("request", (request) => {
    if (/^(https?|wss?):/.test(request.url())) network.push(request.url());
  });
  await page.goto(`${address}${address.startsWith("http") ? "/" : ""}${search}`);
  // A first visit opens the demo, and the Seams leaf with it.
  await page.locator(".tabs [aria-current]", { hasText: "Seams" }).waitFor();
  return { context, page, problems, network };
}
