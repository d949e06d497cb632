// One strip: lines, their breadth, bounds, nights, marks, and bars beneath.
import uPlot from "uplot";
import type { Plan, Range, StripPlan } from "./api.ts";
import { align, type Apart, type Columns } from "./columns.ts";
import { seen } from "./counted.ts";
import { hollow } from "./hollow.ts";
import { rules, span } from "./scale.ts";
import { bare, full, type Clock } from "./words.ts";

const HEIGHT = 96, BAR = 15, AXIS = 24;

export type Store = Map<string, Columns>;

export class Strip {
  private readonly chart: uPlot;
  private readonly ends: HTMLElement;
  readonly root: HTMLElement;

  private readonly last: boolean; // the one with the axis

  constructor(readonly plan: StripPlan, private readonly index: number, private readonly page: Plan, private readonly clock: Clock,
    private readonly store: Store, private readonly range: () => Range, into: HTMLElement) {
    this.last = index === page.strips.length - 1;
    this.root = document.createElement("div");
    this.root.className = "strip-live";
    into.append(this.root);
    this.chart = new uPlot(this.options(), [[]] as unknown as uPlot.AlignedData, this.root);
    this.ends = document.createElement("div");
    this.ends.className = "ends";
    this.root.append(this.ends);
  }

  /** Takes what the store holds now. */
  draw(now: number): void {
    const cs = this.plan.lines.map((l) => this.store.get(l.sensor)).filter((c) => c !== undefined);
    const r = this.range();
    this.chart.batch(() => {
      this.chart.setData(align(cs) as uPlot.AlignedData, false);
      this.chart.setScale("x", { min: r.from / 1000, max: r.to / 1000 });
    });
    this.label(now);
  }

  resize(): void { this.chart.setSize({ width: this.root.clientWidth, height: this.height() }); this.chart.redraw(); }

  /** Puts the cursor at a time, or takes it away. */
  point(ms: number | null): void {
    const left = ms === null ? -10 : this.chart.valToPos(ms / 1000, "x");
    this.chart.setCursor({ left, top: 10 }, false);
  }

  private height(): number { return HEIGHT + this.plan.switches.length * BAR + (this.last ? AXIS : 0); }

