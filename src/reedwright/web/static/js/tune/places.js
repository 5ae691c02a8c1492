// Places in a text: from the reader's lines and columns, which count whole characters from 1, to
// offsets as the browser counts them, and back.

// What ends a line for the server; carriage returns no text field has.
const END = /\n/g;

export function lineStarts(text) {
  const starts = [0];
  for (const end of text.matchAll(END)) starts.push(end.index + 1);
  return starts;
}

// The offset of a column of a line. `lines`: the text's line starts.
export function offsetOf(text, lines, line, column) {
  const start = lines[Math.min(line, lines.length) - 1] ?? 0;
  const end = line < lines.length ? lines[line] - 1 : text.length;
  return onward(text, start, column - 1, end);
}

// The offset so many whole characters further on, not beyond `end`.
function onward(text, offset, characters, end = text.length) {
  for (let k = 0; k < characters && offset < end; k += 1) {
    offset += text.codePointAt(offset) > 0xffff ? 2 : 1;
  }
  return Math.min(offset, end);
}

// From where to where a thing with {line, column, length} stands.
export function stretch(text, lines, { line, column, length }) {
  const from = offsetOf(text, lines, line, column);
  return [from, Math.max(onward(text, from, length ?? 1), from)];
}

// Stretches after the text was changed: those behind the change are moved, those that it touches
// are gone. Each is {from, to, ...}.
export function moved(stretches, before, after) {
  let head = 0;
  const least = Math.min(before.length, after.length);
  while (head < least && before[head] === after[head]) head += 1;
  let tail = 0;
  while (tail < least - head && before.at(-1 - tail) === after.at(-1 - tail)) tail += 1;
  const by = after.length - before.length;
  return stretches.flatMap((each) => {
    if (each.to <= head) return [each];
    if (each.from >= before.length - tail) return [{ ...each, from: each.from + by, to: each.to + by }];
    return [];
  });
}

// An offset after the same change: a cursor stays at its letter.
export function movedOffset(offset, before, after) {
  const [found] = moved([{ from: offset, to: offset }], before, after);
  if (found) return found.from;
  let head = 0;
  while (head < offset && before[head] === after[head]) head += 1;
  return head;
}
