// Recording from the microphone: blocks of floats kept as they come, and written as a WAV file.
import { microphone } from "../bench/microphone.js";

const FULL = 32767; // of 16 bits
const HEADER = 44; // bytes

export class Recorder {
  // `level(share, seconds)`: how loud it is, 0 to 1, and how long the recording is so far.
  constructor(level) {
    this.level = level;
    this.blocks = [];
    this.samples = 0;
  }

  // Throws NoMicrophone with what to do.
  async begin() {
    this.taken = await microphone((buffer) => this.hear(new Float32Array(buffer)), "Record");
  }

  hear(block) {
    this.blocks.push(block);
    this.samples += block.length;
    let most = 0;
    for (const sample of block) most = Math.max(most, Math.abs(sample));
    this.level(most, this.samples / this.taken.rate);
  }

  async end() {
    await this.taken.stop();
    return wav(this.blocks, this.samples, this.taken.rate);
  }
}

// One channel of 16 bits. The form: Multimedia Programming Interface and Data Specifications 1.0.
export function wav(blocks, samples, rate) {
  const bytes = new DataView(new ArrayBuffer(HEADER + 2 * samples));
  const letters = (at, text) => [...text].forEach((letter, k) => bytes.setUint8(at + k, letter.charCodeAt(0)));
  letters(0, "RIFF");
  bytes.setUint32(4, HEADER - 8 + 2 * samples, true);
  letters(8, "WAVEfmt ");
  bytes.setUint32(16, 16, true);
  bytes.setUint16(20, 1, true);
  bytes.setUint16(22, 1, true);
  bytes.setUint32(24, rate, true);
  bytes.setUint32(28, 2 * rate, true);
  bytes.setUint16(32, 2, true);
  bytes.setUint16(34, 16, true);
  letters(36, "data");
  bytes.setUint32(40, 2 * samples, true);
  let at = HEADER;
  for (const block of blocks) {
    for (const sample of block) {
      bytes.setInt16(at, Math.round(FULL * Math.max(-1, Math.min(1, sample))), true);
      at += 2;
    }
  }
  return new Blob([bytes], { type: "audio/wav" });
}
