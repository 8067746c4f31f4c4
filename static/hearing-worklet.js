// Passes on what the microphone hears, a few hundredths of a second at a time.
class Hearing extends AudioWorkletProcessor {
  constructor() {
    super();
    this.part = new Float32Array(1024);
    this.filled = 0;
  }

  process([input]) {
    const sound = input[0];
    if (!sound) return true;
    for (const sample of sound) {
      this.part[this.filled++] = sample;
      if (this.filled === this.part.length) {
        this.port.postMessage(this.part.slice());
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("hearing", Hearing);
