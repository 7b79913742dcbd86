import { isDeepStrictEqual } from 'node:util';
import { type ReadingHelper, readTable } from '../../packages/core/src/ingest/index.js';
import type { Hasher } from '../../packages/core/src/ingest/source.js';
import { buildRecording } from '../../packages/core/src/recording/build.js';
import type { HeadColumn } from '../../packages/core/src/recording/raw.js';
import { Random } from '../simulate/random.js';
import { anyBytes, dirtyTable, mutated } from './inputs.js';
import { secondThread } from './second-thread.js';

/** Processor time, ms: no input is larger than some megabytes, and more means that something does not scale. */
const SLOW = 10_000;

const NO_HASH: Hasher = { update: () => undefined, hex: () => '' };

export interface Trial {
  readonly bytes: Uint8Array;
  /** What went wrong; undefined when all is well. */
  readonly failure?: string;
  readonly milliseconds: number;
  /** The input was read as a table. */
  readonly read: boolean;
}

/** Input number `run` of a seed: the same on every machine. */
export function inputOf(seed: number, run: number, recordings: readonly Uint8Array[]): Uint8Array {
  const random = new Random(seed, run);
  const kind = random.next();
  if (kind < 0.1) return anyBytes(random);
  return kind < 0.4 && recordings.length > 0 ? mutated(random, recordings) : dirtyTable(random);
}

/**
 * Reads the input whole, in pieces of any size (half of them with a second thread, half of them in place), and the tolerant
 * way, now and then with columns passed over: all three have to end, without an exception, in the same table or the same fault;
 * and what was read has to become a recording or a fault.
 */
export async function trial(seed: number, run: number, recordings: readonly Uint8Array[]): Promise<Trial> {
  const bytes = inputOf(seed, run, recordings);
  const random = new Random(seed, run + 0x40000000);
  // Millions of pieces would measure the pieces.
  const least = Math.ceil(bytes.length / 4000);
  const size = least + (random.chance(0.5) ? random.int(0, 15) : random.int(15, 1000));
  const rate = random.chance(0.1) ? { rate: 20 } : {};
  const began = process.cpuUsage();
  let failure: string | undefined;
  let read = false;
  try {
    // Some columns passed over, the same ones in all readings.
    const passed = random.chance(0.2) ? random.int(1, 5) : 0;
    const needed = (columns: readonly HeadColumn[]) =>
      Uint8Array.from(columns, ({ index }) => Number(((index + 1) * 7 * passed) % 5 < 3));
    const options = { name: 'fuzz', ...rate, ...(passed === 0 ? {} : { needed }) };
    const whole = await readTable(bytes, { ...options, hasher: NO_HASH });
    const tolerant = await readTable(bytes, { ...options, hasher: NO_HASH, tolerant: true });
    const second = random.chance(0.5) ? { helper: helperOf(bytes, random), size: bytes.length } : {};
    const chunkBytes = Math.max(least, random.int(20, 2000));
    const placed = random.chance(0.6) ? { limits: { inPlaceBytes: 0, chunkBytes }, size: bytes.length } : {};
    const pieces = await readTable(cut(bytes, size), { ...options, ...second, ...placed, hasher: NO_HASH });
    read = whole.ok;
    if (!isDeepStrictEqual(whole, tolerant)) failure = 'the fast and the tolerant path give different tables';
    else if (!isDeepStrictEqual(whole, pieces)) failure = `pieces of ${size} bytes give a different table`;
    else if (whole.ok && passed === 0) buildRecording(whole.table);
  } catch (error) {
    failure = `it throws: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`;
  }
  const { user, system } = process.cpuUsage(began);
  const milliseconds = (user + system) / 1000;
  if (failure === undefined && milliseconds > SLOW)
    failure = `${bytes.length} bytes take ${Math.round(milliseconds)} ms`;
  return { bytes, read, milliseconds, ...(failure === undefined ? {} : { failure }) };
}

function helperOf(bytes: Uint8Array, random: Random): ReadingHelper {
  const dies = random.chance(0.1) ? { dies: random.int(0, 40) } : {};
  return secondThread(bytes, { chance: () => random.next(), late: random.chance(0.2), ...dies }).helper;
}

/** One buffer for all pieces, as sources may do. */
async function* cut(bytes: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  const buffer = new Uint8Array(size);
  for (let at = 0; at < bytes.length; at += size) {
    const piece = bytes.subarray(at, at + size);
    buffer.set(piece);
    yield buffer.subarray(0, piece.length);
    buffer.fill(0x39);
  }
}
