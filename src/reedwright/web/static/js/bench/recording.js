// A recording of reeds is given over and measured as a job; then its page is opened.
import { ask } from "../ask.js";
import { showJob } from "../jobs.js";

const form = document.getElementById("recording");
const wrong = document.getElementById("recording-wrong");
const jobs = document.getElementById("recording-jobs");

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  wrong.hidden = true;
  const data = new FormData(document.getElementById("aim"));
  for (const [name, value] of new FormData(form)) data.set(name, value);
  data.set("hole", "0");
  for (const [name, value] of [...data]) if (value === "") data.delete(name);
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const { job } = await ask("/bench/recordings", { form: data });
    showJob(jobs, job, { above: true });
    form.reset();
  } catch (error) {
    wrong.textContent = error.message;
    wrong.hidden = false;
  }
  button.disabled = false;
});

// A recording may be dropped anywhere on its part of the page.
form.addEventListener("dragover", (event) => event.preventDefault());
form.addEventListener("drop", (event) => {
  event.preventDefault();
  if (event.dataTransfer.files.length) form.elements.sound.files = event.dataTransfer.files;
});

jobs.addEventListener("job-over", (event) => {
  const done = event.detail;
  if (done.standing !== "done") return;
  const link = event.target.querySelector('a[href="/bench/measured"]');
  if (!link) return;
  link.href = `/bench/measured?job=${done.name}`;
  link.textContent = "What the reeds sound";
});
