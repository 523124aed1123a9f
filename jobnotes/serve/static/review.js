// The review of one job: its statements in order of doubt, decided by keyboard or by hand.

import { ask, byId, h, me, said, when } from "/static/desk.js";
import { fieldsOf, markOffice, openOffice, readOffice, showOffice } from "/static/office.js";
import { sendFrom } from "/static/sending.js";

const job = byId("main").dataset.job;
const api = `/api/jobs/${job}`;
const MARGIN_S = 0.5; // played before and after a statement
const ASK_EVERY_MS = 5000;

const GROUPS = {
  check: "To check",
  sure: "As heard, nothing doubtful",
  decided: "Decided",
  taken_back: "Taken back by the technician",
};
const DONE = {
  accept: "Accepted",
  reject: "Rejected",
  edit: "Edited",
  add: "Added",
  undo: "Undone",
  move_photo: "Photo moved",
  merge: "Combined",
  split: "Split",
  state: "Stated",
  withdraw: "Left to the office’s file",
};

let state = null;
let tag = null;
let deeds = [];
let kinds = [];
let office = null; // what the office knows, as the form shows it
let current = null; // the id of the statement that is open in the list
let working = false;
let decided = 0; // rises with each decision: what was asked for before one is out of date after it

const factOf = (id) => state.facts.find((fact) => fact.id === id);
const photoOf = (id) => state.photos.find((photo) => photo.id === id);
const noteOf = (id) => state.notes.find((note) => note.id === id);
const itemOf = (id) => byId(`fact-${id}`);
const clip = (text, most) => (text.length > most ? `${text.slice(0, most)}…` : text);
const count = (n, one, many) => `${n} ${n === 1 ? one : many}`;
const closeUp = (photo, at) => `${picture(photo, 640)}&at=${at}`;
const picture = (photo, width) => `${api}/photos/${photo.id}?width=${width}&of=${photo.sha256.slice(0, 16)}`;

// --- the state ----------------------------------------------------------------------------------

async function refresh() {
  if (working || document.hidden) return;
  const before = decided;
  try {
    const answer = await fetch(`${api}/state`, tag ? { headers: { "If-None-Match": tag } } : {});
    if (answer.status === 401) location.assign("/pair");
    if (answer.status >= 500) {
      const told = (await answer.json().catch(() => ({}))).error ?? `The server answered ${answer.status}.`;
      if (byId("alarm").textContent !== told) warn(told);
      return;
    }
    if (answer.status !== 200) return;
    const next = await answer.json();
    if (decided !== before) return;
    tag = answer.headers.get("ETag");
    // a decision of this page is filed after it was answered: that changes the version, and nothing to see
    if (state !== null && bare(next) === bare(state)) return;
    const had = state !== null;
    show(next);
    if (had) tell("The job has changed; it is shown as it is now.");
    await Promise.all([loadHistory(), loadOffice()]);
  } catch {
    // the server is away; the next round asks again
  }
}

const bare = (one) => JSON.stringify({ ...one, version: null });

async function loadHistory() {
  const { status, body } = await ask("GET", `${api}/decisions`);
  if (status !== 200) return;
  deeds = body;
  showHistory();
}

function show(next) {
  const active = document.activeElement;
  const inList = active?.closest?.("li.fact") !== null && byId("groups").contains(active);
  const order = state ? state.facts.map((fact) => fact.id) : [];
  state = next;
  if (current !== null && !factOf(current)) {
    current = order.slice(order.indexOf(current)).find((id) => factOf(id)) ?? null;
  }
  current ??= state.facts[0]?.id ?? null;
  showHead();
  showFacts();
  showLacks();
  showMoney();
  showDocuments();
  showSources();
  if (inList) itemOf(current)?.focus({ preventScroll: false });
}

function tell(text) {
  byId("alarm").textContent = "";
  byId("said").textContent = text;
}

function warn(text) {
  byId("said").textContent = "";
  byId("alarm").textContent = text;
}

const decide = (asked, about, then = () => []) => send("decisions", asked, asked.action, about, then);

/** Send what was decided or stated: {stored, body}. What the server shows is shown either way; `then` is what to
 * open if it was stored: the ids of statements, the first that there is. */
async function send(where, asked, action, about, then = () => []) {
  if (working) return { stored: false, body: {} };
  working = true;
  decided += 1;
  document.body.setAttribute("aria-busy", "true");
  const before = state;
  const { status, body } = await ask("POST", `${api}/${where}`, asked);
  working = false;
  document.body.removeAttribute("aria-busy");
  if (body?.office) {
    office = body.office;
    showOffice(office, withdraw);
  }
  if (body?.state) {
    tag = null;
    const there = new Map(body.state.facts.map((fact) => [fact.id, fact]));
    if (status === 200) current = then(there, body.facts).find((id) => there.has(id)) ?? current;
    show(body.state);
  }
  if (status === 200) {
    tell(`${DONE[action]}${about ? `: ${clip(about, 120)}` : ""}. ${changes(before, state)}`);
    loadHistory();
    return { stored: true, body };
  }
  warn(body?.error ?? `The server answered ${status}.`);
  return { stored: false, body: body ?? {} };
}

