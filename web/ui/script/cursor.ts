// What stands under the shared cursor, as one sentence.
import type { Plan } from "./api.ts";
import { valueAt } from "./columns.ts";
import { remark } from "./counted.ts";
import type { Store } from "./strip.ts";
import { full, type Clock } from "./words.ts";

/** "Tue 02:14, pH 5.98, CO2 valve open, level +3 mm". Silence is said too. Whole,
 *  as it is heard, it gives every name in full and the switches that are off;
 *  as it is read, over the strips that have their names, it is short. */
export function sentence(p: Plan, store: Store, clock: Clock, ms: number, spanMS: number, whole = true): string {
  const parts: string[] = [];
  for (const s of p.strips) {
    for (const [i, l] of s.lines.entries()) {
      const c = store.get(l.sensor);
      const v = c ? valueAt(c, ms) : null;
      const name = whole ? l.name : s.lines.length === 1 ? l.short : i === 0 ? `${s.name} ${l.short}` : l.short;
      if (v !== null) parts.push(`${name} ${full(s, v.v)}${remark(p, v)}`);
    }
    for (const w of s.switches) {
      const c = store.get(w.sensor);
      const v = c ? valueAt(c, ms, true) : null;
      if (v !== null && (whole || v.v > 0)) parts.push(`${w.name} ${v.v > 0 ? w.on : w.off}${remark(p, v)}`);
    }
  }
  return `${clock.say(ms, spanMS)}, ${parts.length > 0 ? parts.join(", ") : "no readings"}`;
}
