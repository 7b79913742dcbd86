import { oneLine, type Terminal } from './output.js';

/** One line on standard error, redrawn in place, gone when done; nothing when standard error is no terminal. */
export function progressLine(terminal: Terminal, quiet: boolean): (done: number, total: number, name: string) => void {
  if (quiet || !terminal.live) return () => undefined;
  return (done, total, name) => {
    const text = done >= total ? '' : `reading ${oneLine(name)}${total > 1 ? ` (${done + 1} of ${total})` : ''} …`;
    terminal.err(`\r\u001b[2K${text.slice(0, Math.max(10, terminal.width - 1))}`);
  };
}
