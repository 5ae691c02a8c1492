// What this browser keeps from one visit to the next. Where it keeps nothing (a private window, a
// full store) the page goes on with what it has. theme.js has its own, being read before modules.

// The text kept, or null.
export function kept(key) {
  try { return localStorage.getItem(key); } catch { return null; }
}

export function keep(key, text) {
  try { localStorage.setItem(key, text); } catch { /* full or forbidden */ }
}

export function forget(key) {
  try { localStorage.removeItem(key); } catch { /* nothing there */ }
}

export function keysFrom(beginning) {
  try { return Object.keys(localStorage).filter((key) => key.startsWith(beginning)); } catch { return []; }
}

// The same for anything that JSON can carry; null, too, where what is there can't be read.
export function keptData(key) {
  try { return JSON.parse(kept(key)); } catch { return null; }
}

export function keepData(key, value) {
  keep(key, JSON.stringify(value));
}
