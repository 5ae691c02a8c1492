// The page of the reed meter: listens, shows, says, keeps.
import { ask } from "../ask.js";
import { needle, upperNeedle } from "./dial.js";
import { Line } from "./line.js";
import { microphone, NoMicrophone, sounded } from "./microphone.js";

const SAY_EVERY = 2000; // milliseconds between readings that are said
const byId = (id) => document.getElementById(id);
const form = byId("aim");
const listen = byId("listen");
let taken = null;
let line = null;
let reading = null;
let saidAt = 0;
let saidWords = "";
let targetHz = null;
let kept = null;

// ---- what is listened for -----------------------------------------------------------------

function aim() {
  const data = new FormData(form);
  const [hole, breath] = (data.get("hole") ?? "0-blow").split("-");
  const told = { hole: Number(hole), breath, played: data.has("played"), mine: Number(data.get("mine") ?? 0) };
  for (const name of ["key", "in_register", "tuning", "valves", "temperament", "a4", "pressure", "stretch", "beats"]) {
    told[name] = data.get(name) ?? "";
  }
  return told;
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("change", (event) => {
  if (!event.target.name) return;
  byId("wrong").hidden = true;
  ofTheFields();
  const mine = byId("mine");
  if (event.target === mine && mine.value !== "0" && byId("keep-item")) byId("keep-item").value = mine.value;
  line?.say({ aim: aim() });
});

// A harp of one's own says itself what it is.
function ofTheFields() {
  const own = Number(byId("mine")?.value ?? 0) > 0;
  form.elements.key.closest(".fields").hidden = own;
}
ofTheFields();

function ready(told) {
  for (const each of document.querySelectorAll(".reed-hole")) each.hidden = Number(each.dataset.hole) > told.holes;
  targetHz = told.hz;
  byId("target-sound").disabled = !(taken && targetHz);
  status(`Listening: ${told.harp}, ${told.tuned}.`);
}

// ---- the line and the microphone ----------------------------------------------------------

function status(words) {
  byId("line").textContent = words;
}

listen.addEventListener("click", () => (line ? stop() : start()));

async function start() {
  listen.disabled = true;
  status("Asking for the microphone.");
  try {
    taken = await microphone((block) => line?.sound(block));
  } catch (error) {
    status(error instanceof NoMicrophone ? error.message : `The microphone can't be used (${error.message}). Use a recording, below.`);
    listen.disabled = false;
    return;
  }
  taken.gone = () => { stop(); status("The microphone is gone. Plug it in and press Listen again."); };
  line = new Line(() => ({ ...aim(), rate: Math.round(taken.rate) }));
  const on = (name, done) => line.addEventListener(name, (event) => done(event.detail));
  on("ready", ready);
  on("reading", show);
  on("tone", counted);
  on("waiting", (words) => { byId("kept").textContent = words; });
  on("kept", wasKept);
  on("not_kept", (why) => { byId("kept").textContent = why.words; });
  on("wrong", (wrong) => { byId("wrong").textContent = Object.values(wrong).join(" "); byId("wrong").hidden = false; });
  on("trouble", (words) => status(words));
  on("lost", () => { show(null); counted({ count: 0 }); status("The line to Reedwright was lost; it is being made again."); });
  on("over", (told) => { stop(); if (!told) status("Reedwright has stopped listening. Press Listen to begin again."); });
  listen.textContent = "Stop listening";
  listen.disabled = false;
  if (byId("keep")) byId("keep").disabled = false;
}

function stop() {
  line?.end();
  taken?.stop();
  taken = null;
  line = null;
  show(null);
  counted({ count: 0 });
  listen.textContent = "Listen";
  byId("target-sound").disabled = true;
  if (byId("keep")) byId("keep").disabled = true;
  status("Not listening.");
}

byId("target-sound").addEventListener("click", () => {
  if (taken && targetHz) sounded(taken, targetHz);
});

// ---- what is heard -------------------------------------------------------------------------

function signed(cents) {
  const text = Math.abs(cents).toFixed(1);
  if (text === "0.0") return "0.0";
  return `${cents > 0 ? "+" : "\u2212"}${text}`;
}

function reedName(hole, breath, note) {
  return hole ? `${hole} ${breath} \u00b7 ${note}` : note;
}

function show(now) {
  reading = now;
  needle.point(now?.cents);
  upperNeedle.point(now?.upper_cents);
  byId("level").value = now ? now.level : -60;
  byId("meter").classList.toggle("silent", !now);
  if (!now) {  // what was heard last stays to be read, fainter
    return;
  }
  byId("reed").textContent = reedName(now.hole, now.breath, now.note);
  byId("cents").textContent = now.cents === null ? "\u2013" : signed(now.cents);
  byId("hz").textContent = `${now.hz.toFixed(2)} Hz${now.target_hz ? ` of ${now.target_hz.toFixed(2)}` : ""}`;
  byId("steady").textContent = now.wander === null ? "" : now.wander > 3 ? "unsteady" : "steady";
  byId("pair").textContent = pairWords(now);
  if (now.target_hz && now.upper_hz === null && targetHz !== now.target_hz) {
    targetHz = now.target_hz;
    byId("target-sound").disabled = !taken;
  }
  if (byId("say").checked && Date.now() - saidAt >= SAY_EVERY && now.words !== saidWords) say();
}

function pairWords(now) {
  if (now.upper_hz === null) return "";
  const cents = now.upper_cents === null ? `${now.upper_hz.toFixed(2)} Hz` : `${signed(now.upper_cents)} cents`;
  const beats = now.beats === null ? "" : `; ${now.beats.toFixed(2)} beats a second`;
  const wanted = now.beats_wanted === null ? "" : ` (targets: ${now.beats_wanted.toFixed(2)})`;
  return `with ${reedName(now.upper_hole, now.upper_breath, now.upper_note)}, ${cents}${beats}${wanted}`;
}

function say() {
  saidAt = Date.now();
  saidWords = reading?.words ?? "";
  byId("said").textContent = saidWords || "Nothing sounds.";
}

// ---- keeping -------------------------------------------------------------------------------

function counted(tone) {
  if (!byId("count")) return;
  byId("count").textContent = tone.count;
  byId("keep-all").disabled = byId("forget").disabled = !tone.count || !line;
}

function keep(which) {
  const item = Number(byId("keep-item")?.value ?? 0);
  if (!item || !line) return;
  line.say({ keep: { item, which, when: byId("keep-when").value } });
}

function wasKept(what) {
  kept = what;
  byId("kept").textContent = `Kept with ${what.name}: ${what.words}.`;
  byId("take-back").hidden = false;
  byId("kept-link").hidden = false;
  byId("kept-link").href = `/bench/harps/${what.item}`;
  counted(what);
}

byId("keep-form").addEventListener("submit", (event) => event.preventDefault());
byId("keep")?.addEventListener("click", () => keep("last"));
byId("keep-all")?.addEventListener("click", () => keep("all"));
byId("forget")?.addEventListener("click", () => line?.say({ forget: true }));
byId("take-back").addEventListener("click", async () => {
  const state = new FormData();
  state.append("state", kept.state);
  try {
    await ask(`/bench/harps/${kept.item}/undo`, { form: state, raw: true });
    byId("kept").textContent = `Taken back: ${kept.words} is no longer kept with ${kept.name}.`;
    byId("take-back").hidden = true;
  } catch (error) {
    byId("kept").textContent = error.message;
  }
});

document.addEventListener("keydown", (event) => {
  if (!byId("keys").checked || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.closest("input:not([type=radio], [type=checkbox]), select, textarea")) return;
  if (event.key === "r" || event.key === "R") say();
  else if (event.key === "k" || event.key === "K") keep("last");
});

addEventListener("pagehide", () => { if (line) stop(); });
