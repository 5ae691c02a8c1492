// A book's page: its plan, the pages that follow it, and the jobs that make it.
import { ask } from "../ask.js";
import { element } from "../dom.js";
import { showJob } from "../jobs.js";
import { Preview } from "../pack/preview.js";
import { Keeping } from "./keeping.js";
import { Parts } from "./parts.js";
import { report } from "./report.js";

const data = JSON.parse(document.getElementById("book-data").textContent);
const address = `/books/${document.getElementById("book").dataset.book}`;
const form = document.getElementById("book-form");
const fields = form.elements;
const trouble = document.getElementById("trouble");
const saved = document.getElementById("saved");
const TEXTS = ["title", "subtitle", "maker", "preface", "imprint", "rights", "credits", "base_address", "player", "harps", "amount", "chapters", "order"];
const LOOK_TEXTS = ["paper", "tab_style", "links"];
const LOOK_FLAGS = ["full_notes", "two_to_a_page", "two_sided", "colour", "crop_marks"];
const FEWEST_FLAGS = ["no_bends", "owned_free"];
const SEARCH_PAUSE = 200; // milliseconds

function read() {
  const book = { look: {}, fewest: {} };
  for (const name of TEXTS) book[name] = fields[name].value;
  for (const name of LOOK_TEXTS) book.look[name] = fields[name].value;
  for (const name of LOOK_FLAGS) book.look[name] = fields[name].checked;
  for (const name of FEWEST_FLAGS) book.fewest[name] = fields[name].checked;
  for (const name of ["bleed", "above_best", "most"]) {
    if (!fields[name].validity.valid) throw new Error(`“${fields[name].labels[0].textContent}”: ${fields[name].validationMessage}`);
  }
  if (!book.title.trim()) throw new Error("A book needs a title.");
  book.look.bleed = Number(fields.bleed.value || 0);
  book.fewest.above_best = Number(fields.above_best.value || 0);
  book.fewest.most = fields.most.value ? Number(fields.most.value) : null;
  book.second_time = fields.second_time.checked;
  book.named_harps = fields.named_harps.value.split(",").map((each) => each.trim()).filter(Boolean);
  book.parts = parts.parts;
  return book;
}

function write(book, titles) {
  for (const name of TEXTS) fields[name].value = book[name];
  for (const name of LOOK_TEXTS) fields[name].value = book.look[name];
  for (const name of LOOK_FLAGS) fields[name].checked = book.look[name];
  for (const name of FEWEST_FLAGS) fields[name].checked = book.fewest[name];
  fields.bleed.value = book.look.bleed;
  fields.above_best.value = book.fewest.above_best;
  fields.most.value = book.fewest.most ?? "";
  fields.second_time.checked = book.second_time;
  fields.named_harps.value = book.named_harps.join(", ");
  parts.write(book.parts, titles);
  depend();
}

function depend() {
  document.getElementById("if-named").hidden = fields.harps.value !== "named";
  document.getElementById("if-fewest").hidden = fields.harps.value !== "fewest";
}

function say(...content) {
  trouble.replaceChildren(...content);
  trouble.hidden = !content.length;
}

function changed() {
  say();
  depend();
  filler?.abort();
  keeping.change();
  preview.change();
}

const parts = new Parts(document.getElementById("parts"), document.getElementById("parts-said"), {
  changed: () => changed(),
  show: (tune) => preview.draw({ page: null, tune }),
});

const goto = document.getElementById("goto");
let filler = null;
const preview = new Preview({
  address: `${address}/preview`,
  picture: document.getElementById("picture"),
  state: document.getElementById("state"),
  before: document.getElementById("before"),
  next: document.getElementById("next"),
  asked: () => ({ book: read() }),
  begun: () => filler?.abort(), // what the reader asks for goes before
  shown(answer) {
    if (!answer) return;
    document.getElementById("notices").replaceChildren(...answer.notices.map((text) => element("p", { className: "quiet", textContent: text })));
    goto.replaceChildren(...answer.places.map((place) => new Option(place.title, place.page)));
    const here = answer.places.findLastIndex((place) => place.page <= answer.page);
    goto.selectedIndex = here;
    more(answer.to_come, answer.places[here]);
  },
});

// While the reader looks, the tunes that are not engraved yet are, a few at a time; then the same
// place is drawn again among all of them.
const filling = document.getElementById("filling");
async function more(left, place) {
  filler?.abort();
  filling.textContent = "";
  if (!left) return;
  const mine = filler = new AbortController();
  try {
    for (let before = Infinity; left && left < before;) {
      filling.textContent = `${left} more to be engraved for this preview…`;
      before = left;
      left = (await ask(`${address}/engrave`, { json: { book: read() }, signal: mine.signal })).to_come;
    }
    filling.textContent = "";
    if (mine === filler) preview.draw({ page: null, at: place.title });
  } catch { /* the page has changed, or the server is away; the next preview tries again */ }
}

goto.addEventListener("change", () => preview.draw({ page: Number(goto.value) }));

