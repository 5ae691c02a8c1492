// What is changed on the page goes to the shelf as it is changed, one save after another.
import { ask } from "../ask.js";

const PAUSE = 500; // milliseconds after a change

export class Keeping {
  // `read()` gives the book as it is on the page; `kept(answer)` is told what the shelf has.
  constructor(address, state, { read, kept, say, conflict }) {
    Object.assign(this, { address, state, read, kept, say, conflict, dirty: false });
    document.addEventListener("reedwright:back", () => this.dirty && this.save());
    addEventListener("beforeunload", (event) => { if (this.dirty) event.preventDefault(); });
  }

  change() {
    this.dirty = true;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.save(), PAUSE);
  }

  // Resolves when all is kept; false where that could not be.
  async save() {
    clearTimeout(this.timer);
    while (this.saving) await this.saving;
    if (!this.dirty) return true;
    this.saving = this.send();
    try { return await this.saving; } finally { this.saving = null; }
  }

  async send() {
    let book;
    try {
      book = this.read();
      this.dirty = false;
      const answer = await ask(`${this.address}/plan`, { json: { book, made_from: this.state } });
      this.state = answer.state;
      this.kept(answer);
      this.say("Saved.");
      return true;
    } catch (error) {
      this.dirty = true;
      if (error.kind === "changed-meanwhile") this.conflict(error.message);
      else this.say(error.kind === "lost" ? "Not saved yet: Reedwright does not answer." : `Not saved: ${error.message}`);
      return false;
    }
  }

  // Over what was changed elsewhere, which stays among the earlier states.
  async keepMine() {
    this.state = (await ask(`${this.address}/kept`)).state;
    return this.save();
  }

  // What others have stays the present state; what is on this page is a state beside it.
  async takeTheirs() {
    await ask(`${this.address}/plan`, { json: { book: this.read(), made_from: this.state, keep_both: true } });
    this.dirty = false;
  }

  async step(which) {
    if (!(await this.save())) return null;
    let answer;
    try {
      answer = await ask(`${this.address}/${which}`, { json: { made_from: this.state } });
    } catch (error) {
      if (error.kind !== "changed-meanwhile") throw error;
      this.dirty = true; // what is on the page is not what the shelf has
      this.conflict(error.message);
      return null;
    }
    this.state = answer.state;
    this.kept(answer);
    if (this.dirty) return null; // changed meanwhile on this page, and saved as the next state
    return answer;
  }
}
