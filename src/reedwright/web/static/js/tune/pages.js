// Things one below another, or in rows, shown in pages that fit the room there is.

export class Pages {
  #items = [];
  #pages = [[]];
  #page = 0;

  // `turned(page, count)` is told after every change; pages count from 0.
  constructor(room, turned) {
    this.room = room;
    this.turned = turned;
  }

  get count() { return this.#pages.length; }
  get page() { return this.#page; }

  // Cuts the items into pages anew; the first one shown stays shown.
  lay(items) {
    const first = this.#pages[this.#page]?.[0];
    const index = Math.max(0, this.#items.indexOf(first));
    for (const item of items) item.hidden = false;
    this.#items = items;
    this.#pages = cut(items, this.room.clientHeight);
    const kept = items.includes(first) ? first : items[Math.min(index, items.length - 1)];
    this.#page = Math.max(0, this.#pages.findIndex((page) => page.includes(kept)));
    this.#show();
  }

  turn(by) {
    this.#page = Math.min(this.#pages.length - 1, Math.max(0, this.#page + by));
    this.#show();
  }

  showItem(item) {
    const page = this.#pages.findIndex((each) => each.includes(item));
    if (page < 0 || page === this.#page) return;
    this.#page = page;
    this.#show();
  }

  #show() {
    const shown = new Set(this.#pages[this.#page]);
    for (const item of this.#items) item.hidden = !shown.has(item);
    this.turned(this.#page, this.#pages.length);
  }
}

// Rows of items by their tops; as many rows on a page as its height holds, one at least.
function cut(items, height) {
  const rows = [];
  for (const item of items) {
    const box = item.getBoundingClientRect();
    const row = rows.at(-1);
    if (row && Math.abs(row.top - box.top) < 2) {
      row.items.push(item);
      row.bottom = Math.max(row.bottom, box.bottom);
    } else {
      rows.push({ top: box.top, bottom: box.bottom, items: [item] });
    }
  }
  const pages = [];
  let top = 0;
  for (const row of rows) {
    if (pages.length && row.bottom - top <= height) {
      pages.at(-1).push(...row.items);
    } else {
      pages.push([...row.items]);
      top = row.top;
    }
  }
  return pages.length ? pages : [[]];
}
