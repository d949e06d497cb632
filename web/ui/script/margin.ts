// Notes in the margin stand at the height of the strip they belong to, in their
// order, none upon another. Where there is no margin they stay a list.

const BETWEEN = 10; // px

export function besides(notes: HTMLElement | null, strips: HTMLElement[]): void {
  const all = [...notes?.querySelectorAll<HTMLElement>("[data-strip]") ?? []];
  for (const n of all) n.style.marginTop = "";
  if (notes) notes.style.paddingTop = "";
  const first = strips[0];
  if (!notes || !first || all.length === 0 || notes.getBoundingClientRect().left < first.getBoundingClientRect().right) return;
  const rank = (n: HTMLElement) => Number(n.dataset["strip"]);
  const sorted = all.map((n, i) => ({ n, i })).sort((a, b) => rank(a.n) - rank(b.n) || a.i - b.i).map(({ n }) => n);
  if (sorted.some((n, i) => n !== all[i])) notes.append(...sorted);
  const above = sorted[0]!.getBoundingClientRect().top - notes.getBoundingClientRect().top; // the heading
  notes.style.paddingTop = `${Math.max(0, (strips[rank(sorted[0]!)] ?? first).getBoundingClientRect().top - above - notes.getBoundingClientRect().top)}px`;
  for (const n of sorted) {
    const short = (strips[rank(n)] ?? first).getBoundingClientRect().top - n.getBoundingClientRect().top;
    if (short > BETWEEN) n.style.marginTop = `${short}px`;
  }
}
