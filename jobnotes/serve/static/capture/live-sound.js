/** The sound of the microphone as the server hears it: 16-bit samples at the rate that it is told, in short pieces. */

const PIECE_S = 0.1;

class LiveSound extends AudioWorkletProcessor {
  /** @param {{processorOptions: {rate: number}}} options */
  constructor({ processorOptions: { rate } }) {
    super();
    this.step = sampleRate / rate; // of the samples that come, to the next that goes
    this.next = 0; // where that is, from the first sample of the block
    this.before = 0; // the last sample of the block before
    this.piece = new Int16Array(Math.round(PIECE_S * rate));
    this.filled = 0;
  }

  /** @param {Float32Array[][]} inputs */
  process([channels]) {
    const block = channels?.[0];
    if (!block) return true;
    for (; this.next <= block.length - 1; this.next += this.step) {
      const low = Math.floor(this.next);
      const from = low < 0 ? this.before : block[low];
      const to = block[Math.min(low + 1, block.length - 1)];
      this.#give(from + (to - from) * (this.next - low));
    }
    this.next -= block.length;
    this.before = block[block.length - 1];
    return true;
  }

  /** @param {number} sample */
  #give(sample) {
    this.piece[this.filled] = Math.max(-32768, Math.min(32767, Math.round(sample * 32768)));
    this.filled += 1;
    if (this.filled < this.piece.length) return;
    this.port.postMessage(this.piece.slice());
    this.filled = 0;
  }
}

registerProcessor("live-sound", LiveSound);
