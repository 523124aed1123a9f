// Shows the job card of each second in that second, on the server's clock. A card that is late would set a
// camera's clock wrong, so nothing stays on the screen beyond its second.

const SECOND_MS = 1000;
// how long the newest card may stay when the one after it doesn't come
const GRACE_MS = 200;
// beyond this the answer tells the server's clock too vaguely: half of it is the error
const SLOWEST_MS = 800;

const code = /** @type {HTMLImageElement} */ (document.getElementById("code"));
const clock = /** @type {HTMLElement} */ (document.getElementById("clock"));
const said = /** @type {HTMLElement} */ (document.getElementById("said"));
const { job } = document.body.dataset;

let run = 0;
/** @type {ReturnType<typeof setTimeout>[]} */
let timers = [];

function clear() {
  for (const timer of timers) clearTimeout(timer);
  timers = [];
}

/** @param {string} why */
function hide(why) {
  code.hidden = true;
  code.removeAttribute("src");
  clock.textContent = "\u00a0";
  said.textContent = why;
}

/** @param {{ clock: string, shown: string, qr: string }} card */
function show(card) {
  code.src = card.qr;
  code.hidden = false;
  clock.textContent = card.shown;
  said.textContent = "";
}

/** @param {() => void} what @param {number} at by performance.now() @param {number} mine */
function then(what, at, mine) {
  timers.push(setTimeout(() => mine === run && what(), Math.max(0, at - performance.now())));
}

/** @param {number} mine the run that asks */
async function ask(mine) {
  const asked = performance.now();
  let answer;
  try {
    answer = await fetch(`/api/jobs/${job}/card`, { cache: "no-store", redirect: "error", signal: AbortSignal.timeout(4 * SECOND_MS) });
    if (mine !== run) return;
    if (!answer.ok) {
      clear();
      hide((await answer.json().catch(() => ({}))).error ?? "The server refuses; load the page again.");
      then(() => void ask(mine), performance.now() + 5 * SECOND_MS, mine);
      return;
    }
    answer = await answer.json();
  } catch {
    if (mine !== run) return;
    clear();
    hide("The server does not answer: no card, as its time would be wrong.");
    then(() => void ask(mine), performance.now() + SECOND_MS, mine);
    return;
  }
  if (mine !== run) return;
  const took = performance.now() - asked;
  clear();
  if (took > SLOWEST_MS) {
    hide("The network is too slow: no card, as its time would be wrong.");
    then(() => void ask(mine), performance.now() + SECOND_MS, mine);
    return;
  }
  // the server looked at its clock about half way between question and answer
  const next = asked + took / 2 + answer.left_ms;
  if (performance.now() < next) show(answer.cards[0]);
  then(() => show(answer.cards[1]), next, mine);
  then(() => void ask(mine), next + SECOND_MS / 4, mine);
  then(() => hide("The server does not answer: no card, as its time would be wrong."), next + SECOND_MS + GRACE_MS, mine);
}

function start() {
  run += 1;
  clear();
  hide("");
  if (document.visibilityState === "visible") void ask(run);
}

async function stayAwake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // refused when the battery is low: the screen goes dark, and so does the card
  }
}

// a page that was out of sight, or is taken from the browser's memory, must not come back with an old card
document.addEventListener("visibilitychange", () => {
  start();
  if (document.visibilityState === "visible") void stayAwake();
});
addEventListener("pagehide", () => {
  run += 1;
  clear();
  hide("");
});
addEventListener("pageshow", (event) => event.persisted && start());
start();
void stayAwake();
