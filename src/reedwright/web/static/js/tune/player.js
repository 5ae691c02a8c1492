// Plays a tune's sound and tells, at the moment it is heard, which note that is.
//
// The sound is one file for each speed, at its own pitch; the times say when its notes begin and
// end, in seconds of that file. What is heard now is reckoned from the audio clock, never from
// timers: the clock says which moment of sound leaves the loudspeaker.
import { ask, Trouble } from "../ask.js";

const SOON = 0.06; // seconds from asking until the first sample sounds: room to prepare it
const FADE = 0.012; // seconds; no click where the sound begins or is cut off
const BRIDGED = 0.15; // seconds; a shorter silence between two notes does not take the mark away
const PAINT = 0.008; // seconds until what is drawn now is seen, about: half a frame at 60 Hz
const KEPT = 4; // sounds kept ready

export class Player {
  #context = null;
  #output = null;
  #fetched = new Map();
  #decoded = new Map();
  #fetching = null;
  #now = null; // what is playing: {sound, source, gain, ...}
  #turn = 0; // every play, stop and change takes the next one; what is older gives way
  #wanted = false;
  #frame = 0;
  #shown = null;

  // `sound(speed, countIn)`, `times(speed, countIn)`: addresses. `mark(id, hole, breath)`: the note
  // that sounds from now on, or null, 0, "". `ended()`: the tune is over. `trouble(sentence)`.
  constructor({ sound, times, mark = () => {}, ended = () => {}, trouble = () => {} }) {
    this.addresses = { sound, times };
    this.tell = { mark, ended, trouble };
    this.speed = 1;
    this.countIn = false;
    this.loop = null;
  }

