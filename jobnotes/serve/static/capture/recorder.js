/**
 * Records the microphone in pieces of a second, each kept before the next is waited for.
 *
 * A recording ends by hand, or when the phone takes the microphone or the page away: then it says why. What it
 * had is whole in either case.
 *
 * Events: "change" (state), "piece", "turned" (a pause: one recording is whole, the next runs), "ended" (detail: {reason, id}), "failed" (detail: {message}).
 */

import { newId } from "./store.js";

const PIECE_MS = 1000;
const STALLED_MS = 5000;
const MUTED_MS = 1000; // a shorter one is no call
const LEAST_S = 10; // shorter notes would tear apart what belongs together

// the first that the browser can make; Opus loses least of a voice
const TYPES = ["audio/webm;codecs=opus", "audio/mp4;codecs=mp4a.40.2", "audio/mp4", "audio/ogg;codecs=opus"];
const BITS_PER_S = { webm: 48_000, mp4: 96_000, ogg: 48_000 };

export const CALL = "the phone took the microphone away, as for a call";
export const HIDDEN = "the screen was locked, or something else came to the front";
export const CRASHED = "the page was closed or crashed";
const STALLED = "the phone stopped giving sound";

/** @returns {string | null} the media type that is recorded, or null where the browser can't */
export const recordingType = () =>
  globalThis.MediaRecorder ? (TYPES.find((type) => MediaRecorder.isTypeSupported(type)) ?? "") : null;

/** @param {string} id  the name under which a page that still runs holds its recording */
const lockName = (id) => `recording ${id}`;

/** @typedef {"idle" | "starting" | "recording" | "stopping"} RecorderState */

/** One recording that is being made. */
class Take {
  /** @param {string} id @param {MediaRecorder} media @param {() => void} letGo */
  constructor(id, media, letGo) {
    this.id = id;
    this.media = media;
    this.letGo = letGo;
    this.startedAt = this.lastPieceAt = performance.now();
    /** @type {Promise<void>} one piece after the other */
    this.writing = Promise.resolve();
  }

  get seconds() {
    return (performance.now() - this.startedAt) / 1000;
  }
}

