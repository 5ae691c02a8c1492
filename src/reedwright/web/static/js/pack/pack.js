// The pack's page: settings, the page that follows them, the job that makes the pack.
import { ask } from "../ask.js";
import { element } from "../dom.js";
import { showJob } from "../jobs.js";
import { keepData, keptData } from "../kept.js";
import { Preview } from "./preview.js";

const place = document.getElementById("pack");
const form = document.getElementById("pack-form");
const take = form.elements.take;
const trouble = document.getElementById("trouble");
const address = `/tunes/${place.dataset.tune}/pack`;
const FLAGS = ["breath_plot", "straight", "no_count_in", "loops", "take_beside", "take_parts"];
const WORDS = ["paper", "tab_style", "tempo", "amount", "second_time", "balance", "speeds", "take", "played_by"];
const OF_ONE_TUNE = ["tempo", "take", "take_beside", "take_parts"]; // not for the next tune

// Settings are kept in this browser: by tune, and as last used for tunes that have none.
const MINE = `pack:${place.dataset.uid}`;
const LAST = "pack:last";
const usual = written();

function written() {
  const found = {};
  for (const name of WORDS) found[name] = form.elements[name]?.value ?? "";
  for (const name of FLAGS) found[name] = form.elements[name]?.checked ?? false;
  return found;
}

function write(values) {
  for (const name of WORDS) {
    const field = form.elements[name];
    if (!field || typeof values?.[name] !== "string") continue;
    if (field.options && ![...field.options].some((each) => each.value === values[name])) continue;
    field.value = values[name];
  }
  for (const name of FLAGS) if (form.elements[name] && typeof values?.[name] === "boolean") form.elements[name].checked = values[name];
  showTake();
}

function showTake() {
  if (take) document.getElementById("take-more").hidden = !take.value;
}

// As the server is asked. Throws with words where a field can't be read.
function asked() {
  const values = written();
  const tempo = form.elements.tempo;
  if (!tempo.validity.valid) throw new Error("The tempo is a number from 10 to 1000.");
  const speeds = values.speeds.split(/[\s,;%]+/).filter(Boolean).map(Number);
  if (speeds.some((each) => !Number.isInteger(each) || each < 20 || each > 150)) throw new Error("Speeds are whole percents from 20 to 150, with commas between.");
  if (speeds.length > 8) throw new Error("Eight speeds are the most.");
  return {
    ...values,
    speeds,
    tempo: values.tempo === "" ? null : Number(values.tempo),
    balance: values.balance === "" ? null : Number(values.balance),
    take: values.take ? Number(values.take) : null,
  };
}

function say(words) {
  trouble.textContent = words;
  trouble.hidden = !words;
}

const preview = new Preview({
  address: `${address}/preview`,
  picture: document.getElementById("picture"),
  state: document.getElementById("state"),
  before: document.getElementById("before"),
  next: document.getElementById("next"),
  asked,
  shown(answer) {
    if (!answer) return;
    document.getElementById("notices").replaceChildren(...answer.notices.map((text) => element("p", { className: "quiet", textContent: text })));
  },
});

form.addEventListener("input", (event) => {
  if (event.target === take) {
    showTake();
    const by = take.selectedOptions[0]?.dataset.by;
    if (by && !form.elements.played_by.value) form.elements.played_by.value = by;
  }
  say("");
  const values = written();
  keepData(MINE, values);
  for (const name of OF_ONE_TUNE) values[name] = usual[name];
  keepData(LAST, values);
  preview.change();
});

document.getElementById("usual").addEventListener("click", () => {
  write(usual);
  keepData(MINE, usual);
  preview.change();
});

const jobs = document.getElementById("pack-jobs");
const make = document.getElementById("make");
make.addEventListener("click", async () => {
  make.disabled = true; // a second click is no second pack
  say("");
  try {
    const job = await ask(`${address}/make`, { json: asked() });
    showJob(jobs, job.name, { brief: true });
  } catch (error) {
    say(error.message);
  } finally {
    make.disabled = false;
  }
});

jobs.addEventListener("job-over", async (event) => {
  if (event.detail.standing !== "done") return;
  try {
    const answer = await ask(`${address}/kept`, { raw: true });
    document.getElementById("kept").innerHTML = await answer.text(); // our own server's, escaped there
  } catch (error) {
    say(error.message);
  }
});

write(keptData(LAST));
write(keptData(MINE));
preview.draw();
