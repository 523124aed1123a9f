/**
 * Sends what the phone keeps, oldest first, and goes on where the server says that it stopped.
 *
 * Of a recording that is still being made, the pieces that there are go up already. The phone's copy goes only
 * when the server has named the same digest. One page at a time sends.
 *
 * Events: "change" (`phase`, `message`), "sent" (detail: {item}).
 */

import { Refused, Unreachable } from "./server.js";

const PIECE_BYTES = 1024 * 1024;
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 30_000;
const MISMATCHES = 4; // in one pass; then it waits, as it may be the network that spoils things

/** @typedef {"idle" | "sending" | "away" | "unpaired" | "full"} Phase */

export class Sync extends EventTarget {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./server.js").Server} server
   * @param {import("./clock.js").Clock} clock
   */
  constructor(store, server, clock) {
    super();
    this.store = store;
    this.server = server;
    this.clock = clock;
    /** @type {Phase} */
    this.phase = "idle";
    this.message = "";
    this.busy = false;
    this.again = false;
    this.failures = 0;
    this.timer = 0;
    addEventListener("online", () => this.kick());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.kick());
  }

  /** @param {Phase} phase */
  #become(phase, message = "") {
    this.phase = phase;
    this.message = message;
    this.dispatchEvent(new Event("change"));
  }

  /** Try now. */
  kick() {
    this.failures = 0;
    void this.run();
  }

  async run() {
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    clearTimeout(this.timer);
    try {
      do {
        this.again = false;
        await navigator.locks.request("sending", { ifAvailable: true }, async (lock) => {
          if (!lock) throw new Unreachable("another page sends");
          await this.#pass();
        });
      } while (this.again);
      this.failures = 0;
      this.#become("idle");
    } catch (error) {
      this.failures += 1;
      this.#stopped(error);
      const wait = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (this.failures - 1));
      this.timer = setTimeout(() => void this.run(), wait * (0.75 + Math.random() / 2));
    } finally {
      this.busy = false;
    }
  }

  /** @param {unknown} error */
  #stopped(error) {
    if (error instanceof Refused && error.status === 401) this.#become("unpaired");
    else if (error instanceof Refused) this.#become("full", error.message);
    else if (error instanceof Unreachable) this.#become("away");
    else this.#become("full", error instanceof Error ? error.message : String(error));
  }

  async #pass() {
    const items = [...(await this.store.inState("closed")), ...(await this.store.inState("open"))];
    const jobs = await this.store.jobs();
    if (!items.length && jobs.every((job) => job.id)) return this.clock.measure();
    this.#become("sending");
    await this.clock.measure();
    for (const job of jobs.filter((each) => !each.id)) await this.#open(job);
    const ids = new Map((await this.store.jobs()).map((job) => [job.key, job.id]));
    for (const item of items) {
      const job = ids.get(item.job);
      if (job) await this.#send(job, item);
    }
  }

  /** @param {import("./store.js").Job} job */
  async #open(job) {
    await this.store.putJob({ ...job, id: await this.server.openJob(job) });
    this.dispatchEvent(new Event("opened"));
  }

  /** @param {string} job the server's id @param {import("./store.js").Item} item */
  async #send(job, item) {
    try {
      for (let mismatches = 0; ; mismatches += 1) {
        try {
          await this.#pieces(job, item);
          if (item.state === "closed") await this.#complete(job, item);
          return;
        } catch (error) {
          // the server has another number of bytes than we thought, or others: it says where to go on
          const resumable = error instanceof Refused && error.status === 409 && error.offset !== null;
          if (!resumable || mismatches >= MISMATCHES) throw error;
        }
      }
    } catch (error) {
      if (!(error instanceof Refused) || ![400, 404, 409, 415].includes(error.status)) throw error;
      // nothing that waiting would change: it stays here, is shown, and the others go on
      await this.store.change(item.id, { state: "refused", problem: error.message });
      this.dispatchEvent(new Event("change"));
    }
  }

  /** @param {string} job @param {import("./store.js").Item} item */
  async #pieces(job, item) {
    let offset = await this.server.offset(job, item.id);
    while (offset < item.bytes) {
      const piece = new Blob(await this.store.bytesFrom(item.id, offset, PIECE_BYTES));
      if (!piece.size) break;
      await this.server.put(job, item.id, offset, piece);
      offset += piece.size;
    }
  }

  /** @param {string} job @param {import("./store.js").Item} item */
  async #complete(job, item) {
    const whole = await this.store.whole(item);
    const sha256 = hex(await crypto.subtle.digest("SHA-256", await whole.arrayBuffer()));
    const reply = await this.server.complete(job, item.id, {
      name: item.name,
      kind: item.kind,
      sha256,
      bytes: whole.size,
      started_at: item.startedAt,
      // a phone that was never near the server till now has the difference that it has now
      clock_difference_s: item.difference ?? this.clock.difference ?? 0,
    });
    if (reply.sha256 !== sha256) throw new Error("the server confirmed another digest: kept on this phone");
    await this.store.confirmed(item.id, sha256, reply.note ?? reply.photo ?? "");
    this.dispatchEvent(new CustomEvent("sent", { detail: { item } }));
  }
}

/** @param {ArrayBuffer} digest */
const hex = (digest) => Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
