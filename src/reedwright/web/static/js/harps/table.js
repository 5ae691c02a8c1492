// The table of harps: two ticked ones to compare, and the back button among its filters.
const MOST = 2;

// Going back asks the server again: an old piece of page would not know what is ticked.
if (window.htmx) {
  window.htmx.config.historyCacheSize = 0;
  window.htmx.config.refreshOnHistoryMiss = true;
}

// A head of a column belongs to the form, but does not stand in it, and so htmx does not see it.
document.addEventListener("htmx:configRequest", ({ detail }) => {
  const head = detail.triggeringEvent?.submitter;
  if (head?.name === "sort") detail.formData.set("sort", head.value);
});

const picks = () => [...document.querySelectorAll("input[name=pick]")];
let ticked = [];

document.addEventListener("change", (event) => {
  if (event.target.name !== "pick") return;
  const { value, checked } = event.target;
  ticked = ticked.filter((each) => each !== value);
  if (checked) ticked.push(value);
  while (ticked.length > MOST) ticked.shift(); // the one that was ticked first gives way
  show();
});

document.addEventListener("htmx:afterSettle", show);

function show() {
  const there = picks();
  ticked = ticked.filter((value) => there.some((each) => each.value === value));
  for (const each of there) each.checked = ticked.includes(each.value);
  const words = document.getElementById("chosen");
  if (!words) return;
  words.textContent = ["Tick two harps to see them side by side.", "One ticked; tick another.", "Two ticked."][ticked.length];
}

ticked = picks().filter((each) => each.checked).map((each) => each.value).slice(0, MOST);
show();
