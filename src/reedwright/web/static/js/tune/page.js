// The tune page put together.
import { ask, Trouble } from "../ask.js";
import { element } from "../dom.js";
import { keep, kept } from "../kept.js";
import { Conflict } from "./conflict.js";
import { Editor } from "./editor.js";
import { Gone } from "./gone.js";
import { Music } from "./music.js";
import { Panel } from "./panel.js";
import { Playing } from "./playing.js";
import { Tune } from "./tune.js";

const root = document.getElementById("tune");
const the = (selector) => root.querySelector(selector);
const view = JSON.parse(document.getElementById("view").textContent);
const tune = new Tune(view, root.dataset.width ?? "wide");
const said = the("#said");
const stateLine = the("#state");

const STATES = {
  saved: "Saved.",
  changed: "Not saved yet.",
  saving: "Saving …",
  lost: "Kept on this page until Reedwright is back.",
  busy: "Kept on this page: the shelf is busy. Saving is tried again.",
  gone: "Not saved: the tune was taken off the shelf.",
  conflict: "Not saved: changed in another window, too.",
};

// A sentence for eye and ear; perhaps with a link at its end.
function say(text, link) {
  said.replaceChildren(text, ...(link ? [element("a", { href: link.href, textContent: link.text })] : []));
}

const music = new Music(the("#music"), {
  onChoose: (note) => editor.chosen(note),
  onOpen: (note) => panel.show(note),
  onBars: (bars) => {
    playing.loop(bars);
    say(`${barWords(bars)} chosen to be repeated.`);
  },
  say,
});
const editor = new Editor(the("#text"), tune, {
  onNote: (note) => {
    music.choose(note, { follow: twoSides(), quiet: true });
  },
});
const panel = new Panel(the("#panel"), tune, { music, say });
const playing = new Playing(the("#play"), tune, { music, editor, chart: the("#chart"), hole: the("#hole"), say });
new Conflict(the("#conflict"), the("#aside"), tune, say);
new Gone(the("#gone"), tune, say);

function barWords([first, last]) {
  const number = (index) => tune.view.bars.find((bar) => bar.index === index)?.number ?? index;
  return first === last ? `Bar ${number(first)} is` : `Bars ${number(first)} to ${number(last)} are`;
}

function twoSides() {
  return matchMedia("(min-width: 1000px)").matches;
}

// What stands beside the text.
function show() {
  const { view: now } = tune;
  music.show(now);
  const sheet = now.sheet;
  the("#chart").innerHTML = sheet?.chart ?? ""; // our own drawing, made by the server
  the("#words").textContent = sheet?.tab ?? "";
  the("#signs").replaceChildren(...(sheet?.signs ?? []).flatMap(([sign, text]) => [
    element("dt", { className: "tab", textContent: sign }), element("dd", { textContent: text }),
  ]));
  the("#facts").textContent = (sheet?.facts ?? []).map(([label, text]) => (label ? `${label}: ${text}` : text)).join(" · ");
  remarks(sheet?.remarks);
  the("#stale").hidden = !(now.stale_sheet || (!sheet && !now.readable));
  the("#stale").textContent = now.stale_sheet
    ? "The music is the text's as it could last be read; what is marked in the text has to be mended first."
    : "There is no music yet: the text cannot be read as it stands.";
  the("#notices").replaceChildren(...now.notices.map((text) => element("li", { textContent: text })));
  the("#notices").hidden = !now.notices.length;
  the("#title").textContent = now.title;
  the("#harp-name").textContent = now.harp_name ? [now.harp_name, now.position].filter(Boolean).join(", ") : "";
  steps();
}

// Notes on practice take longer than the music; they are asked for when the writing rests.
const REST = 700; // milliseconds
let resting = 0;
function remarks(known) {
  clearTimeout(resting);
  if (known === null) {
    resting = setTimeout(askRemarks, REST);
    return;
  }
  the("#remarks").replaceChildren(...(known ?? []).map((text) => element("li", { textContent: text })));
  the("#remarks").closest("section").hidden = !known?.length;
}

