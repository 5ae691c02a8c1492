// The list of all jobs: what is over can be left out of it.
import { ask } from "../ask.js";

const clear = document.getElementById("clear-jobs");
const said = document.getElementById("jobs-said");
clear?.addEventListener("click", async () => {
  try {
    const { jobs } = await ask("/jobs/clear", { method: "POST" });
    const left = new Set(jobs.map((job) => job.name));
    for (const row of document.querySelectorAll("#jobs > li")) {
      if (!left.has(row.firstElementChild.dataset.name)) row.remove();
    }
    clear.hidden = !left.size;
    said.textContent = left.size ? "What had ended is left out." : "Nothing is being made.";
    document.getElementById("main").focus();
  } catch (error) {
    said.textContent = error.message;
  }
});
