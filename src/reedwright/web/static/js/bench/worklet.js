// Runs beside the sound: hands the first channel on in blocks, as 32-bit floats.
const SIZE = 2048; // samples

class Reeds extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(SIZE);
    this.held = 0;
  }

  process(inputs) {
    const sound = inputs[0][0];
    if (!sound) return true;
    for (let from = 0; from < sound.length;) {
      const many = Math.min(sound.length - from, SIZE - this.held);
      this.block.set(sound.subarray(from, from + many), this.held);
      this.held += many;
      from += many;
      if (this.held === SIZE) {
        this.port.postMessage(this.block.buffer, [this.block.buffer]);
        this.block = new Float32Array(SIZE);
        this.held = 0;
      }
    }
    return true;
  }
}

registerProcessor("reeds", Reeds);
