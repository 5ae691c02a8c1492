// The page of what came of a recording: shown anew when its job is over, and put on the shelf.
import { ask } from "../ask.js";

document.addEventListener("job-over", (event) => {
  if (event.target.dataset.again !== undefined && event.detail.standing === "done") location.reload();
});

for (const keep of document.querySelectorAll("[data-keep]")) {
  keep.addEventListener("click", async () => {
    keep.disabled = true;
    try {
      const { go } = await ask("/takes/noted/keep", { json: { job: keep.dataset.keep } });
      location.assign(go);
    } catch (error) {
      const said = document.getElementById("kept-said");
      said.textContent = error.message;
      said.hidden = false;
      keep.disabled = false;
    }
  });
}
