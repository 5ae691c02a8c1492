// A list put in order by hand: dragged by its handles (mouse, pen or finger), by keyboard, by
// buttons. `Order` moves the elements and says what it does; `changed` is called when a move is over.

const ENDS = ["pointerup", "pointercancel"];

export class Order {
  constructor(list, { name, changed, say }) {
    this.list = list;
    this.name = name; // of an element, in words
    this.changed = changed;
    this.say = say;
    this.held = null; // what is moved by keyboard, and the order before
    list.addEventListener("pointerdown", (event) => this.#take(event));
    list.addEventListener("keydown", (event) => this.#key(event));
    list.addEventListener("focusout", (event) => {
      if (this.held && !this.moving && !this.held.item.contains(event.relatedTarget)) this.#letGo(true);
    });
  }

  get items() { return [...this.list.children]; }

  // By one place, as the buttons do.
  step(item, by) {
    if (this.#shift(item, by)) {
      this.say(`${this.name(item)}: now ${this.#where(item)}.`);
      this.changed();
    }
  }

  #where(item) { return `${this.items.indexOf(item) + 1} of ${this.items.length}`; }

  #shift(item, by) {
    const all = this.items;
    const goal = all.indexOf(item) + by;
    if (goal < 0 || goal >= all.length) return false;
    this.moving = true; // moving an element takes the focus from what is in it
    const focused = document.activeElement;
    all[goal][by < 0 ? "before" : "after"](item);
    if (item.contains(focused)) focused.focus();
    this.moving = false;
    return true;
  }

  #key(event) {
    const handle = event.target.closest(".handle");
    if (!handle) return;
    const item = handle.closest("li");
    const take = event.key === " " || event.key === "Enter";
    if (!this.held && take) {
      event.preventDefault();
      this.held = { item, before: this.items };
      item.classList.add("held");
      handle.setAttribute("aria-pressed", "true");
      this.say(`${this.name(item)}, taken hold of at ${this.#where(item)}. Up and Down move it.`);
    } else if (this.held) {
      const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
      if (by) {
        event.preventDefault();
        const went = this.#shift(item, by);
        this.say(went ? this.#where(item) : `It is ${by < 0 ? "first" : "last"} already.`);
      } else if (take) {
        event.preventDefault();
        this.#letGo(true);
      } else if (event.key === "Escape") {
        event.preventDefault();
        this.#letGo(false);
      }
    }
  }

  #letGo(stays) {
    const { item, before } = this.held;
    this.held = null;
    item.classList.remove("held");
    item.querySelector(".handle")?.setAttribute("aria-pressed", "false");
    const moved = this.items.some((each, place) => each !== before[place]);
    if (!stays && moved) {
      this.moving = true;
      const focused = document.activeElement;
      this.list.replaceChildren(...before);
      if (item.contains(focused)) focused.focus();
      this.moving = false;
    }
    this.say(stays ? `${this.name(item)}, put down at ${this.#where(item)}.` : `${this.name(item)} is back at ${this.#where(item)}.`);
    if (stays && moved) this.changed();
  }

  #take(event) {
    const handle = event.target.closest(".handle");
    if (!handle || event.button !== 0) return;
    event.preventDefault();
    handle.focus();
    const item = handle.closest("li");
    const before = this.items;
    // By the list, as an element that is moved loses hold of the pointer.
    this.list.setPointerCapture(event.pointerId);
    item.classList.add("held");
    this.list.classList.add("sorting");
    const move = (moved) => this.#drag(item, moved.clientY);
    const end = (ended) => {
      this.list.removeEventListener("pointermove", move);
      for (const kind of ENDS) this.list.removeEventListener(kind, end);
      item.classList.remove("held");
      this.list.classList.remove("sorting");
      if (ended.type === "pointercancel") this.list.replaceChildren(...before);
      else if (this.items.some((each, place) => each !== before[place])) {
        this.say(`${this.name(item)}: now ${this.#where(item)}.`);
        this.changed();
      }
    };
    this.list.addEventListener("pointermove", move);
    for (const kind of ENDS) this.list.addEventListener(kind, end);
  }

  // To where the pointer is: past a neighbour once it is over its middle.
  #drag(item, y) {
    const middle = (each) => { const box = each.getBoundingClientRect(); return box.top + box.height / 2; };
    this.moving = true;
    let other;
    while ((other = item.previousElementSibling) && y < middle(other)) other.before(item);
    while ((other = item.nextElementSibling) && y > middle(other)) other.after(item);
    this.moving = false;
    const edge = 60;
    if (y < edge) scrollBy(0, -12);
    else if (y > innerHeight - edge) scrollBy(0, 12);
  }
}
