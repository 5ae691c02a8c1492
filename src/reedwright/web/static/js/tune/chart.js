// The harp's chart: a ring round the hole that sounds and its reed, up for blow and down for draw.
import { shape } from "../dom.js";

const ROOM = 5; // of the drawing's units, between the ring and what it holds

export class Chart {
  constructor(root) {
    this.root = root;
    this.shown = "";
  }

  // `{hole, breath}`, or null.
  show(sounding) {
    const key = sounding ? `${sounding.hole} ${sounding.breath}` : "";
    const svg = this.root.querySelector("svg");
    if (key === this.shown && (!key || svg?.querySelector(".mark-hole"))) return;
    this.shown = key;
    svg?.querySelector(".mark-hole")?.remove();
    const mouth = sounding && svg?.querySelector(`[data-hole="${sounding.hole}"]`);
    if (!mouth) return;
    const hole = box(mouth);
    const reed = reedAt(svg, hole, sounding.breath);
    const [left, right] = [Math.min(hole.x, reed.x) - ROOM, Math.max(hole.x + hole.width, reed.x + reed.width) + ROOM];
    const [top, foot] = [Math.min(hole.y, reed.y) - ROOM, Math.max(hole.y + hole.height, reed.y + reed.height) + ROOM];
    svg.append(shape("rect", { class: "mark-hole", x: left, y: top, width: right - left, height: foot - top, rx: 8 }));
  }
}

// The frame of the reed next to the mouth: above it for blow, below it for draw.
function reedAt(svg, hole, breath) {
  const middle = hole.x + hole.width / 2;
  const frames = [...svg.querySelectorAll('rect[fill="none"]')].map(box).filter((each) => (
    each.x < middle && middle < each.x + each.width && (breath === "blow" ? each.y < hole.y : each.y > hole.y)));
  const far = (each) => Math.abs(each.y - hole.y);
  return frames.reduce((a, b) => (far(b) < far(a) ? b : a), frames[0] ?? hole);
}

function box(rect) {
  const [x, y, width, height] = ["x", "y", "width", "height"].map((name) => Number(rect.getAttribute(name)));
  return { x, y, width, height };
}
