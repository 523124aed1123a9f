/** The technician's page: puts what is recorded, sent, heard and still to do where it can be seen. */

import { Awake } from "./awake.js";
import { Clock } from "./clock.js";
import { STATUS, byTime, jobClock, photosToRetake, photosWanted, toDo } from "./facts.js";
import { Live } from "./live.js";
import { Meter } from "./meter.js";
import { ReadBack } from "./readback.js";
import { CRASHED, Recorder, closeAbandoned, recordingType } from "./recorder.js";
import { Refused, Server, Unreachable } from "./server.js";
import { Store, newId } from "./store.js";
import { Sync } from "./sync.js";

const POLL_WAITING_MS = 2000;
const POLL_IDLE_MS = 20_000;
const CAMERA_BACK_MS = 1500; // after the page is in front again, for the picture to arrive
const LITTLE_ROOM_BYTES = 200e6;
const BYTES_A_MINUTE = 0.5e6;
const SEND_EVERY_PIECES = 5;
const SAID_LETTERS = 600; // so much of what was heard so far is shown, at most

/** @template {HTMLElement} T @param {string} id @returns {T} */
const el = (id) => /** @type {T} */ (document.getElementById(id));

/** @param {string} tag @param {Record<string, string>} [set] @param {...(Node | string)} children */
const make = (tag, set = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(set)) element.setAttribute(name, value);
  element.append(...children);
  return element;
};

