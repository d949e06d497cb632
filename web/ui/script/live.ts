// The live feed: resumes where it stopped, after sleep and after being dropped.

interface Item { sensor?: string; t?: number; v?: number; quality?: string; not_counted?: { quality: string; since?: number }; alarm?: unknown }

// Judged too, though said: only the time of it was mended.
const RETIMED = "retimed";

/** What a page does with what comes. */
export interface Follower {
  since(): number; // from when on to replay
  /** why: what the reading is taken for, where it does not count. */
  take(sensor: string, t: number, v: number, why: string): void;
  /** A sensor counts no more, or again, or it is told otherwise why. */
  turned(): void;
  alarmed(): void;
  state(connected: boolean): void;
  stale(): void; // since is too long ago for the stream: fetch anew, follow from now
}

/** Follows what the query asks for until the page is left. */
export function follow(query: Record<string, string>, f: Follower): void {
  const told = new Map<string, string>(); // why a sensor did not count, by its last reading
  let wait = 1000, socket: WebSocket | null = null, timer = 0;
  const open = () => {
    clearTimeout(timer);
    const q = new URLSearchParams({ ...query, since: String(Math.floor(f.since())) });
    let opened = false;
    const s = socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/api/v1/live?${q}`);
    s.onopen = () => { opened = true; wait = 1000; f.state(true); };
    s.onmessage = (m: MessageEvent<string>) => {
      for (const i of JSON.parse(m.data) as Item[]) {
        if (i.alarm !== undefined) f.alarmed();
        else if (i.sensor !== undefined && i.t !== undefined && i.v !== undefined) {
          const why = i.not_counted?.quality ?? "", own = i.quality !== undefined && i.quality !== RETIMED ? i.quality : "";
          if ((told.get(i.sensor) ?? why) !== why) f.turned();
          told.set(i.sensor, why);
          f.take(i.sensor, i.t, i.v, why || own);
        }
      }
    };
    s.onclose = () => {
      if (s !== socket) return;
      f.state(false);
      if (!opened) void refused(q).then((no) => { if (no) f.stale(); });
      timer = window.setTimeout(open, wait);
      wait = Math.min(wait * 2, 30000);
    };
  };
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && socket !== null && socket.readyState > WebSocket.OPEN) open();
  });
  open();
}

/** A WebSocket does not tell why it was refused; the same question asked
 *  plainly does. 400: the stream cannot begin where it was asked to. */
async function refused(q: URLSearchParams): Promise<boolean> {
  try { return (await fetch(`/api/v1/live?${q}`)).status === 400; } catch { return false; }
}
