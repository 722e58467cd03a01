/**
 * Figures as they stand on a drawing: thin spaces between thousands, units always written.
 *
 * Source of the grouping: thousands apart by a thin space and a space before the unit, as
 * ISO 80000-1 has it (from memory). Both spaces are narrow and do not break.
 */

/** U+202F: narrow, keeps figure and unit on one line. */
const THIN = "\u202f";

/** `1 012`, `0.35`: at most `n_decimals`, none that are zero. */
export function figure(value: number, n_decimals = 0): string {
  if (!Number.isFinite(value)) return "–";
  const rounded = Math.abs(value).toFixed(n_decimals);
  const [whole = "0", part = ""] = rounded.split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, THIN);
  const kept = part.replace(/0+$/, "");
  const is_zero = /^0*$/.test(whole) && kept === "";
  return `${value < 0 && !is_zero ? "−" : ""}${grouped}${kept === "" ? "" : `.${kept}`}`;
}

/** `12 mm`. */
export function mm(value: number, n_decimals = 0): string {
  return `${figure(value, n_decimals)}${THIN}mm`;
}

/** `128 × 174 × 211 mm`; sizes keep one decimal only where `n_decimals` says so. */
export function size(size_mm: readonly number[], n_decimals = 0): string {
  return `${sizeBare(size_mm, n_decimals)}${THIN}mm`;
}

/** `128 × 174 × 211`, for a column whose head holds the unit. */
export function sizeBare(size_mm: readonly number[], n_decimals = 0): string {
  return size_mm.map((one) => figure(one, n_decimals)).join(" × ");
}

/** `220 × 220 × 250 mm` or `⌀ 260 × 300 mm`. */
export function bedSize(bed: { shape: "rect" | "round"; size_mm: readonly [number, number, number] }): string {
  return `${bedBare(bed)}${THIN}mm`;
}

export function bedBare(bed: { shape: "rect" | "round"; size_mm: readonly [number, number, number] }): string {
  const [width, depth, height] = bed.size_mm;
  if (bed.shape === "round") return `⌀${THIN}${figure(width, 1)} × ${figure(height, 1)}`;
  return sizeBare([width, depth, height], 1);
}

/** `8.2 s`, `3 min 5 s`. */
export function seconds(value: number): string {
  if (value < 60) return `${figure(value, value < 10 ? 1 : 0)}${THIN}s`;
  const whole = Math.round(value);
  const rest = whole % 60;
  const minutes = `${figure(Math.floor(whole / 60))}${THIN}min`;
  return rest === 0 ? minutes : `${minutes} ${rest}${THIN}s`;
}

/** `50 min`, `9.5 h`: finishing time is known no better than to half an hour. */
export function handTime(minutes: number): string {
  if (minutes < 90) return `${figure(5 * Math.round(minutes / 5))}${THIN}min`;
  return `${figure(Math.round(minutes / 30) / 2, 1)}${THIN}h`;
}

/** `47.3 MB`. */
export function megabytes(n_bytes: number): string {
  const value = n_bytes / 1e6;
  return value < 0.1 ? `${figure(Math.ceil(n_bytes / 1e3))}${THIN}kB` : `${figure(value, 1)}${THIN}MB`;
}

/** `1 piece`, `4 pieces`. */
export function count(n: number, one: string, many: string): string {
  return `${figure(n)} ${n === 1 ? one : many}`;
}

/** `84 %`. */
export function percent(fraction: number): string {
  return `${figure(100 * fraction)}${THIN}%`;
}
