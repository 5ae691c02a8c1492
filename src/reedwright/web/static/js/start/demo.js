// The demo tune sounds, and the note that sounds is marked.
import { Player } from "../tune/player.js";

const play = document.getElementById("play");
const said = document.getElementById("demo-said");
const sounding = document.getElementById("sounding");
const music = document.getElementById("demo-music");
const chart = document.getElementById("demo-chart");

const address = (what) => (speed, countIn) => `/start/demo/${what}?speed=${speed}&count_in=${countIn ? 1 : 0}`;
const player = new Player({
  sound: address("sound"),
  times: address("times"),
  mark(id, hole, breath) {
    for (const old of document.querySelectorAll(".sounds")) old.classList.remove("sounds");
    if (id !== null) for (const note of music.querySelectorAll(`[data-note="${CSS.escape(id)}"]`)) note.classList.add("sounds");
    sounding.textContent = hole ? `hole ${hole} ${breath} ${breath === "blow" ? "↑" : "↓"}` : "";
    if (hole) for (const each of chart.querySelectorAll(`[data-hole="${hole}"][data-breath="${breath}"]`)) each.classList.add("sounds");
  },
  ended: show,
  trouble(message) {
    said.textContent = message;
    said.hidden = !message;
    show();
  },
});

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