/** What a decision changed, in one line: it is read out. */
function changes(before, after) {
  const parts = [`${after.counts.check || "Nothing"} left to check`];
  const [had, has] = [before.claim_gaps.length, after.claim_gaps.length];
  if (had !== has) parts.push(`the claim lacks ${count(has, "thing", "things")} (${had} before)`);
  const [were, are] = [before.loose_ends.length, after.loose_ends.length];
  if (were !== are) parts.push(`${count(are, "loose end", "loose ends")} (${were} before)`);
  if (before.totals?.gross !== after.totals?.gross) parts.push(`total ${after.totals?.gross ?? "none"}`);
  return `${parts.join("; ")}.`;
}

// --- head ---------------------------------------------------------------------------------------

function showHead() {
  const head = state.job;
  byId("job-name").textContent = head.number ?? head.registration ?? "without a number";
  const told = [head.registration, head.vin, head.odometer, head.customer, head.technician].filter(Boolean);
  byId("job-facts").replaceChildren(...told.flatMap((text, at) => [at ? " · " : "", said(text)]));
}

// --- the list -----------------------------------------------------------------------------------

function showFacts() {
  const groups = Object.keys(GROUPS).map((group) => {
    const facts = state.facts.filter((fact) => fact.group === group);
    if (!facts.length && group !== "check") return null;
    return [
      h("h3", { id: `group-${group}` }, `${GROUPS[group]} (${facts.length})`),
      facts.length
        ? h("ol", { class: "facts", "aria-labelledby": `group-${group}` }, facts.map(factItem))
        : h("p", { class: "quiet" }, state.facts.length ? "Nothing is left to check." : "Nothing was heard yet."),
    ];
  });
  byId("groups").replaceChildren(...groups.flat(2).filter(Boolean));
}

function factItem(fact) {
  const open = fact.id === current;
  const item = h(
    "li",
    {
      class: `fact ${fact.group}${fact.status === "rejected" ? " rejected" : ""}`,
      id: `fact-${fact.id}`,
      tabindex: open ? "0" : "-1",
      "aria-labelledby": `text-${fact.id} tag-${fact.id}`,
      "aria-describedby": fact.why ? `why-${fact.id}` : undefined,
      "aria-current": open ? "true" : undefined,
    },
    h("p", { class: "line" },
      h("span", { class: `tag ${fact.group} ${fact.status}`, id: `tag-${fact.id}` }, standingOf(fact)),
      " ", h("span", { class: "kind" }, fact.kind_name),
      fact.audience === "workshop" ? h("span", { class: "tag" }, "workshop only") : null),
    h("p", { class: "text", id: `text-${fact.id}` }, said(fact.text)),
    fact.why ? h("p", { class: "why", id: `why-${fact.id}` }, h("strong", {}, "Why: "), said(fact.why)) : null,
    h("p", { class: "heard" }, ...heard(fact)),
    open ? null : shownLine(fact),
  );
  if (open) item.append(opened(fact));
  else if (fact.photos.length) item.append(h("p", { class: "quiet" }, count(fact.photos.length, "photo", "photos")));
  item.addEventListener("click", (event) => {
    if (!event.target.closest("button, a")) choose(fact.id);
  });
  item.addEventListener("focus", () => {
    if (fact.id !== current) choose(fact.id);
  });
  return item;
}

function standingOf(fact) {
  if (fact.status === "sure") return "as heard";
  if (fact.status === "check") return "to check";
  return fact.superseded_by ? "replaced" : fact.status;
}

function heard(fact) {
  const parts = [];
  if (fact.source === "photo") parts.push("In the photo: ");
  if (fact.quote) parts.push(h("q", {}, said(fact.quote)));
  else parts.push(h("span", {}, "added by hand"));
  const from = [
    fact.note && fact.heard_at ? `${fact.note} ${fact.heard_at}` : fact.note,
    time(fact),
    fact.quote ? `confidence ${fact.confidence}` : null,
    fact.decided_by ? `${fact.decided_by}, ${when(fact.decided_at)}` : null,
  ].filter(Boolean);
  if (from.length) parts.push(" ", h("span", { class: "quiet" }, said(from.join(" · "))));
  return parts;
}

/** A time as it is told, with why it is in doubt, if it is. */
function time(of) {
  return of.time && of.time_doubt ? `${of.time} (${of.time_doubt})` : of.time;
}

/** What photos show of a statement, in one line: that it is what was said, or what stands there instead. */
function shownLine(fact) {
  const told = (fact.shown ?? []).filter((shown) => fact.source !== "photo");
  if (!told.length) return null;
  return h("p", { class: "quiet" }, [...new Set(told.map(shownText))].join("; "));
}

