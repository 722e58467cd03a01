/**
 * Files in and out: choosing, dropping, reading, and saving to the maker's downloads.
 */
import type { ModelDecision } from "../state/state.ts";
import { randomId, type Shelf } from "./shelf.ts";

/** A file this large could not be held twice in a 32-bit address space, once as it is and once read. */
export const LARGEST_BYTES = 2e9;
export const MODEL_ENDINGS = ".stl,.obj,.ply,.off,.3mf";
export const PROJECT_ENDING = ".seam.json";

/** Asks for files; gives none where the maker thinks better of it. */
export function chooseFiles(accept: string, several: boolean): Promise<File[]> {
  return new Promise((resolve) => {
    const input = document.createElement("input");
    input.type = "file";
    input.accept = accept;
    input.multiple = several;
    input.hidden = true;
    const end = (files: File[]): void => {
      input.remove();
      resolve(files);
    };
    input.addEventListener("change", () => end([...(input.files ?? [])]));
    input.addEventListener("cancel", () => end([]));
    // In the document, so that a browser may not collect it while the dialogue is open.
    document.body.append(input);
    input.click();
  });
}

export interface ReadFiles {
  models: ModelDecision[];
  too_large: string[];
  unread: string[];
}

/** Reads model files onto the shelf. */
export async function readModels(files: readonly File[], shelf: Shelf): Promise<ReadFiles> {
  const found: ReadFiles = { models: [], too_large: [], unread: [] };
  for (const file of files) {
    if (file.size > LARGEST_BYTES) {
      found.too_large.push(file.name);
      continue;
    }
    try {
      const bytes = new Uint8Array(await file.arrayBuffer());
      const key = randomId();
      shelf.put(key, bytes);
      found.models.push({ key, name: file.name, n_bytes: bytes.length, settings: {} });
    } catch {
      // The file was moved or taken away between choosing and reading; the page says so.
      found.unread.push(file.name);
    }
  }
  return found;
}

export const isProject = (file: File): boolean => file.name.endsWith(PROJECT_ENDING) || file.name.endsWith(".json");

export function saveAs(name: string, bytes: Uint8Array<ArrayBuffer>, type: string): void {
  const address = URL.createObjectURL(new Blob([bytes], { type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  // Long enough for any browser to have begun the download; the bytes are free again afterwards.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

/** A costume's name as a file name: what file systems refuse becomes a hyphen. */
export function fileNameOf(costume: string, otherwise: string): string {
  const name = costume
    .trim()
    .replace(/[\\/:*?"<>|\u0000-\u001f]+/g, "-")
    .replace(/^[.\s-]+|[.\s-]+$/g, "");
  return name === "" ? otherwise : name;
}
