/** How loud it is at the microphone, many times a second. */

const FLOOR_DB = -60;
const SILENT_DB = -75; // below the noise of any microphone that is switched on
const SILENT_MS = 6000;

export class Meter {
  /**
   * @param {(level: number) => void} show  0 to 1, of the scale from −60 dB to full scale
   * @param {(silent: boolean) => void} silence  nothing at all reaches the microphone, or again something
   */
  constructor(show, silence) {
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
    const look = () => {
      analyser.getFloatTimeDomainData(samples);
      const power = samples.reduce((sum, sample) => sum + sample * sample, 0) / samples.length;
      const level = power > 0 ? 10 * Math.log10(power) : -Infinity; // dB below full scale
      this.show(Math.min(1, Math.max(0, 1 - level / FLOOR_DB)));
      const now = performance.now();
      if (level > SILENT_DB || context.state !== "running") heardAt = now;
      if (silent !== now - heardAt > SILENT_MS) this.silence((silent = !silent));
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
