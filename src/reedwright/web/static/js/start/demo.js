// The demo tune sounds, and the note that sounds is marked.
import { ask } from "../ask.js";
import { Chart } from "../tune/chart.js";
import { frame, groups } from "../tune/marks.js";
import { Player } from "../tune/player.js";

const play = document.getElementById("play");
const said = document.getElementById("demo-said");
const sounding = document.getElementById("sounding");
const music = document.getElementById("demo-music");
const chart = new Chart(document.getElementById("demo-chart"));
const still = matchMedia("(prefers-reduced-motion: reduce)");

// On a narrow page the music is set in shorter lines.
const narrow = matchMedia("(max-width: 40rem)");
const wide = [...music.children];

async function fit() {
  if (!narrow.matches) {
    music.replaceChildren(...wide);
    return;
  }
  try {
    const answer = await ask("/start/demo/music", { raw: true });
    const drawn = await answer.text();
    if (narrow.matches) music.innerHTML = drawn;
  } catch { /* the wide lines stay */ }
}

narrow.addEventListener("change", fit);
if (narrow.matches) fit();

const address = (what) => (speed, countIn) => `/start/demo/${what}?speed=${speed}&count_in=${countIn ? 1 : 0}`;
const player = new Player({
  sound: address("sound"),
  times: address("times"),
  mark(id, hole, breath) {
    for (const old of document.querySelectorAll(".sounds")) old.classList.remove("sounds");
    for (const old of music.querySelectorAll(".here")) old.remove();
    if (id !== null) for (const note of groups(music, id)) mark(note);
    sounding.textContent = hole ? `hole ${hole} ${breath} ${breath === "blow" ? "↑" : "↓"}` : "";
    chart.show(hole ? { hole, breath } : null);
  },
  ended: show,
  trouble(message) {
    said.textContent = message;
    said.hidden = !message;
    show();
  },
});

// By a frame around the note and its tab as well as by colour.
function mark(note) {
  note.classList.add("sounds");
  note.append(frame(note, { class: "here", pad: 90, rx: 60 }));
  const line = note.closest("svg").getBoundingClientRect();
  if (line.top < 0 || line.bottom > innerHeight) note.closest("svg").scrollIntoView({ behavior: still.matches ? "auto" : "smooth", block: "center" });
}

function show() {
  play.textContent = player.playing ? "Stop" : "Play";
  play.setAttribute("aria-pressed", String(player.playing));
}

play.addEventListener("click", async () => {
  said.hidden = true;
  if (player.playing) player.stop();
  else {
    const begun = player.play();
    show();
    await begun;
  }
  show();
});
play.addEventListener("pointerenter", () => player.prefetch?.(), { once: true });
play.addEventListener("focus", () => player.prefetch?.(), { once: true });
