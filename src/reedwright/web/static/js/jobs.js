// <reedwright-job data-name="...">: a job's progress as it goes on, with what came of it.
// Fires `job-over` (detail: the job's report) when it has ended.
//
// All jobs of a page come by one stream, which is closed when nothing runs and while the page is
// not looked at: a browser has few connections for one server.
import { ask, Trouble } from "./ask.js";
import { element } from "./dom.js";

const WORDS = { waiting: "waiting its turn", working: "at work", done: "done", stopped: "stopped", failed: "did not work" };
const OVER = ["done", "stopped", "failed"];
const FEW_FILES = 4; // beyond which all but the first are folded away
const PLAYED = [".mp3", ".wav"];
const LOOKED_AT = [".pdf", ".txt"];

const watched = new Map(); // name: the elements that show it
let events = null;
let planned = false;

function follow(name, shown) {
  if (!watched.has(name)) watched.set(name, new Set());
  watched.get(name).add(shown);
  plan();
}

function leave(name, shown) {
  watched.get(name)?.delete(shown);
  if (!watched.get(name)?.size) watched.delete(name);
  if (!watched.size) close();
}

function close() {
  events?.close();
  events = null;
}

function plan() {
  if (planned) return;
  planned = true;
  queueMicrotask(() => { planned = false; open(); });
}

function open() {
  close();
  if (!watched.size || document.hidden) return;
  const names = [...watched.keys()].slice(0, 200).map((name) => `name=${encodeURIComponent(name)}`);
  events = new EventSource(`/jobs/events?${names.join("&")}`);
  events.addEventListener("job", (event) => {
    const job = JSON.parse(event.data);
    for (const shown of [...(watched.get(job.name) ?? [])]) shown.show(job);
  });
  events.addEventListener("over", () => { close(); checkAll(); });
  events.onerror = () => { if (events?.readyState === EventSource.CLOSED) close(); };
}

// Whoever is still waiting is no longer known to the server, or was begun meanwhile.
async function checkAll() {
  for (const [name, all] of [...watched]) {
    try {
      const job = await ask(`/jobs/${encodeURIComponent(name)}`);
      for (const shown of [...all]) shown.show(job);
    } catch (error) {
      if (error instanceof Trouble && error.kind === "not-there") for (const shown of [...all]) shown.unknown(error.message);
    }
  }
}

document.addEventListener("visibilitychange", () => (document.hidden ? close() : plan()));
document.addEventListener("reedwright:back", async () => { await checkAll(); plan(); });

class Job extends HTMLElement {
  connectedCallback() {
    if (this.dataset.name) this.watch(this.dataset.name);
  }

  disconnectedCallback() {
    leave(this.dataset.name, this);
  }

  watch(name) {
    if (this.dataset.name) leave(this.dataset.name, this);
    this.dataset.name = name;
    this.over = false;
    follow(name, this);
  }

  unknown(message) {
    leave(this.dataset.name, this);
    this.replaceChildren(element("p", { className: "trouble", textContent: message }));
    this.bar = null;
  }

  show(job) {
    if (this.over) return;
    const over = OVER.includes(job.standing);
    const seen = Boolean(this.bar);
    if (!seen || over) this.lay(job, over);
    // Aloud only that it began and how it ended, where that was seen: not every step.
    if (seen === over) this.tellAloud([`${job.title}: ${WORDS[job.standing]}.`, job.message].filter(Boolean).join(" "));
    this.words.textContent = job.doing || WORDS[job.standing];
    if (!over) {
      this.bar.value = job.share;
      const ending = job.doing === "being stopped";
      if (ending && document.activeElement === this.stop) this.words.focus();
      this.stop.disabled = ending;
      return;
    }
    this.over = true;
    leave(this.dataset.name, this);
    this.dispatchEvent(new CustomEvent("job-over", { bubbles: true, detail: job }));
  }

