// The microphone's sound, as it is: what browsers do to voices would bend reeds.
export class NoMicrophone extends Error {}

// By the error's name; `press` is the button that asked.
const words = (press) => ({
  NotAllowedError: `The browser was given no leave to use the microphone. Allow it by the sign beside the page's address, then press ${press} again. Or use a recording instead.`,
  NotFoundError: `No microphone was found. Plug one in and press ${press} again, or use a recording instead.`,
  NotReadableError: `The microphone can't be used: perhaps another program has it. Close that one and press ${press} again, or use a recording instead.`,
});

// `heard(buffer)` is given blocks of 32-bit floats; `press` is the word on the button that asks.
// Throws NoMicrophone with what to do.
export async function microphone(heard, press = "Listen") {
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia || !window.AudioWorkletNode) {
    throw new NoMicrophone("Browsers give the microphone only to pages of this machine, or over https. Open Reedwright at its own machine (127.0.0.1), or use a recording instead.");
  }
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: false },
    });
  } catch (error) {
    throw new NoMicrophone(words(press)[error.name] ?? `The microphone can't be used (${error.name}). Use a recording instead.`);
  }
  let context = null;
  try {
    context = new AudioContext();
    return await joined(stream, context, heard);
  } catch (error) { // the browser would go on showing that the microphone is open
    for (const track of stream.getTracks()) track.stop();
    context?.close();
    throw new NoMicrophone(`The microphone was opened, but its sound can't be read (${error.name}). Load the page and press ${press} again, or use a recording instead.`);
  }
}

async function joined(stream, context, heard) {
  await context.audioWorklet.addModule("/static/js/bench/worklet.js");
  const source = context.createMediaStreamSource(stream);
  const reeds = new AudioWorkletNode(context, "reeds", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  const taken = { rate: context.sampleRate, context, muted: false, gone: null };
  reeds.port.onmessage = (event) => { if (!taken.muted) heard(event.data); };
  source.connect(reeds);
  await context.resume();
  for (const track of stream.getTracks()) track.addEventListener("ended", () => taken.gone?.());
  taken.stop = () => {
    for (const track of stream.getTracks()) track.stop();
    source.disconnect();
    return context.close();
  };
  return taken;
}

// Sounds a pitch (Hz) for a moment; what the microphone hears of it is left out meanwhile.
export function sounded(taken, hz) {
  const SECONDS = 1.6;
  const { context } = taken;
  const tone = new OscillatorNode(context, { type: "sawtooth", frequency: hz });
  const soft = new BiquadFilterNode(context, { type: "lowpass", frequency: 4 * hz });
  const level = new GainNode(context, { gain: 0 });
  const now = context.currentTime;
  level.gain.setTargetAtTime(0.2, now, 0.02);
  level.gain.setTargetAtTime(0, now + SECONDS - 0.2, 0.04);
  tone.connect(soft).connect(level).connect(context.destination);
  taken.muted = true;
  tone.start();
  tone.stop(now + SECONDS);
  tone.onended = () => setTimeout(() => { taken.muted = false; }, 300); // the room dies away
}
