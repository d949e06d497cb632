// The scale of a strip. The still strips work out the same (web/page/scale.go):
// web/page/testdata/scales.json holds both to one another.

/** The span of a strip: fits the data, never magnifies noise. */
export function span(lo: number, hi: number, s: { minSpan: number; fromZero: boolean; bounds: { at: number }[] }): [number, number] {
  if (!(lo <= hi)) [lo, hi] = s.bounds[0] ? [s.bounds[0].at, s.bounds[0].at] : [0, s.minSpan];
  const data: [number, number] = [lo, hi];
  for (const b of s.bounds) {
    if (b.at > data[0] - s.minSpan && b.at < data[1] + s.minSpan) { lo = Math.min(lo, b.at); hi = Math.max(hi, b.at); }
  }
  if (s.fromZero) lo = Math.min(0, lo);
  const short = s.minSpan - (hi - lo);
  if (short > 0) {
    if (s.fromZero && lo === 0) hi += short; else { lo -= short / 2; hi += short / 2; }
  }
  const pad = (hi - lo) * 0.06;
  return [s.fromZero && lo >= 0 ? lo : lo - pad, hi + pad];
}

/** Round values inside a scale, two to four of them. */
export function rules(lo: number, hi: number): number[] {
  const raw = (hi - lo) / 3, base = 10 ** Math.floor(Math.log10(raw));
  const step = base * ([1, 2, 5, 10].find((m) => base * m >= raw) ?? 10);
  const out: number[] = [];
  for (let n = Math.ceil(lo / step); n * step <= hi; n++) out.push(n * step);
  return out;
}