function shownText(shown) {
  if (shown.agrees && shown.said) return `${shown.name} read in ${shown.photo}`;
  return `${shown.photo} shows ${shown.name} ${shown.value}`;
}

/** What photos show of a statement: the writing itself, what was read, and a choice where it is something else. */
function inPhotos(fact) {
  if (!fact.shown) return null;
  return h("ul", { class: "shown", "aria-label": "Read in photos" }, fact.shown.map((shown) => {
    const photo = photoOf(shown.photo);
    return h("li", { class: shown.agrees ? "" : "against" },
      photo
        ? h("button", { type: "button", class: "thumb", onclick: () => openPhoto(photo.id, fact.id) },
          h("img", { src: closeUp(photo, shown.at), alt: `Photo ${shown.photo} shows “${shown.text}”: enlarge`, loading: "lazy" }))
        : null,
      h("p", {},
        h("strong", {}, fact.source === "photo" ? "Read" : shown.agrees ? (shown.said ? "The same" : "Only there") : "Something else"), ` in ${shown.photo}: `,
        `${shown.name} `, said(shown.value),
        fact.source === "photo" ? "" : h("span", { class: "quiet" }, " written as ", h("q", {}, said(shown.text)))),
      shown.take
        ? h("button", { type: "button", class: "plain", "aria-keyshortcuts": shown === toTake(fact) ? "T" : undefined, onclick: () => take(fact, shown) }, `Take what ${shown.photo} shows`)
        : null);
  }));
}

const toTake = (fact) => (fact.shown ?? []).find((shown) => shown.take && !shown.agrees) ?? (fact.shown ?? []).find((shown) => shown.take);

/** What stands in the photo is what counts: an edit like any other, in one go. */
async function take(fact, shown = toTake(fact)) {
  if (!shown?.take) {
    tell("No photo shows anything else.");
    return;
  }
  await decide({ action: "edit", fact: fact.id, seen: fact.seen, kind: fact.kind, values: shown.take, audience: fact.audience }, `${shown.name} ${shown.value}`, () => [fact.id]);
}

function opened(fact) {
  const stands = fact.status !== "rejected";
  const button = (text, keys, act, cls = "plain") =>
    h("button", { type: "button", class: cls, "aria-keyshortcuts": keys, onclick: act }, text);
  return h("div", { class: "opened" },
    fact.repairs.length
      ? h("p", { class: "quiet" }, "Put right: ", fact.repairs.map((r, at) => [at ? "; " : "", "“", said(r.heard), "” is read as “", said(r.read_as), "”"]).flat())
      : null,
    inPhotos(fact),
    fact.photos.length
      ? h("ul", { class: "thumbs", "aria-label": "Photos" }, fact.photos.map((id) => h("li", {}, thumb(photoOf(id), fact.id))))
      : null,
    h("div", { class: "row buttons" },
      playable(fact) ? playButton(fact) : null,
      button("Accept", "Enter", () => act("accept", fact), "go"),
      button("Edit", "E", () => edit(fact)),
      stands ? button("Reject", "Delete", () => act("reject", fact), "stop") : null,
      stands ? button("Split", "S", () => split(fact)) : null,
      stands ? button("Combine", "C", () => combine(fact)) : null,
      state.photos.some((p) => p.id) ? button("Photos", "P", () => openPhotos(fact)) : null));
}

function thumb(photo, from) {
  return h("button", { type: "button", class: "thumb", onclick: () => openPhoto(photo.id, from) },
    h("img", { src: picture(photo, 320), alt: `Photo ${photo.id}, taken ${time(photo)}: enlarge`, loading: "lazy", width: "112", height: "84" }));
}

function choose(id, focus = true) {
  const old = current;
  current = id;
  for (const other of [old, id]) {
    const item = other && itemOf(other);
    if (item) item.replaceWith(factItem(factOf(other)));
  }
  if (focus) itemOf(id)?.focus();
}

function step(by) {
  const at = state.facts.findIndex((fact) => fact.id === current);
  const next = state.facts[Math.max(0, Math.min(state.facts.length - 1, at + by))];
  if (next) choose(next.id);
}

async function act(action, fact) {
  // the next of the same group is what a person wants to see, wherever this one goes
  const order = state.facts.filter((other) => other.group === fact.group).map((other) => other.id);
  const at = order.indexOf(fact.id);
  const others = [...order.slice(at + 1), ...order.slice(0, at).reverse()];
  await decide({ action, fact: fact.id, seen: fact.seen }, fact.text, (there) =>
    [...others.filter((id) => there.get(id)?.group === fact.group), ...there.keys()]);
}

// --- sound --------------------------------------------------------------------------------------

const player = new Audio();
let playing = null;

const playable = (fact) => fact.note !== undefined && fact.start_s !== undefined && noteOf(fact.note) !== undefined;

