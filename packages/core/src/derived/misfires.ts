import type { Channel } from '../recording/recording.js';
import { FIRINGS, type Firings } from './firings.js';
import { maskOf, segmentsOf, widened } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { freshRate } from './refresh.js';
import { samplesOf } from './samples.js';

export interface MisfireColumn {
  readonly channel: Channel;
  /** Cylinder number; undefined for the whole engine or a bank. */
  readonly cylinder: number | undefined;
  /** Misfires that were new at each row, resets and torn readings left out; 0 where not every cylinder was meant to fire. */
  readonly added: Float64Array;
  /** Sum of `added`. */
  readonly count: number;
}

export interface Misfires {
  readonly columns: readonly MisfireColumn[];
  /** Over the whole engine, row by row. */
  readonly added: Float64Array;
  /** Revolutions since the row before, 0 where not every cylinder was meant to fire. */
  readonly revolutions: Float64Array;
  readonly cylinders: number;
  /** True when the number of cylinders had to be taken from the columns. */
  readonly assumed: boolean;
  readonly basis: 'cylinders' | 'banks' | 'engine';
  /** Seconds between fresh readings of the counters. */
  readonly interval: number;
  /** All counters stand at 0 throughout: no misfire, or nothing served. */
  readonly silent: boolean;
  readonly left: readonly string[];
}

/** Averages over earlier driving cycles (SAE J1979 service 06, misfire data) say nothing about this drive. */
const AVERAGE = /\b(average|avg|mean|ewma|history|previous|stored|last)\b/i;

export const MISFIRES = recipe<Misfires>({
  id: 'misfires',
  about:
    'Misfires new at each row while every cylinder was meant to fire: steps of the counters, made monotonic; resets, torn readings, averages of earlier drives and columns that stand above 0 left out.',
  compute(drive) {
    const firings = drive.derive(FIRINGS);
    if (isRefusal(firings)) return refuse(`no misfires: ${firings.reason}`, firings.missing);
    const family = drive.family('misfireCount').filter((channel) => channel.quality.samples > 1);
    if (family.length === 0)
      return refuse('misfires cannot be counted: no misfire counter is recorded', { channels: ['misfireCount'] });
    const live = family.filter(({ source }) => !AVERAGE.test(source.replaceAll('_', ' ')));
    // A number above 0 that never moves is what earlier drives left.
    const moving = live.filter(({ quality, values }) => !quality.constant || !(firstOf(values) > 0));
    const old = moving.every(({ quality }) => quality.constant) && moving.length < live.length;
    if (moving.length === 0 || old)
      return refuse('no misfires: the counters hold what earlier drives left, and nothing of this one', {
        conditions: ['misfire counters of the present drive, per cylinder'],
      });
    return counted(drive, firings, moving);
  },
});

function counted(drive: Drive, firings: Firings, live: readonly Channel[]): Misfires | ReturnType<typeof refuse> {
  const { basis, channels } = chosen(live, drive.vehicle.engine.cylinders);
  const numbers = channels.map(({ id }) => cylinderOf(id) ?? 0);
  const told = drive.vehicle.engine.cylinders;
  const cylinders = told ?? (basis === 'cylinders' ? evenUp(Math.max(...numbers)) : undefined);
  if (cylinders === undefined)
    return refuse('misfires cannot be set against firings: the number of cylinders is not known', {
      conditions: ['vehicle profile with engine.cylinders'],
    });
  const { time } = drive;
  const interval = Math.max(...channels.map((channel) => 1 / (freshRate(channel).hz || 1 / samplesOf(drive).spacing)));
  // A counter read slowly shows what happened before: what follows a cut is left out for one reading more.
  const unwanted = firings.wanted.map((x) => 1 - x);
  const out = maskOf(widened(segmentsOf(unwanted, time), time, 0, 1.5 * interval), time.length);
  const columns = channels.map((channel): MisfireColumn => {
    const cylinder = cylinderOf(channel.id);
    const share = cylinder === undefined ? cylinders / 2 / (basis === 'banks' ? channels.length : 1) : 0.5;
    const added = stepsOf(samplesOf(drive).held(channel.id)!, firings.revolutions, share);
    let count = 0;
    for (let i = 0; i < added.length; i++) {
      if (out[i] === 1) added[i] = 0;
      count += added[i]!;
    }
    return { channel, cylinder, added, count };
  });
  const added = new Float64Array(time.length);
  for (const column of columns) for (let i = 0; i < added.length; i++) added[i]! += column.added[i]!;
  return {
    columns,
    added,
    revolutions: firings.revolutions.map((x, i) => (out[i] === 1 ? 0 : x)),
    cylinders,
    assumed: told === undefined,
    basis,
    interval,
    silent: live.every(({ quality }) => quality.constant),
    left: firings.left,
  };
}

/** All cylinders when each is there, else the counter of the engine, else banks, else the cylinders that are there. */
function chosen(live: readonly Channel[], told: number | undefined): Pick<Misfires, 'basis'> & { channels: Channel[] } {
  const cylinders = live.filter(({ id }) => cylinderOf(id) !== undefined);
  const engine = live.filter(({ id }) => id === 'misfireCount');
  const banks = live.filter(({ id }) => id.includes('.bank') && cylinderOf(id) === undefined);
  const complete = cylinders.length >= (told ?? 3);
  if (complete || (cylinders.length > 0 && engine.length === 0 && banks.length === 0))
    return { basis: 'cylinders', channels: cylinders };
  return engine.length > 0 ? { basis: 'engine', channels: engine } : { basis: 'banks', channels: banks };
}

/** Cylinder number of a channel id. */
export function cylinderOf(id: string): number | undefined {
  const found = /[.]cylinder(\d+)$/.exec(id);
  return found === null ? undefined : Number(found[1]);
}

function evenUp(n: number): number {
  return n <= 3 ? n : n + (n % 2);
}

function firstOf(values: Float64Array): number {
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}

/**
 * NaN is no sample. Steps up of a counter, row by row. A step down is a reset and counts nothing; a reading that is back
 * at once is torn; a step of more than the firings since the last change cannot be.
 * @param share firings per revolution that the counter watches
 */
function stepsOf(values: Float64Array, revolutions: Float64Array, share: number): Float64Array {
  const added = new Float64Array(values.length);
  let last = Number.NaN;
  let turned = 0;
  for (let i = 0; i < values.length; i++) {
    turned += revolutions[i]!;
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (Number.isNaN(last) || x < last) {
      last = x;
      turned = 0;
      continue;
    }
    if (x === last) continue;
    const next = nextOf(values, i, x);
    if (next < x && next >= last) continue;
    const step = x - last;
    if (step <= 1.1 * turned * share + 2) added[i] = step;
    last = x;
    turned = 0;
  }
  return added;
}

/** The next value that differs; infinite when there is none, or when this one stands for long. */
function nextOf(values: Float64Array, from: number, x: number): number {
  for (let i = from + 1; i < values.length && i <= from + 20; i++)
    if (!Number.isNaN(values[i]!) && values[i] !== x) return values[i]!;
  return Number.POSITIVE_INFINITY;
}
