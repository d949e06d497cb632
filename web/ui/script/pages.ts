// Rounds and an alarm's page: they follow the alarms and keep themselves new.
import { follow } from "./live.ts";
import { keepNew } from "./renew.ts";

const at = document.querySelector<HTMLElement>("[data-now]");
if (at) {
  const { now = "0", site, tank } = at.dataset;
  const news = keepNew();
  let down = false, since = Number(now);
  follow({ only: "alarms", ...(site ? { site } : {}), ...(tank ? { tank } : {}) }, {
    since: () => since,
    take: () => {},
    turned: () => {},
    alarmed: () => news(),
    state: (on) => { if (on && down) news(); down = !on; },
    stale: () => { since = 0; news(); },
  });
}
