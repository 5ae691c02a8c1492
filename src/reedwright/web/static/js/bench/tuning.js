// A search that is done leads to what it found.
import { element } from "../dom.js";

document.addEventListener("job-over", (event) => {
  const done = event.detail;
  if (done.standing !== "done") return;
  event.target.append(" ", element("a", { href: `/bench/tuning?job=${done.name}`, textContent: "What was found" }));
});
