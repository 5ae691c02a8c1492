// The tune as the server last told it, and everything that is sent to change it, one after another.
//
// What is typed is kept in the browser until the server has it. Every change names the state it was
// made from; where that is no longer the present one, the server refuses, and nothing is lost.
//
// Events: `view` (detail: {why, before}), `state` (detail: {state, message}), `text` (replaced from
// here), `conflict` (begun, ended, or with another text than before), `aside` (a text was put there).
// `why`: "text", "step", "elsewhere", "theirs", "conflict", "width".
// States: "saved", "changed", "saving", "lost", "busy" (both are tried again), "conflict",
// "gone" (the tune was taken off the shelf), "refused".
import { ask, Trouble } from "../ask.js";
import { Draft } from "./draft.js";

export const PAUSE = 250; // milliseconds without a key before the text is saved
const LOOK_EVERY = 4000; // milliseconds between looks at what other windows did
const BUSY_AGAIN = 2000; // milliseconds until a busy shelf is tried again; it waited 10 s itself

export class Tune extends EventTarget {
  #line = Promise.resolve(); // one thing at a time goes to the server
  #timer = 0;
  #doubtful = null; // sent, and nobody knows whether it arrived
  #written = false; // whether anything was typed since the page was opened

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
    if (left && left.text !== plain(this.view.text)) this.#takeUp(left);
    this.#keepDraft(); // also what was typed before
    document.addEventListener("reedwright:back", () => this.save());
    document.addEventListener("reedwright:lost", () => { if (this.unsaved && !this.conflict) this.#tell("lost"); });
    document.addEventListener("visibilitychange", () => (document.hidden ? this.save() : this.look()));
    addEventListener("pagehide", () => this.leave());
    this.watch();
  }

  #takeUp(left) {
    if (this.#written && this.draft.putAside(left.text)) { // not over what is being written
      this.#emit("aside");
      return;
    }
    const from = { version: left.made_from, text: left.base ?? "" };
    this.text = left.text;
    this.#emit("text");
    if (from.version.tune !== this.view.version.tune && plain(this.view.text) !== plain(from.text)) {
      this.#against(this.view, from);
      return;
    }
    this.#tell("changed");
    this.save();
  }

  // Looks from now on, while the page is seen, whether another window changed the tune.
  watch() {
    setInterval(() => { if (!document.hidden) this.look(); }, LOOK_EVERY);
  }

  // The user's text from now on; saved after a pause.
  typed(text) {
    this.text = text;
    this.#written = true;
    this.#keepDraft();
    if (!this.conflict) {
      const waits = ["lost", "busy", "gone"].includes(this.state) ? this.state : "changed";
      this.#tell(this.unsaved ? waits : "saved");
    }
    this.#saveIn(PAUSE);
  }