/** @param {number} seconds */
const minutes = (seconds) =>
  `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

/** @param {number} count @param {string} one */
const count = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

/** @param {...number} pattern */
const buzz = (...pattern) => navigator.vibrate?.(pattern);

/** @param {import("./store.js").Job} job */
const nameOf = (job) => [job.number, job.registration].filter(Boolean).join(" · ") || `begun ${shortTime(job.openedAt)}`;

/** @param {string} at */
const shortTime = (at) => {
  const moment = new Date(at);
  const today = moment.toDateString() === new Date().toDateString();
  const day = today ? {} : /** @type {const} */ ({ day: "numeric", month: "short" });
  return moment.toLocaleString([], { ...day, hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
};

class Page {
  /** @param {Store} store */
  constructor(store) {
    this.store = store;
    this.server = new Server();
    this.clock = new Clock(this.server, store);
    this.sync = new Sync(store, this.server, this.clock);
    this.recorder = new Recorder(store, this.clock);
    this.awake = new Awake();
    this.meter = new Meter(
      (level) => (el("level").style.transform = `scaleX(${level.toFixed(3)})`),
      (silent) => this.recorder.state === "recording" && this.#silence(silent),
      () => void this.recorder.turnOver(),
    );
    this.live = new Live(this.server, () => ({ job: this.job?.id ?? null, take: this.recorder.take?.id ?? null }));
    /** what was heard of recordings that are not heard whole yet, by take and part @type {Map<string, {take: string, said: string[], saying: string}>} */
    this.said = new Map();
    this.readback = new ReadBack(
      JSON.parse(document.body.dataset.units ?? "{}"),
      () => this.recorder.state !== "idle",
    );
    /** @type {import("./store.js").Job | null} */
    this.job = null;
    /** @type {any} */
    this.state = null;
    /** @type {string | null} */
    this.tag = null;
    /** @type {import("./store.js").Item[]} */
    this.items = [];
    /** ids of the facts that the last note brought, also where it corrects what an earlier one said */
    this.fresh = new Set();
    this.pieces = 0;
    this.pollTimer = 0;
  }

  async start() {
    await this.clock.load();
    this.readback.on = (await this.store.setting("read back")) ?? true;
    this.#wire();
    await this.#recover();
    await this.store.prune();
    const wanted = decodeURIComponent(location.hash.slice(1)) || (await this.store.setting("job"));
    const jobs = await this.store.jobs();
    const known = jobs.find((job) => job.key === wanted || job.id === wanted);
    if (known) await this.#choose(known);
    else if (location.hash.length > 1) await this.#choose(await this.#adopt({ id: wanted }));
    await this.#showItems();
    this.#showVoice();
    this.#showRecorder();
    this.sync.kick();
    void this.#watchRoom();
    if (recordingType() === null || !navigator.mediaDevices) this.#say("This browser can't record here. Open the page over https, in a current browser.");
    document.body.dataset.ready = "yes";
  }

  // --- what happens --------------------------------------------------------------------------------

  #wire() {
    const { recorder, sync } = this;
    el("record").addEventListener("click", () => void this.#toggle());
    recorder.addEventListener("change", () => this.#showRecorder());
    recorder.addEventListener("piece", () => {
      this.pieces += 1;
      if (this.pieces % SEND_EVERY_PIECES === 0) void sync.run();
    });
    recorder.addEventListener("turned", () => {
      void this.#showItems();
      sync.kick();
      this.#poll(0);
    });
    recorder.addEventListener("ended", (event) => this.#ended(/** @type {CustomEvent} */ (event).detail));
    recorder.addEventListener("failed", (event) => {
      buzz(600);
      this.#say(/** @type {CustomEvent} */ (event).detail.message);
    });
    this.live.addEventListener("words", (event) => this.#words(/** @type {CustomEvent} */ (event).detail));
    setInterval(() => this.#showElapsed(), 250);

    const camera = /** @type {HTMLInputElement} */ (el("camera"));
    el("photo").addEventListener("click", () => this.#openCamera(camera));
    camera.addEventListener("change", () => void this.#photos(camera));
    camera.addEventListener("cancel", () => (recorder.cameraOpen = false));
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState !== "visible") return;
      setTimeout(() => (recorder.cameraOpen = false), CAMERA_BACK_MS);
      this.#poll(0);
    });
    addEventListener("pageshow", (event) => event.persisted && void this.#recover());
    addEventListener("beforeunload", (event) => recorder.state === "recording" && event.preventDefault());

    sync.addEventListener("change", () => this.#showItems());
    sync.addEventListener("sent", () => {
      void this.#showItems();
      this.#poll(0);
    });
    sync.addEventListener("opened", () => void this.#opened());

    const jobs = /** @type {HTMLDialogElement} */ (el("jobs"));
    el("job").addEventListener("click", () => void this.#askJob());
    el("jobs-close").addEventListener("click", () => jobs.close());
    el("new-job").addEventListener("submit", (event) => {
      event.preventDefault();
      jobs.close();
      void this.#newJob(/** @type {HTMLFormElement} */ (event.target));
    });
    el("voice").addEventListener("click", () => {
      this.readback.turn(!this.readback.on);
      void this.store.set("read back", this.readback.on);
      this.#showVoice();
    });
    el("again").addEventListener("click", () => this.readback.again());
    el("notice-close").addEventListener("click", () => this.#say(""));
  }

  async #toggle() {
    const { recorder } = this;
    if (recorder.state === "recording") return recorder.stop();
    if (recorder.state !== "idle") return;
    if (!this.job) return this.#askJob();
    this.#say("");
    this.readback.hush();
    el("caution").hidden = true;
    void navigator.storage?.persist?.();
    await recorder.start(this.job.key);
  }

  /** @param {{reason?: string}} detail */
  #ended({ reason }) {
    if (reason) {
      buzz(400, 150, 400, 150, 400);
      this.#say(`Recording ended: ${reason}. What was said until then is kept.`);
    } else buzz(80, 80, 80);
    void this.#showItems();
    this.sync.kick();
    this.#poll(0);
    this.readback.next();
  }

  async #recover() {
    const closed = await closeAbandoned(this.store);
    if (!closed.length) return;
    const length = closed.reduce((sum, item) => sum + item.seconds, 0);
    this.#say(`A recording was cut off because ${CRASHED}. ${minutes(length)} of it are kept and will be sent.`);
  }

  /** @param {HTMLInputElement} camera */
  #openCamera(camera) {
    if (!this.job) return void this.#askJob();
    this.recorder.cameraOpen = true;
    camera.value = "";
    camera.click();
  }

  /** @param {HTMLInputElement} camera */
  async #photos(camera) {
    const key = this.job?.key ?? "";
    const files = [...(camera.files ?? [])];
    this.recorder.cameraOpen = false;
    try {
      for (const file of files) {
        await this.store.addWhole(
          {
            id: newId(),
            job: key,
            kind: "photo",
            type: file.type,
            name: file.name,
            startedAt: new Date(file.lastModified || Date.now()).toISOString(),
            difference: this.clock.difference,
            state: "closed",
            bytes: 0,
            pieces: 0,
            seconds: 0,
          },
          await file.arrayBuffer(),
        );
      }
      if (files.length) buzz(60);
    } catch {
      buzz(600);
      this.#say("The photo could not be kept: this phone has no room left. Free some, and take it again.");
    }
    await this.#showItems();
    this.sync.kick();
  }

  // --- jobs ----------------------------------------------------------------------------------------

  async #askJob() {
    if (this.recorder.state !== "idle") return;
    const dialog = /** @type {HTMLDialogElement} */ (el("jobs"));
    await this.#listJobs();
    if (!dialog.open) dialog.showModal();
    try {
      for (const job of await this.server.jobs()) await this.#adopt(job);
      await this.#listJobs();
    } catch (error) {
      if (!(error instanceof Unreachable || error instanceof Refused)) throw error;
    }
  }

  async #listJobs() {
    const jobs = await this.store.jobs();
    const buttons = jobs.map((job) => {
      const button = make("button", { type: "button", class: "row" }, make("strong", {}, nameOf(job)), make("small", {}, shortTime(job.openedAt)));
      if (job.key === this.job?.key) button.setAttribute("aria-current", "true");
      button.addEventListener("click", () => {
        /** @type {HTMLDialogElement} */ (el("jobs")).close();
        void this.#choose(job);
      });
      return make("li", {}, button);
    });
    el("job-list").replaceChildren(...buttons);
    el("job-none").hidden = buttons.length > 0;
  }

  /** A job of the server's, as the phone keeps it. @param {any} said @returns {Promise<import("./store.js").Job>} */
  async #adopt(said) {
    const known = (await this.store.jobs()).find((job) => job.id === said.id);
    const job = {
      key: known?.key ?? said.id,
      id: said.id,
      number: said.number ?? known?.number ?? "",
      registration: said.registration ?? known?.registration ?? "",
      openedAt: said.opened_at ?? known?.openedAt ?? new Date().toISOString(),
    };
    await this.store.putJob(job);
    if (this.job?.key === job.key) {
      this.job = job;
      el("job-name").textContent = nameOf(job);
      this.#showCard();
    }
    return job;
  }

  /** @param {HTMLFormElement} form */
  async #newJob(form) {
    const given = new FormData(form);
    const job = {
      key: newId(),
      id: null,
      number: String(given.get("number") ?? "").trim(),
      registration: String(given.get("registration") ?? "").trim(),
      openedAt: new Date().toISOString(),
    };
    form.reset();
    await this.store.putJob(job);
    await this.store.set(`said ${job.key}`, []); // all that will be read of it is new
    await this.#choose(job);
    this.sync.kick();
  }

  /** @param {import("./store.js").Job} job */
  async #choose(job) {
    this.job = job;
    this.state = this.tag = null;
    this.fresh = new Set();
    this.said.clear();
    el("job-name").textContent = nameOf(job);
    this.#showCard();
    history.replaceState(null, "", `#${encodeURIComponent(job.key)}`);
    await this.store.set("job", job.key);
    await this.#showItems();
    this.#showState();
    this.#poll(0);
  }

  async #opened() {
    const job = (await this.store.jobs()).find((each) => each.key === this.job?.key);
    if (job) this.job = job;
    this.#showCard();
    this.#poll(0);
  }

  /** The way to the job's card, once the server knows the job; not while recording, which leaving would end. */
  #showCard() {
    const { job } = this;
    el("card-part").hidden = !job?.id;
    /** @type {HTMLAnchorElement} */ (el("card")).href = `/card/${encodeURIComponent(job?.id ?? "")}`;
  }

  // --- what was heard ------------------------------------------------------------------------------

  get waiting() {
    const mine = this.items.some((item) => item.state === "closed");
    const theirs = this.state?.notes?.some((/** @type {any} */ note) => note.status === "waiting");
    return mine || theirs;
  }

  /** @param {number} wait milliseconds */
  #poll(wait) {
    clearTimeout(this.pollTimer);
    this.pollTimer = setTimeout(() => void this.#look(), wait);
  }

  async #look() {
    const { job } = this;
    if (job?.id && document.visibilityState === "visible") {
      try {
        const news = await this.server.state(job.id, this.tag);
        if (news && this.job?.key === job.key) {
          this.tag = news.tag;
          await this.#news(job, news.state);
        }
      } catch (error) {
        if (!(error instanceof Unreachable || error instanceof Refused)) throw error;
      }
    }
    this.#poll(this.waiting ? POLL_WAITING_MS : POLL_IDLE_MS);
  }

  /** @param {import("./store.js").Job} job @param {any} state */
  async #news(job, state) {
    /** @param {any} of */
    const heard = (of) => of?.notes?.filter((/** @type {any} */ note) => note.status === "heard").length ?? 0;
    const more = heard(state) > heard(this.state);
    this.state = state;
    if (state.job) await this.#adopt({ ...state.job, id: job.id, opened_at: job.openedAt });
    const facts = [...(state.facts ?? [])].sort(byTime);
    const said = await this.store.setting(`said ${job.key}`);
    await this.store.set(`said ${job.key}`, facts.map((fact) => fact.id));
    // of a job that was begun elsewhere, what there is already isn't news
    const fresh = said ? facts.filter((fact) => !said.includes(fact.id)) : [];
    this.fresh = new Set([...(more ? [] : this.fresh), ...fresh.map((fact) => fact.id)]);
    this.#showState();
    this.readback.add(fresh);
    this.#showVoice();
  }

  /** @param {{take: string, part: number, said: string[] | null, saying: string}} heard */
  #words({ take, part, said, saying }) {
    const key = `${take} ${part}`;
    this.said.set(key, { take, said: said ?? this.said.get(key)?.said ?? [], saying });
    this.#showSaid();
  }

  // --- showing -------------------------------------------------------------------------------------

  /** @param {string} text one line, or "" */
  #say(text) {
    el("notice-text").textContent = text;
    el("notice").hidden = !text;
  }

  /** @param {boolean} silent */
  #silence(silent) {
    if (silent) {
      buzz(600);
      this.#say("No sound reaches the microphone. Is a headset switched off, or the microphone covered?");
    } else this.#say("");
  }

  #showRecorder() {
    const { state, stream } = this.recorder;
    const recording = state === "recording";
    document.body.dataset.recorder = state;
    el("sign").textContent = { idle: "Not recording", starting: "Starting …", recording: "Recording", stopping: "Stopping …" }[state];
    el("record-word").textContent = recording ? "Stop" : state === "idle" ? "Record" : "…";
    /** @type {HTMLButtonElement} */ (el("job")).disabled = state !== "idle";
    void this.awake.want(recording);
    if (recording && stream) {
      this.pieces = 0;
      buzz(250);
      this.meter.start(stream);
      void this.live.start(stream);
      el("page").scrollTop = 0;
    } else if (state !== "starting") {
      this.meter.stop();
      this.live.stop();
    }
    this.#showSaid();
    this.#showElapsed();
  }

  #showElapsed() {
    el("elapsed").textContent = this.recorder.state === "recording" ? minutes(this.recorder.seconds) : "";
  }

  async #showItems() {
    this.items = this.job ? await this.store.ofJob(this.job.key) : [];
    const photos = this.items.filter((item) => item.kind === "photo").length;
    el("photo-count").textContent = photos ? String(photos) : "";
    el("items").replaceChildren(...[...this.items].reverse().map((item) => this.#itemRow(item)));
    el("kept").hidden = !this.items.length;
    this.#showSaid();
    await this.#showSending();
  }

  /** @param {import("./store.js").Item} item */
  #itemRow(item) {
    const what = item.kind === "photo" ? "Photo" : `Recording, ${minutes(item.seconds)}`;
    const at = new Date(item.startedAt).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    const where = {
      open: "being recorded",
      closed: "on this phone, to be sent",
      sent: "✓ with the server",
      refused: `! kept on this phone; the server says: ${item.problem ?? ""}`,
    }[item.state];
    const row = make("li", { "data-state": item.state }, make("span", {}, `${at} ${what}`), make("small", {}, where));
    if (item.state === "refused") {
      const again = make("button", { type: "button", class: "small" }, "Send again");
      again.addEventListener("click", async () => {
        await this.store.change(item.id, { state: "closed" });
        await this.#showItems();
        this.sync.kick();
      });
      const save = make("button", { type: "button", class: "small" }, "Save a copy");
      save.addEventListener("click", async () => {
        const link = /** @type {HTMLAnchorElement} */ (make("a", { download: item.name }));
        link.href = URL.createObjectURL(await this.store.whole(item));
        link.click();
      });
      row.append(again, save);
    }
    return row;
  }

  async #showSending() {
    const waiting = (await this.store.inState("closed")).length;
    const refused = (await this.store.inState("refused")).length;
    const { phase, message } = this.sync;
    const kept = waiting ? `${waiting} kept on this phone` : "";
    /** @type {Record<import("./sync.js").Phase, [string, string]>} */
    const said = {
      idle: ["✓", waiting ? kept : this.items.length ? "All sent" : "Connected"],
      sending: ["↑", waiting ? `Sending ${waiting}` : "All sent"],
      away: ["⌀", ["No connection", kept].filter(Boolean).join(", ")],
      unpaired: ["!", ["This phone isn't paired", kept].filter(Boolean).join(", ")],
      full: ["!", [message, kept].filter(Boolean).join("; ")],
    };
    const [sign, text] = refused && phase === "idle" ? ["!", `${refused} refused, kept on this phone`] : said[phase];
    el("sending-sign").textContent = sign;
    if (el("sending").textContent !== text) el("sending").textContent = text;
    el("pair").hidden = phase !== "unpaired";
    this.#showProgress();
  }

  #showProgress() {
    const notes = this.state?.notes ?? [];
    const unheard = notes.filter((/** @type {any} */ note) => note.status === "waiting").length;
    const unsent = this.items.filter((item) => item.state === "closed" && item.kind === "recording").length;
    const heard = notes.filter((/** @type {any} */ note) => note.status === "heard").length;
    let text = "";
    el("progress").classList.toggle("unseen", !unsent && !unheard);
    if (unsent) text = this.sync.phase === "away" ? "Will be heard when there is a connection." : "Sending …";
    else if (unheard) text = `${count(unheard, "note")} being heard …`;
    else if (heard) text = `${count(heard, "note")} heard.`;
    if (el("progress").textContent !== text) el("progress").textContent = text;
  }

  #showState() {
    const state = this.state ?? {};
    const facts = [...(state.facts ?? [])].sort(byTime).reverse();
    const notes = (state.notes ?? []).filter((/** @type {any} */ note) => note.status === "heard" && note.text);
    const clock = jobClock(facts);
    el("clock").textContent = clock?.text ?? "";
    el("clock").dataset.running = String(Boolean(clock?.running));
    el("words").textContent = notes.length ? notes.at(-1).text : "";
    el("heard").hidden = !notes.length;
    const last = notes.at(-1)?.id;
    /** @param {any} fact */
    const isLast = (fact) => fact.status !== "rejected" && (fact.note === last || this.fresh.has(fact.id));
    const ofLast = facts.filter(isLast).reverse();
    const before = facts.filter((fact) => !isLast(fact));
    el("facts").replaceChildren(...ofLast.map(factRow));
    el("earlier").replaceChildren(...before.map(factRow));
    el("earlier-part").hidden = !before.length;
    const wanted = photosWanted(facts);
    el("wanted").replaceChildren(...wanted.map((cue) => make("li", {}, cue.text)));
    el("wanted-part").hidden = !wanted.length;
    const retake = photosToRetake(state.photos ?? []);
    el("retake").replaceChildren(...retake.map((photo) => make("li", {}, `${photo.time ?? "Just now"}: ${photo.remark}`)));
    el("retake-part").hidden = !retake.length;
    const todo = toDo(state);
    el("todo").replaceChildren(...todo.map(todoRow));
    el("todo-part").hidden = !todo.length;
    el("todo-count").textContent = String(todo.length);
    el("problems").replaceChildren(...(state.problems ?? []).map((/** @type {any} */ one) => make("li", {}, `${one.file}: ${one.message}`)));
    el("problems-part").hidden = !state.problems?.length;
    if (notes.length) el("caution").hidden = true;
    this.#showSaid();
    this.#showProgress();
  }

  /** What was heard so far, until the recording itself has been heard; the end of it, if it is long. */
  #showSaid() {
    const recording = this.recorder.state === "recording";
    for (const [key, { take }] of this.said) if (this.#isHeard(take)) this.said.delete(key);
    const all = [...this.said.values()];
    const lines = all.flatMap(({ said }) => said);
    let room = SAID_LETTERS;
    const from = lines.findLastIndex((line) => (room -= line.length) < 0);
    const shown = lines.slice(Math.min(from + 1, lines.length - 1)).map((line) => make("p", {}, line));
    const saying = recording ? (all.at(-1)?.saying ?? "") : "";
    if (saying) shown.push(make("p", { class: "saying" }, `${saying} …`));
    const said = el("said");
    said.replaceChildren(...shown);
    el("said-part").hidden = !shown.length;
    // the latest is what somebody looks for, and they have no hand free to scroll
    const bottom = el("page").getBoundingClientRect().bottom;
    while (said.childElementCount > 1 && said.getBoundingClientRect().bottom > bottom) said.firstElementChild?.remove();
    this.#showCues();
  }

  /** @param {string} take  whether its words have come the way that counts, or never will */
  #isHeard(take) {
    const item = this.items.find((each) => each.id === take);
    const note = item?.sha256 && this.state?.notes?.find((/** @type {any} */ each) => each.sha256 === item.sha256);
    return item?.state === "refused" || (note && note.status !== "waiting");
  }

  #showCues() {
    el("cues-part").hidden = this.recorder.state === "idle" || Boolean(this.state?.facts?.length) || !el("said-part").hidden;
  }

  #showVoice() {
    const { on, possible, last } = this.readback;
    const button = el("voice");
    button.setAttribute("aria-pressed", String(on && possible));
    button.textContent = !possible ? "No voice on this phone" : on ? "Reads back: on" : "Reads back: off";
    /** @type {HTMLButtonElement} */ (button).disabled = !possible;
    el("again").hidden = !possible || !last.length;
  }

  async #watchRoom() {
    const { quota = Infinity, usage = 0 } = (await navigator.storage?.estimate?.()) ?? {};
    const room = quota - usage;
    el("room").hidden = room > LITTLE_ROOM_BYTES;
    el("room").textContent = `Little room on this phone: about ${count(Math.floor(room / BYTES_A_MINUTE), "minute")} of recording.`;
    setTimeout(() => void this.#watchRoom(), 60_000);
  }
}

/** @param {any} fact */
const factRow = (fact) => {
  const status = STATUS[/** @type {keyof typeof STATUS} */ (fact.status)];
  const row = make(
    "li",
    { "data-status": fact.status },
    make("span", { class: "status" }, make("span", { "aria-hidden": "true" }, status.sign), ` ${status.word}`),
    make("span", { class: "line" }, fact.text),
  );
  if (fact.audience === "workshop") row.append(make("small", {}, "Workshop only: not for claim or customer"));
  if (fact.status === "check" && fact.why) row.append(make("small", {}, fact.why));
  return row;
};

/** @param {import("./facts.js").ToDo} todo */
const todoRow = ({ kind, title, remedy }) =>
  make("li", { "data-kind": kind }, make("span", { class: "line" }, title), make("small", {}, remedy));

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/sw.js", { scope: "/capture" }).catch(() => {
    // a phone that doesn't trust the workshop's authority yet: all works, but it can't start without a network
    el("offline").hidden = false;
  });
}
await new Page(await Store.open()).start();
