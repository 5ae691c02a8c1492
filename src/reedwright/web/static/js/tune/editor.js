// The text of the tune: a plain text field, with marks drawn under its letters.
//
// The field's own undoing, spelling, screen reader and touch keyboard stay as the browser has them.
// Under it lies the same text, unseen, in the same type; its marked words carry the waves.
import { element } from "../dom.js";
import { lineStarts, moved, movedOffset, stretch } from "./places.js";

export class Editor {
  #marks = []; // {from, to, kind}
  #problems = [];
  #here = null;
  #chosen = null;
  #lineOf = null;

  constructor(root, tune, { onNote } = {}) {
    this.tune = tune;
    this.field = root.querySelector("textarea");
    this.under = root.querySelector(".under");
    this.list = root.querySelector(".problems");
    this.count = root.querySelector(".problem-count");
    this.onNote = onNote;
    this.field.addEventListener("input", () => this.#typed());
    // `selectionchange` is the one event that tells of every move of the cursor.
    document.addEventListener("selectionchange", () => this.#moved());
    this.list.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button) this.#goTo(this.#problems[Number(button.dataset.problem)]);
    });
    tune.addEventListener("view", () => this.show());
    tune.addEventListener("text", () => this.show());
    this.show();
  }

  // As the tune is now: its text where nothing else is being typed, and its problems.
  show() {
    const { view, text } = this.tune;
    const field = this.field;
    field.readOnly = !view.editable;
    const before = field.value;
    if (before !== text) {
      const cursor = [field.selectionStart, field.selectionEnd].map((at) => movedOffset(at, before, text));
      field.value = text;
      if (document.activeElement === field) field.setSelectionRange(...cursor);
    }
    if (!this.tune.unsaved) this.#read();
    else this.#marks = moved(this.#marks, before, field.value);
    this.#draw();
  }

  // The note that sounds, or null: its place in the text is marked. `note` is one of view.notes.
  sounding(note) {
    this.#here = note;
    this.#draw();
  }

  chosen(note) {
    this.#chosen = note;
    this.#draw();
  }

  // The note at the cursor, of view.notes.
  noteAtCursor() {
    if (this.tune.unsaved) return null;
    const at = this.field.selectionStart;
    const text = this.field.value;
    const lines = lineStarts(text);
    return this.tune.view.notes.find((note) => {
      if (!note.line) return false;
      const [from, to] = stretch(text, lines, note);
      return from <= at && at < to;
    }) ?? null;
  }

  #typed() {
    const text = this.field.value;
    this.#marks = moved(this.#marks, this.#shownText, text);
    this.tune.typed(text);
    this.#draw();
  }

  #moved() {
    if (document.activeElement !== this.field || !this.onNote) return;
    const note = this.noteAtCursor();
    if (note && note.id !== this.#lineOf) this.onNote(note);
    this.#lineOf = note?.id ?? null;
  }

  #read() {
    const { view } = this.tune;
    const text = this.field.value;
    const lines = lineStarts(text);
    this.#problems = view.problems;
    this.#marks = view.problems.map((problem, index) => {
      let [from, to] = stretch(text, lines, problem);
      if (to === from) to = Math.min(text.length, from + 1);
      if (to === from && from > 0) from -= 1;
      return { from, to, kind: problem.severity, index };
    });
    this.#list();
  }

  #list() {
    const errors = this.#problems.filter((problem) => problem.severity === "error").length;
    this.field.setAttribute("aria-invalid", String(errors > 0));
    this.count.textContent = counted(errors, this.#problems.length - errors);
    this.list.hidden = !this.#problems.length;
    const key = JSON.stringify(this.#problems);
    if (this.list.dataset.key === key) return; // focus stays where it is
    this.list.dataset.key = key;
    this.list.replaceChildren(...this.#problems.map((problem, index) => {
      const button = element("button", { type: "button", className: "plain", textContent: `Line ${problem.line}, column ${problem.column}` });
      button.dataset.problem = index;
      const words = `${errors && problem.severity !== "error" ? "To note: " : ""}${problem.message}`;
      return element("li", {}, button, " ", element("span", { textContent: words }));
    }));
  }

  #goTo(problem) {
    const text = this.field.value;
    const [from, to] = stretch(text, lineStarts(text), problem);
    this.field.focus();
    this.field.setSelectionRange(from, to);
    this.under.querySelector(`[data-problem="${this.#problems.indexOf(problem)}"]`)
      ?.scrollIntoView({ block: "nearest" });
  }

  #shownText = "";

  #draw() {
    const text = this.field.value;
    this.#shownText = text;
    const marks = [...this.#marks];
    if (!this.tune.unsaved) {
      const lines = lineStarts(text);
      for (const [note, kind] of [[this.#chosen, "chosen"], [this.#here, "here"]]) {
        if (!note?.line) continue; // an ornament's note, say, stands nowhere in the text
        const [from, to] = stretch(text, lines, note);
        marks.push({ from, to, kind });
      }
    }
    this.under.replaceChildren(...pieces(text, marks), "\n");
  }
}

// The text cut where marks begin and end; what is marked stands in a span with the marks' kinds.
function pieces(text, marks) {
  const cuts = [...new Set([0, text.length, ...marks.flatMap(({ from, to }) => [from, to])])].sort((a, b) => a - b);
  const made = [];
  cuts.slice(0, -1).forEach((from, k) => {
    const to = cuts[k + 1];
    const over = marks.filter((mark) => mark.from <= from && to <= mark.to);
    const piece = text.slice(from, to);
    if (!over.length) {
      made.push(piece);
      return;
    }
    const span = element("span", { className: over.map((mark) => mark.kind).join(" "), textContent: piece });
    const problem = over.find((mark) => mark.index !== undefined);
    if (problem) span.dataset.problem = problem.index;
    made.push(span);
  });
  return made;
}

function counted(errors, warnings) {
  const some = (count, one, many) => (count ? [`${count} ${count === 1 ? one : many}`] : []);
  const parts = [...some(errors, "error", "errors"), ...some(warnings, "thing to note", "things to note")];
  return parts.join(", ");
}
