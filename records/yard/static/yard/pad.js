// The keypad: a gauge is read with gloves on, so its figures are keys of 56 px and more.
// Nothing stands in it to begin with: a figure is read off the gauge, never confirmed.

export class Pad {
  constructor(form) {
    this.form = form;
    this.shown = form.querySelector("[data-pad-bar]");
    this.error = form.querySelector("[data-pad-error]");
    this.digits = "";
    form.addEventListener("click", (event) => {
      const key = event.target.closest("[data-key]")?.dataset.key;
      if (key) this.#press(key);
      if (event.target.closest("[data-pad-cancel]")) this.close();
      if (event.target.closest("[data-pad-without]")) this.#finish(null);
    });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#finish(this.digits === "" ? undefined : Number(this.digits));
    });
    form.addEventListener("keydown", (event) => {
      if (event.target.matches("input") || event.ctrlKey || event.metaKey) return;
      if (/^[0-9]$/.test(event.key)) this.#press(event.key);
      else if (event.key === "Backspace") this.#press("back");
      else if (event.key === "Escape") this.close();
    });
  }

  // `done` takes the pressure, or null where none could be read; it gives back what is wrong, or "".
  open({ title, act, done, without = false, team = false }) {
    this.done = done;
    this.digits = "";
    this.form.querySelector("[data-pad-title]").textContent = title;
    this.form.querySelector("[data-pad-act]").textContent = act;
    this.form.querySelector("[data-pad-without]").hidden = !without;
    this.form.querySelector("[data-pad-team]").hidden = !team;
    this.#say("");
    this.form.hidden = false;
    this.#show();
    this.form.scrollIntoView({ block: "nearest" });
    this.form.querySelector("[data-key]").focus({ preventScroll: true });
  }

  close() {
    this.form.hidden = true;
    this.done = null;
  }

  get isOpen() {
    return !this.form.hidden;
  }

  get team() {
    return this.form.querySelector("[name=team]:checked")?.value ?? "";
  }

  #press(key) {
    if (key === "back") this.digits = this.digits.slice(0, -1);
    else if (this.digits.length < 3) this.digits = `${this.digits}${key}`.replace(/^0+(?=\d)/, "");
    this.#say("");
    this.#show();
  }

  #show() {
    this.shown.textContent = this.digits || "–";
  }

  #say(words) {
    this.error.textContent = words;
    this.error.hidden = !words;
  }

  async #finish(bar) {
    if (!this.done || this.busy) return;
    this.busy = true;
    try {
      const wrong = await this.done(bar);
      if (wrong) this.#say(wrong);
      else this.close();
    } finally {
      this.busy = false;
    }
  }
}
