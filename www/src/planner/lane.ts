/**
 * One worker that is replaced when it dies or hangs.
 *
 * A worker dies by an error of its own (a panic of the core ends its wasm) and hangs when it says
 * nothing for too long while something is asked of it. Its owner is told and asks again.
 */
import type { Died, Role } from "./messages.ts";

/** A worker or what stands in for one. */
export interface Mate {
  post(message: unknown, moved?: Transferable[]): void;
  end(): void;
}

/** Starts a worker; `hear` gets its messages, `fell` its last error. */
export type Spawn = (role: Role, hear: (message: unknown) => void, fell: (text: string) => void) => Mate;

/** Workers in a row that fell without a word. */
const MOST_SILENT_FALLS = 5;

export class Lane<To, From extends { kind: string }> {
  readonly #spawn: Spawn;
  readonly #role: Role;
  readonly #hear: (message: From) => void;
  readonly #lost: (why: string) => void;
  readonly #hangMs: number;
  #mate: Mate;
  #busy = false;
  #timer: ReturnType<typeof setTimeout> | undefined;
  /** Falls since a message was heard last: a worker that cannot even start is not started for ever. */
  #silentFalls = 0;
  /** Counts workers, so that a message of one that was ended is not heard. */
  #n = 0;

  constructor(spawn: Spawn, role: Role, hangMs: number, hear: (message: From) => void, lost: (why: string) => void) {
    this.#spawn = spawn;
    this.#role = role;
    this.#hangMs = hangMs;
    this.#hear = hear;
    this.#lost = lost;
    this.#mate = this.#start();
  }

  post(message: To, moved: Transferable[] = []): void {
    this.#mate.post(message, moved);
  }

  /** Says whether something is asked of the worker, so that silence means it hangs. */
  set busy(busy: boolean) {
    this.#busy = busy;
    this.#watch();
  }

  get busy(): boolean {
    return this.#busy;
  }

  /** Ends the worker at once and starts another, without telling the owner. */
  replace(): void {
    this.#mate.end();
    this.#busy = false;
    this.#watch();
    this.#mate = this.#start();
  }

  end(): void {
    clearTimeout(this.#timer);
    this.#n++;
    this.#mate.end();
  }

  #start(): Mate {
    const mine = ++this.#n;
    const hear = (message: unknown): void => {
      if (mine !== this.#n) return;
      this.#silentFalls = 0;
      this.#watch();
      const said = message as From | Died;
      if (said.kind === "died") this.#fell((said as Died).text);
      else this.#hear(said as From);
    };
    const fell = (text: string): void => {
      if (mine === this.#n) this.#fell(text);
    };
    return this.#spawn(this.#role, hear, fell);
  }

  #fell(why: string): void {
    if (++this.#silentFalls > MOST_SILENT_FALLS) {
      this.#n++;
      this.#mate.end();
      this.busy = false;
    } else this.replace();
    this.#lost(why);
  }

  #watch(): void {
    clearTimeout(this.#timer);
    if (this.#busy) this.#timer = setTimeout(() => this.#fell("it did not answer"), this.#hangMs);
  }
}