  // Built anew only at the beginning and the end, so that who stands on Stop keeps standing there;
  // at the end, who stood there stands on the words that say so.
  lay(job, over) {
    const stood = this.contains(document.activeElement);
    this.words = element("span", { className: "quiet", tabIndex: -1 });
    const parts = [element("span", { className: "job-title", textContent: job.title }), " ", this.words];
    this.bar = over ? null : element("progress", { max: 1, value: job.share });
    if (!over) {
      this.bar.setAttribute("aria-label", job.title);
      this.stop = element("button", { type: "button", textContent: "Stop" });
      this.stop.setAttribute("aria-label", `Stop: ${job.title}`);
      this.stop.addEventListener("click", () => this.tell(`/jobs/${job.name}/stop`));
      parts.push(element("div", { className: "bar" }, this.bar, this.stop));
    }
    this.said = element("p", { className: "trouble", textContent: job.message, hidden: !job.message });
    parts.push(this.said);
    for (const notice of job.notices) parts.push(element("p", { className: "quiet", textContent: notice }));
    if (job.standing === "done") parts.push(...this.made(job));
    // What speaks stays where it is: a live region that is put in anew says nothing.
    if (this.aloud?.parentNode !== this) {
      this.aloud = element("span", { className: "unseen" });
      this.aloud.setAttribute("role", "status");
      this.append(this.aloud);
    }
    for (const child of [...this.childNodes]) if (child !== this.aloud) child.remove();
    this.prepend(...parts);
    if (stood) this.words.focus();
  }

  // Later than it was put in, or it would not be spoken.
  tellAloud(words) {
    setTimeout(() => { this.aloud.textContent = words; }, 100);
  }

  made(job) {
    const parts = [];
    if (job.files.length && !this.hasAttribute("data-brief")) {
      const rows = job.files.map((file) => fileRow(`/jobs/${job.name}/files/${encodeURIComponent(file)}`, file));
      const shown = rows.length > FEW_FILES ? rows.splice(0, 1) : rows.splice(0);
      parts.push(element("ul", { className: "rows" }, ...shown));
      if (rows.length) {
        const summary = element("summary", { textContent: `${rows.length} more files` });
        parts.push(element("details", {}, summary, element("ul", { className: "rows" }, ...rows)));
      }
    }
    const after = element("div", { className: "bar" });
    if (job.has_folder) {
      const open = element("button", { type: "button", textContent: "Open folder" });
      open.addEventListener("click", () => this.tell(`/jobs/${job.name}/open`));
      after.append(open);
    }
    if (job.go && job.go !== location.pathname) after.append(element("a", { href: job.go, textContent: "Look at it" }));
    if (after.childElementCount) parts.push(after);
    return parts;
  }

  async tell(address) {
    try {
      await ask(address, { method: "POST" });
    } catch (error) {
      this.said.textContent = error.message;
      this.said.hidden = false;
    }
  }
}

// A file to download, and to hear or to look at where a browser can.
function fileRow(address, file, what = "") {
  const row = element("li");
  const ending = file.slice(file.lastIndexOf(".")).toLowerCase();
  row.append(element("a", { href: address, textContent: file, download: file }));
  if (what) row.append(" ", element("span", { className: "quiet", textContent: what }));
  if (LOOKED_AT.includes(ending)) {
    const look = element("a", { href: `${address}?look=1`, target: "_blank", rel: "noopener", textContent: "open in a new tab" });
    look.setAttribute("aria-label", `${file}: open in a new tab`);
    row.append(" ", look);
  }
  if (PLAYED.includes(ending)) {
    const sound = element("audio", { controls: true, preload: "none", src: `${address}?look=1` });
    sound.setAttribute("aria-label", file);
    row.append(element("div", {}, sound));
  }
  return row;
}

// A job that was begun from this page, shown in `place`: instead of what is there, or above it.
// `brief`: without its files.
export function showJob(place, name, { above = false, brief = false } = {}) {
  const shown = document.createElement("reedwright-job");
  if (brief) shown.dataset.brief = "";
  shown.dataset.name = name;
  if (above) place.prepend(shown);
  else place.replaceChildren(shown);
}

customElements.define("reedwright-job", Job);
