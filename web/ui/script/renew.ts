// A page that stands open is made new by its own server, so that its words are
// found in one place only. Parts marked data-renew are replaced, and only where
// they differ: nobody loses his place, his focus or what he has typed.

const MINUTE = 60e3, SOON = 200;

/** Renews the page every minute in silence, and aloud soon after what it
 *  returns is called. fresh is given each new page. */
export function keepNew(fresh: (d: Document) => void = () => {}): () => void {
  let timer = 0;
  const go = (aloud: boolean) => { renew(aloud).then(fresh, () => {}); }; // the line is down: the next time will do
  setInterval(() => { if (!document.hidden) go(false); }, MINUTE);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) go(true); });
  return () => { clearTimeout(timer); timer = window.setTimeout(() => go(true), SOON); };
}

/** Fetches this page again, replaces what has changed and, aloud, tells a
 *  screen reader what the sentences marked data-say have become. */
async function renew(aloud: boolean): Promise<Document> {
  const here = new URL(location.href);
  here.searchParams.delete("done");
  const res = await fetch(here, { headers: { Accept: "text/html" } });
  if (!res.ok || res.redirected) throw new Error(`the server answered ${res.status}`);
  const fresh = new DOMParser().parseFromString(await res.text(), "text/html");
  const before = said(document);
  for (const part of document.querySelectorAll<HTMLElement>("[data-renew]")) {
    const other = fresh.querySelector<HTMLElement>(`[data-renew="${part.dataset["renew"]}"]`);
    if (other && other.innerHTML !== part.innerHTML && !writing(part)) replace(part, other);
  }
  const now = said(document), voice = document.querySelector(".js-news");
  if (aloud && now !== before && voice) voice.textContent = now;
  return fresh;
}

/** Whether somebody is writing there. */
function writing(part: HTMLElement): boolean {
  return [...part.querySelectorAll<HTMLInputElement>("input:not([type=hidden])")].some((i) => i.value !== i.defaultValue || i === document.activeElement);
}

function replace(part: HTMLElement, other: HTMLElement): void {
  const focus = document.activeElement;
  const link = focus instanceof HTMLAnchorElement && part.contains(focus) ? focus.getAttribute("href") : null;
  const article = part.closest("article"), its = other.closest("article");
  if (article && its) article.className = its.className; // no longer needs you, or does
  part.replaceChildren(...other.childNodes);
  if (link !== null) part.querySelector<HTMLElement>(`a[href="${CSS.escape(link)}"]`)?.focus();
}

/** The sentences a page is opened for. */
function said(d: Document): string {
  return [...d.querySelectorAll("main [data-say]")].map((e) => (e.textContent ?? "").replace(/\s+/g, " ").trim()).join(" ");
}
