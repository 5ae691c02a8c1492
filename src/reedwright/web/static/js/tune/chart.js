// The harp's chart: the hole that sounds is ringed, with a sign above it for blow, below for draw.
const SVG = "http://www.w3.org/2000/svg";

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
    const [x, y, width, height] = ["x", "y", "width", "height"].map((name) => Number(mouth.getAttribute(name)));
    const marks = document.createElementNS(SVG, "g");
    marks.classList.add("mark-hole");
    const ring = document.createElementNS(SVG, "rect");
    for (const [name, value] of Object.entries({ x: x - 4, y: y - 4, width: width + 8, height: height + 8, rx: 4 })) ring.setAttribute(name, value);
    const middle = x + width / 2;
    const arrow = document.createElementNS(SVG, "path");
    const blow = sounding.breath === "blow";
    const tip = blow ? y - 26 : y + height + 26;
    const foot = blow ? y - 6 : y + height + 6;
    arrow.setAttribute("d", `M${middle - 15} ${foot}L${middle} ${tip}L${middle + 15} ${foot}Z`);
    marks.append(ring, arrow);
    svg.append(marks);
  }
}
