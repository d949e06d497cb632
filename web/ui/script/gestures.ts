// Finger, mouse and keys. Vertical movement always stays the page's.

export interface Acts {
  point(fraction: number): void;
  pan(fraction: number): void; // of the width shown
  zoom(factor: number, fraction: number): void;
  step(n: number): void;
  home(): void;
  table(): void;
}

export function listen(el: HTMLElement, area: () => DOMRect, a: Acts): void {
  const down = new Map<number, number>();
  let moved = false, tapped = -Infinity;
  const part = (x: number) => { const r = area(); return Math.min(1, Math.max(0, (x - r.left) / r.width)); };
  el.addEventListener("pointerdown", (e) => {
    down.set(e.pointerId, e.clientX); moved = false;
    if (e.pointerType !== "touch") el.setPointerCapture(e.pointerId);
  });
  el.addEventListener("pointermove", (e) => {
    const was = down.get(e.pointerId);
    if (was === undefined) { if (e.pointerType === "mouse") a.point(part(e.clientX)); return; }
    const others = [...down].filter(([id]) => id !== e.pointerId).map(([, x]) => x);
    if (others[0] !== undefined) {
      const before = Math.abs(was - others[0]), now = Math.abs(e.clientX - others[0]);
      if (before > 20 && now > 20) a.zoom(before / now, part((e.clientX + others[0]) / 2));
      moved = true;
    } else if (moved || Math.abs(e.clientX - was) > 6) {
      moved = true;
      a.pan((was - e.clientX) / area().width);
    } else return;
    down.set(e.pointerId, e.clientX);
  });
  const up = (e: PointerEvent) => {
    if (down.delete(e.pointerId) && !moved && e.type === "pointerup") {
      if (e.timeStamp - tapped < 350) a.home(); else a.point(part(e.clientX));
      tapped = e.timeStamp;
    }
  };
  el.addEventListener("pointerup", up);
  el.addEventListener("pointercancel", up);
  el.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target instanceof HTMLButtonElement) return;
    const acts: Record<string, () => void> = {
      ArrowLeft: () => a.step(e.shiftKey ? -10 : -1), ArrowRight: () => a.step(e.shiftKey ? 10 : 1),
      "+": () => a.zoom(0.5, 1), "=": () => a.zoom(0.5, 1), "-": () => a.zoom(2, 1),
      Home: () => a.home(), t: () => a.table(),
    };
    const act = acts[e.key];
    if (act) { e.preventDefault(); act(); }
  });
}