export class Recorder extends EventTarget {
  /** @param {import("./store.js").Store} store @param {import("./clock.js").Clock} clock */
  constructor(store, clock) {
    super();
    this.store = store;
    this.clock = clock;
    /** @type {RecorderState} */
    this.state = "idle";
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {Take | null} */
    this.take = null;
    this.job = "";
    this.startedAt = 0;
    /** true while the camera is in front of the page: that is no reason to end */
    this.cameraOpen = false;
    /** @type {string | undefined} */
    this.reason = undefined;
    /** @type {Promise<void> | null} */
    this.turning = null;
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "hidden" && !this.cameraOpen) void this.stop(HIDDEN);
    });
    addEventListener("pagehide", () => void this.stop(CRASHED));
    document.addEventListener("freeze", () => void this.stop(HIDDEN));
  }

  get seconds() {
    return this.state === "recording" ? (performance.now() - this.startedAt) / 1000 : 0;
  }

  /** @param {RecorderState} state */
  #become(state) {
    this.state = state;
    this.dispatchEvent(new Event("change"));
  }

  /** @param {string} job  key of the job */
  async start(job) {
    if (this.state !== "idle") return;
    this.job = job;
    this.reason = undefined;
    this.#become("starting");
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({
        // a recogniser hears what is cleaned for the ear worse than what was said (common practice, no source)
        audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: true },
      });
      this.take = await this.#begin(this.stream);
      this.startedAt = this.take.startedAt;
      this.#watch(this.stream.getAudioTracks()[0]);
      this.#become("recording");
      if (document.visibilityState === "hidden" && !this.cameraOpen) void this.stop(HIDDEN);
    } catch (error) {
      this.#release();
      this.#become("idle");
      this.#failed(error);
    }
  }

  /** Go on in a new recording, so that what was said till now can be heard already; not a sound is missed. */
  async turnOver() {
    if (this.state !== "recording" || this.turning || !this.stream || (this.take?.seconds ?? 0) < LEAST_S) return;
    const { take, stream } = this;
    this.turning = this.#begin(stream)
      .then((next) => {
        this.take = next;
        take?.media.stop();
      })
      .catch((error) => this.#failed(error)) // the recording that there is goes on
      .finally(() => (this.turning = null));
    await this.turning;
  }

  /** @param {MediaStream} stream @returns {Promise<Take>} one that runs */
  async #begin(stream) {
    const type = recordingType() ?? "";
    const bits = Object.entries(BITS_PER_S).find(([name]) => type.includes(name))?.[1];
    const media = new MediaRecorder(stream, { ...(type && { mimeType: type }), audioBitsPerSecond: bits });
    const id = newId();
    const letGo = await hold(id);
    await this.store.begin({
      id,
      job: this.job,
      kind: "recording",
      type: media.mimeType || type,
      name: `recording.${/webm|ogg/.exec(media.mimeType || type)?.[0] ?? "mp4"}`,
      startedAt: new Date().toISOString(),
      difference: this.clock.difference,
      state: "open",
      bytes: 0,
      pieces: 0,
      seconds: 0,
    });
    const take = new Take(id, media, letGo);
    media.ondataavailable = (event) => this.#keep(take, event.data);
    media.onerror = () => void this.stop(STALLED);
    media.onstop = () => void this.#finish(take);
    const begun = new Promise((resolve, reject) => {
      media.onstart = resolve;
      setTimeout(() => reject(new Error("the microphone doesn't start")), STALLED_MS);
    });
    media.start(PIECE_MS);
    await begun;
    take.startedAt = take.lastPieceAt = performance.now();
    const startedAt = new Date().toISOString();
    take.writing = take.writing.then(async () => void (await this.store.change(id, { startedAt })));
    return take;
  }

  /** @param {MediaStreamTrack} track */
  #watch(track) {
    track.addEventListener("ended", () => void this.stop(CALL));
    track.addEventListener("mute", () => {
      setTimeout(() => track.muted && this.stream && void this.stop(CALL), MUTED_MS);
    });
    if (track.muted) track.dispatchEvent(new Event("mute"));
    const look = setInterval(() => {
      if (this.state !== "recording" || !this.take) clearInterval(look);
      else if (performance.now() - this.take.lastPieceAt > STALLED_MS) void this.stop(STALLED);
    }, PIECE_MS);
  }

  /** @param {Take} take @param {Blob} piece */
  #keep(take, piece) {
    if (!piece.size) return;
    take.lastPieceAt = performance.now();
    const { seconds } = take;
    take.writing = take.writing
      .then(async () => this.store.append(take.id, await piece.arrayBuffer(), seconds))
      .then(() => void this.dispatchEvent(new Event("piece")))
      .catch((error) => {
        this.#failed(error);
        void this.stop("this phone could not keep any more of it");
      });
  }

  /** @param {string} [reason] why, if not by hand */
  async stop(reason) {
    if (this.state !== "recording") return;
    this.reason = reason;
    const stopped = new Promise((resolve) => this.addEventListener("ended", resolve, { once: true }));
    this.#become("stopping");
    if (this.turning) await this.turning;
    const { take } = this;
    if (take?.media.state === "inactive") void this.#finish(take);
    else take?.media.stop(); // gives the last piece, then "stop"
    await stopped;
  }

  /** @param {Take} take */
  async #finish(take) {
    const last = take === this.take;
    if (last) {
      // it may end without being asked to, when its track does
      if (this.state === "recording") {
        this.reason = CALL;
        this.#become("stopping");
      }
      this.take = null;
    } else if (!take.media.onstop) return; // finished already
    take.media.onstop = null;
    await take.writing;
    await this.store.close(take.id, last ? this.reason : undefined).catch((error) => this.#failed(error));
    take.letGo();
    if (!last) return void this.dispatchEvent(new Event("turned"));
    this.#release();
    this.#become("idle");
    this.dispatchEvent(new CustomEvent("ended", { detail: { id: take.id, reason: this.reason } }));
  }

  #release() {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.stream = null;
    this.take?.letGo();
    this.take = null;
  }

  /** @param {unknown} error */
  #failed(error) {
    this.dispatchEvent(new CustomEvent("failed", { detail: { message: plainly(error) } }));
  }
}

/** @param {string} id @returns {Promise<() => void>} other pages see that it is being made, until this is called */
const hold = (id) =>
  new Promise((held) => {
    void navigator.locks.request(lockName(id), () => new Promise((done) => held(() => done(undefined))));
  });

/** @param {unknown} error @returns {string} one line that says what to do */
const plainly = (error) => {
  const name = error instanceof DOMException ? error.name : "";
  if (name === "NotAllowedError") return "The microphone isn't allowed: allow it for this page in the browser's settings.";
  if (name === "NotFoundError") return "No microphone was found: plug one in, and start again.";
  if (name === "NotReadableError") return "Something else uses the microphone: end the call or close that app, and start again.";
  if (name === "QuotaExceededError") return "This phone has no room left: free some, or send what is waiting first.";
  return `Can't record: ${error instanceof Error ? error.message : String(error)}. Load the page again.`;
};

/**
 * Recordings that no page is making any more are whole as they are: close them.
 * @param {import("./store.js").Store} store
 * @returns {Promise<import("./store.js").Item[]>} those that were cut off and hold something, each told once
 */
export const closeAbandoned = async (store) => {
  for (const item of await store.inState("open")) {
    await navigator.locks.request(lockName(item.id), { ifAvailable: true }, async (lock) => {
      if (!lock) return; // another page of ours is at it
      await store.close(item.id, CRASHED);
    });
  }
  // a page that is closed may still end its recording itself: nobody has been told of that either
  const ended = [...(await store.inState("closed")), ...(await store.inState("sent"))];
  const untold = ended.filter((item) => item.ended === CRASHED && !item.told && item.bytes);
  for (const item of untold) await store.change(item.id, { told: true });
  return untold;
};