  private options(): uPlot.Options {
    const ink = (name: string) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    const series: uPlot.Series[] = [{}];
    const bands: uPlot.Band[] = [];
    this.plan.lines.forEach((_, i) => {
      const n = series.length;
      series.push({ stroke: "transparent", points: { show: false } }, { stroke: "transparent", points: { show: false } },
        { stroke: () => ink("--water"), width: 1.75, ...(i > 0 ? { dash: [7, 3] } : {}), points: { show: false } });
      bands.push({ series: [n, n + 1], fill: () => ink("--water") + "2e" });
    });
    return {
      width: Math.max(200, this.root.clientWidth), height: this.height(),
      padding: [4, 0, this.plan.switches.length * BAR + (this.last ? 0 : 2), 0],
      legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: false, y: false, setScale: false } },
      tzDate: (s) => uPlot.tzDate(new Date(s * 1e3), this.clock.zone),
      scales: { x: { time: true, auto: false }, y: { range: (_, lo, hi) => this.yRange(lo, hi) } },
      series, bands,
      axes: [
        { show: true, size: this.last ? AXIS : 0, stroke: () => ink("--quiet"), font: "11px ui-sans-serif, system-ui, sans-serif", ticks: { show: false },
          grid: { stroke: () => ink("--rule"), width: 1 }, 
          values: this.last ? (u, at, _i, _s, step) => at.map((t) => this.fits(u, t) ? this.clock.tick(t * 1000, step) : "") : () => [] },
        { show: true, size: 0, values: () => [], ticks: { show: false }, grid: { stroke: () => ink("--rule"), width: 1 }, space: 30 },
      ],
      hooks: { drawClear: [(u) => { this.nights(u, ink); this.usual(u, ink); }], draw: [(u) => this.over(u, ink)] },
    };
  }

  /** Whether a label under the axis is whole, and not cut by the strip's end. */
  private fits(u: uPlot, t: number): boolean {
    const x = u.valToPos(t, "x");
    return x > 20 && x < u.width - 18;
  }

  /** What does not count matters only where there is nothing else. */
  private yRange(lo: number | null, hi: number | null): [number, number] {
    if (lo === null || hi === null) {
      const apart = this.apart().flatMap(([, xs]) => xs);
      return span(Math.min(Infinity, ...apart.map((a) => a.min)), Math.max(-Infinity, ...apart.map((a) => a.max)), this.plan);
    }
    return span(lo, hi, this.plan);
  }

  /** What does not count and is seen, line by line. */
  private apart(): [Columns, Apart[]][] {
    const r = this.range();
    return this.plan.lines.flatMap((l): [Columns, Apart[]][] => { const c = this.store.get(l.sensor); return c ? [[c, seen(c, r)]] : []; });
  }

  private nights(u: uPlot, ink: (n: string) => string): void {
    const l = this.page.lights, r = this.range();
    if (l === null || r.to - r.from > 20 * 86400e3) return;
    const { left, top, width, height } = u.bbox;
    const px = (ms: number) => Math.min(left + width, Math.max(left, u.valToPos(ms / 1000, "x", true)));
    u.ctx.fillStyle = ink("--night");
    const step = Math.max(60e3, (r.to - r.from) / 600);
    for (let t = r.from; t < r.to; t += step) {
      const m = this.clock.minutes(t);
      const lit = l[0] < l[1] ? m >= l[0] && m < l[1] : m >= l[0] || m < l[1];
      if (!lit) u.ctx.fillRect(px(t), top, px(t + step) - px(t) + 0.5, height);
    }
  }

  private over(u: uPlot, ink: (n: string) => string): void {
    const k = devicePixelRatio, { left, top, width, height } = u.bbox, c = u.ctx;
    c.save();
    c.font = `${11 * k}px ui-sans-serif, system-ui, sans-serif`;
    c.textAlign = "left"; c.textBaseline = "alphabetic";
    c.fillStyle = ink("--quiet");
    const write = (text: string, x: number, y: number) => { // clear of the line beneath, as paper round the letters
      c.save();
      c.setLineDash([]); c.lineJoin = "round"; c.lineWidth = 3 * k; c.strokeStyle = ink("--paper");
      c.strokeText(text, x, y); c.fillText(text, x, y);
      c.restore();
    };
    const s = u.scales["y"]!;
    const [lo, hi] = [s.min ?? 0, s.max ?? 1];
    for (const v of rules(lo, hi)) {
      const y = u.valToPos(v, "y", true);
      if (y - top > 13 * k) write(bare(this.plan, v), left + 2 * k, y - 3 * k); // else it would stand above the strip
    }
    c.strokeStyle = ink("--line"); c.lineWidth = k; c.setLineDash([5 * k, 4 * k]);
    let lastY = -99;
    const taken: [number, number][] = []; // by words
    for (const b of [...this.plan.bounds].sort((x, y) => y.at - x.at)) {
      if (b.at < lo || b.at > hi) continue;
      const y = u.valToPos(b.at, "y", true);
      stroke(c, left, y, left + width, y);
      if (y - lastY > 13 * k) {
        write(b.label, left + width * 0.34, y - 3 * k);
        for (let x = 0; x < c.measureText(b.label).width; x += 5 * k) taken.push([left + width * 0.34 + x, y - 3 * k]);
        lastY = y;
      }
    }
    c.setLineDash([]);
    hollow(u, this.apart(), this.page.words, ink, taken);
    this.marks(u, ink);
    this.bars(u, ink, top + height + (this.last ? AXIS : 2) * k);
    c.restore();
  }

  /** What happened: a line where it began, on the strip that tells it heavy and
   *  with its letter, a bar above for as long as it lasted, a thin line at its end. */
  private marks(u: uPlot, ink: (n: string) => string): void {
    const k = devicePixelRatio, { left, top, width, height } = u.bbox, c = u.ctx, r = this.range();
    const px = (ms: number) => Math.min(left + width, Math.max(left, u.valToPos(ms / 1000, "x", true)));
    const within = (ms: number) => ms >= r.from && ms <= r.to;
    const letters: [number, number][] = [];
    for (const m of this.page.marks) {
      const until = m.open ? r.to : Math.max(m.at, m.until), own = m.strip === this.index || m.strip < 0;
      if (m.at > r.to || until < r.from) continue;
      const x = px(m.at), end = px(until), alarm = m.kind === "alarm";
      c.strokeStyle = c.fillStyle = ink(!own ? "--line" : m.high ? "--vermilion" : "--ink");
      c.lineWidth = (own && m.high ? 2.5 : own ? 1.5 : 1) * k;
      c.setLineDash(alarm ? [] : [k, 3 * k]);
      if (within(m.at)) stroke(c, x, top, x, top + height);
      c.lineWidth = k; c.setLineDash([2 * k, 3 * k]);
      if (!m.open && until > m.at && within(until)) stroke(c, end, top, end, top + height);
      c.setLineDash([]);
      if (!own) continue;
      if (alarm) c.fillRect(x, top, end - x, 4 * k);
      else if (end > x) { c.clearRect(x, top, end - x, 4 * k); c.strokeRect(x, top, end - x, 4 * k); }
      const row = letters.filter(([at]) => Math.abs(at - x) < 14 * k).length;
      letters.push([x, row]);
      c.font = `bold ${12 * k}px ui-sans-serif, system-ui, sans-serif`;
      c.textAlign = x > left + width - 16 * k ? "right" : "left";
      c.fillText(m.letter, x + (c.textAlign === "right" ? -4 : 4) * k, top + (18 + 12 * row) * k);
    }
    c.textAlign = "left";
  }

  /** What is usual at each hour, as a pale band; over weeks the days are too
   *  narrow to be told apart. */
  private usual(u: uPlot, ink: (n: string) => string): void {
    const r = this.range(), { left, top, width, height } = u.bbox, HALF = 1800e3;
    if (r.to - r.from > 9 * 86400e3) return;
    const c = u.ctx;
    c.save();
    c.beginPath(); c.rect(left, top, width, height); c.clip();
    c.fillStyle = ink("--quiet") + "21";
    for (const l of this.plan.lines) {
      const day = this.page.usual[l.sensor];
      if (!day) continue;
      let up: [number, number, number][] = [];
      const flush = () => {
        if (up.length > 1) {
          c.beginPath();
          for (const [x, , hi] of up) c.lineTo(x, hi);
          for (const [x, lo] of up.reverse()) c.lineTo(x, lo);
          c.fill();
        }
        up = [];
      };
      for (let t = Math.floor(r.from / HALF) * HALF - HALF / 2; t <= r.to + HALF; t += HALF) {
        const i = Math.floor(this.clock.minutes(t) / 30), lo = day.lo[i], hi = day.hi[i];
        if (lo == null || hi == null) { flush(); continue; }
        up.push([u.valToPos(t / 1000, "x", true), u.valToPos(lo, "y", true), u.valToPos(hi, "y", true)]);
      }
      flush();
    }
    c.restore();
  }

  private bars(u: uPlot, ink: (n: string) => string, y: number): void {
    const k = devicePixelRatio, { left, width } = u.bbox, r = this.range();
    const px = (ms: number) => left + width * (ms - r.from) / (r.to - r.from);
    for (const w of this.plan.switches) {
      const col = this.store.get(w.sensor);
      u.ctx.strokeStyle = ink("--rule"); u.ctx.lineWidth = k;
      stroke(u.ctx, left, y + 10 * k, left + width, y + 10 * k);
      u.ctx.fillStyle = ink("--quiet");
      for (let i = 0; col && i < col.t.length; i++) {
        const on = col.mean[i];
        if (on == null || on <= 0) continue;
        const from = Math.max(r.from, col.t[i]! * 1000), to = Math.min(r.to, (col.t[i + 1] ?? r.to / 1000) * 1000);
        if (to > from) {
          const x = Math.round(px(from)); // whole pixels, so that neighbours join
          u.ctx.fillRect(x, y + 2 * k, Math.max(k, Math.round(px(from) + (px(to) - px(from)) * Math.min(1, on)) - x), 8 * k);
        };
      }
      y += BAR * k;
    }
  }

  private label(now: number): void {
    this.ends.replaceChildren(...this.plan.lines.map((l) => {
      const p = document.createElement("div");
      p.append(this.plan.lines.length === 1 ? this.plan.lines[0]!.short : `${this.plan.name} ${l.short}`);
      const c = this.store.get(l.sensor), i = c ? c.t.length - 1 : -1, good = c?.mean[i], v = good ?? c?.poor[i];
      const b = document.createElement("b");
      b.textContent = v == null ? "no readings" : full(this.plan, v);
      const age = c && i >= 0 ? now - c.t[i]! * 1000 : 0;
      if (v != null && c && age > Math.max(c.gap, 60e3) && this.range().to >= now - 60e3) {
        b.className = "old";
        b.append(" at " + this.clock.say(c.t[i]! * 1000, age));
      }
      if (v != null && good == null) b.className = "old";
      p.append(b);
      if (v != null && good == null) {
        const why = c?.apart[c.apart.length - 1]?.why ?? "", words = document.createElement("span");
        words.className = "why";
        words.textContent = "not counted" + (this.page.words[why] ? ": " + this.page.words[why] : "");
        p.append(words);
      }
      return p;
    }), ...this.plan.switches.map((w) => { const p = document.createElement("div"); p.className = "small"; p.textContent = w.name; return p; }));
  }
}

function stroke(c: CanvasRenderingContext2D, x1: number, y1: number, x2: number, y2: number): void {
  c.beginPath(); c.moveTo(x1, y1); c.lineTo(x2, y2); c.stroke();
}