  // Asked to play, and not stopped since; true also while the sound is being fetched.
  get playing() { return this.#wanted; }

  get context() { return this.#context; }

  // All that this player sounds passes through this node.
  get output() { return this.#output; }

  // The sound's own times, while it plays.
  get times() { return this.#now?.sound.times ?? null; }

  // Fetches what Play will need, so that it begins at once. Says nothing of troubles.
  prefetch() {
    this.#fetch(this.speed, this.countIn).catch(() => {});
  }

  // From the beginning, from the loop's first bar, or from a bar (its index as written).
  async play(fromBar) {
    const turn = ++this.#turn;
    this.#wanted = true;
    this.#listen();
    try {
      if (this.#context.state !== "running") await this.#context.resume();
      const sound = await this.#ready(this.speed, this.countIn);
      if (turn !== this.#turn) return;
      const from = fromBar === undefined || fromBar === null ? null : firstTime(sound.times, fromBar);
      this.#start(sound, from, this.#soon(), true);
    } catch (error) {
      if (turn !== this.#turn) return;
      this.stop();
      this.tell.trouble(words(error));
    }
  }

  stop() {
    this.#turn += 1;
    this.#wanted = false;
    this.#silence();
    cancelAnimationFrame(this.#frame);
    this.#show(null);
  }

  // 0.25 to 1.5 of the tune's own tempo. What is playing goes on from the same place of the music.
  async setSpeed(speed) {
    this.speed = speed;
    await this.renew();
  }

  async setCountIn(countIn) {
    this.countIn = countIn;
    await this.renew();
  }

  // `[first, last]` by the bars' indices as written, or null for the whole tune.
  setLoop(bars) {
    this.loop = bars;
    if (!this.#now) return;
    const at = this.#soon();
    this.#start(this.#now.sound, place(this.#now, at), at, false);
  }

  // The addresses give another sound of the same music now: it goes on in that one.
  async renew() {
    if (!this.#wanted) return;
    const turn = ++this.#turn;
    try {
      const sound = await this.#ready(this.speed, this.countIn);
      if (turn !== this.#turn) return;
      const [then, at] = [this.#now, this.#soon()];
      if (!then) this.#start(sound, null, at, true);
      else this.#start(sound, sameMusic(then.sound.times, sound.times, place(then, at)), at, false);
    } catch (error) {
      if (turn === this.#turn) this.tell.trouble(words(error));
    }
  }

  // Seconds into the sound that is heard now; null where none is.
  position() {
    return this.#now && this.#context ? place(this.#now, this.#heard()) : null;
  }

  #listen() {
    if (this.#context) return;
    this.#context = new AudioContext({ latencyHint: "interactive" });
    this.#output = new GainNode(this.#context);
    this.#output.connect(this.#context.destination);
  }

  #soon() { return this.#context.currentTime + SOON; }

  // `from`: seconds into the sound; null: the beginning of the loop or of the tune. `at`: when, by
  // the audio clock; until then goes on what is playing.
  #start(sound, from, at, leadIn) {
    const { times, buffer } = sound;
    const loop = this.loop && loopTimes(times, this.loop);
    let begin = from ?? loop?.[0] ?? 0;
    if (loop && (begin < loop[0] || begin >= loop[1])) begin = loop[0];
    this.#silence(at);
    const gain = new GainNode(this.#context, { gain: 0 });
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(1, at + FADE);
    gain.connect(this.#output);
    // The clicks stand before the tune; for a bar further on they are sounded first.
    const lead = leadIn && this.countIn && begin > times.tune_start ? times.tune_start : 0;
    const sources = [];
    if (lead) {
      const clicks = new AudioBufferSourceNode(this.#context, { buffer });
      clicks.connect(gain);
      clicks.start(at, 0, lead);
      sources.push(clicks);
    }
    const source = new AudioBufferSourceNode(this.#context, { buffer });
    if (loop) {
      source.loop = true;
      [source.loopStart, source.loopEnd] = loop;
    }
    source.connect(gain);
    source.start(at + lead, begin);
    sources.push(source);
    this.#now = { sound, sources, gain, at, lead, begin, loop };
    const mine = this.#now;
    source.onended = () => {
      if (this.#now !== mine) return;
      this.stop();
      this.tell.ended();
    };
    cancelAnimationFrame(this.#frame);
    this.#frame = requestAnimationFrame(() => this.#follow());
  }

  #silence(at = this.#context?.currentTime) {
    if (!this.#now) return;
    const { sources, gain } = this.#now;
    this.#now = null;
    gain.gain.cancelScheduledValues(at);
    gain.gain.setValueAtTime(gain.gain.value, at);
    gain.gain.linearRampToValueAtTime(0, at + FADE);
    for (const source of sources) source.stop(at + FADE);
  }

  // The moment of the audio clock that is heard now (Web Audio API 1.1, getOutputTimestamp).
  #heard() {
    const context = this.#context;
    const stamp = context.getOutputTimestamp?.();
    if (stamp?.contextTime > 0) {
      return stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
    }
    return context.currentTime - (context.outputLatency || context.baseLatency || 0);
  }

  #follow() {
    if (!this.#now) return;
    this.#show(soundingAt(this.#now.sound.times.notes, this.position() + PAINT));
    this.#frame = requestAnimationFrame(() => this.#follow());
  }

  #show(note) {
    const [id, , , hole, breath] = note ?? [null, 0, 0, 0, ""];
    const key = `${id} ${hole} ${breath}`;
    if (key === this.#shown) return;
    this.#shown = key;
    this.tell.mark(id, hole, breath);
  }

  async #ready(speed, countIn) {
    const key = this.addresses.sound(speed, countIn);
    const { bytes, times } = await this.#fetch(speed, countIn);
    let buffer = this.#decoded.get(key);
    if (!buffer) {
      buffer = await this.#context.decodeAudioData(bytes.slice(0));
      kept(this.#decoded, key, buffer);
    }
    return { buffer, times };
  }

  // One sound is fetched at a time: who asks for another no longer waits for the first.
  #fetch(speed, countIn) {
    const key = this.addresses.sound(speed, countIn);
    let found = this.#fetched.get(key);
    if (!found) {
      if (this.#fetching) {
        this.#fetching.abort();
        this.#fetched.delete(this.#fetching.key);
      }
      const fetching = Object.assign(new AbortController(), { key });
      this.#fetching = fetching;
      const { signal } = fetching;
      found = Promise.all([
        ask(key, { raw: true, signal }).then((answer) => answer.arrayBuffer()),
        ask(this.addresses.times(speed, countIn), { signal }),
      ]).then(([bytes, times]) => {
        if (this.#fetching === fetching) this.#fetching = null;
        return { bytes, times };
      });
      const mine = found;
      mine.catch(() => { if (this.#fetched.get(key) === mine) this.#fetched.delete(key); });
      kept(this.#fetched, key, found);
    }
    return found;
  }
}

// Which note is heard at a moment: the last one that has begun, unless it is over. A stretch of
// `times.notes` is [id, start, end, hole, breath].
export function soundingAt(notes, position) {
  let low = 0;
  let high = notes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (notes[middle][1] <= position) low = middle + 1;
    else high = middle;
  }
  const note = notes[low - 1];
  if (!note) return null;
  if (position < note[2]) return note;
  const next = notes[low];
  return next && next[1] - note[2] <= BRIDGED ? note : null;
}

// Seconds at which bars (by index as written) are heard in a row: of all times that the repeats
// give, the shortest. Null where they are never played in a row.
export function loopTimes(times, [first, last]) {
  let best = null;
  times.bars.forEach(([index, start], k) => {
    if (index !== first) return;
    for (const [other, , end] of times.bars.slice(k)) {
      if (other !== last) continue;
      if (!best || end - start < best[1] - best[0]) best = [start, end];
      break;
    }
  });
  return best;
}

// The place in another speed's sound where the music is the same.
export function sameMusic(from, to, position) {
  const scaled = (a0, a1, b0, b1) => b0 + ((position - a0) / (a1 - a0 || 1)) * (b1 - b0);
  if (position < from.tune_start) return scaled(0, from.tune_start, 0, to.tune_start);
  const [first, its] = [from.notes[0]?.[1] ?? from.duration, to.notes[0]?.[1] ?? to.duration];
  if (position < first) return scaled(from.tune_start, first, to.tune_start, its);
  let k = from.notes.findLastIndex((note) => note[1] <= position);
  k = Math.min(k, to.notes.length - 1);
  const [a0, a1] = [from.notes[k][1], from.notes[k + 1]?.[1] ?? from.duration];
  const [b0, b1] = [to.notes[k][1], to.notes[k + 1]?.[1] ?? to.duration];
  return Math.max(0, scaled(a0, a1, b0, b1));
}

function firstTime(times, bar) {
  return times.bars.find(([index]) => index === bar)?.[1] ?? null;
}

// Where in the sound the moment `time` of the audio clock lies.
function place({ at, lead, begin, loop }, time) {
  const gone = time - at;
  if (gone < lead) return Math.max(0, gone);
  const position = begin + Math.max(0, gone - lead);
  if (!loop || position < loop[1]) return position;
  return loop[0] + ((position - loop[0]) % (loop[1] - loop[0]));
}

function words(error) {
  return error instanceof Trouble ? error.message : `The sound could not be played: ${error.message}`;
}

function kept(map, key, value) {
  map.delete(key);
  map.set(key, value);
  while (map.size > KEPT) map.delete(map.keys().next().value);
}
