// The reed meter's dial: needles that go to cents, quickly and without jumping.
const svg = document.getElementById("dial");
const { fine, span, widest, x, y } = Object.fromEntries(Object.entries(svg.dataset).map(([name, text]) => [name, Number(text)]));
const still = matchMedia("(prefers-reduced-motion: reduce)");
const EASE = 0.35; // of the way that is left, each sixtieth of a second

// Degrees from upright; the formula is that of bench/dial.py.
export function angle(cents) {
  const kept = Math.max(-span, Math.min(span, cents));
  return (widest * Math.asinh(kept / fine)) / Math.asinh(span / fine);
}

class Needle {
  constructor(id) {
    this.line = document.getElementById(id);
    this.at = 0;
    this.goal = null;
  }

  // `null`: nothing to show.
  point(cents) {
    const appears = this.goal === null;
    this.goal = cents === null || cents === undefined ? null : angle(cents);
    this.line.setAttribute("visibility", this.goal === null ? "hidden" : "visible");
    if (this.goal === null) return;
    if (appears || still.matches) {
      this.at = this.goal;
      this.draw();
    } else if (!this.moving) {
      this.moving = requestAnimationFrame(() => this.move());
    }
  }

  move() {
    this.moving = 0;
    if (this.goal === null) return;
    this.at += EASE * (this.goal - this.at);
    if (Math.abs(this.goal - this.at) < 0.05) this.at = this.goal;
    else this.moving = requestAnimationFrame(() => this.move());
    this.draw();
  }

  draw() {
    this.line.setAttribute("transform", `rotate(${this.at.toFixed(2)} ${x} ${y})`);
  }
}

export const needle = new Needle("needle");
export const upperNeedle = new Needle("needle-upper");
