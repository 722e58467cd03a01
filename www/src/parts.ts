/**
 * The big parts beside the script: the planner's wasm, the drawing, the demo, the notices.
 *
 * In the single file they stand in data blocks, packed and as base64, since it may fetch nothing;
 * in the folder they are files. Which it is shows by the block being there.
 */

export type PartName = "planner.wasm" | "drawing.js" | "demo.seam.json" | "notices.txt";

/** The bytes of a part. */
export async function part(name: PartName): Promise<Uint8Array<ArrayBuffer>> {
  const block = document.getElementById(`part-${name}`);
  if (block === null) {
    const answer = await fetch(name);
    if (!answer.ok) throw new Error(`${name} cannot be loaded (${answer.status})`);
    return new Uint8Array(await answer.arrayBuffer());
  }
  const text = atob(block.textContent ?? "");
  const packed = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k += 1) packed[k] = text.charCodeAt(k);
  const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(plain).arrayBuffer());
}

/** A part that is text. */
export const partText = async (name: PartName): Promise<string> => new TextDecoder().decode(await part(name));
