// Numbers and times as the pages write them.
import type { StripPlan } from "./api.ts";

const thin = "\u202f";

export function bare(s: Pick<StripPlan, "digits" | "step" | "sign">, v: number): string {
  if (s.step > 0) v = Math.round(v / s.step) * s.step;
  const text = Math.abs(v).toFixed(s.digits).replace(/\B(?=(\d{3})+(?!\d))/, ",");
  const zero = Number(text.replace(",", "")) === 0;
  if (v < 0 && !zero) return "\u2212" + text;
  return s.sign && !zero ? "+" + text : text;
}

export function full(s: StripPlan, v: number): string {
  return s.unit === "" ? bare(s, v) : bare(s, v) + thin + s.unit;
}

/** Times at the site, as "Tue 02:14"; with a date when the stretch is long. */
export class Clock {
  private readonly near: Intl.DateTimeFormat;
  private readonly far: Intl.DateTimeFormat;
  constructor(readonly zone: string) {
    const time = { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone } as const;
    this.near = new Intl.DateTimeFormat("en-GB", { weekday: "short", ...time });
    this.far = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", ...time });
  }
  say(ms: number, spanMS: number): string {
    return (spanMS > 6 * 86400e3 ? this.far : this.near).format(ms).replaceAll(",", "");
  }
  /** A label of the time axis: the time, at midnight the day, and the date where days are ruled. */
  tick(ms: number, stepS: number): string {
    const part = (o: Intl.DateTimeFormatOptions) => new Intl.DateTimeFormat("en-GB", { timeZone: this.zone, ...o }).format(ms);
    if (stepS >= 27 * 86400) return part({ month: "short" });
    if (stepS >= 86400) return part({ day: "numeric", month: "short" });
    const time = part({ hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    return time === "00:00" ? part({ weekday: "short", day: "numeric" }) : time;
  }
  /** Minutes after midnight at the site. */
  minutes(ms: number): number {
    const d = new Date(new Date(ms).toLocaleString("en-US", { timeZone: this.zone }));
    return d.getHours() * 60 + d.getMinutes();
  }
}
