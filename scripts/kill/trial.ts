import { type ChildProcess, spawn } from 'node:child_process';
import { isDeepStrictEqual } from 'node:util';
import { openBook } from '../../packages/cli/src/book/open.js';
import { holdSound } from '../../packages/cli/src/book/sqlite/sound.js';
import { killDrive, numberOf } from './drive.js';

export interface Trial {
  /** File, or URL of a database. */
  readonly book: string;
  readonly kills: number;
  /** Random number from 0 to below 1. */
  readonly random: () => number;
  /** Command line that starts a writer: program, arguments before BOOK FIRST. */
  readonly writer: readonly [string, ...string[]];
  /** Breaks the server off and starts it again; every eighth kill is one of these. */
  readonly breakServer?: () => Promise<void> | void;
}

export interface TrialResult {
  readonly kills: number;
  /** Kills that came while a writer had drives under way: it had named some, and would have named more. */
  readonly midWrite: number;
  readonly named: number;
  readonly kept: number;
  /** What went wrong, in words; empty when nothing was lost or half. */
  readonly faults: readonly string[];
}

/** Longest time (ms) that a writer lives after its first word. */
const LIFE = 250;

/**
 * Kills a writer at random moments, again and again, on one book, and looks each time: everything that was named as kept is
 * there and whole, nothing else is there but whole drives of an add that was under way, and the file is sound.
 */
export async function killTrial(trial: Trial): Promise<TrialResult> {
  const named = new Set<string>();
  const faults: string[] = [];
  let next = 1;
  let midWrite = 0;
  let kept = 0;
  for (let kill = 1; kill <= trial.kills && faults.length < 10; kill++) {
    const server = trial.breakServer !== undefined && kill % 8 === 0;
    const words = await oneLife(trial, next, server);
    if (words.length > 0) midWrite++;
    for (const word of words) named.add(word);
    // Beyond anything that this writer can have begun.
    next = Math.max(next, ...words.map(numberOf)) + 10;
    const found = await look(trial.book, named, faults, kill);
    kept = found;
  }
  return { kills: trial.kills, midWrite, named: named.size, kept, faults };
}

/** @returns what the writer named before it was killed */
async function oneLife(trial: Trial, first: number, server: boolean): Promise<string[]> {
  const [program, ...args] = trial.writer;
  const child: ChildProcess = spawn(program, [...args, trial.book, String(first)], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let out = '';
  let err = '';
  const ended = new Promise<void>((resolve) => child.once('close', () => resolve()));
  child.stderr!.on('data', (data: Buffer) => {
    err += data.toString();
  });
  await new Promise<void>((resolve, reject) => {
    child.once('error', reject);
    child.once('exit', () => resolve());
    child.stdout!.on('data', (data: Buffer) => {
      out += data.toString();
      resolve();
    });
  });
  if (out === '' && err !== '') throw new Error(`the writer could not begin: ${err.slice(0, 500)}`);
  await new Promise((resolve) => setTimeout(resolve, LIFE * trial.random()));
  if (server) await trial.breakServer?.();
  child.kill('SIGKILL');
  await ended;
  // A line that was cut off names nothing.
  return out
    .split('\n')
    .slice(0, -1)
    .flatMap((line) => line.split(' '))
    .filter((hash) => hash.length === 64);
}

async function look(place: string, named: ReadonlySet<string>, faults: string[], kill: number): Promise<number> {
  const book = await openBook(place, 'write');
  let kept = 0;
  try {
    const seen = new Set<string>();
    for (const { car } of await book.cars())
      for (const drive of await book.drives(car)) {
        kept++;
        seen.add(drive.hash);
        if (!isDeepStrictEqual(drive, killDrive(numberOf(drive.hash))))
          faults.push(`kill ${kill}: drive ${numberOf(drive.hash)} is half or changed`);
      }
    for (const hash of named)
      if (!seen.has(hash)) faults.push(`kill ${kill}: drive ${numberOf(hash)} was kept and is lost`);
  } finally {
    await book.close();
  }
  if (!/^postgres/.test(place))
    await holdSound(place).catch((error: Error) => faults.push(`kill ${kill}: ${error.message}`));
  return kept;
}
