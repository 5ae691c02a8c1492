// The controls for hearing the tune: play, speed, count-in, and the bars to be repeated.
import { Chart } from "./chart.js";
import { Player } from "./player.js";

const WAIT = 250; // milliseconds without a move of the speed before it is asked for

export class Playing {
  #timer = 0;
  #heard = null; // the view whose sound is playing

  constructor(root, tune, { music, editor, chart, hole, say, calm = false }) {
    this.root = root;
    this.tune = tune;
    this.music = music;
    this.editor = editor;
    this.chart = chart && new Chart(chart);
    this.hole = hole;
    this.calm = calm; // the page never scrolls by itself
    this.button = root.querySelector("[data-do=play]");
    this.range = root.querySelector("[data-speed=range]");
    this.number = root.querySelector("[data-speed=number]");
    this.countIn = root.querySelector("[data-do=count-in]");
    this.clicks = root.querySelector("[data-do=clicks]");
    this.from = root.querySelector("[data-loop=from]");
    this.to = root.querySelector("[data-loop=to]");
    this.whole = root.querySelector("[data-do=whole]");
    this.newer = root.querySelector("[data-do=newer]");
    this.say = say;
    const query = (speed, count) => {
      const { tune: text, choices } = (this.#heard ?? tune.view).version;
      const clicks = this.clicks?.checked ? "&clicks=1" : "";
      return `speed=${speed}&count_in=${count ? 1 : 0}${clicks}&at=${text}.${choices}`;
    };
    this.player = new Player({
      sound: (speed, count) => `/tunes/${tune.id}/sound?${query(speed, count)}`,
      times: (speed, count) => `/tunes/${tune.id}/times?${query(speed, count)}`,
      mark: (id, hole, breath) => this.#mark(id, hole, breath),
      ended: () => this.#show(),
      trouble: (message) => { this.#show(); say(message); },
    });
    this.button.addEventListener("click", () => this.toggle());
    for (const event of ["pointerenter", "focus"]) this.button.addEventListener(event, () => this.#near());
    this.range?.addEventListener("input", () => this.#speed(this.range.value));
    this.number?.addEventListener("change", () => this.#speed(this.number.value));
    this.countIn?.addEventListener("change", () => this.player.setCountIn(this.countIn.checked));
    this.clicks?.addEventListener("change", () => this.player.renew());
    for (const list of [this.from, this.to]) list?.addEventListener("change", () => this.#fromLists(list));
    this.whole?.addEventListener("click", () => this.loop(null));
    this.newer?.addEventListener("click", () => this.again());
    tune.addEventListener("view", () => this.#view());
    if (this.countIn) this.player.countIn = this.countIn.checked;
    if (this.number) this.player.speed = speedOf(this.number.value);
    this.#view();
  }

  async toggle(fromBar) {
    if (this.player.playing) {
      this.player.stop();
      this.#show();
      return;
    }
    await this.#play(fromBar);
  }

  // From the beginning, as the tune is now.
  async again() {
    this.player.stop();
    await this.#play();
  }

  // Bars by index, or null for all.
  loop(bars) {
    this.player.setLoop(bars);
    this.music.selectBars(bars);
    if (this.from) {
      this.from.value = bars ? String(bars[0]) : "";
      this.to.value = bars ? String(bars[1]) : "";
      this.whole.disabled = !bars;
    }
  }

  async #play(fromBar) {
    await this.tune.save();
    this.#heard = this.tune.view;
    const begun = this.player.play(fromBar);
    this.#show();
    await begun;
  }

  #near() {
    if (this.player.playing || this.tune.unsaved || !this.tune.view.sheet) return;
    this.#heard = this.tune.view;
    this.player.prefetch();
  }

  #speed(percent) {
    const speed = speedOf(percent);
    const shown = String(Math.round(speed * 100));
    if (this.range) this.range.value = shown;
    this.number.value = shown;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.player.setSpeed(speed), WAIT);
  }

  #fromLists(changed) {
    if (changed.value === "") {
      this.loop(null);
      return;
    }
    const [from, to] = [this.from, this.to].map((list) => Number(list.value || changed.value));
    this.loop(from <= to ? [from, to] : [Number(changed.value), Number(changed.value)]);
  }

  #view() {
    const { view } = this.tune;
    const ready = Boolean(view.sheet && view.notes.length);
    this.button.disabled = !ready && !this.player.playing;
    if (this.from) {
      const bars = JSON.stringify(view.bars.map((bar) => [bar.index, bar.number]));
      if (this.from.dataset.bars !== bars) {
        this.from.dataset.bars = bars;
        for (const list of [this.from, this.to]) fill(list, view.bars);
      }
      const last = view.bars.at(-1)?.index ?? -1;
      const loop = this.player.loop;
      this.loop(loop && loop[1] <= last ? loop : null);
    }
    if (!this.player.playing) {
      this.#heard = null;
      this.chart?.show(null);
    }
    this.#show();
  }

  #show() {
    const { playing } = this.player;
    this.button.textContent = playing ? "Stop" : "Play";
    this.root.toggleAttribute("data-playing", playing);
    const old = playing && this.#heard && !same(this.#heard, this.tune.view);
    if (this.newer) this.newer.parentElement.hidden = !old;
    if (!playing) {
      this.#heard = null;
      this.button.disabled = !this.tune.view.notes.length;
    }
  }

  #mark(id, hole, breath) {
    const note = this.#known(id);
    this.music.sounds(note ? id : null, !this.calm && document.activeElement !== this.editor?.field);
    this.editor?.sounding(note);
    this.chart?.show(hole ? { hole, breath } : null);
    if (this.hole) {
      this.hole.textContent = hole ? `hole ${hole} ${breath}` : "";
      this.hole.dataset.breath = breath;
    }
  }

  // The note as it is shown now, where it is still the one that sounds. A grace has no text of its
  // own to mark, yet is drawn.
  #known(id) {
    const now = this.tune.view.notes.find((note) => note.id === id);
    if (this.#heard === this.tune.view || !this.#heard) return now ?? (id && { id, line: 0 });
    const then = this.#heard.notes.find((note) => note.id === id);
    return now && then && now.pitch === then.pitch && now.bar === then.bar ? now : null;
  }
}

function speedOf(percent) {
  return Math.min(150, Math.max(25, Number(percent) || 100)) / 100;
}

function fill(list, bars) {
  const kept = list.value;
  list.replaceChildren(
    new Option("-", ""),
    ...bars.map((bar) => new Option(String(bar.number), String(bar.index))),
  );
  list.value = bars.some((bar) => String(bar.index) === kept) ? kept : "";
}

function same(a, b) {
  return a.version.tune === b.version.tune && a.version.choices === b.version.choices;
}
