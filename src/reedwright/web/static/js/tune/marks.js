// Marks in an engraved drawing, in the drawing's own units (about 40 to the millimetre).
import { shape } from "../dom.js";

export const PAD = 40; // about 1 mm around what is marked

// A frame around the note and its tab, still to be put into the note's group.
export function frame(group, { pad = PAD, ...attributes } = {}) {
  const { x, y, width, height } = group.getBBox();
  return shape("rect", { ...attributes, x: x - pad, y: y - pad, width: width + 2 * pad, height: height + 2 * pad });
}

// The groups of the drawing that carry this note.
export function groups(root, id) {
  return [...root.querySelectorAll(`[data-note="${CSS.escape(id)}"]`)];
}
