// Two windows changed one tune: both texts are shown, and the user says what becomes of them. What
// gave way is put aside, and shown when no such question is open.
import { Trouble } from "../ask.js";
import { element } from "../dom.js";
import { difference } from "./difference.js";
import { plain } from "./tune.js";

const SIGNS = { both: " ", theirs: "−", mine: "+" };
const WORDS = { theirs: "only there", mine: "only here" };

export class Conflict {
  constructor(root, aside, tune, say) {
    this.root = root;
    this.tune = tune;
    this.say = say;
    this.lines = root.querySelector(".difference");
    this.aside = aside;
    this.entry = aside.querySelector("template").content.firstElementChild;
    this.shown = null; // the text that the difference was drawn from
    const press = (name, act) => root.querySelector(`[data-do="${name}"]`).addEventListener("click", () => this.#try(act));
    press("mine", async () => {
      await tune.keepMine();
      say("Your text is the tune's now. The other one is one step back, by Undo.");
    });
    press("theirs", async () => {
      tune.takeTheirs();
      say("The tune is as it was changed in the other window. Your text is put aside on this page.");
    });
    press("copy", () => copied(tune, say));
    tune.addEventListener("conflict", () => this.show());
    tune.addEventListener("aside", () => {
      this.#showAside();
      say("What was not saved when the tune was last open is put aside on this page.");
    });
    addEventListener("storage", () => this.#showAside()); // another window put something aside
    tune.addEventListener("text", () => this.#lines());
    this.show();
  }

  show() {
    const open = this.tune.conflict !== null;
    const opens = open && this.root.hidden;
    this.root.hidden = !open;
    this.#lines();
    this.#showAside();
    if (opens) this.root.querySelector("h2").focus();
    const { text } = this.tune.view;
    if (open && !opens && text !== this.shown) this.say("The other text was changed again; both are shown as they are now.");
    this.shown = open ? text : null;
  }

  #lines() {
    if (!this.tune.conflict) {
      this.lines.replaceChildren();
      return;
    }
    const found = difference(plain(this.tune.view.text), this.tune.text);
    this.lines.replaceChildren(...found.map(([whose, line]) => {
      const sign = element("span", { className: "sign", textContent: SIGNS[whose] });
      sign.setAttribute("aria-hidden", "true");
      const words = element("span", { className: "unseen", textContent: WORDS[whose] ? `${WORDS[whose]}: ` : "" });
      return element("li", { className: whose }, sign, words, line);
    }));
  }

  // The list is built anew only where it is another one: so the focus stays; else it goes on to the
  // next text, or to the tune's.
  #showAside() {
    const texts = this.tune.draft.aside();
    const focused = this.aside.contains(document.activeElement);
    this.aside.hidden = !texts.length || this.tune.conflict !== null;
    const list = this.aside.querySelector("ol");
    const key = JSON.stringify(texts.map((each) => each.key));
    if (list.dataset.key === key) return;
    list.dataset.key = key;
    list.replaceChildren(...texts.map((each, index) => {
      const entry = this.entry.cloneNode(true);
      const name = texts.length > 1 ? `Text ${index + 1} of ${texts.length}` : "Text put aside";
      const shown = entry.querySelector("pre");
      shown.textContent = each.text;
      shown.setAttribute("aria-label", name);
      entry.querySelector("p").setAttribute("aria-label", name);
      for (const button of entry.querySelectorAll("button")) {
        button.addEventListener("click", () => this.#try(() => this.#away(button.dataset.do, each)));
      }
      return entry;
    }));
    if (focused) (list.querySelector("button") ?? document.querySelector("#abc")).focus();
  }

  // A text leaves the list only after what was asked for has been done.
  async #away(what, { key, text }) {
    if (what === "back") await this.tune.putInPlace(text);
    const number = what === "own" ? await this.tune.copyOf(text) : null;
    this.tune.draft.dropAside(key);
    this.#showAside();
    if (number !== null) this.say(...ownTune(number));
  }

  async #try(act) {
    try {
      await act();
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      if (error.kind !== "conflict") this.say(error.message);
    }
  }
}

// The present text as a tune of its own, and said so, with what became of what was typed meanwhile.
export async function copied(tune, say) {
  const { tune: number, later } = await tune.keepAsItsOwn();
  const where = tune.unsaved ? "only here" : "put aside on this page";
  say(...ownTune(number, later ? `What you typed since is ${where}. ` : ""));
}

function ownTune(number, before = "") {
  return [`${before}Your text is a tune of its own now: `, { href: `/tunes/${number}`, text: "open it" }];
}
