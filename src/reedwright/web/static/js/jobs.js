// <reedwright-job data-name="...">: a job's progress as it goes on, with what came of it.
// Fires `job-over` (detail: the job's report) when it has ended.
import { ask, Trouble } from "./ask.js";

const WORDS = { waiting: "waiting its turn", working: "at work", done: "done", stopped: "stopped", failed: "did not work" };

class Job extends HTMLElement {
  connectedCallback() {
    if (this.dataset.name) this.watch(this.dataset.name);
  }

  disconnectedCallback() {
    this.events?.close();
  }

  watch(name) {
    this.dataset.name = name;
    this.events?.close();
    this.events = new EventSource(`/jobs/${encodeURIComponent(name)}/events`);
    this.events.addEventListener("job", (event) => this.show(JSON.parse(event.data)));
    this.events.onerror = () => this.lost();
  }

  async lost() {
    // The browser tries again by itself; unless the server no longer knows the job.
    try {
      this.show(await ask(`/jobs/${encodeURIComponent(this.dataset.name)}`));
    } catch (error) {
      if (error instanceof Trouble && error.kind !== "lost") {
        this.events.close();
        this.replaceChildren(Object.assign(document.createElement("p"), { className: "trouble", textContent: error.message }));
      }
    }
  }

  show(job) {
    const over = !["waiting", "working"].includes(job.standing);
    const title = element("span", { className: "job-title", textContent: job.title });
    const words = element("span", { className: "quiet", textContent: job.doing || WORDS[job.standing] });
    const parts = [title, " ", words];
    if (!over) {
      const bar = element("progress", { max: 1, value: job.share });
      bar.setAttribute("aria-label", job.title);
      const stop = element("button", { type: "button", textContent: "Stop" });
      stop.addEventListener("click", () => ask(`/jobs/${job.name}/stop`, { method: "POST" }));
      parts.push(bar, stop);
    }
    if (job.message) parts.push(element("p", { className: "trouble", textContent: job.message }));
    for (const notice of job.notices) parts.push(element("p", { className: "quiet", textContent: notice }));
    if (job.standing === "done") {
      const files = element("ul", { className: "rows" });
      for (const file of job.files) {
        const link = element("a", { href: `/jobs/${job.name}/files/${encodeURIComponent(file)}`, textContent: file, download: file });
        files.append(element("li", {}, link));
      }
      if (job.files.length) parts.push(files);
      if (job.go && job.go !== location.pathname) parts.push(element("a", { href: job.go, textContent: "Look at it" }));
    }
    this.replaceChildren(...parts);
    if (over) {
      this.events?.close();
      this.dispatchEvent(new CustomEvent("job-over", { bubbles: true, detail: job }));
    }
  }
}

export function element(name, properties = {}, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

customElements.define("reedwright-job", Job);
