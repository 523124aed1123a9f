/**
 * Sends the microphone's sound while it is recorded, and tells what was heard of it so far.
 *
 * It stands beside the recorder and never in its way: whatever goes wrong here, the recording knows nothing of it,
 * and the page shows no words until the stop. Nothing is kept: sound that can't be sent in time is let go.
 *
 * Events: "words" (detail: {take, part, said, saying}); `part` counts how often the sound of a take began anew.
 */

import { Refused } from "./server.js";

export const RATE_HZ = 16_000;
const LEAST = RATE_HZ / 4; // samples that are worth a request
const MOST = 8 * RATE_HZ; // that wait; older than this, words would come too late
const AWAY_MS = 10_000; // no server, or no ear free: not asked again before
const REFUSED_MS = 60_000;
const ANEW_MS = 1000;

export class Live extends EventTarget {
  /**
   * @param {import("./server.js").Server} server
   * @param {() => {job: string | null, take: string | null}} now  what is being recorded: the server's id of the job
   */
  constructor(server, now) {
    super();
    this.server = server;
    this.now = now;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {string | null} */
    this.take = null;
    this.part = 0;
    /** the number of the first sample that waits */
    this.at = 0;
    /** @type {Int16Array[]} */
    this.waiting = [];
    this.sending = false;
    this.restUntil = 0;
  }

  /** @param {MediaStream} stream */
  async start(stream) {
    this.stop();
    if (/** @type {any} */ (navigator).connection?.saveData) return; // it is 32 kB a second
    try {
      const context = (this.context = new AudioContext());
      await context.audioWorklet.addModule("/static/capture/live-sound.js");
      if (this.context !== context) return; // stopped meanwhile
      const source = context.createMediaStreamSource(stream);
      const node = new AudioWorkletNode(context, "live-sound", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit", processorOptions: { rate: RATE_HZ } });
      node.port.onmessage = (event) => this.context === context && this.add(event.data);
      // what lies above the half of the rate that is sent would come back as noise below it
      const filters = [0.54, 1.31].map((Q) => new BiquadFilterNode(context, { type: "lowpass", frequency: 0.42 * RATE_HZ, Q: 20 * Math.log10(Q) }));
      source.connect(filters[0]).connect(filters[1]).connect(node);
      await context.resume();
    } catch {
      this.stop(); // a browser that can't: no words until the stop
    }
  }

  stop() {
    void this.context?.close().catch(() => {});
    this.context = null;
    this.take = null;
    this.waiting = [];
  }

  /** @param {Int16Array} samples */
  add(samples) {
    const { job, take } = this.now();
    if (!job || !take || performance.now() < this.restUntil) {
      this.take = null;
      return;
    }
    if (take !== this.take) this.#begin(take);
    this.waiting.push(samples);
    if (this.#held > MOST) this.#begin(take);
    if (!this.sending && this.#held >= LEAST) void this.#send(job, take);
  }

  get #held() {
    return this.waiting.reduce((sum, samples) => sum + samples.length, 0);
  }

  /** @param {string} take */
  #begin(take) {
    this.take = take;
    this.part += 1;
    this.at = 0;
    this.waiting = [];
  }

  /** @param {string} job @param {string} take */
  async #send(job, take) {
    const { part, at } = this;
    const sound = new Blob(this.waiting);
    this.at += this.#held;
    this.waiting = [];
    this.sending = true;
    try {
      const { said, saying = "" } = await this.server.live(job, take, at, sound);
      this.dispatchEvent(new CustomEvent("words", { detail: { take, part, said, saying } }));
    } catch (error) {
      const wait = !(error instanceof Refused) ? AWAY_MS : error.status === 409 ? ANEW_MS : REFUSED_MS;
      this.restUntil = performance.now() + wait;
      this.dispatchEvent(new CustomEvent("words", { detail: { take, part, said: null, saying: "" } }));
    } finally {
      this.sending = false;
    }
  }
}
