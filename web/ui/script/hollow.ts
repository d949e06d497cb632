// The marks of what does not count: hollow, joined to nothing, and in words what it
// is taken for. What lies beyond a strip stands at its edge and points there. The
// still strips do the same (web/page/counted.go).
import type uPlot from "uplot";
import type { Apart, Columns } from "./columns.ts";
import { spells } from "./counted.ts";

type Ink = (name: string) => string;
type Point = [x: number, y: number];

const BESIDE = 9; // px: nearer marks would be one blot
const LABELLED = 2; // spells of a line that get their words

/** taken: where other words stand. */
export function hollow(u: uPlot, lines: [Columns, Apart[]][], words: Record<string, string>, ink: Ink, taken: Point[]): void {
  u.ctx.save();
  for (const [c, apart] of lines) {
    labels(u, c, apart, words, ink, [...taken, ...marks(u, apart, ink)]);
  }
  u.ctx.restore();
}

function marks(u: uPlot, apart: Apart[], ink: Ink): Point[] {
  const k = devicePixelRatio, top = u.bbox.top, bottom = top + u.bbox.height, c = u.ctx;
  const drawn: Point[] = [];
  c.lineWidth = 1.5 * k; c.strokeStyle = ink("--water"); c.fillStyle = ink("--paper");
  for (const a of apart) for (const v of a.min === a.max ? [a.min] : [a.min, a.max]) {
    const x = u.valToPos(a.t, "x", true), at = u.valToPos(v, "y", true);
    const beyond = at < top ? -1 : at > bottom ? 1 : 0;
    const y = Math.min(bottom - (beyond ? 6 : 3) * k, Math.max(top + (beyond ? 6 : 3) * k, at));
    if (drawn.slice(-6).some(([px, py]) => Math.abs(x - px) < BESIDE * k && Math.abs(y - py) < BESIDE * k)) continue;
    drawn.push([x, y]);
    c.beginPath();
    if (beyond === 0) c.arc(x, y, 3 * k, 0, 2 * Math.PI); else triangle(c, x, y, 4 * k, beyond);
    c.fill(); c.stroke();
  }
  return drawn;
}

function triangle(c: CanvasRenderingContext2D, x: number, y: number, r: number, down: number): void {
  c.moveTo(x - r, y - r * down); c.lineTo(x + r, y - r * down); c.lineTo(x, y + r * down); c.closePath();
}

/** The longest spells get their words, above their marks or beside those at an
 *  edge, where there is room for them. */
function labels(u: uPlot, col: Columns, apart: Apart[], words: Record<string, string>, ink: Ink, taken: Point[]): void {
  const k = devicePixelRatio, { left, top, width, height } = u.bbox, c = u.ctx;
  c.lineWidth = 3 * k; c.strokeStyle = ink("--paper"); c.fillStyle = ink("--quiet");
  for (const s of spells(apart, col.gap).sort((a, b) => b.to - b.from - (a.to - a.from)).slice(0, LABELLED)) {
    const right = u.valToPos(s.from, "x", true) > left + 0.6 * width, high = u.valToPos(s.hi, "y", true);
    const below = high > top + height, edge = below || high < top + 20 * k;
    const x = edge === right ? u.valToPos(s.from, "x", true) - (edge ? 8 * k : 0) : u.valToPos(s.to, "x", true) + (edge ? 8 * k : 0);
    const y = below ? top + height - 4 * k : edge ? top + 10 * k : high - 8 * k;
    const text = words[s.why] ?? s.why, wide = c.measureText(text).width, from = right ? x - wide : x;
    if (taken.some(([px, py]) => px > from && px < from + wide && py > y - 13 * k && py < y + 7 * k)) continue;
    for (let px = from; px < from + wide; px += 5 * k) taken.push([px, y]);
    c.textAlign = right ? "right" : "left";
    c.strokeText(text, x, y); c.fillText(text, x, y);
  }
}
