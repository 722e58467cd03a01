/** Work in slices: after each, waiting messages are heard. */

/** How long a slice may take, in ms: short enough to answer at once, long enough to cost nothing. */
export const SLICE_MS = 40;

/** Lets waiting messages be heard. A channel is not slowed down in the background as timers are. */
function breathe(): Promise<void> {
  return new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      port1.close();
      done();
    };
    port2.postMessage(null);
  });
}

/** A gate that pause closes and go-on opens. */
export class Gate {
  #closed = false;
  #waiting: (() => void)[] = [];

  close(): void {
    this.#closed = true;
  }

  open(): void {
    this.#closed = false;
    for (const go of this.#waiting.splice(0)) go();
  }

  /** Hears waiting messages, then waits while the gate is closed. */
  async pass(): Promise<void> {
    await breathe();
    while (this.#closed) await new Promise<void>((go) => this.#waiting.push(go));
  }
}
