// Keeps the screen awake while the page is seen (Screen Wake Lock API, W3C).

export class KeptAwake {
  #said = false;

  constructor(say) {
    this.say = say;
    this.lock = null;
  }

  begin() {
    // The browser lets go whenever the page is out of sight.
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.take(); });
    return this.take();
  }

  async take() {
    if (!navigator.wakeLock) {
      this.#cannot();
      return;
    }
    try {
      this.lock = await navigator.wakeLock.request("screen");
    } catch {
      this.#cannot();
    }
  }

  #cannot() {
    if (this.#said) return;
    this.#said = true;
    this.say("This browser does not let the page keep the screen awake; set the device so that it stays on.");
  }
}
