// The tunes and chapters of a book in their order: moved by dragging, by buttons and by keys.
import { element } from "../dom.js";
import { Order } from "../shelf/order.js";

export class Parts {
  // `changed()` is called after every change; `show(tune)` asks for a tune's page.
  constructor(list, said, { changed, show }) {
    Object.assign(this, { list, said, changed, show, parts: [], titles: {}, partOf: new WeakMap() });
    this.order = new Order(list, {
      name: (row) => this.name(this.partOf.get(row)),
      changed: () => this.ordered(),
      say: (words) => this.say(words),
    });
    list.addEventListener("keydown", (event) => this.key(event));
  }

  write(parts, titles) {
    this.parts = parts.map((part) => ({ ...part }));
    this.titles = { ...this.titles, ...titles };
    this.gone = new Set(parts.filter((part) => part.kind === "tune" && !(part.tune in titles)).map((part) => part.tune));
    this.lay();
  }

  name(part) {
    if (part.kind === "chapter") return part.title ? `chapter ${part.title}` : "the chapter";
    return this.titles[part.tune] ?? `number ${part.tune}`;
  }

  lay() {
    this.list.replaceChildren(...this.parts.map((part) => this.row(part)));
    this.ends();
  }

  // The first leads no further up, the last no further down.
  ends() {
    const rows = [...this.list.children];
    rows.forEach((row, place) => {
      this.button(row, -1).disabled = place === 0;
      this.button(row, 1).disabled = place === rows.length - 1;
    });
  }

  button(row, by) {
    return row.querySelector(`[data-act="${by < 0 ? "Up" : "Down"}"]`);
  }

  row(part) {
    const row = element("li", { className: part.kind });
    this.partOf.set(row, part);
    const name = this.name(part);
    const handle = element("button", { type: "button", className: "handle", textContent: "⠿" });
    handle.setAttribute("aria-label", `Move ${name}`);
    handle.setAttribute("aria-pressed", "false");
    handle.setAttribute("aria-describedby", "parts-words");
    const acts = element("div", { className: "part-acts" });
    const act = (text, does) => {
      const button = element("button", { type: "button", className: "plain", textContent: text });
      button.dataset.act = text;
      button.setAttribute("aria-label", `${text}: ${name}`);
      button.addEventListener("click", does);
      acts.append(button);
    };
    act("Up", () => this.move(row, -1));
    act("Down", () => this.move(row, 1));
    if (part.kind === "tune" && !this.gone.has(part.tune)) act("Show", () => this.show(part.tune));
    act("Take out", () => this.leaveOut(part));
    if (part.kind === "chapter") {
      acts.prepend(handle);
      row.append(this.field(part, "title", "Chapter", 300), this.field(part, "words", "Words under its title", 2000), acts);
    } else {
      const gone = this.gone.has(part.tune);
      const title = gone ? element("span", { className: "gone", textContent: name }) : element("span", { textContent: name });
      row.append(handle, title);
      if (gone) row.append(element("span", { className: "quiet", textContent: " no longer on the shelf" }));
      row.append(acts, this.more(part, name));
    }
    return row;
  }

  // What holds for the tune in this book alone; its fields are made when they are looked at.
  more(part, name) {
    const more = element("details");
    const own = [part.harp && `on ${part.harp}`, part.words && "with words", part.sold && "sold"].filter(Boolean).join(", ");
    const summary = element("summary", { textContent: own ? `In this book: ${own}` : "In this book" });
    summary.setAttribute("aria-label", `${summary.textContent}: ${name}`);
    more.append(summary);
    more.addEventListener("toggle", () => {
      if (!more.open || more.childElementCount > 1) return;
      const box = element("input", { type: "checkbox", checked: part.sold });
      box.addEventListener("change", () => { part.sold = box.checked; this.changed(); });
      more.append(
        this.field(part, "harp", "Harp, such as G or low D (empty: as chosen for the tune)", 80),
        this.field(part, "words", "Your words under its title", 2000),
        element("p", {}, element("label", {}, box, element("span", { textContent: "Sold: the web pages show and sound only its first part" }))),
      );
    });
    return more;
  }

  field(part, key, text, most) {
    const input = element("input", { value: part[key] ?? "", maxLength: most, autocomplete: "off" });
    input.addEventListener("input", (event) => { event.stopPropagation(); part[key] = input.value; this.changed(); });
    return element("label", { className: "field" }, element("span", { textContent: text }), input);
  }

  move(row, by) {
    this.order.step(row, by);
    // The neighbour of a button that leads no further.
    if (this.button(row, by).disabled) this.button(row, -by).focus();
  }

  ordered() {
    this.parts = [...this.list.children].map((row) => this.partOf.get(row));
    this.ends();
    this.changed();
  }

  leaveOut(part) {
    const place = this.parts.indexOf(part);
    this.parts.splice(place, 1);
    this.lay();
    const next = this.list.children[Math.min(place, this.parts.length - 1)];
    (next?.querySelector("button:not(:disabled)") ?? document.getElementById("add-chapter")).focus();
    this.say(`${this.name(part)} is left out. Undo brings it back.`);
    this.changed();
  }

  add(parts, titles) {
    Object.assign(this.titles, titles);
    this.parts.push(...parts);
    this.lay();
    this.say(parts.length === 1 ? `${this.name(parts[0])} is added at the end.` : `${parts.length} are added at the end.`);
    this.changed();
  }

  has(tune) {
    return this.parts.some((part) => part.tune === tune);
  }

  say(words) {
    this.said.textContent = words;
  }

  key(event) {
    const row = event.target.closest("li");
    if (event.defaultPrevented || !event.altKey || !row || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    this.move(row, event.key === "ArrowUp" ? -1 : 1);
  }
}