function play(fact) {
  if (!playable(fact)) return;
  if (playing === fact.id) {
    player.pause();
    stopped();
    return;
  }
  stopped();
  const note = noteOf(fact.note);
  const from = Math.max(0, fact.start_s - MARGIN_S).toFixed(2);
  const to = Math.min(note.duration_s, (fact.end_s ?? fact.start_s) + MARGIN_S).toFixed(2);
  player.src = `${api}/notes/${note.id}/sound?from=${from}&to=${to}&of=${note.sha256.slice(0, 16)}`;
  playing = fact.id;
  mark("Stop");
  player.play().catch(() => {
    stopped();
    warn("That can’t be played here.");
  });
}

const playButton = (fact) =>
  h("button", { type: "button", class: "plain play", "data-of": fact.id, "aria-keyshortcuts": "Space", onclick: () => play(fact) },
    playing === fact.id ? "Stop" : "Play");

function mark(text) {
  for (const button of document.querySelectorAll("button.play")) {
    if (button.dataset.of === playing) button.textContent = text;
  }
}

function stopped() {
  mark("Play");
  playing = null;
}

player.addEventListener("ended", stopped);

// --- keys ---------------------------------------------------------------------------------------

const KEYS = {
  ArrowDown: () => step(1),
  ArrowUp: () => step(-1),
  Home: () => step(-state.facts.length),
  End: () => step(state.facts.length),
  Enter: (fact) => act("accept", fact),
  Delete: (fact) => fact.status !== "rejected" && act("reject", fact),
  " ": play,
  e: edit,
  s: (fact) => fact.status !== "rejected" && split(fact),
  c: (fact) => fact.status !== "rejected" && combine(fact),
  p: openPhotos,
  t: (fact) => take(fact),
  a: () => add(),
  u: () => undoLast(),
  o: stateOffice,
  h: () => byId("help").showModal(),
};

byId("groups").addEventListener("keydown", (event) => {
  // only while the statement itself has the focus: within it, keys are those of buttons
  if (!event.target.matches("li.fact") || event.ctrlKey || event.altKey || event.metaKey) return;
  const run = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  const fact = factOf(current);
  if (!run || !fact) return;
  event.preventDefault();
  if (!event.repeat || event.key.startsWith("Arrow")) run(fact);
});

// --- forms --------------------------------------------------------------------------------------

let sending = null; // what the open form does with what was filled in: true if it is done

function openForm(title, store, build, ...about) {
  byId("form-title").textContent = title;
  byId("form-store").textContent = store;
  byId("form-said").textContent = "";
  byId("form-body").replaceChildren(...about.filter(Boolean), ...build);
  byId("form").showModal();
  byId("form-body").querySelector("[data-field]:not([data-field$=kind])")?.focus();
}

byId("form-cancel").addEventListener("click", () => byId("form").close());
byId("form").addEventListener("close", () => itemOf(current)?.focus());
byId("form-itself").addEventListener("submit", async (event) => {
  event.preventDefault();
  const { stored, body } = await sending();
  if (stored) {
    byId("form").close();
    return;
  }
  byId("form-said").textContent = body.error ?? "";
  for (const field of byId("form-body").querySelectorAll("[data-field]")) {
    const wrong = body.fields?.[field.dataset.field];
    field.toggleAttribute("aria-invalid", false);
    if (wrong) field.setAttribute("aria-invalid", "true");
    byId(`${field.id}-wrong`).textContent = wrong ?? "";
  }
  byId("form-body").querySelector("[aria-invalid=true]")?.focus();
});

/** A form for one statement; read() gives {kind, values, audience}. `key` comes before the names of fields. */
function statementForm(kind, values, audience, key = "", legend = "") {
  const box = h("div", { class: "fields" });
  const chosen = h("select", { id: `f-${key}kind`, "data-field": `${key}kind`, "aria-describedby": `f-${key}kind-wrong` },
    kinds.map((k) => h("option", { value: k.kind, selected: k.kind === kind }, k.name)));
  const readers = h("select", { id: `f-${key}audience` },
    h("option", { value: "all", selected: audience === "all" }, "everybody"),
    h("option", { value: "workshop", selected: audience === "workshop" }, "only the workshop"));
  let held = { ...values };
  const fields = () => kinds.find((k) => k.kind === chosen.value).fields;
  const fill = () => box.replaceChildren(...fields().map((field) => fieldRow(field, held[field.name] ?? "", key)));
  const read = () => Object.fromEntries(
    fields().map((f) => [f.name, byId(`f-${key}${f.name}`).value]));
  let shownKind = kind;
  chosen.addEventListener("change", () => {
    const old = kinds.find((k) => k.kind === shownKind).fields;
    for (const f of old) held[f.name] = byId(`f-${key}${f.name}`).value;
    shownKind = chosen.value;
    fill();
  });
  fill();
  const parts = [
    h("p", {}, h("label", { for: chosen.id }, "Kind"), chosen, h("span", { class: "wrong", id: `${chosen.id}-wrong` })),
    box,
    key === "second." ? null : h("p", {}, h("label", { for: readers.id }, "Who may read it"), readers),
  ].filter(Boolean);
  const element = legend ? h("fieldset", {}, h("legend", {}, legend), parts) : h("div", {}, parts);
  return { element, read: () => ({ kind: chosen.value, values: read(), audience: readers.value }) };
}

