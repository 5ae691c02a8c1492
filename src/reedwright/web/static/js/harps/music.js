// The music of a harp, or of two: what differs is marked above its note, and either can be heard.
import { shape } from "../dom.js";
import { frame, groups, PAD } from "../tune/marks.js";
import { Player } from "../tune/player.js";

const DIAMOND = 110; // its height, of the drawing's units

function markDifferences(music) {
  for (const id of music.dataset.marked.split(" ").filter(Boolean)) {
    const [note] = groups(music, id);
    if (!note) continue;
    const box = note.getBBox();
    const x = box.x + box.width / 2;
    const y = box.y - PAD - DIAMOND / 2;
    const half = DIAMOND / 2;
    note.append(shape("path", { class: "differs", d: `M${x} ${y - half}L${x + half} ${y}L${x} ${y + half}L${x - half} ${y}Z` }));
  }
}

let playing = null; // one at a time

function follow(button) {
  const music = document.getElementById(button.dataset.music);
  const words = button.firstElementChild;
  const trouble = document.getElementById("play-trouble");
  const base = `/tunes/${button.dataset.tune}/harps`;
  let heard = null;
  const over = () => { words.textContent = "Play"; if (playing?.button === button) playing = null; };
  const player = new Player({
    sound: (speed, countIn) => `${base}/sound?${button.dataset.query}&speed=${speed}&count_in=${countIn}`,
    times: (speed, countIn) => `${base}/times?${button.dataset.query}&speed=${speed}&count_in=${countIn}`,
    mark: (id) => {
      heard?.remove();
      const [note] = id ? groups(music, id) : [];
      if (!note) return;
      heard = frame(note, { class: "heard" });
      note.prepend(heard);
    },
    ended: over,
    trouble: (sentence) => { over(); trouble.textContent = sentence; trouble.hidden = false; },
  });
  button.hidden = false;
  button.addEventListener("click", () => {
    trouble.hidden = true;
    if (player.playing) { player.stop(); over(); return; }
    if (playing) { playing.player.stop(); playing.over(); }
    playing = { button, player, over };
    words.textContent = "Stop";
    player.play();
  });
}

for (const music of document.querySelectorAll(".music[data-marked]")) markDifferences(music);
for (const button of document.querySelectorAll("button.hear")) follow(button);
