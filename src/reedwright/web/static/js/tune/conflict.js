// Two windows changed one tune: both texts are shown, and the user says what becomes of them.
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
    const press = (name, act) => root.querySelector(`[data-do="${name}"]`).addEventListener("click", () => this.#try(act));
    press("mine", async () => {
      await tune.keepMine();
      say("Your text is the tune's now. The other one is one step back, by Undo.");
    });
    press("theirs", async () => {
      tune.takeTheirs();
      say("The tune is as it was changed in the other window. Your text is put aside on this page.");
    });
    press("copy", () => this.#copy());
    const asidePress = (name, act) => aside.querySelector(`[data-do="${name}"]`).addEventListener("click", () => this.#try(act));
    asidePress("back", async () => {
      const text = tune.draft.aside;
      if (text === null) return;
      tune.text = text;
      tune.draft.dropAside();
      tune.dispatchEvent(new CustomEvent("text"));
      tune.typed(text);
      await tune.flush();
      this.#showAside();
    });
    asidePress("own", async () => {
      const text = tune.draft.aside;
      if (text === null) return;
      const number = await tune.keepAsItsOwn(text);
      tune.draft.dropAside();
      this.#showAside();
      say("Your text is a tune of its own now: ", { href: `/tunes/${number}`, text: "open it" });
    });
    asidePress("away", async () => {
      tune.draft.dropAside();
      this.#showAside();
    });
    tune.addEventListener("conflict", () => this.show());
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

  #showAside() {
    const text = this.tune.draft.aside;
    this.aside.hidden = text === null;
    this.aside.querySelector("pre").textContent = text ?? "";
  }

  async #copy() {
    const number = await this.tune.keepAsItsOwn();
    this.say("Your text is a tune of its own now: ", { href: `/tunes/${number}`, text: "open it" });
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
