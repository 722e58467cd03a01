/**
 * Asks what the pointer is on, and tells when that changed.
 *
 * How: one question at a time; of those that come meanwhile only the newest is asked then. An answer
 * is told only where no newer word came after its question that needs no answer: the pointer left.
 * Not here: the ray (`stage.ts`), who answers.
 */

/** `ask` answers a question; `on` hears every answer, `null` for nothing there. */
export function pointing<Question, Answer>(ask: (question: Question) => Promise<Answer | null>, on: (answer: Answer | null) => void): (question: Question | null) => void {
  let is_asking = false;
  let waiting: Question | null = null;
  /** Counts times the pointer left. */
  let n_left = 0;

  async function next(question: Question): Promise<void> {
    const then = n_left;
    is_asking = true;
    // Nobody to ask is as good as nothing there.
    const answer = await ask(question).catch(() => null);
    is_asking = false;
    if (then === n_left) on(answer);
    const newest = waiting;
    waiting = null;
    if (newest !== null) void next(newest);
  }

  return (question) => {
    if (question === null) {
      n_left += 1;
      waiting = null;
      on(null);
    } else if (is_asking) waiting = question;
    else void next(question);
  };
}
