/** Exit codes of the contract. */
export const EXIT = Object.freeze({
  done: 0,
  /** Verdict at or beyond --fail-at, or coverage below --min-coverage. */
  verdict: 1,
  /** Wrong usage, including a bad profile, map or other side file. */
  usage: 2,
  /** At least one input unusable; the others were assessed. Wins over `verdict`. */
  input: 3,
  internal: 4,
  interrupted: 130,
});

/** A failure that is the user's to mend: one line, a stable code, an exit code. */
export class UserError extends Error {
  override readonly name = 'UserError';
  constructor(
    readonly code: string,
    message: string,
    readonly exit: number = EXIT.usage,
  ) {
    super(message);
  }
}

/** By its name: the commands are a script of their own, with a class of their own (see commands/index.ts). */
export function isUserError(error: unknown): error is UserError {
  return error instanceof Error && error.name === 'UserError';
}