function fieldRow(field, value, key) {
  const id = `f-${key}${field.name}`;
  const given = {
    id,
    "data-field": `${key}${field.name}`,
    "aria-describedby": `${field.hint ? `${id}-hint ` : ""}${id}-wrong`,
    "aria-required": field.needed ? "true" : undefined,
  };
  let input;
  if (field.shape === "choice") {
    const options = field.choices.map(([v, text]) => h("option", { value: v, selected: v === value }, text));
    if (value && !field.choices.some(([v]) => v === value)) options.push(h("option", { value, selected: true }, value));
    input = h("select", given, h("option", { value: "" }, field.needed ? "choose" : "not stated"), options);
  } else if (field.shape === "long") {
    input = h("textarea", { ...given, rows: "3", dir: "auto" });
    input.value = value;
  } else {
    const mode = field.shape === "number" ? "decimal" : field.shape === "whole" ? "numeric" : undefined;
    const list = field.choices.length ? `${id}-list` : undefined;
    input = h("input", { ...given, autocomplete: "off", inputmode: mode, list, dir: "auto" });
    input.value = value;
  }
  return h("p", {},
    h("label", { for: id }, field.label, field.needed ? h("span", { class: "needed" }, " (needed)") : null),
    input,
    field.hint ? h("span", { class: "hint", id: `${id}-hint` }, field.hint) : null,
    h("span", { class: "wrong", id: `${id}-wrong` }),
    field.shape === "text" && field.choices.length
      ? h("datalist", { id: `${id}-list` }, field.choices.map(([v]) => h("option", { value: v })))
      : null);
}

const evidence = (fact) =>
  h("div", { class: "evidence" },
    fact.quote ? h("p", {}, fact.source === "photo" ? "In the photo: " : "Heard: ", h("q", {}, said(fact.quote))) : null,
    fact.why ? h("p", { class: "why" }, h("strong", {}, "Why: "), said(fact.why)) : null,
    playable(fact) ? playButton(fact) : null);

function edit(fact) {
  const form = statementForm(fact.kind, fact.fields, fact.audience);
  sending = () => decide({ action: "edit", fact: fact.id, seen: fact.seen, ...form.read() }, fact.text);
  openForm("Edit the statement", "Store", [form.element], evidence(fact));
}

function add() {
  const form = statementForm("finding", {}, "all");
  const offset = state.notes[0]?.started_at?.match(/[+-]\d\d:\d\d$/)?.[0] ?? "+00:00";
  const at = h("input", { id: "f-at", type: "datetime-local", "data-field": "at", "aria-describedby": "f-at-hint f-at-wrong" });
  sending = () => {
    const moment = at.value ? `${at.value.length === 16 ? `${at.value}:00` : at.value}${offset}` : undefined;
    return decide({ action: "add", ...form.read(), at: moment }, "", (_, facts) => facts);
  };
  openForm("Add a statement by hand", "Add", [
    form.element,
    h("p", {}, h("label", { for: "f-at" }, "When"), at,
      h("span", { class: "hint", id: "f-at-hint" }, "Needed for a clock; else it may be left out"),
      h("span", { class: "wrong", id: "f-at-wrong" }))]);
}

function split(fact) {
  const one = statementForm(fact.kind, fact.fields, fact.audience, "first.", "The first, which stays in its place");
  const two = statementForm(fact.kind, fact.fields, fact.audience, "second.", "The second, with the same evidence");
  sending = () => {
    const { audience: _, ...first } = one.read();
    const { audience: __, ...second } = two.read();
    return decide({ action: "split", fact: fact.id, seen: fact.seen, first, second }, fact.text);
  };
  openForm("Split the statement in two", "Split", [one.element, two.element], evidence(fact));
  for (const readers of byId("form-body").querySelectorAll("#f-first\\.audience")) readers.closest("p").remove();
}

function combine(fact) {
  const others = state.facts.filter((f) => f.id !== fact.id && f.status !== "rejected");
  if (!others.length) {
    warn("There is no other statement to combine it with.");
    return;
  }
  const near = (f) => (f.kind === fact.kind ? 0 : 1);
  others.sort((a, b) => near(a) - near(b) || (a.at ?? "").localeCompare(b.at ?? ""));
  const other = h("select", { id: "f-other" }, others.map((f) => h("option", { value: f.id }, nameOf(f))));
  const form = statementForm(fact.kind, fact.fields, fact.audience);
  sending = () => {
    const gone = factOf(other.value);
    return decide({ action: "merge", fact: fact.id, seen: fact.seen, other: gone?.id, seen_other: gone?.seen, ...form.read() }, fact.text);
  };
  openForm("Combine two statements", "Combine", [
    h("p", {}, h("label", { for: "f-other" }, "This one takes the place of"), other,
      h("span", { class: "hint" }, "That one stays in the record as replaced; its photos come here")),
    form.element], evidence(fact));
}

