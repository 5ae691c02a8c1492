// Tunes brought in: files chosen, a folder, things dropped on the page, ABC pasted.
import { ask } from "../ask.js";
import { element } from "../dom.js";

const files = document.getElementById("files");
const said = document.getElementById("files-said");
const pasting = document.getElementById("paste");
const pasteSaid = document.getElementById("paste-said");
const text = document.getElementById("abc");

// Each is [file, name with its folders].
async function send(sent) {
  if (!sent.length) {
    said.textContent = "There are no files in that.";
    return;
  }
  said.textContent = sent.length === 1 ? `Sending ${sent[0][1]}` : `Sending ${sent.length} files`;
  const form = new FormData();
  for (const [file, name] of sent) form.append("files", file, name);
  if (document.getElementById("update").checked) form.append("update", "1");
  try {
    location.assign((await ask("/import", { form })).go);
  } catch (error) {
    said.textContent = error.message;
  }
}

files.addEventListener("submit", (event) => {
  event.preventDefault();
  const chosen = [...document.getElementById("file").files, ...document.getElementById("folder").files];
  send(chosen.map((file) => [file, file.webkitRelativePath || file.name]));
});

// Dropping: files and folders, however deep.
let inside = 0;
const carriesFiles = (event) => event.dataTransfer?.types.includes("Files");

document.addEventListener("dragenter", (event) => {
  if (!carriesFiles(event)) return;
  event.preventDefault();
  inside += 1;
  document.body.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => {
  if (!carriesFiles(event)) return;
  inside -= 1;
  if (inside <= 0) document.body.classList.remove("dropping");
});
document.addEventListener("dragover", (event) => {
  if (carriesFiles(event)) event.preventDefault();
});
document.addEventListener("drop", async (event) => {
  if (!carriesFiles(event)) return;
  event.preventDefault();
  inside = 0;
  document.body.classList.remove("dropping");
  // The list is empty once this turn is over, so all of it is taken at once.
  const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  const plain = [...event.dataTransfer.files];
  const found = entries.length ? (await Promise.all(entries.map(within))).flat() : plain.map((file) => [file, file.name]);
  send(found);
});

async function within(entry) {
  if (entry.isFile) {
    try {
      const file = await new Promise((resolve, reject) => entry.file(resolve, reject));
      return [[file, entry.fullPath.replace(/^\//, "")]];
    } catch {
      return []; // it is gone, or closed to the browser
    }
  }
  const reader = entry.createReader();
  const found = [];
  for (;;) { // a reader gives a hundred at a time
    const some = await new Promise((resolve) => reader.readEntries(resolve, () => resolve([])));
    if (!some.length) return found;
    found.push(...(await Promise.all(some.map(within))).flat());
  }
}

pasting.addEventListener("submit", async (event) => {
  event.preventDefault();
  pasteSaid.textContent = "Reading";
  text.removeAttribute("aria-invalid");
  try {
    const taken = await ask("/paste", { json: { text: text.value } });
    if (taken.go) location.assign(taken.go);
    else show(taken.facts);
  } catch (error) {
    pasteSaid.replaceChildren(element("p", { className: "trouble", textContent: error.message }));
  }
});

function show(facts) {
  const parts = [];
  const tunes = (count) => (count === 1 ? "1 tune" : `${count} tunes`);
  const line = (words) => parts.push(element("p", { textContent: words }));
  if (facts.added) line(`${tunes(facts.added)} added.`);
  if (facts.same) {
    const there = element("a", { href: `/shelf?${new URLSearchParams({ words: facts.first_title })}`, textContent: "Look" });
    parts.push(element("p", {}, `${tunes(facts.same)} on the shelf already, with the same text. `, there));
  }
  if (facts.removed_before) line(`${tunes(facts.removed_before)} taken off the shelf before, and left off.`);
  if (!facts.added && !facts.same && !facts.removed_before && !facts.refused) line("There is no tune in that. ABC begins with a line such as X:1.");
  if (facts.tunes.length) {
    const list = element("ul", { className: "rows" });
    for (const tune of facts.tunes) list.append(element("li", {}, element("a", { href: `/tunes/${tune.id}`, textContent: tune.title })));
    parts.push(list);
  }
  for (const kind of ["refused", "repaired"]) {
    if (!facts[kind]) continue;
    parts.push(element("p", { textContent: kind === "refused" ? "Not added:" : "Odd, and repaired:" }));
    const list = element("ul", { className: "refusals" });
    for (const each of facts[`${kind}_told`]) {
      const place = each.line ? `line ${each.line}${each.column ? `, column ${each.column}` : ""}` : "";
      const go = element("button", { type: "button", className: "plain", textContent: [place, each.title].filter(Boolean).join(": ") || "the text" });
      go.addEventListener("click", () => point(each.line, each.column));
      list.append(element("li", {}, go, element("p", { className: "message", textContent: each.message, tabIndex: 0 })));
    }
    parts.push(list);
  }
  if (facts.refused) text.setAttribute("aria-invalid", "true");
  pasteSaid.replaceChildren(...parts);
}

function point(line, column) {
  const lines = text.value.split("\n");
  const begin = lines.slice(0, Math.max(0, line - 1)).reduce((sum, each) => sum + each.length + 1, 0);
  const at = begin + Math.max(0, column - 1);
  text.focus();
  text.setSelectionRange(at, column ? at + 1 : begin + (lines[line - 1] ?? "").length);
}