const undo = document.getElementById("undo");
const redo = document.getElementById("redo");
const keeping = new Keeping(address, data.state, {
  read,
  kept(answer) {
    undo.disabled = !answer.undo;
    redo.disabled = !answer.redo;
    document.getElementById("book-title").textContent = answer.book.title;
  },
  say: (words) => { saved.textContent = words; },
  conflict(message) {
    const theirs = element("button", { type: "button", textContent: "Take theirs" });
    theirs.addEventListener("click", async () => {
      try {
        await keeping.takeTheirs();
        location.reload();
      } catch (error) {
        saved.textContent = `Not saved: ${error.message}`;
      }
    });
    const mine = element("button", { type: "button", textContent: "Keep mine" });
    mine.addEventListener("click", async () => { if (await keeping.keepMine()) say(); });
    say(element("p", { textContent: `${message} Whichever you choose, both stay among the book's states on the shelf.` }), element("p", { className: "bar" }, theirs, mine));
  },
});
undo.disabled = !data.undo;
redo.disabled = !data.redo;
for (const which of ["undo", "redo"]) {
  document.getElementById(which).addEventListener("click", async () => {
    try {
      const answer = await keeping.step(which);
      if (!answer) return;
      say();
      write(answer.book, answer.titles);
      saved.textContent = which === "undo" ? "The last change is undone." : "It is done again.";
      preview.draw();
    } catch (error) {
      saved.textContent = error.message;
    }
  });
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("input", (event) => {
  if (event.target.name && event.target.name !== "downloads") changed();
});

document.getElementById("add-chapter").addEventListener("click", () => {
  parts.add([{ kind: "chapter", title: "", words: "" }], {});
  document.querySelector("#parts > li:last-child input").focus();
});

const find = document.getElementById("find");
const found = document.getElementById("found");
let searching = 0;
find.addEventListener("input", (event) => {
  event.stopPropagation();
  clearTimeout(searching);
  searching = setTimeout(search, SEARCH_PAUSE);
});

async function search() {
  const words = find.value;
  if (!words.trim()) return found.replaceChildren();
  try {
    const { tunes, count } = await ask(`/books/find?words=${encodeURIComponent(words)}`);
    if (words !== find.value) return;
    found.replaceChildren(...tunes.map((tune) => {
      const add = element("button", { type: "button", textContent: parts.has(tune.id) ? "Add again" : "Add" });
      add.setAttribute("aria-label", `${add.textContent}: ${tune.title}`);
      add.addEventListener("click", () => {
        parts.add([{ kind: "tune", tune: tune.id, harp: "", words: "", sold: false }], { [tune.id]: tune.title });
        add.textContent = "Add again";
      });
      const about = [tune.type, tune.key].filter(Boolean).join(", ");
      return element("li", {}, element("span", {}, tune.title, " ", element("span", { className: "quiet", textContent: about })), add);
    }));
    document.getElementById("found-said").textContent = count === 1 ? "One tune found." : `${count} tunes found.`;
  } catch (error) {
    document.getElementById("found-said").textContent = error.message;
  }
}

const list = document.getElementById("add-list");
list?.addEventListener("change", async (event) => {
  event.stopPropagation();
  if (!list.value) return;
  try {
    const { tunes } = await ask(`/books/find?source=${list.value}`);
    const anew = tunes.filter((tune) => !parts.has(tune.id));
    const titles = Object.fromEntries(anew.map((tune) => [tune.id, tune.title]));
    parts.add(anew.map((tune) => ({ kind: "tune", tune: tune.id, harp: "", words: "", sold: false })), titles);
  } catch (error) {
    document.getElementById("found-said").textContent = error.message;
  }
  list.value = "";
});

const jobs = document.getElementById("book-jobs");
async function begin(button, path, json) {
  button.disabled = true;
  say();
  try {
    if (!(await keeping.save())) return;
    const job = await ask(`${address}/${path}`, json ? { json } : { method: "POST" });
    showJob(jobs, job.name);
    document.getElementById("book-report").replaceChildren();
  } catch (error) {
    say(element("p", { textContent: error.message }));
    trouble.scrollIntoView({ block: "nearest" });
  } finally {
    button.disabled = false;
  }
}
const make = document.getElementById("make");
make.addEventListener("click", () => begin(make, "make"));
const site = document.getElementById("make-site");
site.addEventListener("click", () => begin(site, "site", {
  slow: Number(document.getElementById("s-slow").value),
  sound: document.getElementById("s-sound").checked,
  downloads: [...form.querySelectorAll("[name=downloads]:checked")].map((box) => box.value),
  shop: document.getElementById("s-shop").value,
  shop_address: document.getElementById("s-shop-address").value.trim(),
}));
jobs.addEventListener("job-over", (event) => {
  const job = event.detail;
  if (job.standing !== "done") return;
  document.getElementById(job.kind === "book" ? "made-book" : "made-site").hidden = false;
  document.getElementById("book-report").replaceChildren(...report(job));
});

document.getElementById("remove").addEventListener("click", async () => {
  try {
    await keeping.save();
    keeping.dirty = false;
    await ask(`${address}/remove`, { method: "POST" });
    const back = element("button", { type: "button", textContent: "Put back" });
    back.addEventListener("click", async () => {
      try {
        await ask(`${address}/put-back`, { method: "POST" });
        location.reload();
      } catch (error) {
        saved.textContent = error.message;
      }
    });
    say(element("p", { textContent: "The book is taken off the shelf. What was made of it stays." }), element("p", { className: "bar" }, back, element("a", { href: "/books", textContent: "All books" })));
    trouble.scrollIntoView({ block: "nearest" });
    back.focus();
  } catch (error) {
    saved.textContent = error.message;
  }
});

write(data.book, data.titles);
preview.draw();
