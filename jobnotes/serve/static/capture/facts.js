/**
 * What the page shows of a job's state. Pure: state in, plain values out.
 *
 * @typedef {{title: string, remedy: string, kind: "loose end" | "gap"}} ToDo
 */

/** Said of each status, and its sign: colour alone tells nothing. */
export const STATUS = {
  sure: { sign: "✓", word: "sure" },
  check: { sign: "?", word: "check" },
  accepted: { sign: "✓", word: "accepted" },
  edited: { sign: "✓", word: "edited" },
  rejected: { sign: "×", word: "taken back" },
};

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

const CLOCK = { start: "clocked on", pause: "clock paused", resume: "clock running again", stop: "clocked off" };

/**
 * Whether the job's clock runs, as the last word on it says.
 * @param {any[]} facts @returns {{text: string, running: boolean} | null}
 */
export const jobClock = (facts) => {
  const last = facts.filter((fact) => fact.kind === "clock" && fact.status !== "rejected").sort(byTime).at(-1);
  if (!last) return null;
  const at = last.at ? ` ${new Date(last.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" })}` : "";
  const action = /** @type {keyof typeof CLOCK} */ (last.fields?.action);
  return { text: `${capital(CLOCK[action] ?? last.text)}${at}`, running: action === "start" || action === "resume" };
};

/** @param {any} a @param {any} b */
export const byTime = (a, b) => (Date.parse(a.at ?? "") || 0) - (Date.parse(b.at ?? "") || 0);

/**
 * Photos that were announced and of which there is none yet.
 * @param {any[]} facts @returns {any[]}
 */
export const photosWanted = (facts) =>
  facts.filter((fact) => fact.kind === "photo_cue" && fact.status !== "rejected" && !(fact.photos ?? []).length);

/**
 * Photos that prove little and can still be taken again, the newest first.
 * @param {any[]} photos @returns {any[]}
 */
export const photosToRetake = (photos) => photos.filter((photo) => photo.remark).reverse().slice(0, 5);

// what may stay in the vehicle unseen comes before what is plainly off
const HIDDEN_FIRST = ["lost", "connected"];
const SEVERITY = ["refused", "queried", "nice"];
// until when a gap can be put right, as its rule says: while the vehicle is taken apart, while it is here, later
const FIXABLE = ["open", "here", "desk"];

/**
 * What is still to be done, in the order in which it can still be done: first what may be left inside, then what
 * goes back, the last that came off first, then the gaps in the claim, as their rules say.
 * @param {any} state @returns {ToDo[]}
 */
export const toDo = (state) => {
  const ends = [...(state.loose_ends ?? [])].reverse();
  ends.sort((a, b) => Number(HIDDEN_FIRST.includes(b.state)) - Number(HIDDEN_FIRST.includes(a.state)));
  const gaps = [...(state.claim_gaps ?? [])];
  /** @param {any} gap */
  const rank = (gap) => FIXABLE.indexOf(gap.fixable) * SEVERITY.length + SEVERITY.indexOf(gap.severity);
  gaps.sort((a, b) => rank(a) - rank(b));
  return [
    ...ends.map((end) => ({ kind: /** @type {const} */ ("loose end"), title: capital(end.text), remedy: end.state_name ?? end.state })),
    ...gaps.map((gap) => ({ kind: /** @type {const} */ ("gap"), title: capital(gap.message.split(". ")[0].replace(/\.$/, "")), remedy: gap.remedy ?? "" })),
  ];
};
