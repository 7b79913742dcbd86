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
  /** Standard output is a terminal that draws block elements; absent = it is not. */
  readonly blocks?: boolean;
  /** Standard error is a terminal, so that progress may be drawn. */
  readonly live: boolean;
  /** Ctrl-C; absent where a caller has no use for it. */
  readonly interruption?: Interruption;
}

/** Ctrl-C: ends the process, unless a command keeps what it has so far. The second one always ends it. */
export class Interruption {
  private kept = false;
  private asked = false;
  private readonly listeners: (() => void)[] = [];

  constructor(private readonly end: () => void) {}

  /** From now on the first request only sets `requested`. */
  keep(): void {
    this.kept = true;
  }

  get requested(): boolean {
    return this.asked;
  }

  /** Called at the first request of a command that keeps what it has. */
  onRequest(listener: () => void): void {
    this.listeners.push(listener);
  }

  request(): void {
    if (!this.kept || this.asked) this.end();
    this.asked = true;
    for (const listener of this.listeners) listener();
  }
}

/** Terminal of this process. `NO_COLOR` (any non-empty value) and `TERM=dumb` turn colours off, `FORCE_COLOR` on. */
export function processTerminal(interruption: Interruption, environment: NodeJS.ProcessEnv = process.env): Terminal {
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
    blocks: process.stdout.isTTY === true && drawsBlocks(environment),
    live: process.stderr.isTTY === true && environment.TERM !== 'dumb',
    interruption,
  };
}

/** File content in messages is data: no control character reaches the terminal. */
export function oneLine(text: string): string {
  return text.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]+/gu, ' ').trim();
}

/** UTF-8 by the locale (POSIX: LC_ALL, then LC_CTYPE, then LANG), or a terminal that always is; a plain console draws few characters. */
export function drawsBlocks(environment: NodeJS.ProcessEnv, platform: NodeJS.Platform = process.platform): boolean {
  const { LC_ALL, LC_CTYPE, LANG, TERM, WT_SESSION, TERM_PROGRAM } = environment;
  if (TERM === 'dumb' || TERM === 'linux') return false;
  if (platform === 'win32') return WT_SESSION !== undefined || TERM_PROGRAM !== undefined;
  const locale = [LC_ALL, LC_CTYPE, LANG].find((each) => each !== undefined && each !== '');
  return locale === undefined ? platform === 'darwin' : /utf-?8/i.test(locale);
}
