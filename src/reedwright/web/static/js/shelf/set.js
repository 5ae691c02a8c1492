// A set's page: tunes added, moved, taken out; all of it saved as one goes, and undone.
import { ask, Trouble } from "../ask.js";
import { element } from "../dom.js";
import { Order } from "./order.js";

const EVERY = 4000; // milliseconds between two looks at whether another page has changed it
const PAUSE = 600; // milliseconds without typing after which it is saved
const root = document.getElementById("set");

if (root) begin();

function begin() {
  const at = (id) => document.getElementById(id);
  const [list, empty, said, state, moving, conflict] = ["in-set", "empty", "set-said", "set-state", "moving", "conflict"].map(at);
  const [undo, redo, name, notes, add, offered, offeredSaid] = ["undo", "redo", "set-name", "set-notes", "add", "offered", "offered-said"].map(at);
  const address = `/sets/${root.dataset.number}`;
  let view = JSON.parse(at("set-view").textContent);
  let unsaved = false;
  let saving = false;
  let lost = false; // the server does not answer
  let stopped = false; // while a conflict waits to be decided

  const order = new Order(list, {
    name: (item) => item.dataset.title,
    changed: () => save(),
    say: (words) => { moving.textContent = words; },
  });

  // Not aloud: what comes at each pause of typing, and would be spoken over and over.
  function tell(words, aloud = true) {
    const spoken = aloud ? words : "";
    if (said.textContent !== spoken) said.textContent = spoken;
    state.textContent = aloud ? "" : words;
  }

  function show(next) {
    view = next;
    const focused = focusedPlace();
    const same = JSON.stringify(rows()) === JSON.stringify(view.tunes.map(({ id, notes }) => ({ id, notes })));
    if (!same || list.querySelector("li:not([data-id])")) list.replaceChildren(...view.tunes.map(row));
    if (focused && !same) list.children[Math.min(focused.place, list.children.length - 1)]?.querySelector(focused.what)?.focus();
    if (document.activeElement !== name) name.value = view.name;
    if (document.activeElement !== notes) notes.value = view.notes;
    at("called").textContent = view.name;
    bars();
  }

  function bars() {
    empty.hidden = list.children.length > 0;
    undo.disabled = !view.can_undo;
    redo.disabled = !view.can_redo;
    [...list.children].forEach((item, place, all) => {
      item.querySelector(".up").disabled = place === 0;
      item.querySelector(".down").disabled = place === all.length - 1;
    });
  }

  function focusedPlace() {
    const item = document.activeElement?.closest?.("#in-set > li");
    if (!item) return null;
    const what = ["handle", "up", "down", "out", "word"].find((each) => document.activeElement.classList.contains(each));
    return { place: [...list.children].indexOf(item), what: what ? `.${what}` : "a" };
  }

  function row(tune) {
    const item = element("li");
    item.dataset.id = tune.id;
    item.dataset.title = tune.title;
    const handle = element("button", { type: "button", className: "handle", textContent: "⠿" });
    handle.setAttribute("aria-label", `Move ${tune.title}`);
    handle.setAttribute("aria-pressed", "false");
    handle.setAttribute("aria-describedby", "how");
    const title = element("span", { className: "tune-of" }, element("a", { href: `/tunes/${tune.id}`, textContent: tune.title }), " ",
      element("span", { className: "quiet", textContent: tune.removed ? "off the shelf" : tune.kind }));
    const button = (kind, text, words, press) => {
      const made = element("button", { type: "button", className: `plain ${kind}` }, text, element("span", { className: "unseen", textContent: words }));
      made.addEventListener("click", press);
      return made;
    };
    const moves = element("span", { className: "moves" },
      button("up", "Up", ` ${tune.title}`, () => stepped(item, -1)),
      button("down", "Down", ` ${tune.title}`, () => stepped(item, 1)),
      button("out", "Take out", ` ${tune.title}`, () => takeOut(item)));
    const word = element("input", { className: "word", value: tune.notes, maxLength: 1000, placeholder: "a word on it", autocomplete: "off" });
    word.setAttribute("aria-label", `A word on ${tune.title}`);
    word.addEventListener("input", typed);
    word.addEventListener("change", () => save());
    item.append(handle, title, moves, word);
    return item;
  }

  function stepped(item, by) {
    order.step(item, by);
    bars();
    const button = item.querySelector(by < 0 ? ".up" : ".down");
    if (button.disabled) item.querySelector(by < 0 ? ".down" : ".up").focus();
    else button.focus();
  }

  function takeOut(item) {
    const next = item.nextElementSibling ?? item.previousElementSibling;
    item.remove();
    moving.textContent = `${item.dataset.title} is taken out. Undo brings it back.`;
    bars();
    (next?.querySelector(".handle") ?? add).focus();
    save();
  }

  const rows = () => [...list.children].map((item) => ({ id: Number(item.dataset.id), notes: item.querySelector(".word")?.value ?? "" }));

  const content = () => ({
    made_from: view.state,
    name: name.value,
    notes: notes.value,
    tunes: rows(),
  });

  let typing = 0;

  function typed() {
    unsaved = true;
    if (!lost) tell("Saving …", false);
    clearTimeout(typing);
    typing = setTimeout(save, PAUSE);
  }

  // One save at a time; what changes meanwhile is sent after it.
  async function save() {
    bars();
    clearTimeout(typing);
    unsaved = true;
    if (saving || stopped) return;
    saving = true;
    if (!lost) tell("Saving …", false);
    try {
      while (unsaved && !stopped) {
        unsaved = false;
        const next = await ask(`${address}/content`, { json: content() });
        // What was changed while this was on its way stands on the page and is sent next.
        if (unsaved) view = next;
        else took(next, "Saved.", false);
        lost = false;
      }
    } catch (error) {
      failed(error);
    }
    saving = false;
  }

  function failed(error) {
    unsaved = true;
    if (!(error instanceof Trouble)) throw error;
    lost = error.kind === "lost";
    if (error.status === 409) return decide(error.data);
    tell(lost ? "Kept here until Reedwright is back" : error.message);
  }

  function took(next, words, aloud = true) {
    const changed = next.state !== view.state || next.tunes.length !== view.tunes.length;
    show(next);
    tell(words, aloud);
    if (changed) document.body.dispatchEvent(new CustomEvent("set-changed"));
  }

  // Another page has changed the set since: nothing is lost whatever is chosen.
  function decide({ message, view: theirs }) {
    stopped = true;
    const titles = (tunes) => element("ol", {}, ...tunes.map((tune) => element("li", { textContent: tune.title })));
    const mine = element("button", { type: "button", textContent: "Keep mine" });
    const other = element("button", { type: "button", textContent: "Take theirs" });
    const over = () => {
      stopped = false;
      conflict.hidden = true;
      conflict.replaceChildren();
      list.querySelector(".handle")?.focus();
    };
    mine.addEventListener("click", () => {
      view = { ...view, state: theirs.state };
      over();
      save();
    });
    other.addEventListener("click", async () => {
      try {
        const next = await ask(`${address}/content`, { json: { ...content(), keep_both: true } });
        over();
        unsaved = false;
        took(next, "Yours is kept among its states");
      } catch (error) {
        tell(error.message);
      }
    });
    conflict.replaceChildren(
      element("p", { textContent: message }),
      element("p", { textContent: "It says now:" }), titles(theirs.tunes),
      element("p", { textContent: "Whichever you take, the other stays among its states." }),
      element("p", { className: "bar" }, mine, other));
    conflict.hidden = false;
    tell("Not saved yet");
    mine.focus();
  }

  async function back(way) {
    if (saving || unsaved || stopped) return;
    saving = true;
    try {
      const next = await ask(`${address}/${way}`, { json: { made_from: view.state } });
      took(next, way === "undo" ? "Undone" : "Done again");
    } catch (error) {
      if (error.status === 409) {
        show(error.data.view);
        tell("It was changed on another page; this is how it is now");
      } else {
        tell(error.message);
      }
    }
    saving = false;
    if (unsaved) save();
  }

  undo.addEventListener("click", () => back("undo"));
  redo.addEventListener("click", () => back("redo"));
  notes.addEventListener("input", typed);
  for (const field of [name, notes]) field.addEventListener("change", () => save());
  document.addEventListener("reedwright:back", () => { if (unsaved) save(); });
  // What was typed last is sent as the page is left; what can't be sent is asked about.
  addEventListener("beforeunload", (event) => { if (unsaved && (stopped || lost)) event.preventDefault(); });
  addEventListener("pagehide", () => {
    if (!unsaved || stopped || lost) return;
    fetch(`${address}/content`, { method: "POST", keepalive: true, headers: { "content-type": "application/json" }, body: JSON.stringify(content()) });
  });

  // Another page's changes are taken over where nothing waits here.
  setInterval(async () => {
    if (document.hidden || saving || unsaved || stopped || list.contains(document.activeElement) && document.activeElement.matches(".word")) return;
    try {
      const { state } = await ask(`${address}/state`);
      if (state === view.state || saving || unsaved || stopped || order.held || list.classList.contains("sorting")) return;
      const next = await ask(`${address}/view`);
      if (!saving && !unsaved && !stopped) took(next, "Changed on another page");
    } catch { /* touch.js says when the server is gone */ }
  }, EVERY);

  // Tunes to add.
  let asked = null;
  let timer = 0;
  add.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(look, 150);
  });

  async function look() {
    asked?.abort();
    asked = new AbortController();
    try {
      const found = await ask(`/sets/find?${new URLSearchParams({ words: add.value })}`, { signal: asked.signal });
      offered.replaceChildren(...found.map((tune) => {
        const press = element("button", { type: "button", className: "plain" }, "Add", element("span", { className: "unseen", textContent: ` ${tune.title}` }));
        press.addEventListener("click", () => {
          list.append(row({ ...tune, notes: "", removed: false }));
          moving.textContent = `${tune.title} is added, the last of ${list.children.length}.`;
          save();
        });
        return element("li", {}, element("span", {}, tune.title, " ", element("span", { className: "quiet", textContent: tune.kind })), press);
      }));
      offeredSaid.textContent = !add.value.trim() ? "" : found.length ? `${found.length} found` : "Nothing on the shelf is like that.";
    } catch (error) {
      if (error.name !== "AbortError") offeredSaid.textContent = error.message;
    }
  }

  function offeredStep(event) {
    const buttons = [...offered.querySelectorAll("button")];
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!by || !buttons.length) return;
    const here = buttons.indexOf(document.activeElement);
    event.preventDefault();
    if (here + by < 0) add.focus();
    else buttons[Math.min(here + by, buttons.length - 1)].focus();
  }
  add.addEventListener("keydown", offeredStep);
  offered.addEventListener("keydown", offeredStep);

  show(view);
  if (add.value) look(); // typed before this was loaded
}
