// The tune was taken off the shelf while it was being written: put it back, or keep the text as
// another tune.
import { Trouble } from "../ask.js";
import { copied } from "./conflict.js";

const OVER = ["saved", "conflict"]; // states in which that is no longer so

export class Gone {
  constructor(root, tune, say) {
    this.root = root;
    this.tune = tune;
    this.say = say;
    for (const [name, act] of [["put-back", () => this.#putBack()], ["copy", () => copied(tune, say)]]) {
      root.querySelector(`[data-do="${name}"]`).addEventListener("click", () => this.#try(act));
    }
    tune.addEventListener("state", ({ detail }) => {
      if (detail.state === "gone") root.hidden = false;
      else if (OVER.includes(detail.state)) root.hidden = true;
    });
  }

  async #putBack() {
    await this.tune.putBack();
    this.say("The tune is on the shelf again, and your text is saved.");
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
