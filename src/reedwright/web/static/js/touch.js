// Whether the server is there. Where it is not, the page says so; when it is back, what waits is
// sent: parts listen to `reedwright:lost` and `reedwright:back` on the document.
const EVERY = 4000; // milliseconds
const LOST_EVERY = 1000;
const line = document.getElementById("touch");
let lost = false;
let timer = 0;

function say(text) {
  line.textContent = text;
  line.hidden = !text;
}

function hasGone() {
  if (lost) return;
  lost = true;
  say("Reedwright does not answer. What was saved is safe, and what you change now is kept on this page until it is back.");
  again(LOST_EVERY);
}

async function touch() {
  try {
    const answer = await fetch("/touch", { cache: "no-store" });
    if (!answer.ok) throw new Error(String(answer.status));
    if (lost) {
      lost = false;
      say("");
      document.dispatchEvent(new CustomEvent("reedwright:back"));
    }
  } catch {
    if (!lost) document.dispatchEvent(new CustomEvent("reedwright:lost"));
  }
  again(lost ? LOST_EVERY : EVERY);
}

function again(after) {
  clearTimeout(timer);
  timer = setTimeout(touch, after);
}

document.addEventListener("reedwright:lost", hasGone);
document.addEventListener("visibilitychange", () => { if (!document.hidden) touch(); });
again(EVERY);
