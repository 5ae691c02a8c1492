// The engraved music: every note can be chosen by pointer and by keyboard, bars can be selected,
// and the note that sounds is marked. Marks are drawn into the note's own group in the drawing.
import { element, shape } from "../dom.js";
import { frame, PAD } from "./marks.js";

const REACH = 40; // pixels; a press further from every note means none

export class Music {
  #systems = []; // the drawings as they were sent
  #order = []; // view.notes that are drawn, as written
  #byId = new Map();
  #view = null;
  #sounding = null;
  #bars = null;
  #drag = null;
  #following = "";

  // `onChoose(note)`, `onOpen(note)`, `onBars([first, last])`.
  constructor(root, { onChoose = () => {}, onOpen = () => {}, onBars = () => {}, say = () => {} } = {}) {
    this.root = root;
    this.chosen = null; // a note of view.notes
    this.tell = { onChoose, onOpen, onBars, say };
    root.addEventListener("keydown", (event) => this.#key(event));
    root.addEventListener("pointerdown", (event) => this.#down(event));
    root.addEventListener("pointermove", (event) => this.#over(event));
    root.addEventListener("pointerup", (event) => this.#up(event));
    root.addEventListener("pointercancel", () => { this.#drag = null; });
  }

  // Draws the view. Systems that did not change stay as they are; nothing scrolls.
  show(view) {
    this.#view = view;
    const drawn = view.sheet?.systems ?? [];
    this.root.classList.toggle("stale", Boolean(view.stale_sheet));
    drawn.forEach((svg, k) => {
      if (this.#systems[k] === svg) return;
      let place = this.root.children[k];
      if (!place) {
        place = element("div", { className: "music-line" });
        this.root.append(place);
      }
      place.innerHTML = svg; // our own drawing, made by the server
    });
    while (this.root.children.length > drawn.length) this.root.lastElementChild.remove();
    this.#systems = drawn;
    this.#byId.clear();
    for (const group of this.root.querySelectorAll("[data-note]")) {
      if (!this.#byId.has(group.dataset.note)) this.#byId.set(group.dataset.note, group);
    }
    this.#order = view.notes.filter((note) => this.#byId.has(note.id));
    const again = this.chosen && this.#order.find((note) => note.id === this.chosen.id);
    this.chosen = again ?? null;
    this.#remark();
  }

  group(id) { return this.#byId.get(id) ?? null; }

  // `follow`: bring it into view, where it is not.
  choose(note, { follow = true, open = false, quiet = false } = {}) {
    this.chosen = note;
    this.#remark("chosen");
    if (note && follow) this.#bring(this.group(note.id));
    this.tell.onChoose(note);
    if (note && !quiet) this.tell.say(this.words(note));
    if (note && open) this.tell.onOpen(note);
  }

  words(note) {
    const bar = this.#view.bars.find((each) => each.index === note.bar);
    const place = bar ? bar.notes.indexOf(note.id) + 1 : 0;
    const where = bar ? `Bar ${bar.number}${place ? `, note ${place}` : ""}, ` : "";
    return `${where}${note.pitch}, ${note.way_words ?? note.way ?? note.tab}`;
  }

  // The note that sounds, by its id; null for none.
  sounds(id, follow) {
    this.#sounding = id;
    this.#remark("sounding");
    const group = id && this.group(id);
    const system = group?.closest(".music-line");
    if (system && follow && this.#following !== system) this.#bring(system);
    this.#following = system ?? this.#following;
  }

  // Bars by index as written, or null.
  selectBars(bars) {
    this.#bars = bars;
    this.#remark("loop");
  }

  #remark(only) {
    for (const kind of only ? [only] : ["loop", "chosen", "sounding", "pin"]) {
      for (const old of this.root.querySelectorAll(`.mark-${kind}`)) old.remove();
    }
    if (!only || only === "loop") this.#markBars();
    if (!only || only === "sounding") this.#box(this.group(this.#sounding), "sounding");
    if (!only || only === "chosen") this.#box(this.chosen && this.group(this.chosen.id), "chosen");
    if (!only) for (const note of this.#order) if (note.pinned) this.#pin(this.group(note.id));
  }

  #box(group, kind) {
    if (!group) return;
    const box = group.getBBox();
    const marks = shape("g", { class: `mark-${kind}` }, frame(group, { rx: PAD }));
    if (kind === "sounding") {
      marks.append(shape("rect", { class: "foot", x: box.x - PAD, y: box.y + box.height + PAD, width: box.width + 2 * PAD, height: PAD * 1.4 }));
    }
    group.prepend(marks);
  }

  // A small square under the tab: this note's way is pinned.
  #pin(group) {
    const box = group.getBBox();
    const size = 110;
    const x = box.x + box.width / 2 - size / 2;
    group.append(shape("g", { class: "mark-pin" }, shape("rect", { x, y: box.y + box.height + 30, width: size, height: size })));
  }

  #markBars() {
    if (!this.#bars) return;
    const [first, last] = this.#bars;
    for (const measure of this.root.querySelectorAll("[data-bar]")) {
      const index = Number(measure.dataset.bar);
      if (index < first || index > last) continue;
      const lines = [...measure.querySelectorAll(":scope > .staff > path")].map((path) => path.getBBox());
      if (!lines.length) continue;
      const x = Math.min(...lines.map((line) => line.x));
      const width = Math.max(...lines.map((line) => line.x + line.width)) - x;
      const y = Math.min(...lines.map((line) => line.y)) - 3 * PAD;
      const height = Math.max(...lines.map((line) => line.y)) + 3 * PAD - y;
      const marks = shape("g", { class: "mark-loop" }, shape("rect", { x, y, width, height }));
      if (index === first) marks.append(shape("rect", { class: "edge", x, y, width: 50, height }));
      if (index === last) marks.append(shape("rect", { class: "edge", x: x + width - 50, y, width: 50, height }));
      measure.prepend(marks);
    }
  }

  // Brings the note's line into view, where it is not.
  reveal(note) {
    this.#bring(this.group(note.id));
  }

  #bring(element) {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    element?.closest(".music-line")?.scrollIntoView({ block: "nearest", behavior: still ? "auto" : "smooth" });
  }

  #key(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || !this.#order.length) return;
    const at = this.chosen ? this.#order.indexOf(this.chosen) : -1;
    const last = this.#order.length - 1;
    const to = {
      ArrowRight: () => Math.min(last, at + 1),
      ArrowLeft: () => Math.max(0, at < 0 ? 0 : at - 1),
      Home: () => 0,
      End: () => last,
      ArrowDown: () => this.#across(at, 1),
      ArrowUp: () => this.#across(at, -1),
    }[event.key];
    if (to) {
      event.preventDefault();
      const note = this.#order[to()];
      if (event.shiftKey && this.chosen) this.#extend(note);
      this.choose(note);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      const note = this.chosen ?? this.#order[0];
      this.choose(note, { open: true });
    }
  }

  // With Shift the arrows select bars, from the one where they began.
  #extend(note) {
    this.#anchor ??= this.chosen.bar;
    const [first, last] = [this.#anchor, note.bar].sort((a, b) => a - b);
    this.tell.onBars([first, last]);
  }

  #anchor = null;

  // The note nearest below or above, in the next system.
  #across(at, by) {
    if (at < 0) return 0;
    const here = this.group(this.#order[at].id);
    const systems = [...this.root.children];
    const system = systems[systems.indexOf(here.closest(".music-line")) + by];
    if (!system) return at;
    const x = middle(here);
    const there = this.#order.filter((note) => system.contains(this.group(note.id)));
    if (!there.length) return at;
    const best = there.reduce((a, b) => (
      Math.abs(middle(this.group(b.id)) - x) < Math.abs(middle(this.group(a.id)) - x) ? b : a));
    return this.#order.indexOf(best);
  }

  #down(event) {
    if (event.button !== 0) return;
    const bar = barAt(event);
    this.#anchor = null;
    if (event.shiftKey && bar !== null) {
      event.preventDefault();
      const [first, last] = this.#bars ?? [this.chosen?.bar ?? bar, this.chosen?.bar ?? bar];
      this.tell.onBars([Math.min(first, bar), Math.max(last, bar)]);
      return;
    }
    // On a touch screen dragging scrolls; bars are chosen from the lists there.
    this.#drag = { bar: event.pointerType === "touch" ? null : bar, moved: false, x: event.clientX, y: event.clientY };
  }

  #over(event) {
    if (!this.#drag || this.#drag.bar === null || !(event.buttons & 1)) return;
    const bar = barAt(event);
    if (bar === null) return;
    if (bar === this.#drag.bar && !this.#drag.moved) return;
    this.#drag.moved = true;
    getSelection()?.removeAllRanges();
    this.tell.onBars([Math.min(this.#drag.bar, bar), Math.max(this.#drag.bar, bar)]);
  }

  #up(event) {
    const drag = this.#drag;
    this.#drag = null;
    if (!drag || drag.moved) return;
    if (Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > 10) return;
    const note = this.#noteAt(event);
    if (note) this.choose(note, { open: true, follow: false });
  }

  // The note in whose column the press was: a note is a small thing to hit.
  #noteAt(event) {
    const exact = event.target.closest?.("[data-note]");
    const own = exact && this.#order.find((note) => note.id === exact.dataset.note);
    if (own) return own;
    const system = event.target.closest?.(".music-line");
    if (!system) return null;
    let best = null;
    let least = REACH;
    for (const note of this.#order) {
      const group = this.group(note.id);
      if (!system.contains(group)) continue;
      const far = Math.abs(middle(group) - event.clientX);
      if (far < least) [best, least] = [note, far];
    }
    return best;
  }
}

function middle(group) {
  const box = (group.querySelector(".notehead") ?? group).getBoundingClientRect();
  return box.x + box.width / 2;
}

function barAt(event) {
  const there = document.elementFromPoint(event.clientX, event.clientY);
  const measure = there?.closest?.("[data-bar]") ?? near(there, event);
  return measure ? Number(measure.dataset.bar) : null;
}

// Between the lines of a drawing there is nothing to hit: the bar whose width has the place.
function near(there, event) {
  const system = there?.closest?.(".music-line");
  return [...(system?.querySelectorAll("[data-bar]") ?? [])].find((measure) => {
    const box = measure.getBoundingClientRect();
    return box.left <= event.clientX && event.clientX < box.right;
  });
}
