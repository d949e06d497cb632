// From the API's milliseconds to the chart's columns: x in rising seconds, null
// where there is silence. A line drawn over silence would be a lie.
import type { Readings } from "./api.ts";

export type Cell = number | null | undefined;

/** Readings that do not count: one, or those of a bucket; t in seconds. */
export interface Apart { t: number; min: number; mean: number; max: number; n: number; why: string }

/** One sensor's columns; null in the three values marks a gap. Where nothing
 *  counts the value stands in poor alone, so that no line joins it. What does not
 *  count is in apart besides, in the order of time, with why. */
export interface Columns { t: number[]; min: Cell[]; mean: Cell[]; max: Cell[]; poor: Cell[]; gap: number; apart: Apart[]; screened: boolean }

export function columns(r: Readings): Columns {
  const c: Columns = { t: [], min: [], mean: [], max: [], poor: [], gap: r.gap_ms, apart: [], screened: r.screened ?? false };
  const poor = new Set(r.poor), x = r.not_counted;
  r.t.forEach((ms, i) => push(c, ms, r.min[i] ?? null, r.mean[i] ?? null, r.max[i] ?? null, poor.has(i)));
  x?.t.forEach((ms, i) => c.apart.push({ t: ms / 1000, min: x.min[i]!, mean: x.mean[i]!, max: x.max[i]!, n: x.n[i]!, why: x.quality[i]! }));
  return c;
}

/** Takes one live value; what is not newer than the last is already there. why:
 *  what it is taken for, where it does not count. */
export function append(c: Columns, ms: number, v: number, why = ""): boolean {
  const last = c.t[c.t.length - 1];
  if (last !== undefined && ms <= last * 1000) return false;
  push(c, ms, v, v, v, why !== "");
  if (why !== "") c.apart.push({ t: ms / 1000, min: v, mean: v, max: v, n: 1, why });
  return true;
}

function push(c: Columns, ms: number, min: Cell, mean: Cell, max: Cell, poor: boolean): void {
  const last = c.t[c.t.length - 1];
  if (last !== undefined && c.gap > 0 && ms - last * 1000 > c.gap) {
    row(c, (last * 1000 + ms) / 2, null, null, null, null);
  }
  if (poor) row(c, ms, null, null, null, mean); else row(c, ms, min, mean, max, null);
}

function row(c: Columns, ms: number, min: Cell, mean: Cell, max: Cell, poor: Cell): void {
  c.t.push(ms / 1000); c.min.push(min); c.mean.push(mean); c.max.push(max); c.poor.push(poor);
}

/** Aligns several sensors on one time axis: for each, its max, min and mean.
 *  undefined (another sensor's time) is stepped over, null stays a gap. */
export function align(cs: Columns[]): [number[], ...Cell[][]] {
  const t = [...new Set(cs.flatMap((c) => c.t))].sort((a, b) => a - b);
  const at = new Map(t.map((x, i) => [x, i]));
  const out: [number[], ...Cell[][]] = [t];
  for (const c of cs) {
    for (const values of [c.max, c.min, c.mean]) {
      const column: Cell[] = new Array<Cell>(t.length).fill(undefined);
      c.t.forEach((x, i) => { column[at.get(x)!] = values[i]; });
      out.push(column);
    }
  }
  return out;
}

/** A value, whether it is one that does not count, and what those are taken for
 *  that do not: it, or others of its bucket. */
export interface Value { v: number; poor: boolean; why: string }

/** The value that stands at ms, or null in a gap or beyond it. */
export function valueAt(c: Columns, ms: number, holds = false): Value | null {
  const i = before(c.t, (t) => t, ms), t = c.t[i];
  const v = c.mean[i] ?? c.poor[i];
  if (v == null || t === undefined) return null;
  if (!holds && c.gap > 0 && ms - t * 1000 > c.gap) return null;
  const a = c.apart[before(c.apart, (x) => x.t, t * 1000)];
  return { v, poor: c.mean[i] == null, why: a?.t === t ? a.why : "" };
}

/** The place of the last that is no later than ms; -1: none is. */
function before<T>(xs: T[], seconds: (x: T) => number, ms: number): number {
  let lo = 0, hi = xs.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (seconds(xs[mid]!) * 1000 <= ms) lo = mid + 1; else hi = mid;
  }
  return lo - 1;
}
