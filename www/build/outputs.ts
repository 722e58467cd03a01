/**
 * Last step of the build: the policy, the service worker and the single file.
 *
 * How: the folder gets a Content-Security-Policy for its own files and a service worker that keeps
 * them all, so that it opens again without a network. The single file holds script, style and the
 * parts (`parts.ts`) inside itself and may connect to nothing at all.
 * Parts are fetched by the folder and read from data blocks by the single file; which of the two it
 * is the script finds out by looking for the block (`src/planner/parts.ts`).
 */
import { createHash } from "node:crypto";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { deflateRawSync } from "node:zlib";
import type { Plugin } from "vite";

/** Files beside the script that both outputs carry: name in the folder, where it is made. */
const PARTS: [string, string][] = [
  ["planner.wasm", "src/planner/gen/planner_bg.wasm"],
  ["demo.seam.json", "src/planner/gen/demo.seam.json"],
  ["notices.txt", "src/planner/gen/notices.txt"],
];

const SINGLE_FILE = "../target/seamwright.html";

const sha256 = (text: string | Uint8Array): string => createHash("sha256").update(text).digest("base64");

/** `</script` and `<!--` would end or change a script that stands in the page. */
const inScript = (code: string): string => code.replace(/<\/(script)/gi, "<\\/$1").replace(/<!--/g, "<\\!--");

const policy = (rules: Record<string, string>): string =>
  `<meta http-equiv="Content-Security-Policy" content="${Object.entries(rules).map(([name, value]) => `${name} ${value}`).join("; ")}">`;

const NEVER = { "base-uri": "'none'", "form-action": "'none'", "object-src": "'none'", "frame-src": "'none'" };

const folderPolicy = (): string =>
  policy({
    "default-src": "'none'",
    "script-src": "'self' 'wasm-unsafe-eval'",
    "style-src": "'self'",
    "worker-src": "blob: 'self'",
    "connect-src": "'self'",
    "img-src": "'self' data: blob:",
    "manifest-src": "'self'",
    ...NEVER,
  });

const singlePolicy = (script: string, style: string): string =>
  policy({
    "default-src": "'none'",
    "script-src": `'sha256-${sha256(script)}' 'wasm-unsafe-eval'`,
    "style-src": style === "" ? "'none'" : `'sha256-${sha256(style)}'`,
    "worker-src": "blob:",
    "connect-src": "'none'",
    "img-src": "data: blob:",
    ...NEVER,
  });

/** The policy first: it holds only for what follows it. Replacers are functions, since code holds `$&`. */
const withHead = (html: string, lines: string): string => html.replace(/<head>/, () => `<head>\n${lines}`);

/** The service worker: keeps every file of this build, answers from there first. */
const serviceWorker = (files: string[], version: string): string => `// Keeps the page for use without a network; made by the build.
const NAME = "seamwright-${version}";
const FILES = ${JSON.stringify(files)};
self.addEventListener("install", (event) =>
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting())));
self.addEventListener("activate", (event) =>
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(names.filter((name) => name.startsWith("seamwright-") && name !== NAME).map((name) => caches.delete(name))))
    .then(() => self.clients.claim())));
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || new URL(event.request.url).origin !== self.location.origin) return;
  event.respondWith(caches.open(NAME)
    .then((cache) => cache.match(event.request, { ignoreSearch: true }))
    .then((kept) => kept ?? fetch(event.request)));
});
`;

export function outputs(): Plugin {
  let single: ((parts: [string, Uint8Array][]) => string) | null = null;
  return {
    name: "seamwright-outputs",
    apply: "build",
    enforce: "post",
    generateBundle(_options, bundle) {
      const page = bundle["index.html"];
      if (page?.type !== "asset") throw new Error("the build made no index.html");
      const html = String(page.source);
      const script = Object.values(bundle).find((file) => file.type === "chunk" && file.isEntry);
      if (script?.type !== "chunk") throw new Error("the build made no script");
      const extra = Object.keys(bundle).filter((name) => name !== script.fileName && /\.m?js$/.test(name));
      if (extra.length > 0) throw new Error(`one script is expected, also made: ${extra.join(", ")}`);
      const style = Object.values(bundle).find((file) => file.fileName.endsWith(".css"));
      const css = style?.type === "asset" ? String(style.source) : "";
      const code = inScript(script.code);

      single = (parts) => {
        const tags = html
          .replace(/<script\b[^>]*\bsrc="[^"]*"[^>]*><\/script>/g, "")
          .replace(/<link\b[^>]*rel="(stylesheet|manifest|modulepreload)"[^>]*>/g, "");
        const blocks = parts.map(([name, bytes]) =>
          `<script type="application/octet-stream" id="part-${name}">${deflateRawSync(bytes, { level: 9 }).toString("base64")}</script>\n`);
        const styled = css === "" ? "" : `<style>${css}</style>\n`;
        return withHead(tags, singlePolicy(code, css) + "\n" + styled)
          .replace(/<\/body>/, () => `${blocks.join("")}<script type="module">${code}</script>\n</body>`);
      };

      page.source = withHead(html, folderPolicy());
      const parts = PARTS.filter(([, from]) => existsSync(from));
      for (const [fileName, from] of parts) this.emitFile({ type: "asset", fileName, source: readFileSync(from) });
      const files = ["./", ...Object.keys(bundle), ...parts.map(([name]) => name)];
      const all = createHash("sha256");
      for (const name of Object.keys(bundle).sort()) {
        const file = bundle[name];
        if (file) all.update(name).update(file.type === "asset" ? file.source : file.code);
      }
      for (const [, from] of parts) all.update(readFileSync(from));
      const version = all.digest("hex").slice(0, 16);
      this.emitFile({ type: "asset", fileName: "service-worker.js", source: serviceWorker([...new Set(files)], version) });
    },
    closeBundle() {
      if (single === null) return;
      const parts = PARTS.filter(([, from]) => existsSync(from)).map(([name, from]): [string, Uint8Array] => [name, readFileSync(from)]);
      writeFileSync(SINGLE_FILE, single(parts));
    },
  };
}
