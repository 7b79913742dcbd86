import { appendFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import { deserialize, serialize } from 'node:v8';
import type { Report } from './trial.js';

/** Reports of a long run, kept as they come, so that a run that was cut off goes on where it was. */
export interface Journal {
  /** Reports of an earlier run, by the number of the trial. */
  readonly known: ReadonlyMap<number, Report>;
  add(index: number, report: Report): void;
}

/**
 * One line a report, in the engine's own form (JSON has no NaN); the first line says what was run. A line that was cut
 * off in writing is left out.
 * @param key the program and its options: reports of another run are no part of this one
 * @throws Error when the file is a journal of another run
 */
export function openJournal(path: string, key: string): Journal {
  const known = new Map<number, Report>();
  if (existsSync(path)) {
    const [first, ...lines] = readFileSync(path, 'utf8').split('\n');
    if (first !== key) throw new Error(`${path} is of another run or another state of the program; name another file`);
    for (const line of lines.slice(0, -1)) {
      const [index, text] = line.split(' ');
      known.set(Number(index), deserialize(Buffer.from(text!, 'base64')) as Report);
    }
    // What was cut off ends here, and the next report begins a line of its own.
    writeFileSync(path, `${[first, ...lines.slice(0, -1)].join('\n')}\n`);
  } else writeFileSync(path, `${key}\n`);
  return {
    known,
    add: (index, report) => appendFileSync(path, `${index} ${serialize(report).toString('base64')}\n`),
  };
}
