// What does not count, in words: the still strips say the same (web/page/counted.go).
import type { Plan, Range } from "./api.ts";
import type { Apart, Columns, Value } from "./columns.ts";
import type { Store } from "./strip.ts";
import type { Clock } from "./words.ts";

/** A stretch in which readings did not count, for one reason; in seconds. */
export interface Spell { from: number; to: number; why: string; lo: number; hi: number }

/** Joins what does not count as a line joins what does. */
export function spells(apart: Apart[], gap: number): Spell[] {
  const out: Spell[] = [];
  for (const a of apart) {
    const last = out[out.length - 1];
    if (last && last.why === a.why && (gap <= 0 || (a.t - last.to) * 1000 <= gap)) {
      last.to = a.t; last.lo = Math.min(last.lo, a.min); last.hi = Math.max(last.hi, a.max);
    } else out.push({ from: a.t, to: a.t, why: a.why, lo: a.min, hi: a.max });
  }
  return out;
}

/** Those that are seen. */
export function seen(c: Columns, r: Range): Apart[] {
  return c.apart.filter((a) => a.t * 1000 >= r.from && a.t * 1000 <= r.to);
}

/** What stands behind a value in a sentence; empty where it counts. */
export function remark(p: Plan, v: Value): string {
  const why = p.words[v.why] ?? "";
  if (v.poor) return ` (not counted${why ? ": " + why : ""})`;
  return why ? ` (others not counted: ${why})` : "";
}

/** What is drawn hollow within a stretch, sensor by sensor; empty: nothing is. */
export function hollow(p: Plan, store: Store, clock: Clock, r: Range): string {
  const out: string[] = [], span = r.to - r.from;
  const when = (s: Spell) => {
    const from = clock.say(s.from * 1000, span), to = clock.say(s.to * 1000, span);
    const day = to.slice(0, to.lastIndexOf(" ") + 1);
    return from === to ? from : `${from} to ${day !== "" && from.startsWith(day) ? to.slice(day.length) : to}`;
  };
  for (const { sensor, name } of p.strips.flatMap((s) => [...s.lines, ...s.switches])) {
    const c = store.get(sensor);
    const all = c ? spells(seen(c, r), c.gap) : [];
    const words = [...new Set(all.map((s) => s.why))].flatMap((why) => {
      const of = all.filter((s) => s.why === why), word = p.words[why] ?? why;
      return of.length > 2 ? [`${word} ${of.length} times, the last ${when(of[of.length - 1]!)}`] : of.map((s) => `${word} ${when(s)}`);
    });
    if (words.length > 0) out.push(`${name} (${words.length > 1 ? words.slice(0, -1).join(", ") + " and " : ""}${words[words.length - 1]})`);
  }
  return out.length > 0 ? `Not counted, and drawn hollow: ${out.join("; ")}.` : "";
}

/** What cannot be told of a stretch. */
export function untold(store: Store, r: Range): string {
  const cs = [...store.values()];
  if (cs.length === 0 || cs.every((c) => c.screened)) return "";
  return r.to - r.from > 8 * 86400e3
    ? "Over more than eight days, readings that did not count are drawn with the others, except impossible values. Look at eight days or fewer to see them apart."
    : "Readings that do not count cannot be shown apart here at the moment, except impossible values.";
}
