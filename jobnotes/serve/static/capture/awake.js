/** Keeps the screen on while it is wanted (Screen Wake Lock), also after the page was out of sight. */
export class Awake {
  constructor() {
    this.wanted = false;
    /** @type {WakeLockSentinel | null} */
    this.lock = null;
    document.addEventListener("visibilitychange", () => void this.#take());
  }

  /** @param {boolean} wanted */
  async want(wanted) {
    this.wanted = wanted;
    if (wanted) return this.#take();
    const { lock } = this;
    this.lock = null;
    await lock?.release();
  }

  async #take() {
    if (!this.wanted || document.visibilityState !== "visible" || !navigator.wakeLock) return;
    if (this.lock && !this.lock.released) return;
    try {
      this.lock = await navigator.wakeLock.request("screen");
      if (!this.wanted) await this.lock.release();
    } catch {
      // refused when the battery is low: recording goes on, and says so when the screen ends it
    }
  }
}
