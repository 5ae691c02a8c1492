// A take over time, drawn on a canvas: the wave above, notes and pitch below, a line for now.
const WAVE_SHARE = 0.28; // of the height
const MARGIN = 200; // cents above the highest and below the lowest note
const LONGEST_GAP = 3; // frames without pitch over which the line goes on

export class Wave {
  constructor(canvas, heard) {
    this.canvas = canvas;
    this.heard = heard;
    this.from = 0;
    this.across = Math.min(heard.seconds, Math.max(5, 12 * Math.min(1, canvas.clientWidth / 1000))); // seconds shown
    this.now = 0;
    const cents = heard.notes.map((note) => note.cents);
    this.lowest = (cents.length ? Math.min(...cents) : 6000) - MARGIN;
    this.highest = (cents.length ? Math.max(...cents) : 7200) + MARGIN;
    new ResizeObserver(() => this.draw()).observe(canvas);
    new MutationObserver(() => this.draw()).observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  }

  // Shows these seconds about a moment; keeps inside the take.
  show(from, across = this.across) {
    this.across = Math.max(1, Math.min(this.heard.seconds, across));
    this.from = Math.max(0, Math.min(this.heard.seconds - this.across, from));
    this.draw();
  }

  at(x) {
    return this.from + (x / this.canvas.clientWidth) * this.across;
  }

  x(seconds) {
    return ((seconds - this.from) / this.across) * this.width;
  }

  y(cents) {
    return this.top + ((this.highest - cents) / (this.highest - this.lowest)) * (this.height - this.top);
  }

  note(seconds) {
    return this.heard.notes.find((note) => note.start <= seconds && seconds < note.end);
  }

  draw() {
    const ratio = window.devicePixelRatio || 1;
    this.width = this.canvas.clientWidth;
    this.height = this.canvas.clientHeight;
    if (!this.width) return;
    this.canvas.width = Math.round(this.width * ratio);
    this.canvas.height = Math.round(this.height * ratio);
    this.top = this.height * WAVE_SHARE;
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(`--${name}`).trim();
    const pen = this.canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, this.width, this.height);
    this.bars(pen, colour);
    this.outline(pen, colour);
    this.notes(pen, colour);
    this.pitch(pen, colour);
    pen.strokeStyle = colour("accent");
    pen.lineWidth = 2;
    line(pen, this.x(this.now), 0, this.x(this.now), this.height);
  }

  bars(pen, colour) {
    pen.strokeStyle = colour("faint");
    pen.fillStyle = colour("quiet");
    pen.lineWidth = 1;
    pen.font = "13px 'Libertinus Serif', serif";
    for (const bar of this.heard.bars) {
      if (bar.end < this.from || bar.start > this.from + this.across) continue;
      line(pen, this.x(bar.start), 0, this.x(bar.start), this.height);
      pen.fillText(bar.number ? `${bar.number}` : "", this.x(bar.start) + 4, 13);
    }
  }

  outline(pen, colour) {
    const { low, high, a_second: aSecond } = this.heard.wave;
    const middle = this.top / 2;
    pen.fillStyle = colour("rule");
    for (let x = 0; x < this.width; x += 1) {
      const first = Math.floor((this.from + (x / this.width) * this.across) * aSecond);
      const last = Math.max(first + 1, Math.floor((this.from + ((x + 1) / this.width) * this.across) * aSecond));
      let [least, most] = [0, 0];
      for (let k = first; k < last && k < low.length; k += 1) {
        least = Math.min(least, low[k]);
        most = Math.max(most, high[k]);
      }
      pen.fillRect(x, middle - (most / 127) * middle, 1, Math.max(1, ((most - least) / 127) * middle));
    }
  }

  notes(pen, colour) {
    const tall = Math.max(7, Math.min(16, (100 / (this.highest - this.lowest)) * (this.height - this.top) * 0.9));
    for (const note of this.heard.notes) {
      if (note.end < this.from || note.start > this.from + this.across) continue;
      const [x, y, wide] = [this.x(note.start), this.y(note.cents) - tall / 2, Math.max(2, this.x(note.end) - this.x(note.start) - 1)];
      pen.fillStyle = colour("mark");
      pen.strokeStyle = colour("ink");
      pen.lineWidth = 1;
      pen.setLineDash(note.verdict === "added" ? [2, 2] : []);
      if (note.verdict === "played") pen.fillRect(x, y, wide, tall);
      pen.strokeRect(x + 0.5, y + 0.5, wide, tall);
      pen.setLineDash([]);
      if (note.verdict === "missed") {
        line(pen, x, y, x + wide, y + tall);
        line(pen, x, y + tall, x + wide, y);
      }
    }
  }

  pitch(pen, colour) {
    const { start, hop, cents } = this.heard.pitch;
    const first = Math.max(0, Math.floor((this.from - start) / hop));
    const last = Math.min(cents.length, Math.ceil((this.from + this.across - start) / hop) + 1);
    pen.strokeStyle = colour("accent");
    pen.lineWidth = 1.5;
    pen.beginPath();
    let gap = LONGEST_GAP + 1;
    for (let k = first; k < last; k += 1) {
      if (!cents[k]) { gap += 1; continue; }
      const [x, y] = [this.x(start + k * hop), this.y(cents[k])];
      if (gap > LONGEST_GAP) pen.moveTo(x, y); else pen.lineTo(x, y);
      gap = 0;
    }
    pen.stroke();
  }
}

function line(pen, x1, y1, x2, y2) {
  pen.beginPath();
  pen.moveTo(x1, y1);
  pen.lineTo(x2, y2);
  pen.stroke();
}
