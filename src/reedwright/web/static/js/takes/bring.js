// Handing a recording over: chosen, dropped, or recorded here; sent with its progress told.
import { Recorder } from "./recorder.js";

const byId = (id) => document.getElementById(id);
const form = byId("bring");
const said = byId("bring-said");
const button = form.querySelector("button[type=submit]");
let sending = null;

function say(text, isTrouble = false) {
  said.textContent = text;
  said.classList.toggle("trouble", isTrouble);
}

function send(file) {
  if (sending) return;
  const most = Number(form.dataset.most);
  if (file.size > most) {
    say(`That file has ${(file.size / 1e6).toFixed(0)} MB; at most ${(most / 1e6).toFixed(0)} MB are taken.`, true);
    return;
  }
  const data = new FormData(form);
  data.set("sound", file, file.name ?? "take.wav");
  sending = new XMLHttpRequest();
  sending.open("POST", form.action);
  sending.setRequestHeader("accept", "application/json");
  sending.responseType = "json";
  sending.upload.onprogress = (event) => { if (event.lengthComputable) byId("sending").value = event.loaded / event.total; };
  sending.onload = () => over(sending.status, sending.response);
  sending.onerror = () => over(0, null);
  sending.onabort = () => over(-1, null);
  busy(true);
  say("Sending it.");
  sending.send(data);
}

function over(status, answer) {
  sending = null;
  busy(false);
  if (status >= 200 && status < 300) {
    say("It is there.");
    unsent = false;
    location.assign(answer.go);
  } else if (status === -1) {
    say("Not sent.");
  } else if (status === 0) {
    document.dispatchEvent(new CustomEvent("reedwright:lost"));
    say("Reedwright does not answer. The recording is still on this page: send it again when Reedwright is back.", true);
  } else {
    say(answer?.message ?? `That did not work (${status}).`, true);
  }
}

function busy(is) {
  button.disabled = is;
  byId("keep-recorded").disabled = is;
  byId("give-up").hidden = !is;
  byId("sending").hidden = !is;
  byId("sending").value = 0;
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const file = form.elements.sound.files[0];
  if (file) send(file);
});
byId("give-up").addEventListener("click", () => sending?.abort());

// A recording may be dropped anywhere on the page.
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  if (!event.dataTransfer.files.length) return;
  form.elements.sound.files = event.dataTransfer.files;
  say(`${event.dataTransfer.files[0].name}: press "${button.textContent}".`);
  button.focus();
});

// ---- the microphone -------------------------------------------------------------------------

const record = byId("record");
let recorder = null;
let recorded = null;
let unsent = false;

function clock(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}

record.addEventListener("click", async () => {
  if (recorder) return end();
  record.disabled = true;
  byId("record-said").textContent = "";
  const begun = new Recorder((level, seconds) => {
    byId("record-level").value = level;
    byId("record-time").textContent = clock(seconds);
  });
  try {
    await begun.begin();
    recorder = begun;
    unsent = true;
    record.textContent = "Stop";
    record.setAttribute("aria-pressed", "true");
    byId("record-said").textContent = "Recording.";
  } catch (error) {
    byId("record-said").textContent = error.message;
  }
  record.disabled = false;
});

async function end() {
  const sound = await recorder.end();
  recorder = null;
  record.textContent = "Record";
  record.setAttribute("aria-pressed", "false");
  byId("record-level").value = 0;
  const now = new Date();
  const name = `take-${now.toISOString().slice(0, 16).replace(/[T:]/g, "-")}.wav`;
  recorded = new File([sound], name, { type: "audio/wav" });
  const address = URL.createObjectURL(recorded);
  byId("recorded-sound").src = address;
  byId("save-recorded").href = address;
  byId("save-recorded").download = name;
  byId("recorded").hidden = false;
  byId("record-said").textContent = "Listen to it, then add it or record it again.";
}

byId("keep-recorded").addEventListener("click", () => send(recorded));
byId("throw-recorded").addEventListener("click", () => {
  URL.revokeObjectURL(byId("recorded-sound").src);
  byId("recorded-sound").removeAttribute("src");
  byId("recorded").hidden = true;
  recorded = null;
  unsent = false;
  byId("record-said").textContent = "Thrown away.";
  record.focus();
});
window.addEventListener("beforeunload", (event) => { if (unsent && (recorder || recorded)) event.preventDefault(); });
