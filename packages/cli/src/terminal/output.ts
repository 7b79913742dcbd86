/** Where a command's words go; tests pass their own. */
export interface Terminal {
  /** Results. */
  readonly out: (text: string) => void;
  /** Progress, warnings and errors. */
  readonly err: (text: string) => void;
  /** Columns of standard output, 80 when it is no terminal. */
  readonly width: number;
  /** Colours allowed on standard output. */
  readonly color: boolean;
  /** Standard error is a terminal, so that progress may be drawn. */
  readonly live: boolean;
}

/** Terminal of this process. `NO_COLOR` (any non-empty value) and `TERM=dumb` turn colours off, `FORCE_COLOR` on. */
export function processTerminal(environment: NodeJS.ProcessEnv = process.env): Terminal {
  const forced = environment.FORCE_COLOR;
  const color = environment.NO_COLOR
    ? false
    : forced !== undefined && forced !== ''
      ? forced !== '0' && forced !== 'false'
      : process.stdout.isTTY === true && environment.TERM !== 'dumb';
  return {
    out: (text) => void process.stdout.write(text),
    err: (text) => void process.stderr.write(text),
    width: process.stdout.columns ?? 80,
    color,
    live: process.stderr.isTTY === true,
  };
}

/** File content in messages is data: no control character reaches the terminal. */
export function oneLine(text: string): string {
  return text.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]+/gu, ' ').trim();
}
