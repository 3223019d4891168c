"use strict";
// Runs beside the microphone: mono, 16 kHz, 16 bit, handed on in blocks of 50 ms. Where the device runs at another
// rate, sound is low-passed and interpolated by a windowed sinc.
const RATE = 16000;
const BLOCK = 800;
const ZEROS = 24; // zero crossings of the sinc on either side

class Rate {
  constructor(from) {
    this.step = from / RATE; // input samples for one output sample
    this.cut = Math.min(1, 1 / this.step) * 0.94;
    this.reach = Math.ceil(ZEROS / this.cut);
    this.kept = new Float32Array(this.reach); // begins with silence, so that the first sample has neighbours
    this.at = this.reach; // place of the next output sample in what is kept
  }

  take(input) {
    const sound = new Float32Array(this.kept.length + input.length);
    sound.set(this.kept);
    sound.set(input, this.kept.length);
    const out = [];
    while (this.at + this.reach < sound.length) {
      const first = Math.ceil(this.at - this.reach);
      const last = Math.floor(this.at + this.reach);
      let sum = 0;
      for (let n = first; n <= last; n += 1) { sum += sound[n] * this.weight(n - this.at); }
      out.push(sum);
      this.at += this.step;
    }
    const drop = Math.max(0, Math.floor(this.at) - this.reach - 1);
    this.kept = sound.slice(drop);
    this.at -= drop;
    return out;
  }

  weight(offset) {
    const x = Math.PI * offset * this.cut;
    const window = 0.5 + 0.5 * Math.cos(Math.PI * offset / (this.reach + 1));
    return this.cut * window * (x === 0 ? 1 : Math.sin(x) / x);
  }
}
globalThis.Rate = Rate;

class Tap extends AudioWorkletProcessor {
  constructor() {
    super();
    this.rate = sampleRate === RATE ? null : new Rate(sampleRate);
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
    this.on = true;
    this.port.onmessage = () => { // the end: what is left goes on, then the word that it was all
      this.on = false;
      this.port.postMessage(this.block.slice(0, this.filled));
      this.port.postMessage("end");
    };
  }

  process(inputs) {
    const input = inputs[0][0];
    if (!this.on) { return false; }
    if (input === undefined) { return true; }
    const sound = this.rate === null ? input : this.rate.take(input);
    for (let n = 0; n < sound.length; n += 1) {
      this.block[this.filled] = Math.max(-32768, Math.min(32767, Math.round(sound[n] * 32768)));
      this.filled += 1;
      if (this.filled === BLOCK) {
        this.port.postMessage(this.block, [this.block.buffer]);
        this.block = new Int16Array(BLOCK);
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("tap", Tap);
