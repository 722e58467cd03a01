/** Unpacks archives made by the core: deflated parts, one directory, no ZIP64. */
import { inflateRawSync } from "node:zlib";

/** Files of an archive made by the core. */
export function unzipped(bytes: Uint8Array): Map<string, Buffer> {
  const all = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length);
  const end = all.lastIndexOf("PK\x05\x06", undefined, "latin1");
  const files = new Map<string, Buffer>();
  let at = all.readUInt32LE(end + 16);
  for (let n = all.readUInt16LE(end + 10); n > 0; n--) {
    const [packed, named, extra, comment] = [20, 28, 30, 32].map((k) => (k === 20 ? all.readUInt32LE(at + k) : all.readUInt16LE(at + k))) as [number, number, number, number];
    const name = all.toString("utf8", at + 46, at + 46 + named);
    const local = all.readUInt32LE(at + 42);
    const from = local + 30 + all.readUInt16LE(local + 26) + all.readUInt16LE(local + 28);
    files.set(name, inflateRawSync(all.subarray(from, from + packed)));
    at += 46 + named + extra + comment;
  }
  return files;
}

