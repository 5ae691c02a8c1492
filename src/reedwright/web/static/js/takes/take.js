// The page of one take: its drawing goes with its sound; hearing, cutting, taking off the shelf.
import { ask } from "../ask.js";
import { showJob } from "../jobs.js";
import { Wave } from "./wave.js";

const byId = (id) => document.getElementById(id);
const sound = byId("take-sound");
const said = byId("take-said");
const STEP = 1; // seconds for an arrow key

// What this browser can't play is asked for once more in the form that all of them play.
function notPlayed() {
  const plain = `${location.pathname}/sound.wav`;
  if (sound.src.endsWith(plain)) said.textContent = "The recording can't be played: it may be damaged. What could be heard of it stands below.";
  else sound.src = plain;
}
sound.addEventListener("error", notPlayed);
if (sound.error) notPlayed(); // before anybody listened for it

for (const button of document.querySelectorAll("[data-post], [data-hear]")) {
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      const { go } = await ask(button.dataset.post ?? button.dataset.hear, { method: "POST" });
      if (go === location.pathname) location.reload(); else location.assign(go);
    } catch (error) {
      said.textContent = error.message;
      button.disabled = false;
    }
  });
}

byId("hearing")?.addEventListener("job-over", () => location.reload());

// ---- the drawing ----------------------------------------------------------------------------

const holder = byId("wave");
if (holder) draw();

async function draw() {
  let heard;
  try {
    heard = await ask(holder.dataset.from);
  } catch (error) {
    said.textContent = error.message;
    return;
  }
  if (!heard.wave) return;
  const wave = new Wave(byId("wave-canvas"), heard);
  const follow = byId("follow");
  holder.dataset.drawn = "yes";

  function tell() {
    const note = wave.note(wave.now);
    const time = `${Math.floor(wave.now / 60)}:${(wave.now % 60).toFixed(1).padStart(4, "0")}`;
    const words = note ? `${time}, ${note.where}${note.part ? `, part ${note.part}` : ""}: ${note.name} ${note.way} ${note.words}` : time;
    byId("wave-here").textContent = words;
    holder.setAttribute("aria-valuenow", wave.now.toFixed(1));
    holder.setAttribute("aria-valuetext", words);
  }

  function go(seconds) {
    wave.now = Math.max(0, Math.min(heard.seconds, seconds));
    sound.currentTime = wave.now;
    if (wave.now < wave.from || wave.now > wave.from + wave.across) wave.show(wave.now - wave.across / 4);
    else wave.draw();
    tell();
  }

  function frame() {
    wave.now = sound.currentTime;
    if (follow.checked && (wave.now < wave.from || wave.now > wave.from + 0.8 * wave.across)) wave.show(wave.now - 0.1 * wave.across);
    else wave.draw();
    if (sound.paused) tell(); // not while it plays: a screen reader would speak over it
    else requestAnimationFrame(frame);
  }

  const zoom = (factor) => wave.show(wave.now - wave.across * factor * ((wave.now - wave.from) / wave.across), wave.across * factor);
  sound.addEventListener("play", () => requestAnimationFrame(frame));
  sound.addEventListener("seeked", () => { if (sound.paused) frame(); });
  byId("wider").addEventListener("click", () => zoom(0.6));
  byId("narrower").addEventListener("click", () => zoom(1 / 0.6));
  holder.addEventListener("click", (event) => go(wave.at(event.clientX - byId("wave-canvas").getBoundingClientRect().left)));
  holder.addEventListener("wheel", (event) => {
    const along = Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : event.shiftKey ? event.deltaY : 0;
    if (!along) return;
    event.preventDefault();
    wave.show(wave.from + (along / wave.width) * wave.across);
  }, { passive: false });
  holder.addEventListener("keydown", (event) => {
    const steps = { ArrowRight: STEP, ArrowUp: STEP, ArrowLeft: -STEP, ArrowDown: -STEP, PageDown: wave.across, PageUp: -wave.across };
    if (event.key in steps) go(wave.now + steps[event.key]);
    else if (event.key === "Home") go(0);
    else if (event.key === "End") go(heard.seconds);
    else if (event.key === "Enter" || event.key === " ") { if (sound.paused) sound.play(); else sound.pause(); }
    else if (event.key === "+") zoom(0.6);
    else if (event.key === "-") zoom(1 / 0.6);
    else return;
    event.preventDefault();
  });
}

// ---- practice tracks ------------------------------------------------------------------------

const cut = byId("cut");
cut?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const wrong = byId("cut-said");
  wrong.hidden = true;
  const data = new FormData(cut);
  const speeds = String(data.get("speeds")).split(/[,;\s]+/).filter(Boolean).map(Number);
  const asked = {
    speeds, parts: data.has("parts"), bars: String(data.get("bars") ?? ""), rounds: Number(data.get("rounds") ?? 4),
    count_in: data.has("count_in"), retune: Number(data.get("retune") || 0),
  };
  try {
    if (speeds.some((speed) => !(speed >= 20 && speed <= 150))) throw new Error("Speeds are numbers from 20 to 150, with commas between.");
    const { job } = await ask(cut.dataset.to, { json: asked });
    showJob(byId("cutting"), job, { above: true });
  } catch (error) {
    wrong.textContent = error.message;
    wrong.hidden = false;
  }
});
