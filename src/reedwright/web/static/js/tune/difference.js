// Two texts beside each other by lines: what both have, what only one has.

const MOST = 2000; // lines; beyond that both are shown whole

// `[["both" | "theirs" | "mine", line], ...]`, by a longest common subsequence of lines.
export function difference(theirs, mine) {
  const [a, b] = [theirs.split("\n"), mine.split("\n")];
  if (a.length > MOST || b.length > MOST) {
    return [...a.map((line) => ["theirs", line]), ...b.map((line) => ["mine", line])];
  }
  const rows = Array.from({ length: a.length + 1 }, () => new Uint16Array(b.length + 1));
  for (let i = a.length - 1; i >= 0; i -= 1) {
    for (let j = b.length - 1; j >= 0; j -= 1) {
      rows[i][j] = a[i] === b[j] ? rows[i + 1][j + 1] + 1 : Math.max(rows[i + 1][j], rows[i][j + 1]);
    }
  }
  const out = [];
  let [i, j] = [0, 0];
  while (i < a.length || j < b.length) {
    if (i < a.length && j < b.length && a[i] === b[j]) {
      out.push(["both", a[i]]);
      i += 1;
      j += 1;
    } else if (i < a.length && (j === b.length || rows[i + 1][j] >= rows[i][j + 1])) {
      out.push(["theirs", a[i]]);
      i += 1;
    } else {
      out.push(["mine", b[j]]);
      j += 1;
    }
  }
  return out;
}
