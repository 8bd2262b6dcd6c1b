// The alarm's sound, made here: no file, so nothing can be missing offline. A browser lets a page
// sound only after a tap, so the page says whether it may.

const GRAVE = ["missing", "whistle"];
const PATTERNS = {
  grave: [[880, 0, 0.22], [1320, 0.26, 0.22], [880, 0.52, 0.22], [1320, 0.78, 0.22]],
  alarm: [[740, 0, 0.3], [740, 0.45, 0.3]],
  test: [[660, 0, 0.25]],
};

export class Sound {
  #context = null;

  get on() {
    return this.#context?.state === "running";
  }

  // Only ever called by a tap. Says afterwards whether it can be heard.
  async start() {
    const Context = globalThis.AudioContext ?? globalThis.webkitAudioContext;
    if (!Context) return false;
    this.#context ??= new Context();
    await this.#context.resume();
    this.#play(PATTERNS.test);
    return this.on;
  }

  async stop() {
    await this.#context?.suspend();
  }

  // `alarms` are codes of board.js; the gravest decides. Gloves feel it where the tablet can shake.
  ring(alarms) {
    if (!alarms.length) return;
    const { navigator } = globalThis;
    if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([400, 150, 400]);
    if (this.on) this.#play(alarms.some((code) => GRAVE.includes(code)) ? PATTERNS.grave : PATTERNS.alarm);
  }

  #play(pattern) {
    const begin = this.#context.currentTime + 0.02;
    for (const [pitch, after, length] of pattern) {
      const [tone, loud] = [this.#context.createOscillator(), this.#context.createGain()];
      tone.type = "square";
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0, begin + after);
      loud.gain.linearRampToValueAtTime(0.35, begin + after + 0.02);
      loud.gain.setValueAtTime(0.35, begin + after + length - 0.03);
      loud.gain.linearRampToValueAtTime(0, begin + after + length);
      tone.connect(loud).connect(this.#context.destination);
      tone.start(begin + after);
      tone.stop(begin + after + length);
    }
  }
}