  // Another text in place of the present one, which is saved before: it is one step back.
  async putInPlace(text) {
    await this.flush();
    this.text = text;
    this.#emit("text");
    this.typed(text);
    await this.flush();
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
        if (this.conflict) throw changedToo();
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
    this.#keepDraft();
    this.#doubtful = this.text;
    const body = JSON.stringify(this.#textBody());
    fetch(`/tunes/${this.id}/text`, {
      method: "POST", headers: { "content-type": "application/json", accept: "application/json" }, body, keepalive: true,
    }).catch(() => { /* too long for that: the draft is found when the tune is opened again */ });
  }

  // The three ways out of a conflict. Mine on top of theirs, as a new state:
  keepMine() {
    this.conflict = null;
    this.#keepDraft();
    this.#emit("conflict");
    return this.flush();
  }

  // Theirs here; mine is put aside in the browser. Raises `Trouble` where that keeps nothing.
  takeTheirs() {
    if (!this.draft.putAside(this.text)) throw notKept();
    this.#settle();
  }

  // Mine as another tune; theirs here. Gives the new tune's number and whether more was typed
  // meanwhile, which then is put aside; where that keeps nothing, the question stays open.
  async keepAsItsOwn() {
    const { text } = this;
    const tune = await this.copyOf(text);
    const later = await this.#after(() => {
      const more = this.text !== text;
      if (!more || this.draft.putAside(this.text)) this.#settle();
      return more;
    });
    return { tune, later };
  }

  // A text as another tune; nothing changes here. Gives the new tune's number.
  async copyOf(text) {
    const { tune } = await ask(`/tunes/${this.id}/copy`, { json: { text: written(text, this.view.text) } });
    return tune;
  }

  // On the shelf again, where it was taken off while it was being written; saves what waits.
  async putBack() {
    const form = new FormData();
    form.append("item", this.id);
    await ask(`/shelf/${this.id}/put-back`, { form, raw: true });
    await this.flush();
  }

  #after(work) {
    const done = this.#line.then(work);
    this.#line = done.catch(() => {});
    return done;
  }

  #textBody() {
    return { text: written(this.text, this.view.text), made_from: this.view.version, width: this.width };
  }

  #saveIn(milliseconds) {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.save(), milliseconds);
  }

  // With the text that it was made from, which in a conflict is not the present one.
  #keepDraft() {
    if (!this.unsaved) {
      this.draft.drop();
      return;
    }
    const from = this.conflict?.base ?? this.view;
    this.draft.keep(this.text, from.version, from.text);
  }

  async #sendText() {
    if (this.conflict) throw new Trouble("First say which text is to be kept.", "conflict", 409);
    while (this.unsaved) {
      const text = this.text;
      const body = this.#textBody();
      this.#tell("saving");
      try {
        const view = await ask(`/tunes/${this.id}/text`, { json: body });
        this.#doubtful = null;
        this.#saved(text, plain(body.text), view);
      } catch (error) {
        if (error.status !== 409 || !error.data?.view) {
          this.#notSaved(text, error);
          throw error;
        }
        const theirs = error.data.view;
        const arrived = [text, this.#doubtful].includes(plain(theirs.text));
        this.#doubtful = null;
        if (!arrived) {
          this.#against(theirs);
          throw changedToo();
        }
        this.#take(theirs, "text"); // our own, whose answer was lost on the way
      }
    }
    if (this.state !== "saved") this.#tell("saved");
  }

  // `sent` is the text as it went out. The view is told after it was saved: another window's text
  // can be on top of it already.
  #saved(text, sent, view) {
    if (plain(view.text) === sent) {
      if (this.text === text) this.text = sent;
      this.#take(view, "text");
      return;
    }
    if (this.text === text) this.text = plain(view.text);
    this.#take(view, "elsewhere", sent);
    if (this.conflict) throw changedToo();
  }

  #notSaved(text, error) {
    if (error.kind === "lost") {
      this.#doubtful = text;
      this.#tell("lost");
    } else if (error.status === 503) {
      this.#tell("busy", error.message);
      this.#saveIn(BUSY_AGAIN);
    } else {
      this.#tell(error.status === 404 ? "gone" : "refused", error.message);
    }
  }

  // `base`: the view, or its version and text, that the text here was made from.
  #against(theirs, base = this.conflict?.base ?? this.view) {
    const before = this.view;
    this.view = theirs;
    this.conflict = { base, theirs };
    this.#keepDraft();
    this.#emit("view", { why: "conflict", before });
    this.#tell("conflict");
    this.#emit("conflict");
  }

  // The text here gives way to the tune's; whoever calls this has seen to it that it is kept.
  #settle() {
    this.conflict = null;
    this.text = plain(this.view.text);
    this.#emit("conflict");
    this.#take(this.view, "theirs");
  }

  // What waits here was made from the text before; where another window's has come in its place,
  // saving would write over that unseen.
  #take(view, why, madeFrom = plain(this.view.text)) {
    const before = this.view;
    const theirs = plain(view.text);
    const waits = this.unsaved;
    const ours = why === "text" || why === "step";
    if (waits && !ours && theirs !== madeFrom && theirs !== this.text) {
      this.#against(view);
      return;
    }
    this.view = view;
    if (why !== "text" && !waits) this.text = theirs;
    this.draft.arrived(theirs);
    this.#keepDraft();
    if (!this.unsaved && !this.conflict) this.#tell("saved");
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

function changedToo() {
  return new Trouble("This tune was changed in another window meanwhile.", "conflict", 409);
}

function notKept() {
  return new Trouble(
    "Your text was not put aside: this browser keeps nothing more. Keep it as a tune of its own instead.", "not-kept", 0,
  );
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
