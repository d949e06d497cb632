// The tank's page: fetches, draws, follows. Everything essential is already in
// the page; this adds the moving strips.
import "uplot/dist/uPlot.min.css";
import { readings, type Plan, type Range } from "./api.ts";
import { append, columns } from "./columns.ts";
import { hollow, untold } from "./counted.ts";
import { sentence } from "./cursor.ts";
import { listen } from "./gestures.ts";
import { follow } from "./live.ts";
import { besides } from "./margin.ts";
import { keepNew } from "./renew.ts";
import { Strip, type Store } from "./strip.ts";
import { table } from "./table.ts";
import { Clock } from "./words.ts";

const HOUR = 3600e3;
const REPLAY = 30 * 24 * HOUR; // a stream goes back 31 days; what is older was fetched
const SPANS: [string, number][] = [["hour", HOUR], ["6 hours", 6 * HOUR], ["day", 24 * HOUR], ["week", 168 * HOUR], ["month", 720 * HOUR], ["year", 8766 * HOUR]];

class Page {
  private readonly store: Store = new Map();
  private readonly clock: Clock;
  private readonly strips: Strip[];
  private readonly says: HTMLElement; // seen, and renewed with each reading
  private readonly voice: HTMLElement; // heard, and only when the reader moved or the line failed
  private readonly beneath: HTMLElement; // what is drawn hollow, in words
  private readonly buttons: HTMLButtonElement[];
  private readonly began = Date.now(); // not performance.now(), which stands still while the machine sleeps
  private width = 24 * HOUR;
  private end: number | null = null; // null: now
  private at: number | null = null;
  private waiting: AbortController | null = null;
  private timer = 0; private frame = 0; private shown = false; private connected = true; private trouble = "";
  private fresh = false; // the stream begins at now, its replay having been refused
  private silence = 0;

  constructor(private readonly plan: Plan, private readonly root: HTMLElement, private readonly still: HTMLElement, private readonly numbers: HTMLElement | null) {
    this.clock = new Clock(plan.zone);
    root.hidden = false;
    root.tabIndex = 0;
    root.setAttribute("role", "group");
    root.setAttribute("aria-label", "Strips. Arrow keys move the cursor, plus and minus change the time shown, Home goes back to now, t shows the table.");
    this.buttons = this.spans();
    this.says = document.createElement("p");
    this.says.className = "cursor";
    this.voice = document.createElement("p");
    this.voice.className = "unseen";
    this.voice.setAttribute("role", "status");
    root.append(this.says, this.voice);
    const sheet = document.createElement("div");
    this.beneath = document.createElement("p");
    root.append(sheet, this.beneath);
    this.strips = plan.strips.map((s, i) => new Strip(s, i, plan, this.clock, this.store, () => this.range(), sheet));
    listen(root, () => this.strips[0]!.root.getBoundingClientRect(), {
      point: (f) => this.point(this.range().from + f * this.width),
      pan: (f) => this.go(this.range().to + f * this.width, this.width),
      zoom: (k, f) => { const r = this.range(), pivot = r.from + f * this.width, w = this.width * k; this.go(pivot + (1 - f) * w, w); },
      step: (n) => this.step(n * this.width / 200),
      home: () => { this.end = null; this.at = null; this.width = 24 * HOUR; this.load(); this.speak(); },
      table: () => { this.shown = !this.shown; this.list(); if (this.shown) this.numbers?.scrollIntoView(); },
    });
    new ResizeObserver(() => { for (const s of this.strips) s.resize(); this.beside(); }).observe(sheet);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
    this.start();
  }

  private now(): number { return this.plan.now + (Date.now() - this.began) * this.plan.speed; }
  private range(): Range { const to = this.end ?? this.now(); return { from: to - this.width, to }; }

  private async start(): Promise<void> {
    await this.fetch();
    this.still.hidden = true;
    this.root.dataset["ready"] = "true";
    this.beside();
    const news = keepNew((d) => this.renewed(d));
    follow({ site: this.plan.site, tank: this.plan.tank }, {
      since: () => this.fresh ? this.now() : Math.max(this.newest(), this.now() - REPLAY),
      take: (sensor, t, v, why) => {
        const c = this.store.get(sensor);
        if (c && this.end === null && append(c, t, v, why)) this.draw();
      },
      turned: () => { this.load(); news(); },
      alarmed: news,
      state: (on) => {
        const changed = on !== this.connected;
        this.connected = on;
        if (on) this.fresh = false;
        if (on && changed) this.load(); else this.say();
        if (changed) this.speak();
      },
      stale: () => { this.fresh = true; this.load(); },
    });
    setInterval(() => { if (this.end === null && !document.hidden) this.draw(); }, 15000);
  }

