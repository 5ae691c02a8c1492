// One note: what plays it now and why, what else could and what that costs, ornaments and breath.
import { ask, Trouble } from "../ask.js";
import { element } from "../dom.js";

export class Panel {
  #asked = null;
  #note = null;
  #from = null;

  constructor(root, tune, { music, say }) {
    this.root = root;
    this.tune = tune;
    this.music = music;
    this.say = say;
    this.body = root.querySelector(".panel-body");
    this.heading = root.querySelector("h2");
    root.querySelector("[data-do=close]").addEventListener("click", () => this.close());
    root.addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        event.preventDefault();
        this.close();
      }
    });
    this.body.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-choice]");
      if (button && button.getAttribute("aria-disabled") !== "true") this.#choose(button);
    });
    tune.addEventListener("view", () => this.#again());
  }

  get open() { return !this.root.hidden; }

  async show(note) {
    this.#note = note;
    this.root.hidden = false;
    this.heading.textContent = this.music.words(note);
    await this.#load();
    if (!this.open) return;
    this.heading.focus({ preventScroll: true });
    this.heading.scrollIntoView({ block: "nearest" });
    this.music.reveal(this.#note);
  }

  close() {
    this.#asked?.abort();
    this.root.hidden = true;
    this.body.replaceChildren();
    this.#note = null;
    this.music.root.focus({ preventScroll: true });
  }

  // The music was changed: the same note again, if it is still there.
  #again() {
    if (!this.open) return;
    const note = this.music.chosen;
    if (!note) {
      this.close();
      return;
    }
    this.#note = note;
    this.heading.textContent = this.music.words(note);
    this.#load();
  }

  async #load() {
    this.#asked?.abort();
    const asked = new AbortController();
    this.#asked = asked;
    this.body.setAttribute("aria-busy", "true");
    try {
      await this.tune.flush();
      if (asked.signal.aborted) return;
      const found = await ask(`/tunes/${this.tune.id}/notes/${encodeURIComponent(this.#note.id)}`, { signal: asked.signal });
      if (asked.signal.aborted) return;
      const focused = this.body.contains(document.activeElement) ? document.activeElement.dataset.choice : null;
      this.#draw(found);
      this.body.removeAttribute("aria-busy");
      if (focused) (this.#button(focused) ?? this.heading).focus();
    } catch (error) {
      if (error.name === "AbortError" || asked.signal.aborted) return;
      if (!(error instanceof Trouble)) throw error;
      this.body.removeAttribute("aria-busy");
      this.body.replaceChildren(element("p", { className: "trouble", textContent: error.message }));
    }
  }

  #button(choice) {
    return [...this.body.querySelectorAll("button[data-choice]")].find((each) => each.dataset.choice === choice);
  }

  async #choose(button) {
    const body = { note: this.#note.id, ...JSON.parse(button.dataset.body) };
    this.body.setAttribute("aria-busy", "true"); // until it is drawn as it is then
    for (const each of this.body.querySelectorAll("button")) each.setAttribute("aria-disabled", "true");
    try {
      const view = await this.tune.step("choices", body);
      this.say(view.said.join(" ") || "Nothing changed."); // the new view draws the panel, too
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      this.say(error.message);
      await this.#load();
    }
  }

  #draw(found) {
    const parts = [element("p", { className: "now" }, strong(found.now?.words ?? "No hole plays it"), sign(found.now?.sign))];
    if (found.words) parts.push(element("p", { className: "quiet", textContent: found.words }));
    parts.push(this.#ways(found.ways), this.#ornaments(found.ornaments), this.#breath(found.breath));
    parts.push(choice("Clear all choices of this note", "clear", { do: "clear" }));
    this.body.replaceChildren(...parts.filter(Boolean));
  }

  #ways(ways) {
    if (!ways.length) return element("p", { textContent: "This harp does not have the note." });
    const items = ways.map((way) => {
      const name = element("p", { className: "way" }, strong(way.words), sign(way.sign));
      if (way.current) name.append(" ", element("span", { className: "quiet", textContent: "plays now" }));
      if (way.pinned) name.append(" ", element("span", { className: "told", textContent: "pinned" }));
      if (way.forbidden) name.append(" ", element("span", { className: "told", textContent: "forbidden" }));
      const cost = element("p", { className: "quiet", textContent: effort(way) });
      const why = way.why.map((text) => element("p", { className: "quiet", textContent: text }));
      const bar = element("p", { className: "bar" });
      bar.append(way.pinned
        ? choice("Unpin", `pin ${way.way}`, { do: "unpin", way: way.way }, `Unpin ${way.words}`)
        : choice("Pin", `pin ${way.way}`, { do: "play", way: way.way }, `Pin ${way.words}`));
      bar.append(way.forbidden
        ? choice("Allow", `forbid ${way.way}`, { do: "allow", way: way.way }, `Allow ${way.words}`)
        : choice("Forbid", `forbid ${way.way}`, { do: "never", way: way.way }, `Forbid ${way.words}`));
      return element("li", {}, name, cost, ...why, bar);
    });
    return section("Ways to play it", element("ul", { className: "rows ways" }, ...items));
  }

  #ornaments(ornaments) {
    if (!ornaments?.length) return null;
    const items = ornaments.map((each) => {
      const words = [each.possible ? effort(each) : "not possible here", each.why].filter(Boolean).join("; ");
      const act = each.chosen
        ? choice("Take out", `ornament ${each.kind}`, { do: "ornament", kind: "none" }, `Take out the ${each.word}`)
        : choice("Add", `ornament ${each.kind}`, { do: "ornament", kind: each.kind }, `Add a ${each.word}`);
      if (!each.possible && !each.chosen) act.setAttribute("aria-disabled", "true");
      return element("li", {}, act, " ", strong(each.word), " ", element("span", { className: "quiet", textContent: words }));
    });
    const leave = element("p", { className: "bar" }, choice("As the music says", "ornament back", { do: "ornament", kind: "as written" }, "Ornaments as the music says"));
    return section("Ornaments", element("ul", { className: "rows" }, ...items), leave);
  }

  #breath(breath) {
    if (!breath) return null;
    const now = element("p", { className: "quiet", textContent: [breath.now ? "There is a breath after this note." : "No breath is marked after this note.", breath.why].filter(Boolean).join(" ") });
    const bar = element("p", { className: "bar" });
    const wish = breath.wish ?? null;
    if (wish !== null) bar.append(choice("As the music says", "breathe back", { do: "breathe", breathe: null }, "Breath as the music says"));
    if (wish !== true && (!breath.now || wish === false)) bar.append(choice("Breathe after it", "breathe yes", { do: "breathe", breathe: true }));
    if (wish !== false) bar.append(choice("Never breathe after it", "breathe no", { do: "breathe", breathe: false }));
    return section("Breath", now, bar);
  }
}

function strong(text) {
  return element("strong", { textContent: text });
}

function sign(text) {
  if (!text) return null;
  const shown = element("span", { className: "tab sign", textContent: ` ${text}` });
  shown.setAttribute("aria-hidden", "true");
  return shown;
}

function section(title, ...children) {
  return element("section", {}, element("h3", { textContent: title }), ...children);
}

function choice(text, name, body, label) {
  const button = element("button", { type: "button", textContent: text });
  button.dataset.choice = name;
  button.dataset.body = JSON.stringify(body);
  if (label) button.setAttribute("aria-label", label);
  return button;
}

function effort({ effort_change: change, current }) {
  if (current && !change) return "the effort as it is";
  if (change === null || change === undefined) return "";
  if (Math.abs(change) < 0.05) return "no more effort, no less";
  return `${Math.abs(change).toFixed(1)} ${change > 0 ? "more" : "less"} effort in the whole tune`;
}
