// What the server tells: the plan of the page, and readings of one sensor.

export interface Line { sensor: string; name: string; short: string }
export interface Bound { at: number; label: string }
export interface Switch { sensor: string; name: string; on: string; off: string }
export interface StripPlan {
  name: string; unit: string; digits: number; step: number; sign: boolean;
  minSpan: number; fromZero: boolean; lines: Line[]; bounds: Bound[]; switches: Switch[];
}
/** What happened: at a moment, until it was over, or open still; on the strip
 *  that tells it, or (below 0) on each. */
export interface Mark { at: number; until: number; open: boolean; kind: "alarm" | "visit" | "test"; high: boolean; letter: string; strip: number }
/** What is usual at each half hour of the site's day; null: not known. */
export interface Usual { lo: (number | null)[]; hi: (number | null)[] }
export interface Plan {
  site: string; tank: string; zone: string; now: number; speed: number;
  lights: [number, number] | null; strips: StripPlan[]; marks: Mark[]; usual: Record<string, Usual>;
  /** What a quality means, as "probe in air". */
  words: Record<string, string>;
}
export interface Readings { sensor: string; unit: string; gap_ms: number; t: number[]; min: number[]; mean: number[]; max: number[];
  /** Places in the columns that hold nothing but what does not count. */
  poor?: number[];
  /** Whether what does not count is set apart: not in the columns but here. */
  screened?: boolean;
  not_counted?: { t: number[]; min: number[]; mean: number[]; max: number[]; n: number[]; quality: string[] };
}

/** A stretch of time in Unix milliseconds. */
export interface Range { from: number; to: number }

/** Fetches one sensor's readings; a refusal becomes an error with its reason. */
export async function readings(p: Plan, sensor: string, r: Range, points: number, signal: AbortSignal): Promise<Readings> {
  const q = new URLSearchParams({
    site: p.site, tank: p.tank, sensor, points: String(points), quality: "true",
    from: String(Math.floor(r.from)), to: String(Math.ceil(r.to)),
  });
  const res = await fetch(`/api/v1/readings?${q}`, { signal, headers: { Accept: "application/json" } });
  if (!res.ok) {
    const problem = await res.json().catch(() => ({})) as { detail?: string };
    throw new Error(problem.detail ?? `the server answered ${res.status}`);
  }
  return await res.json() as Readings;
}
