/** The phone's clock against the server's. */

import { Refused, Unreachable } from "./server.js";

const TRIPS = 3;
const FRESH_MS = 60_000;

export class Clock {
  /** @param {import("./server.js").Server} server @param {import("./store.js").Store} store */
  constructor(server, store) {
    this.server = server;
    this.store = store;
    /** @type {number | null} server less phone, in seconds */
    this.difference = null;
    this.measuredAt = 0;
  }

  async load() {
    this.difference = (await this.store.setting("clock")) ?? null;
  }

  /**
   * Of some round trips the shortest tells most: the server's time is taken to be that of its middle, which
   * is wrong by half the trip at most (as in RFC 5905).
   */
  async measure() {
    if (performance.now() - this.measuredAt < FRESH_MS && this.measuredAt) return;
    let shortest = Infinity;
    for (let trip = 0; trip < TRIPS; trip += 1) {
      const [left, started] = [Date.now(), performance.now()];
      const there = await this.server.time();
      const took = performance.now() - started;
      if (took < shortest) {
        shortest = took;
        this.difference = Math.round(there - (left + took / 2)) / 1000;
      }
    }
    this.measuredAt = performance.now();
    await this.store.set("clock", this.difference);
  }

  /** Measured if the server is there; nothing is said if it isn't. */
  async tryMeasure() {
    try {
      await this.measure();
    } catch (error) {
      if (!(error instanceof Unreachable || error instanceof Refused)) throw error;
    }
  }
}
