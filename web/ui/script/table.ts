// The numbers of the strips, as a table: one row for each of some forty times.
import type { Plan, Range } from "./api.ts";
import { valueAt } from "./columns.ts";
import { remark } from "./counted.ts";
import type { Store } from "./strip.ts";
import { bare, type Clock } from "./words.ts";

const ROWS = 40;

export function table(p: Plan, store: Store, clock: Clock, r: Range): HTMLTableElement {
  const t = document.createElement("table");
  const caption = t.createCaption();
  caption.className = "state";
  caption.textContent = `From ${clock.say(r.from, r.to - r.from)} to ${clock.say(r.to, r.to - r.from)}`;
  const head = t.createTHead().insertRow();
  const lines = p.strips.flatMap((s) => s.lines.map((l) => ({ s, l })));
  for (const text of ["Time", ...lines.map(({ s, l }) => s.unit === "" ? l.name : `${l.name}, ${s.unit}`)]) {
    const th = document.createElement("th");
    th.scope = "col"; th.textContent = text;
    head.append(th);
  }
  const body = t.createTBody(), step = (r.to - r.from) / ROWS;
  for (let i = ROWS; i > 0; i--) {
    const ms = r.from + i * step, row = body.insertRow();
    const th = document.createElement("th");
    th.scope = "row"; th.textContent = clock.say(ms, r.to - r.from);
    row.append(th);
    for (const { s, l } of lines) {
      const c = store.get(l.sensor), v = c ? valueAt(c, ms) : null;
      row.insertCell().textContent = v === null ? "no reading" : bare(s, v.v) + remark(p, v);
    }
  }
  return t;
}