  /** Takes what a new page says has happened. */
  private renewed(d: Document): void {
    const text = d.querySelector<HTMLElement>(".js-strips")?.dataset["plan"];
    if (text) {
      const p = JSON.parse(text) as Plan;
      this.plan.marks = p.marks;
      this.plan.usual = p.usual;
    }
    this.draw();
    this.beside();
  }

  private beside(): void { besides(document.querySelector<HTMLElement>(".js-notes"), this.strips.map((s) => s.root)); }

  private newest(): number {
    let t = 0;
    for (const c of this.store.values()) t = Math.max(t, (c.t[c.t.length - 1] ?? 0) * 1000);
    return t > 0 ? t : this.now() - this.width;
  }

  private async fetch(): Promise<void> {
    this.waiting?.abort();
    const waiting = this.waiting = new AbortController();
    const ids = this.plan.strips.flatMap((s) => [...s.lines, ...s.switches].map((x) => x.sensor));
    const points = Math.min(1200, Math.max(300, this.root.clientWidth));
    try {
      const got = await Promise.all(ids.map((id) => readings(this.plan, id, { ...this.range(), to: this.range().to + 1000 }, points, waiting.signal)));
      got.forEach((r, i) => this.store.set(ids[i]!, columns(r)));
      this.trouble = "";
    } catch (e) {
      if (waiting.signal.aborted) return;
      this.trouble = `The readings could not be fetched: ${e instanceof Error ? e.message : String(e)}. What is drawn may be old; load the page again.`;
      this.say();
      this.speak();
    }
    this.draw();
  }

  /** Shows another stretch; fetches once the hand rests. */
  private go(end: number, width: number): void {
    this.width = Math.min(8766 * HOUR, Math.max(HOUR, width));
    this.end = end >= this.now() - this.width / 500 ? null : end;
    this.load();
  }

  private load(): void {
    this.draw();
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.fetch(), 150);
  }

  /** Moves the cursor, and the paper with it where it would leave the strip. */
  private step(ms: number): void {
    const r = this.range(), to = Math.min(this.now(), (this.at ?? r.to) + ms);
    if (to < r.from) this.go(to + this.width, this.width);
    else if (to > r.to) this.go(to, this.width);
    this.point(to);
  }

  private point(ms: number): void {
    const r = this.range();
    this.at = Math.min(r.to, Math.max(r.from, ms));
    for (const s of this.strips) s.point(this.at);
    this.say();
    this.speak();
  }

  /** Says aloud what is written, once the hand rests. */
  private speak(): void {
    clearTimeout(this.silence);
    this.silence = window.setTimeout(() => { this.voice.textContent = this.sentence(true); }, 300);
  }

  private draw(): void {
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => {
      for (const s of this.strips) { s.draw(this.now()); s.point(this.at); }
      const r = this.range();
      this.root.dataset["from"] = String(Math.round(r.from));
      this.root.dataset["to"] = String(Math.round(r.to));
      for (const [i, b] of this.buttons.entries()) b.setAttribute("aria-pressed", String(Math.abs(SPANS[i]![1] - this.width) < 1));
      this.say();
      this.tell();
      this.list();
    });
  }

  private say(): void {
    const text = this.sentence(false);
    if (this.says.textContent !== text) this.says.textContent = text;
  }

  private sentence(whole: boolean): string {
    const off = this.connected ? "" : ". The line to lentic is down; trying again.";
    return (this.trouble || sentence(this.plan, this.store, this.clock, this.at ?? this.newest(), this.width, whole)) + off;
  }

  /** Says beneath the strips what is hollow on them, or what cannot be told. */
  private tell(): void {
    const marks = hollow(this.plan, this.store, this.clock, this.range()), text = marks || untold(this.store, this.range());
    this.beneath.className = marks ? "state hollow" : "state";
    this.beneath.hidden = text === "";
    if (this.beneath.textContent !== text) this.beneath.textContent = text;
  }

  private list(): void {
    if (this.shown) this.numbers?.replaceChildren(table(this.plan, this.store, this.clock, this.range()));
    else this.numbers?.replaceChildren();
  }

  private spans(): HTMLButtonElement[] {
    const row = document.createElement("div");
    row.className = "spans";
    const made = SPANS.map(([name, width]) => {
      const b = document.createElement("button");
      b.type = "button"; b.textContent = name;
      b.addEventListener("click", () => { this.at = null; this.go(this.range().to, width); });
      row.append(b);
      return b;
    });
    const t = document.createElement("button");
    t.type = "button"; t.textContent = "table";
    t.addEventListener("click", () => { this.shown = !this.shown; this.list(); });
    row.append(t);
    this.root.append(row);
    return made;
  }
}

const root = document.querySelector<HTMLElement>(".js-strips"), still = document.querySelector<HTMLElement>(".js-still");
if (root?.dataset["plan"] && still) {
  const plan = JSON.parse(root.dataset["plan"]) as Plan;
  if (plan.strips?.length) new Page(plan, root, still, document.querySelector<HTMLElement>(".js-table"));
}