const nameOf = (fact) => `${fact.heard_at ? `${fact.note} ${fact.heard_at} ` : ""}${fact.kind_name}: ${clip(fact.text, 70)}`;

async function undoLast() {
  await loadHistory(); // never by what was the last one a moment ago
  const { name } = await me();
  const last = deeds.find((deed) => deed.counts && !["undo", "withdraw"].includes(deed.action) && deed.who === name);
  if (!last) {
    tell("Nothing that was decided at this desk is left to undo.");
    return;
  }
  await undo(last);
}

async function undo(deed) {
  if (deed.stated !== undefined) {
    const about = deed.changes.map((change) => change.label).join(", ");
    await send("stated", { take_back: deed.stated }, "undo", about);
    return;
  }
  const about = deed.changes.map((change) => (change.before ?? change.after)?.text).find(Boolean);
  await decide({ action: "undo", decision: deed.decision }, about, (_, facts) => facts);
}

byId("add").addEventListener("click", add);
byId("undo").addEventListener("click", undoLast);
byId("help-open").addEventListener("click", () => byId("help").showModal());
byId("help-close").addEventListener("click", () => byId("help").close());

// --- from the office ----------------------------------------------------------------------------

async function loadOffice() {
  const { status, body } = await ask("GET", `${api}/stated`);
  if (status !== 200) return;
  office = body;
  showOffice(office, withdraw);
}

async function withdraw(key) {
  const label = fieldsOf(office).find((field) => field.key === key)?.label;
  await send("stated", { withdraw: key }, "withdraw", label);
  byId("office-open").focus(); // the button that was pressed is gone
}

let shownOffice = null; // what the open form was filled from: what is changed is told against this

let officeFrom = ""; // where the focus goes back to

function stateOffice() {
  if (!office) return;
  shownOffice = office;
  officeFrom = document.activeElement?.id ?? "";
  openOffice(office);
}

byId("office-open").addEventListener("click", stateOffice);
byId("office-cancel").addEventListener("click", () => byId("office").close());
byId("office").addEventListener("close", () => {
  const fromButton = officeFrom === "office-open" || !itemOf(current);
  (fromButton ? byId("office-open") : itemOf(current)).focus();
});
byId("office-itself").addEventListener("submit", async (event) => {
  event.preventDefault();
  const changed = readOffice(shownOffice);
  if (!Object.keys(changed.values).length) {
    byId("office-said").textContent = "Nothing was changed.";
    return;
  }
  const labels = fieldsOf(shownOffice).filter((field) => field.key in changed.values);
  const { stored, body } = await send("stated", changed, "state", labels.map((field) => field.label).join(", "));
  if (stored) {
    byId("office").close();
    return;
  }
  byId("office-said").textContent = body.error ?? "";
  markOffice(shownOffice, body.fields ?? {});
});

// --- photos -------------------------------------------------------------------------------------

let open = null; // {photo, from}: the photo shown, and the statement from which it was opened

function openPhotos(fact) {
  const first = fact.photos[0] ?? state.photos.find((photo) => photo.id)?.id;
  if (first) openPhoto(first, fact.id);
  else tell("The job has no photos.");
}

function openPhoto(id, from) {
  open = { photo: id, from };
  showPhoto();
  if (!byId("photo").open) byId("photo").showModal();
}

function showPhoto() {
  const photo = photoOf(open.photo);
  byId("photo-title").textContent = `Photo ${photo.id}, taken ${time(photo)}`;
  byId("photo-itself").src = picture(photo, 1280);
  byId("photo-itself").alt = `Photo ${photo.id}`;
  const all = photo.fact_ids.map(factOf).filter(Boolean);
  byId("photo-said").replaceChildren(
    all.length ? "Shown with: " : "It belongs to no statement.",
    ...all.flatMap((fact, at) => [at ? "; " : "", said(fact.text)]),
    photo.linked_by === "person" ? " (placed by hand)" : "");
  const here = open.from && photo.fact_ids.includes(open.from);
  const named = (fact, selected) => h("option", { value: fact.id, selected }, nameOf(fact));
  const takenFrom = open.from && !here ? null : here ? open.from : photo.fact_ids[0];
  byId("photo-from").replaceChildren(
    h("option", { value: "" }, "nothing: it stays where it is, too"),
    ...all.map((fact) => named(fact, fact.id === takenFrom)));
  const standing = state.facts.filter((fact) => fact.status !== "rejected" && !photo.fact_ids.includes(fact.id));
  standing.sort((a, b) => (a.at ?? "").localeCompare(b.at ?? ""));
  byId("photo-to").replaceChildren(
    h("option", { value: "" }, "no other statement"),
    ...standing.map((fact) => named(fact, fact.id === open.from)));
  nameMove();
}

