// The line to the reed meter: opened, made anew where it is lost, ended with a word on why.
const FIRST = 500; // milliseconds until it is tried again, doubled each time
const LONGEST = 8000;
const MOST_WAITING = 400_000; // bytes not sent yet, beyond which sound is left out
const REFUSED = [1003, 1007, 1008, 1009]; // close codes after which trying again would not help

export class Line extends EventTarget {
  // `begin()`: what to say first on each line, as an object.
  constructor(begin) {
    super();
    this.begin = begin;
    this.after = FIRST;
    this.open();
  }

  open() {
    const address = new URL("/bench/listen/ws", location.href);
    address.protocol = location.protocol === "https:" ? "wss:" : "ws:";
    const socket = new WebSocket(address);
    this.socket = socket;
    this.told = false;
    socket.binaryType = "arraybuffer";
    socket.onopen = () => this.say({ begin: this.begin() });
    socket.onmessage = (event) => {
      const said = JSON.parse(event.data);
      if (said.ready) this.after = FIRST;
      if (said.trouble) this.told = true;
      for (const [name, detail] of Object.entries(said)) this.dispatchEvent(new CustomEvent(name, { detail }));
    };
    socket.onclose = (event) => {
      if (this.ended || socket !== this.socket) return;
      if (event.code === 1000 || REFUSED.includes(event.code)) {
        this.dispatchEvent(new CustomEvent("over", { detail: this.told }));
        return;
      }
      this.dispatchEvent(new CustomEvent("lost"));
      this.timer = setTimeout(() => this.open(), this.after);
      this.after = Math.min(LONGEST, 2 * this.after);
    };
  }

  get there() {
    return this.socket.readyState === WebSocket.OPEN;
  }

  say(what) {
    if (this.there) this.socket.send(JSON.stringify(what));
  }

  sound(buffer) {
    if (this.there && this.socket.bufferedAmount < MOST_WAITING) this.socket.send(buffer);
  }

  // No more sound comes; what was open is told before the line ends.
  end() {
    this.say({ stop: true });
    this.ended = true;
    clearTimeout(this.timer);
    if (!this.there) this.socket.close();
  }
}