async function askRemarks() {
  const { version } = tune.view;
  try {
    const found = await ask(`/tunes/${tune.id}/remarks`);
    if (tune.view.version === version) remarks(found.remarks);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error; // asked again with the next change
  }
}

function steps() {
  const { view: now } = tune;
  for (const [id, can, says] of [["#undo", now.can_undo, now.undo_says], ["#redo", now.can_redo, now.redo_says]]) {
    const button = the(id);
    button.setAttribute("aria-disabled", String(!can && !tune.unsaved));
    button.title = can ? says ?? "" : "";
  }
  for (const control of root.querySelectorAll("[data-setting]")) {
    const value = now[control.dataset.setting] ?? "";
    if (control.type === "checkbox") control.checked = value;
    else setting(control, value);
  }
}

// Shows the value, though it be none of those that the list offers.
function setting(list, value) {
  const shown = String(value);
  if (![...list.options].some((option) => option.value === shown)) {
    list.append(new Option(list.dataset.setting === "harp" ? tune.view.harp_name || shown : shown, shown));
  }
  list.value = shown;
}

async function step(address, body) {
  try {
    const now = await tune.step(address, body);
    say(now.said.join(" "));
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    say(error.message);
    steps();
  }
}

tune.addEventListener("view", ({ detail }) => {
  if (detail.why !== "conflict") show();
  if (detail.why === "text" && tune.view.said.length) say(tune.view.said.join(" "));
  if (detail.why === "elsewhere") say("Changed in another window; shown as it is now.");
});
const ALOUD = ["refused", "busy", "gone"];
let aloud = ""; // said last; the same is not said again with every try
tune.addEventListener("state", ({ detail }) => {
  stateLine.textContent = detail.state === "refused" ? `Not saved. ${detail.message}` : STATES[detail.state];
  stateLine.dataset.state = detail.state;
  if (detail.state === "saved") aloud = "";
  if (!ALOUD.includes(detail.state) || aloud === stateLine.textContent) return;
  aloud = stateLine.textContent;
  say(aloud);
});

for (const [id, address] of [["#undo", "undo"], ["#redo", "redo"]]) {
  the(id).addEventListener("click", (event) => {
    if (event.currentTarget.getAttribute("aria-disabled") !== "true") step(address);
  });
}
for (const control of root.querySelectorAll("[data-setting]")) {
  control.addEventListener("change", () => {
    const value = control.type === "checkbox" ? control.checked
      : control.dataset.kind === "number" ? Number(control.value) : control.value;
    step("choices", { do: "set", settings: { [control.dataset.setting]: value } });
  });
}
the("#copy")?.addEventListener("click", async () => {
  try {
    location.assign(`/tunes/${await tune.copyOf(tune.text)}`);
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    say(error.message);
  }
});

// Text, music or both.
const shows = root.querySelectorAll("input[name=show]");
function sides(which) {
  root.dataset.show = which;
  for (const each of shows) each.checked = each.value === which;
}
sides(kept("tune-sides") ?? "both");
for (const each of shows) {
  each.addEventListener("change", () => {
    sides(each.value);
    keep("tune-sides", each.value);
  });
}

document.addEventListener("keydown", (event) => {
  const writes = event.target.closest?.("textarea, input, select");
  if (!(event.ctrlKey || event.metaKey) || event.altKey || writes) return;
  const key = event.key.toLowerCase();
  const which = key === "y" || (key === "z" && event.shiftKey) ? "#redo" : key === "z" ? "#undo" : null;
  if (!which) return;
  event.preventDefault();
  the(which).click();
});

// A narrow place for the music gets fewer bars a line, as large as elsewhere.
const NARROW = 560; // pixels
let laid = 0;
new ResizeObserver(([{ contentRect }]) => {
  const width = contentRect.width < NARROW ? "narrow" : "wide";
  if (!contentRect.width || width === tune.width) return;
  clearTimeout(laid);
  laid = setTimeout(() => tune.wider(width).catch(() => {}), 100);
}).observe(the("#music"));

show();
tune.begin();
root.dataset.ready = "yes"; // tests and styles may wait for it
export { music, panel, playing, tune };
