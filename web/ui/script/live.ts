// The live feed: resumes where it stopped, after sleep and after being dropped.
import type { Plan } from "./api.ts";

interface Item { sensor?: string; t?: number; v?: number; alarm?: unknown }

/** Calls take for each value and alarmed for each transition. since tells from when on to replay. */
export function follow(p: Plan, since: () => number, take: (sensor: string, t: number, v: number) => void,
  alarmed: () => void, state: (connected: boolean) => void): void {
  let wait = 1000, socket: WebSocket | null = null, timer = 0;
  const open = () => {
    clearTimeout(timer);
    const q = new URLSearchParams({ site: p.site, tank: p.tank, since: String(Math.floor(since())) });
    const s = socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/api/v1/live?${q}`);
    s.onopen = () => { wait = 1000; state(true); };
    s.onmessage = (m: MessageEvent<string>) => {
      for (const i of JSON.parse(m.data) as Item[]) {
        if (i.alarm !== undefined) alarmed();
        else if (i.sensor !== undefined && i.t !== undefined && i.v !== undefined) take(i.sensor, i.t, i.v);
      }
    };
    s.onclose = () => {
      if (s !== socket) return;
      state(false);
      timer = window.setTimeout(open, wait);
      wait = Math.min(wait * 2, 30000);
    };
  };
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && socket !== null && socket.readyState > WebSocket.OPEN) open();
  });
  open();
}
