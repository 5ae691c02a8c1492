// The music stand: a tune as large as the screen allows, turned page by page.
import { Trouble } from "../ask.js";
import { keep, kept } from "../kept.js";
import { KeptAwake } from "./awake.js";
import { Pages } from "./pages.js";
import { Playing } from "./playing.js";
import { StandSheet } from "./standsheet.js";
import { Tune } from "./tune.js";

const WIDTHS = ["wide", "stand", "large"]; // ever larger music
const TAB_SIZES = [1.5, 2, 2.6, 3.4, 4.4]; // rem

const root = document.getElementById("stand");
const the = (selector) => root.querySelector(selector);

const view = JSON.parse(document.getElementById("view").textContent);
const tune = new Tune(view, "stand", false);
const say = (text) => { the("#said").textContent = text; };
const sheet = new StandSheet(the("#music"), the("#tab-lines"));
const pages = new Pages(the("#sheet"), (page, count) => {
  the("#page").textContent = count > 1 ? `Page ${page + 1} of ${count}` : "";
  the("#back").disabled = page === 0;
  the("#on").disabled = page >= count - 1;
});
sheet.onSystem = (item) => pages.showItem(item);
const playing = new Playing(the("#play"), tune, { music: sheet, hole: the("#hole"), say, calm: true });

let shows = kept("stand-shows") === "tab" ? "tab" : "music";
let width = WIDTHS.includes(kept("stand-width")) ? kept("stand-width") : "stand";
let tabSize = Math.min(TAB_SIZES.length - 1, Math.max(0, Number(kept("stand-tab-size") ?? 1) || 0));

function lay() {
  for (const button of root.querySelectorAll("[data-shows]")) {
    button.setAttribute("aria-pressed", String(button.dataset.shows === shows));
  }
  the("#music").hidden = shows !== "music";
  the("#tab-lines").hidden = shows !== "tab";
  the("#tab-lines").style.fontSize = `${TAB_SIZES[tabSize]}rem`;
  const [at, of] = shows === "music" ? [WIDTHS.indexOf(width), WIDTHS.length] : [tabSize, TAB_SIZES.length];
  the("#smaller").disabled = at === 0;
  the("#larger").disabled = at === of - 1;
  the("#sheet").style.setProperty("--room", `${the("#sheet").clientHeight - 12}px`);
  pages.lay(shows === "music" ? sheet.systems : sheet.bars);
}

function show() {
  sheet.show(tune.view);
  the("#title").textContent = tune.view.title;
  the("#words").textContent = tune.view.sheet?.tab ?? "";
  if (!tune.view.sheet) say("There is no music yet: the text cannot be read as it stands.");
  lay();
}

async function size(by) {
  if (shows === "tab") {
    tabSize += by;
    keep("stand-tab-size", tabSize);
    lay();
    return;
  }
  width = WIDTHS[WIDTHS.indexOf(width) + by];
  keep("stand-width", width);
  await wider();
}

async function wider() {
  try {
    await tune.wider(width);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    say(error.message);
  }
}

function black(on) {
  document.documentElement.toggleAttribute("data-black", on);
  the("#black").setAttribute("aria-pressed", String(on));
}

the("#smaller").addEventListener("click", () => size(-1));
the("#larger").addEventListener("click", () => size(1));
the("#back").addEventListener("click", () => pages.turn(-1));
the("#on").addEventListener("click", () => pages.turn(1));
the("#black").addEventListener("click", () => {
  const on = the("#black").getAttribute("aria-pressed") !== "true";
  black(on);
  keep("stand-black", on ? "yes" : "no");
});
for (const button of root.querySelectorAll("[data-shows]")) {
  button.addEventListener("click", () => {
    shows = button.dataset.shows;
    keep("stand-shows", shows);
    lay();
  });
}

// Foot pedals send these keys. After a press with the pointer no button keeps the keys, so that a
// pedal's space never stops the tune.
const TURNS = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, " ": 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1, Backspace: -1 };
root.addEventListener("click", (event) => {
  if (event.detail > 0 && event.target.closest("button")) the("#sheet").focus({ preventScroll: true });
});
document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.target.closest?.("input, select")) return;
  if (event.key === " " && event.target.closest?.("button, a")) return;
  const by = TURNS[event.key];
  if (by === undefined && event.key !== "Home" && event.key !== "End") return;
  event.preventDefault();
  if (event.key === "Home") pages.turn(-Infinity);
  else if (event.key === "End") pages.turn(Infinity);
  else pages.turn(event.key === " " && event.shiftKey ? -1 : by);
});

let laid = 0;
new ResizeObserver(() => {
  cancelAnimationFrame(laid);
  laid = requestAnimationFrame(lay);
}).observe(the("#sheet"));
document.fonts.ready.then(lay);
tune.addEventListener("view", show);

black(kept("stand-black") === "yes" || (kept("stand-black") === null && document.documentElement.dataset.theme === "dark"));
show();
tune.watch();
new KeptAwake(say).begin();
if (width !== "stand") wider();
root.dataset.ready = "yes";
export { pages, playing, sheet, tune };
