// Cases for test_nothing_typed_is_lost.py: the page's own Tune before a server made up here, which
// answers as the real one does: a text must be made from the present state.
const wait = setTimeout;
window.setTimeout = (act, milliseconds) => wait(act, milliseconds > 1000 ? 0 : milliseconds);

class Server {
  constructor(tune) {
    Object.assign(this, { tune, state: 1, text: "base", copies: [], busy: 0, held: null });
    window.fetch = (address, options = {}) => this.answer(address, options);
  }

  // Another window's text.
  other(text) { Object.assign(this, { state: this.state + 1, text }); }

  // Holds the next answer to such an address, made already, until `go`.
  hold(part) {
    const held = { part };
    held.reached = new Promise((done) => { held.arrived = done; });
    held.gone = new Promise((done) => { held.go = done; });
    this.held = held;
    return held;
  }

  view() {
    const { tune, text } = this;
    return { tune, version: { tune: this.state, choices: 0 }, text, said: [] };
  }

  async answer(address, { body }) {
    const [status, data] = this.does(address, typeof body === "string" ? JSON.parse(body) : null);
    const { held } = this;
    if (held && address.includes(held.part)) {
      this.held = null;
      held.arrived();
      await held.gone;
    }
    return new Response(JSON.stringify(data), { status });
  }

  does(address, asked) {
    if (address.includes("/view")) return [200, this.view()];
    if (address.endsWith("/version")) return [200, this.view().version];
    if (address.endsWith("/copy")) return [200, { tune: 900 + this.copies.push(asked.text) }];
    if (this.busy-- > 0) return [503, { kind: "busy", message: "The shelf is busy." }];
    if (asked.made_from.tune !== this.state) {
      return [409, { kind: "changed-meanwhile", message: "", view: this.view() }];
    }
    this.other(address.endsWith("/undo") ? "before" : asked.text);
    return [200, this.view()];
  }
}

let last = 100;
async function begun() {
  const { Tune } = await import("/static/js/tune/tune.js");
  const server = new Server(last += 1);
  const tune = new Tune(server.view());
  await tune.draft.left();
  return { server, tune, Tune };
}

async function inConflict() {
  const all = await begun();
  all.server.other("theirs");
  all.tune.typed("mine");
  await all.tune.save();
  return all;
}

const told = ({ server, tune }) => ({
  conflict: tune.conflict !== null, server: server.text, text: tune.text,
  aside: tune.draft.aside().map((each) => each.text).sort(),
});
const draft = (tune) => JSON.parse(localStorage.getItem(tune.draft.key));

window.CASES = {
  async look() {
    const all = await begun();
    all.server.other("theirs");
    const held = all.server.hold("/view");
    const looked = all.tune.look();
    await held.reached;
    all.tune.typed("mine");
    held.go();
    await looked;
    await all.tune.save();
    return told(all);
  },
  async step() {
    const all = await begun();
    all.server.other("theirs");
    const held = all.server.hold("/undo");
    const stepped = all.tune.step("undo").catch((error) => error.kind);
    await held.reached;
    all.tune.typed("mine");
    held.go();
    const kind = await stepped;
    await all.tune.save();
    return { ...told(all), kind };
  },
  async width() {
    const all = await begun();
    all.server.other("theirs");
    all.tune.typed("mine");
    await all.tune.wider("narrow");
    await all.tune.save();
    return told(all);
  },
  async ownStep() { // what is typed while one's own undo is under way is no conflict
    const all = await begun();
    const held = all.server.hold("/undo");
    const stepped = all.tune.step("undo");
    await held.reached;
    all.tune.typed("mine");
    held.go();
    await stepped;
    await all.tune.save();
    return told(all);
  },
  async asideInAConflict() {
    const all = await inConflict();
    all.tune.takeTheirs();
    all.server.other("theirs again");
    all.tune.typed("mine again");
    await all.tune.save();
    await all.tune.copyOf(all.tune.draft.aside()[0].text);
    const back = await all.tune.putInPlace("mine").catch((error) => error.kind);
    return { ...told(all), back, copies: all.server.copies, draft: draft(all.tune).text };
  },
  async asideTwice() {
    const all = await inConflict();
    all.tune.takeTheirs();
    all.server.other("theirs again");
    all.tune.typed("mine again");
    await all.tune.save();
    all.tune.takeTheirs();
    return told(all);
  },
  async full() {
    const all = await inConflict();
    const { setItem } = Storage.prototype;
    Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); };
    let kind = "";
    try { all.tune.takeTheirs(); } catch (error) { ({ kind } = error); }
    Storage.prototype.setItem = setItem;
    return { ...told(all), kind };
  },
  async copy() {
    const all = await inConflict();
    const held = all.server.hold("/copy");
    const copied = all.tune.keepAsItsOwn();
    await held.reached;
    all.tune.typed("mine and more");
    held.go();
    const { later } = await copied;
    return { ...told(all), later, copies: all.server.copies };
  },
  async busy() {
    const all = await begun();
    all.server.busy = 1;
    const states = [];
    const over = new Promise((done) => {
      all.tune.addEventListener("state", ({ detail: { state } }) => {
        states.push(state);
        if (state === "saved") done();
      });
    });
    all.tune.typed("mine");
    await all.tune.save();
    await over;
    return { ...told(all), states };
  },
  async widthInAConflict() {
    const all = await inConflict();
    all.server.other("a third");
    let drawn = [];
    all.tune.addEventListener("conflict", () => { drawn.push(all.tune.view.text); });
    await all.tune.wider("narrow");
    return { ...told(all), drawn };
  },
  async reloadInAConflict() { // what is typed in it is no answer to it
    const { server, tune, Tune } = await inConflict();
    tune.typed("mine and more");
    const again = new Tune(server.view());
    const left = localStorage.getItem(tune.draft.key);
    localStorage.removeItem(tune.draft.key);
    localStorage.setItem(`reedwright-draft-${server.tune}-gone`, left);
    await again.begin();
    await again.save();
    return told({ server, tune: again });
  },
  async arrived() { // a page that was left: its last text came to the server, and was changed there
    const { server, tune, Tune } = await begun();
    const key = `reedwright-draft-${server.tune}-gone`;
    localStorage.setItem(key, JSON.stringify({ text: "mine", made_from: { tune: 1 }, base: "base" }));
    server.other("mine");
    await tune.look();
    server.other("theirs");
    const again = new Tune(server.view());
    await again.begin();
    return { ...told({ server, tune: again }), left: localStorage.getItem(key) };
  },
  async quickKey() {
    const { server, Tune } = await begun();
    sessionStorage.setItem("reedwright-window", "reloaded");
    const key = `reedwright-draft-${server.tune}-reloaded`;
    localStorage.setItem(key, JSON.stringify({ text: "left over", made_from: { tune: 1 }, base: "base" }));
    const again = new Tune(server.view());
    const beginning = again.begin();
    again.typed("mine");
    await beginning;
    await again.save();
    return { ...told({ server, tune: again }), draft: draft(again) };
  },
};
