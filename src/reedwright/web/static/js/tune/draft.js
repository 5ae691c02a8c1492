// What was typed and is not saved yet, kept in the browser: it outlives a reload, a closed window
// and a crash. Each window has a name of its own, so that two never take each other's.
import { forget, keepData, keptData, keysFrom } from "../kept.js";

const WINDOW = "reedwright-window";
const STALE = 120_000; // milliseconds; an older draft of a window that cannot be asked is left over

export class Draft {
  #read = false; // before, this window's place may hold what must not be written over

  constructor(tune, keeps = true) {
    this.keeps = keeps;
    this.beginning = `reedwright-draft-${tune}-`;
    this.asides = `reedwright-aside-${tune}-`;
    this.name = session(WINDOW) ?? windowName();
  }

  get key() { return this.beginning + this.name; }

  keep(text, madeFrom, base) {
    if (this.keeps && this.#read) keepData(this.key, { text, made_from: madeFrom, base, at: Date.now() });
  }

  drop() {
    if (this.keeps && this.#read) forget(this.key);
  }

  // The server has this text: what windows that are gone left of it is no longer wanted.
  arrived(text) {
    if (!this.keeps || !this.#read) return;
    for (const key of keysFrom(this.beginning)) {
      if (key !== this.key && keptData(key)?.text === text) forget(key);
    }
  }

  // What this window, or one that is no longer there, could not save: {text, made_from, base}.
  async left() {
    const found = await this.#find();
    this.#read = true;
    return found;
  }

  async #find() {
    const taken = await this.#takeName();
    const own = taken ? keptData(this.key) : null;
    if (own) return own;
    const alive = await namesHeld();
    for (const key of keysFrom(this.beginning)) {
      const name = key.slice(this.beginning.length);
      const found = keptData(key);
      const gone = alive ? !alive.has(WINDOW + name) : Date.now() - (found?.at ?? 0) > STALE;
      if (!found || name === this.name || !gone) continue;
      forget(key);
      keepData(this.key, found);
      return found;
    }
    return null;
  }

  // A text that gave way to another one; the user may want it back. Each has a place of its own, as
  // several windows put texts there. Says whether it is kept.
  putAside(text) {
    if (this.aside().some((each) => each.text === text)) return true;
    const at = Date.now();
    const key = `${this.asides}${at}-${newName()}`;
    keepData(key, { text, at });
    return keptData(key)?.text === text;
  }

  // All texts put aside, the latest first: [{key, text}].
  aside() {
    return keysFrom(this.asides)
      .map((key) => ({ key, ...keptData(key) }))
      .filter((each) => typeof each.text === "string")
      .sort((a, b) => b.at - a.at);
  }

  dropAside(key) { forget(key); }

  // Holds this window's name while it lives. A window that was doubled takes a new one.
  async #takeName() {
    const hold = (name) => new Promise((settled) => {
      navigator.locks.request(WINDOW + name, { ifAvailable: true }, (lock) => {
        settled(Boolean(lock));
        return lock ? new Promise(() => {}) : undefined;
      }).catch(() => settled(true));
    });
    if (!navigator.locks || (await hold(this.name))) return true;
    this.name = windowName();
    await hold(this.name);
    return false;
  }
}

async function namesHeld() {
  if (!navigator.locks) return null;
  try {
    const { held } = await navigator.locks.query();
    return new Set(held.map((lock) => lock.name));
  } catch {
    return null;
  }
}

function newName() {
  return Math.random().toString(36).slice(2, 10);
}

function windowName() {
  const name = newName();
  try { sessionStorage.setItem(WINDOW, name); } catch { /* not kept */ }
  return name;
}

function session(key) {
  try { return sessionStorage.getItem(key); } catch { return null; }
}
