/** How loud it is at the microphone, many times a second. */

const FLOOR_DB = -60;
const SILENT_DB = -75; // below the noise of any microphone that is switched on
const SILENT_MS = 6000;

const SPOKEN_DB = 10; // a voice near the microphone, over what else there is
const PAUSE_MS = 3000; // longer than a breath between two sentences; common practice, no source
const EVERY_MS = 100;
const REMEMBERED = 150; // levels, of 15 s
const BETWEEN_WORDS = 0.1; // so much of a dictation, at least, is no louder than what it is dictated in

/** Tells when somebody who spoke has stopped speaking for a while, in whatever noise. */
export class Pauses {
  constructor() {
    /** @type {number[]} */
    this.levels = [];
    this.spoken = false;
    this.spokenAt = 0;
    this.at = -Infinity;
  }

  /** @param {number} level dB @param {number} now milliseconds @returns {boolean} true once a pause */
  hear(level, now) {
    if (now - this.at < EVERY_MS) return false;
    this.at = now;
    this.levels.push(level);
    if (this.levels.length > REMEMBERED) this.levels.shift();
    const floor = [...this.levels].sort((a, b) => a - b)[Math.floor(this.levels.length * BETWEEN_WORDS)];
    if (level > floor + SPOKEN_DB) {
      this.spoken = true;
      this.spokenAt = now;
    }
    if (!this.spoken || now - this.spokenAt < PAUSE_MS) return false;
    this.spoken = false;
    return true;
  }
}

export class Meter {
  /**
   * @param {(level: number) => void} show  0 to 1, of the scale from −60 dB to full scale
   * @param {(silent: boolean) => void} silence  nothing at all reaches the microphone, or again something
   * @param {() => void} pause  who spoke has stopped for a while
   */
  constructor(show, silence, pause) {
    this.pause = pause;
    this.show = show;
    this.silence = silence;
    /** @type {AudioContext | null} */
    this.context = null;
    this.running = 0;
  }

  /** @param {MediaStream} stream */
  start(stream) {
    this.stop();
    const context = new AudioContext();
    const analyser = context.createAnalyser();
    analyser.fftSize = 2048;
    context.createMediaStreamSource(stream).connect(analyser);
    void context.resume();
    const samples = new Float32Array(analyser.fftSize);
    let heardAt = performance.now();
    let silent = false;
    const pauses = new Pauses();
    const look = () => {
      analyser.getFloatTimeDomainData(samples);
      const power = samples.reduce((sum, sample) => sum + sample * sample, 0) / samples.length;
      const level = power > 0 ? 10 * Math.log10(power) : -Infinity; // dB below full scale
      this.show(Math.min(1, Math.max(0, 1 - level / FLOOR_DB)));
      const now = performance.now();
      if (level > SILENT_DB || context.state !== "running") heardAt = now;
      if (silent !== now - heardAt > SILENT_MS) this.silence((silent = !silent));
      if (pauses.hear(level, now)) this.pause();
      this.running = requestAnimationFrame(look);
    };
    this.context = context;
    this.running = requestAnimationFrame(look);
  }

  stop() {
    cancelAnimationFrame(this.running);
    void this.context?.close();
    this.context = null;
    this.show(0);
  }
}
