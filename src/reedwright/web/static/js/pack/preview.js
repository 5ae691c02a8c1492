// A picture of a page that follows settings: the latest ask wins, and earlier ones are given up.
import { ask } from "../ask.js";

const PAUSE = 120; // milliseconds after a change, so that typing is not answered letter by letter
const SLOW = 250; // after which it is said that the page is being drawn

export class Preview {
  // `asked()` gives what is to be drawn (or throws with words); `shown(answer)` is told what came,
  // `begun()` that something is asked for.
  constructor({ address, picture, state, before, next, asked, shown = () => {}, begun = () => {} }) {
    Object.assign(this, { address, picture, state, before, next, asked, shown, begun, page: 1, pages: 1 });
    this.before.addEventListener("click", () => this.turn(-1));
    this.next.addEventListener("click", () => this.turn(1));
    const larger = document.getElementById("larger");
    larger?.addEventListener("click", () => {
      const large = this.picture.classList.toggle("large");
      larger.setAttribute("aria-pressed", String(large));
    });
    document.addEventListener("reedwright:back", () => this.draw());
  }

  change() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.draw(), PAUSE);
  }

  turn(by) {
    this.page = Math.min(this.pages, Math.max(1, this.page + by));
    this.draw();
  }

  // `instead`: what is asked for in place of the page that is shown.
  async draw(instead = {}) {
    clearTimeout(this.timer);
    this.begun();
    this.asking?.abort();
    const asking = this.asking = new AbortController();
    const slow = setTimeout(() => {
      this.picture.classList.add("old");
      this.say("The page is being drawn…");
    }, SLOW);
    try {
      const answer = await ask(this.address, { json: { ...this.asked(), page: this.page, ...instead }, signal: asking.signal });
      if (asking !== this.asking) return;
      this.show(answer);
    } catch (error) {
      if (error.name === "AbortError" || asking !== this.asking) return;
      this.picture.classList.add("old");
      this.say(`The page can't be drawn so; this is the one before. ${error.message}`);
      this.shown(null, error);
    } finally {
      clearTimeout(slow);
    }
  }

  show(answer) {
    Object.assign(this, { page: answer.page, pages: answer.pages });
    this.picture.width = answer.width;
    this.picture.height = answer.height;
    this.picture.src = answer.picture;
    this.picture.alt = answer.words;
    this.picture.classList.remove("old");
    this.before.disabled = answer.page <= 1;
    this.next.disabled = answer.page >= answer.pages;
    this.say(answer.said ?? `Page ${answer.page} of ${answer.pages}`);
    this.shown(answer);
  }

  say(words) {
    if (this.state.textContent !== words) this.state.textContent = words;
  }
}