/** The button says what it does: a photo must not be taken away by somebody who meant to move it. */
function nameMove() {
  const [source, target] = [byId("photo-from").value, byId("photo-to").value];
  byId("photo-do").textContent = target ? (source ? "Move the photo" : "Put the photo there") : "Take the photo away";
  byId("photo-do").disabled = !source && !target;
}

function turn(by) {
  const ids = state.photos.filter((photo) => photo.id).map((photo) => photo.id);
  open.photo = ids[(ids.indexOf(open.photo) + by + ids.length) % ids.length];
  showPhoto();
}

byId("photo-from").addEventListener("change", nameMove);
byId("photo-to").addEventListener("change", nameMove);
byId("photo-before").addEventListener("click", () => turn(-1));
byId("photo-next").addEventListener("click", () => turn(1));
byId("photo-close").addEventListener("click", () => byId("photo").close());
byId("photo").addEventListener("close", () => itemOf(current)?.focus());
byId("photo-move").addEventListener("submit", async (event) => {
  event.preventDefault();
  const photo = photoOf(open.photo);
  const [source, target] = [factOf(byId("photo-from").value), factOf(byId("photo-to").value)];
  if (!source && !target) {
    byId("photo").close();
    return;
  }
  const asked = { action: "move_photo", photo: photo.id, sha256: photo.sha256 };
  if (source) Object.assign(asked, { fact: source.id, seen: source.seen });
  if (target) Object.assign(asked, { to: target.id, seen_to: target.seen });
  await decide(asked, `${photo.id} ${target ? `to ${target.text}` : `away from ${source.text}`}`);
  byId("photo").close();
});

// --- beside the list ----------------------------------------------------------------------------

function toFact(id) {
  const fact = factOf(id);
  if (!fact) return null;
  return h("button", { type: "button", class: "link", onclick: () => choose(id) }, "Show", h("span", { class: "unseen" }, ` ${clip(fact.text, 60)}`));
}

function showLacks() {
  const ends = state.loose_ends.filter((end) => end.certain);
  const perhaps = state.loose_ends.filter((end) => !end.certain);
  const listed = (ends, look) => h("ul", { class: "lacks ends" }, ends.map((end) => h("li", { class: look }, h("span", { class: `tag ${look}` }, end.state_name), h("span", {}, said(end.text)), toFact(end.fact))));
  const parts = [];
  if (ends.length) {
    parts.push(h("h3", {}, `Loose ends (${ends.length})`),
      h("p", { class: "quiet" }, "What is still off, open or lost may be unsafe: settle it before the vehicle goes."),
      listed(ends, "stop"));
  }
  if (perhaps.length) {
    parts.push(h("h3", {}, `Perhaps loose too (${perhaps.length})`),
      h("p", { class: "quiet" }, "What was said does not settle these: listen, or look at the vehicle, before it goes."),
      listed(perhaps, "check"));
  }
  for (const severity of ["refused", "queried", "nice"]) {
    const gaps = state.claim_gaps.filter((gap) => gap.severity === severity);
    if (!gaps.length) continue;
    parts.push(h("h3", {}, `${gaps[0].severity_name} (${gaps.length})`),
      h("ul", { class: "lacks" }, gaps.map((gap) => h("li", { class: severity }, said(gap.message), h("span", { class: "remedy" }, said(gap.remedy))))));
  }
  if (!parts.length) parts.push(h("p", {}, state.facts.length ? "Nothing that the claim policy asks for." : "Nothing was heard yet."));
  for (const problem of state.problems) {
    parts.push(h("p", { class: "problem" }, h("strong", {}, said(problem.file), ": "), said(problem.message)));
  }
  byId("lacks").replaceChildren(...parts);
}

function showMoney() {
  const totals = state.totals;
  const parts = [];
  if (totals) {
    const row = (name, sums) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, sums.net), h("td", {}, sums.tax), h("td", {}, sums.gross));
    parts.push(h("table", { class: "money" },
      h("thead", {}, h("tr", {}, ["Who pays", "Net", "Tax", "Gross"].map((name) => h("th", { scope: "col" }, name)))),
      h("tbody", {}, totals.split.map((sums) => row(sums.payer_name, sums)), row("all", totals))));
  } else {
    parts.push(h("p", { class: "quiet" }, "Nothing is priced: the workshop has given no prices."));
  }
  const remarks = [...state.charge_remarks, ...state.labour_remarks];
  if (remarks.length) parts.push(h("ul", { class: "lacks" }, remarks.map((text) => h("li", { class: "queried" }, said(text)))));
  byId("money").replaceChildren(...parts);
}

