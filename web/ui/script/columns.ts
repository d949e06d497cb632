// From the API's milliseconds to the chart's columns: x in rising seconds, null
// where there is silence. A line drawn over silence would be a lie.
import type { Readings } from "./api.ts";

export type Cell = number | null | undefined;

/** One sensor's columns; null in the three values marks a gap. What is not
 *  judged stands in poor alone, so that no line joins it. */
export interface Columns { t: number[]; min: Cell[]; mean: Cell[]; max: Cell[]; poor: Cell[]; gap: number }

export function columns(r: Readings): Columns {
  const c: Columns = { t: [], min: [], mean: [], max: [], poor: [], gap: r.gap_ms };
  const poor = new Set(r.poor);
  r.t.forEach((ms, i) => push(c, ms, r.min[i] ?? null, r.mean[i] ?? null, r.max[i] ?? null, poor.has(i)));
  return c;
}

/** Takes one live value; what is not newer than the last is already there. */
export function append(c: Columns, ms: number, v: number, poor = false): boolean {
  const last = c.t[c.t.length - 1];
  if (last !== undefined && ms <= last * 1000) return false;
  push(c, ms, v, v, v, poor);
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

/** Aligns several sensors on one time axis: for each, its max, min, mean and poor.
 *  undefined (another sensor's time) is stepped over, null stays a gap. */
export function align(cs: Columns[]): [number[], ...Cell[][]] {
  const t = [...new Set(cs.flatMap((c) => c.t))].sort((a, b) => a - b);
  const at = new Map(t.map((x, i) => [x, i]));
  const out: [number[], ...Cell[][]] = [t];
  for (const c of cs) {
    for (const values of [c.max, c.min, c.mean, c.poor]) {
      const column: Cell[] = new Array<Cell>(t.length).fill(undefined);
      c.t.forEach((x, i) => { column[at.get(x)!] = values[i]; });
      out.push(column);
    }
  }
  return out;
}

/** A value, and whether it is one that is not judged. */
export interface Value { v: number; poor: boolean }

/** The value that stands at ms, or null in a gap or beyond it. */
export function valueAt(c: Columns, ms: number, holds = false): Value | null {
  let lo = 0, hi = c.t.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (c.t[mid]! * 1000 <= ms) lo = mid + 1; else hi = mid;
  }
  const v = c.mean[lo - 1] ?? c.poor[lo - 1];
  if (v == null) return null;
  if (!holds && c.gap > 0 && ms - c.t[lo - 1]! * 1000 > c.gap) return null;
  return { v, poor: c.mean[lo - 1] == null };
}
