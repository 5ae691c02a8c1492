// The tune as the server last told it, and everything that is sent to change it, one after another.
//
// What is typed is kept in the browser until the server has it. Every change names the state it was
// made from; where that is no longer the present one, the server refuses, and nothing is lost.
//
// Events: `view` (detail: {why, before}), `state` (detail: {state, message}), `conflict`.
// `why`: "text", "step", "elsewhere",
// "theirs", "conflict", "width". States: "saved", "changed", "saving", "lost",
// "conflict", "refused".
import { ask, Trouble } from "../ask.js";
import { Draft } from "./draft.js";

export const PAUSE = 250; // milliseconds without a key before the text is saved
const LOOK_EVERY = 4000; // milliseconds between looks at what other windows did

export class Tune extends EventTarget {
  #line = Promise.resolve(); // one thing at a time goes to the server
  #timer = 0;
  #doubtful = null; // sent, and nobody knows whether it arrived

  // `keeps`: whether this window writes, and so keeps what it could not save.
  constructor(view, width = "wide", keeps = true) {
    super();
    this.id = view.tune;
    this.view = view;
    this.width = width;
    this.text = plain(view.text);
    this.conflict = null;
    this.state = "saved";
    this.draft = new Draft(this.id, keeps);
  }

  get unsaved() { return this.text !== plain(this.view.text); }

  // Takes up what a window before this one could not save. Call once, when all parts listen.
  async begin() {
    const left = await this.draft.left();
    if (left && left.text !== this.text) {
      const from = left.made_from;
      this.text = left.text;
      this.#emit("text");
      if (from.tune === this.view.version.tune) this.#tell("changed");
      else if (plain(this.view.text) === plain(left.base ?? "")) this.#tell("changed");
      else this.#against(this.view);
      if (!this.conflict) this.save();
    } else if (left) {
      this.draft.drop();
    }
    document.addEventListener("reedwright:back", () => this.save());
    document.addEventListener("reedwright:lost", () => { if (this.unsaved) this.#tell("lost"); });
    document.addEventListener("visibilitychange", () => (document.hidden ? this.save() : this.look()));
    addEventListener("pagehide", () => this.leave());
    this.watch();
  }

  // Looks from now on, while the page is seen, whether another window changed the tune.
  watch() {
    setInterval(() => { if (!document.hidden) this.look(); }, LOOK_EVERY);
  }

  // The user's text from now on; saved after a pause.
  typed(text) {
    this.text = text;
    if (this.unsaved) {
      this.draft.keep(text, this.view.version, this.view.text);
      if (!this.conflict) this.#tell(this.state === "lost" ? "lost" : "changed");
    } else if (!this.conflict) {
      this.draft.drop();
      this.#tell("saved");
    }
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.save(), PAUSE);
  }

  // Saves now, as far as it can; what cannot be saved is told by `state`.
  save() {
    return this.flush().catch((error) => { if (!(error instanceof Trouble)) throw error; });
  }

  // Resolves when the server has all that was typed; raises `Trouble` where that cannot be.
  flush() {
    clearTimeout(this.#timer);
    return this.#after(() => this.#sendText());
  }

  // Sends a choice, undo or redo after whatever was typed before it. Gives the view.
  step(address, body = {}) {
    return this.#after(async () => {
      await this.#sendText();
      try {
        const view = await ask(`/tunes/${this.id}/${address}`, {
          json: { ...body, made_from: this.view.version, width: this.width },
        });
        this.#take(view, "step");
        return view;
      } catch (error) {
        if (error.status !== 409 || !error.data?.view) throw error;
        this.#take(error.data.view, "elsewhere");
        throw new Trouble(
          "This tune was changed in another window meanwhile. It is shown as it is now; nothing was chosen.",
          "changed-meanwhile", 409,
        );
      }
    });
  }

