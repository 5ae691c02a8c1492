// What the stand shows: systems of music, or the tab alone in bars; with the note that sounds.
import { element } from "../dom.js";
import { Music } from "./music.js";

export class StandSheet {
  #tabs = new Map();
  #bars = null;

  constructor(music, lines) {
    this.music = new Music(music);
    this.lines = lines;
    this.onSystem = () => {};
  }

  get systems() { return [...this.music.root.children]; }
  get bars() { return [...this.lines.children]; }

  show(view) {
    this.music.show(view);
    this.#tabs.clear();
    const notes = new Set(view.notes.map((note) => note.id));
    const measures = [...this.music.root.querySelectorAll("[data-bar]")];
    this.lines.replaceChildren(...view.bars.map((bar) => (
      this.#bar(bar, measures.filter((each) => each.dataset.bar === String(bar.index)), notes))));
  }

  // As `Playing` tells it.
  sounds(id) {
    this.music.sounds(id, false);
    for (const old of this.lines.querySelectorAll(".sounds")) old.classList.remove("sounds");
    const note = id && this.#tabs.get(id);
    note?.classList.add("sounds");
    const item = this.lines.hidden ? this.music.group(id)?.closest(".music-line") : note?.closest(".bar-tab");
    if (item) this.onSystem(item);
  }

  selectBars(bars) {
    this.music.selectBars(bars);
  }

  // Blow stands above the line and draw below it; the sign says it again. Taken from the drawing,
  // which has the ornaments, too.
  #bar(bar, measures, notes) {
    const made = element("div", { className: "bar-tab" }, piece("bar-number", bar.number));
    for (const group of measures.flatMap((measure) => [...measure.querySelectorAll("[data-note]")])) {
      const id = group.dataset.note;
      const text = group.querySelector("text")?.textContent ?? "";
      const tab = piece(`note-tab ${text.includes("↓") ? "draw" : "blow"}`, text || "–");
      tab.classList.toggle("ornament", !notes.has(id));
      made.append(tab);
      if (!this.#tabs.has(id)) this.#tabs.set(id, tab);
    }
    return made;
  }
}

function piece(name, text) {
  return element("span", { className: name, textContent: text });
}
