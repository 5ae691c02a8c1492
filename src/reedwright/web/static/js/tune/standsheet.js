// What the stand shows: systems of music, or the tab alone in bars; with the note that sounds.
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
    const notes = new Map(view.notes.map((note) => [note.id, note]));
    this.lines.replaceChildren(...view.bars.map((bar) => this.#bar(bar, notes)));
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

  // Blow stands above the line and draw below it; the sign says it again.
  #bar(bar, notes) {
    const made = document.createElement("div");
    made.className = "bar-tab";
    const number = document.createElement("span");
    number.className = "bar-number";
    number.textContent = bar.number;
    made.append(number);
    for (const id of bar.notes) {
      const note = notes.get(id);
      if (!note) continue;
      const tab = document.createElement("span");
      tab.className = `note-tab ${note.tab.includes("↓") ? "draw" : "blow"}`;
      tab.textContent = note.tab || "–";
      made.append(tab);
      this.#tabs.set(id, tab);
    }
    return made;
  }
}