  // Whether another window changed the tune; taken over where nothing here waits to be saved.
  look() {
    return this.#after(async () => {
      if (this.unsaved || this.conflict) return;
      const now = await ask(`/tunes/${this.id}/version`);
      if (same(now, this.view.version) || this.unsaved) return;
      this.#take(await ask(`/tunes/${this.id}/view?width=${this.width}`), "elsewhere");
    }).catch((error) => { if (!(error instanceof Trouble)) throw error; });
  }

  // The same in another width of music.
  wider(width) {
    this.width = width;
    return this.#after(async () => this.#take(await ask(`/tunes/${this.id}/view?width=${width}`), "width"));
  }

  // The page is left: what waits goes out without waiting for an answer.
  leave() {
    if (!this.unsaved || this.conflict) return;
    this.draft.keep(this.text, this.view.version, this.view.text);
    const body = JSON.stringify(this.#textBody());
    fetch(`/tunes/${this.id}/text`, {
      method: "POST", headers: { "content-type": "application/json", accept: "application/json" }, body, keepalive: true,
    }).catch(() => { /* too long for that: the draft is found when the tune is opened again */ });
  }

  // The three ways out of a conflict. Mine on top of theirs, as a new state:
  keepMine() {
    this.#settle();
    return this.flush();
  }

  // Theirs here; mine is put aside in the browser.
  takeTheirs() {
    const mine = this.text;
    this.draft.putAside(mine);
    const view = this.view;
    this.#settle();
    this.text = plain(view.text);
    this.#take(view, "theirs");
    return mine;
  }

  // Mine as another tune; theirs here. Gives the new tune's number.
  async keepAsItsOwn(text = this.text) {
    const { tune } = await ask(`/tunes/${this.id}/copy`, { json: { text: written(text, this.view.text) } });
    if (this.conflict) {
      const view = this.view;
      this.#settle();
      this.text = plain(view.text);
      this.#take(view, "theirs");
    }
    return tune;
  }

  #after(work) {
    const done = this.#line.then(work);
    this.#line = done.catch(() => {});
    return done;
  }

  #textBody() {
    return { text: written(this.text, this.view.text), made_from: this.view.version, width: this.width };
  }

  async #sendText() {
    if (this.conflict) throw new Trouble("First say which text is to be kept.", "conflict", 409);
    while (this.unsaved) {
      const text = this.text;
      this.#tell("saving");
      try {
        this.#take(await ask(`/tunes/${this.id}/text`, { json: this.#textBody() }), "text");
        this.#doubtful = null;
      } catch (error) {
        if (error.kind === "lost") {
          this.#doubtful = text;
          this.#tell("lost");
          throw error;
        }
        if (error.status !== 409 || !error.data?.view) {
          this.#tell("refused", error.message);
          throw error;
        }
        const theirs = error.data.view;
        const arrived = [text, this.#doubtful].includes(plain(theirs.text));
        this.#doubtful = null;
        if (!arrived) {
          this.#against(theirs);
          throw new Trouble("This tune was changed in another window meanwhile.", "conflict", 409);
        }
        this.#take(theirs, "text"); // our own, whose answer was lost on the way
      }
    }
    if (this.state !== "saved") this.#tell("saved");
  }

  #against(theirs) {
    const before = this.view;
    this.view = theirs;
    this.conflict = { base: before, theirs };
    this.#emit("view", { why: "conflict", before });
    this.#tell("conflict");
    this.#emit("conflict");
  }

  #settle() {
    this.conflict = null;
    this.#emit("conflict");
  }

  #take(view, why) {
    const before = this.view;
    const waits = this.unsaved;
    this.view = view;
    if (why !== "text" && !waits) this.text = plain(view.text);
    if (!this.unsaved) {
      this.draft.drop();
      this.#tell("saved");
    } else {
      this.draft.keep(this.text, view.version, view.text);
    }
    this.#emit("view", { why, before });
  }

  #tell(state, message = "") {
    this.state = state;
    this.#emit("state", { state, message });
  }

  #emit(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

// As a text field has it: every line ends with a line feed.
export function plain(text) {
  return text.replace(/\r\n?/g, "\n");
}

// With the ends of line of the text it was made from.
function written(text, like) {
  const end = like.includes("\r\n") ? "\r\n" : like.includes("\r") && !like.includes("\n") ? "\r" : "\n";
  const whole = text.isWellFormed?.() === false ? text.toWellFormed() : text;
  return end === "\n" ? whole : whole.replace(/\n/g, end);
}

function same(a, b) {
  return a.tune === b.tune && a.choices === b.choices;
}