function showDocuments() {
  if (!state.facts.length) {
    byId("documents").replaceChildren(h("p", { class: "quiet" }, "Once something was heard."));
    return;
  }
  const names = { claim: "Warranty claim", customer: "Customer’s invoice", workshop: "Job sheet" };
  byId("documents").replaceChildren(
    state.draft ? h("p", { class: "why" }, `Draft while something is unchecked: ${count(state.counts.check, "statement", "statements")} to check${state.charge_remarks.length ? ", and what is charged" : ""}.`) : h("p", {}, "Everything is checked."),
    h("ul", { class: "documents" }, Object.entries(names).map(([name, text]) => h("li", {},
      h("a", { class: "button", href: `${api}/documents/${name}.docx`, download: true }, `${text}${state.draft ? ", draft" : ""}`)))));
}

function showSources() {
  const waiting = state.notes.filter((note) => note.status === "waiting").length;
  byId("sources").replaceChildren(
    h("p", {}, `${count(state.notes.length, "note", "notes")}${waiting ? `, ${waiting} not heard yet` : ""}, ${count(state.photos.length, "photo", "photos")}.`),
    ...state.notes.filter((note) => note.id).map((note) => h("details", {},
      h("summary", {}, `${note.id}, ${time(note)}: `, said(clip(note.file, 60))),
      h("p", {}, said(note.text)))),
    h("ul", { class: "thumbs", "aria-label": "All photos" }, state.photos.filter((photo) => photo.id).map((photo) => h("li", {}, thumb(photo, null), h("span", { class: "quiet" }, `${photo.id} ${time(photo)}`, photo.fact_ids.length ? "" : ", with no statement")))));
}

function showHistory() {
  const key = (deed) => (deed.stated !== undefined ? `s${deed.stated}` : deed.decision);
  const focused = document.activeElement?.dataset?.deed;
  if (!deeds.length) {
    byId("history").replaceChildren(h("p", { class: "quiet" }, "Nothing was decided yet."));
    return;
  }
  byId("history").replaceChildren(h("ol", { class: "deeds", reversed: true }, deeds.map((deed) =>
    h("li", { class: deed.counts ? "" : "gone" },
      h("p", {}, h("strong", {}, deedName(deed)), deed.counts ? "" : " (taken back)",
        h("br"), h("span", { class: "quiet" }, said(deed.who), `, ${when(deed.at)}`)),
      h("dl", {}, deed.changes.flatMap((change) => changed(change, deed))),
      deed.counts
        ? h("button", { type: "button", class: "plain", "data-deed": key(deed), onclick: () => undo(deed) }, deed.action === "undo" ? "Make it count again" : "Take back", h("span", { class: "unseen" }, ` ${deedName(deed)}`))
        : null))));
  if (focused) byId("history").querySelector(`[data-deed="${focused}"]`)?.focus();
}

const deedName = (deed) => (deed.action === "undo" ? `Taken back: ${(DONE[deed.undoes] ?? "").toLowerCase()}` : DONE[deed.action]);

function changed(change, deed) {
  if (change.entry !== undefined) {
    return [h("dt", {}, "What"), h("dd", {}, change.label), h("dt", {}, "Before"), h("dd", {}, said(change.was ?? "none")),
      h("dt", {}, "After"), h("dd", {}, said(change.now ?? "none"))];
  }
  const rows = [];
  const photos = (fact) => (fact.photos.length ? ` [${fact.photos.join(", ")}]` : " [no photo]");
  const moved = change.before && change.after && change.before.photos.join() !== change.after.photos.join();
  const words = (fact) => [said(clip(fact.text, 300)), moved ? photos(fact) : "", h("span", { class: "quiet" }, ` (${fact.status_name})`), fact.audience === "workshop" ? " (workshop only)" : "", fact.superseded_by ? " (replaced)" : ""];
  if (change.before) rows.push(h("dt", {}, "Before"), h("dd", {}, words(change.before)));
  if (change.after) rows.push(h("dt", {}, "After"), h("dd", {}, words(change.after)));
  const verdict = { accept: "accepted", reject: "rejected" }[deed.action];
  if (verdict) rows.push(h("dt", {}, "After"), h("dd", {}, verdict));
  return rows;
}

// --- start --------------------------------------------------------------------------------------

sendFrom(byId("send"), api, refresh);
const { body } = await ask("GET", `${api}/forms`);
if (Array.isArray(body)) kinds = body;
else warn(body?.error ?? "The server doesn’t answer; load the page again.");
await refresh();
if (!office) await loadOffice(); // what stands in the way of the rest can be put right there
if (location.hash.length > 1 && factOf(location.hash.slice(1))) choose(location.hash.slice(1));
setInterval(refresh, ASK_EVERY_MS);
document.addEventListener("visibilitychange", refresh);
