import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { widened } from '../../derived/intervals.js';
import {
  type CatalystSensors,
  OXYGEN_STORAGE,
  type OxygenStorage,
  type StorageEvent,
} from '../../derived/oxygen-storage.js';
import { type Drive, isRefusal, type Refusal } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { linearRegression } from '../../math/linear-regression.js';
import { quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** Slowest sensors whose switches can be counted, Hz: front sensors switch at 0.5 to 2 Hz. Common practice, no source. */
export const SWITCH_HZ = 4;
/** V that a switch passes, up and down: hysteresis about the 0.45 V of stoichiometry. Common practice, no source. */
const UP = 0.55;
const DOWN = 0.35;
/** Purge duty (%) from which vapour disturbs the mixture. Common practice, no source. */
const PURGE = 5;
/** rpm at which switches are counted: idle switches too slowly. */
const STEADY = 1100;
/** A rear sensor that moves by less than this (V) in a whole drive is dead, not calm. Common practice, no source. */
const DEAD = 0.02;
/** g of air in one cut that no catalyst of a car can store (several times a new one). Common practice, no source. */
const IMPOSSIBLE = 60;
/** s that a rear sensor may lag whatever the flow; more is a spacer or a tired sensor. Common practice, no source. */
const SLUGGISH = 1.2;
const ONE_SIDED = 1.645;

export interface Activity {
  readonly front: number;
  readonly rear: number;
  readonly seconds: number;
}

export interface BankReading {
  readonly bank: number;
  readonly narrow: boolean;
  readonly channels: readonly Channel[];
  /** Switches of a narrow-band front sensor and of the rear one; absent where they cannot be counted. */
  readonly activity?: Activity;
  readonly slow: readonly string[];
  readonly events: readonly StorageEvent[];
  /** Why the rear signal is not that of a sensor behind a catalyst. */
  readonly disbelief?: string;
}

export interface CatalystReading {
  readonly banks: readonly BankReading[];
  readonly storage: OxygenStorage;
}

type Reads = Pick<Drive, 'time' | 'derive'>;

export function readCatalyst(view: Reads): CatalystReading | Refusal {
  const storage = view.derive(OXYGEN_STORAGE);
  if (isRefusal(storage)) return storage;
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const counted = countable(view, storage);
  return {
    storage,
    banks: storage.sensors.map((pair): BankReading => {
      const slow = [pair.front, pair.rear].filter((each) => freshRate(each).hz < 0.95 * SWITCH_HZ).map(({ id }) => id);
      const events = storage.events.filter(({ bank }) => bank === pair.bank);
      const disbelief = disbeliefOf(pair, events);
      return {
        bank: pair.bank,
        narrow: pair.narrow,
        channels: [pair.front, pair.rear],
        ...(pair.narrow && slow.length === 0 && counted !== undefined
          ? {
              activity: {
                front: switches(samples.held(pair.front.id)!, counted.mask),
                rear: switches(samples.held(pair.rear.id)!, counted.mask),
                seconds: counted.seconds,
              },
            }
          : {}),
        slow,
        events,
        ...(disbelief === undefined ? {} : { disbelief }),
      };
    }),
  };
}

/** Warm closed loop above idle, three seconds clear of fuel cuts, no purge. */
function countable(view: Reads, storage: OxygenStorage): { mask: Uint8Array; seconds: number } | undefined {
  const samples = view.derive(SAMPLES);
  const loop = view.derive(CLOSED_LOOP);
  const seconds = view.derive(ROW_SECONDS);
  if (isRefusal(samples) || isRefusal(loop) || isRefusal(seconds)) return undefined;
  const engine = samples.held('engineSpeed');
  const purge = samples.held('purgeDuty');
  const cut = view.derive(FUEL_CUT);
  const mask = new Uint8Array(loop.mask);
  if (!isRefusal(cut))
    for (const { start, end } of widened(cut.segments, view.time, 0, 3)) mask.fill(0, start, end + 1);
  let total = 0;
  for (let i = 0; i < mask.length; i++) {
    if (
      storage.hot[i] === 0 ||
      (engine !== undefined && !(engine[i]! >= STEADY)) ||
      (purge !== undefined && purge[i]! > PURGE)
    )
      mask[i] = 0;
    if (mask[i] === 1) total += seconds[i]!;
  }
  return { mask, seconds: total };
}

/** NaN and rows that do not count keep the side. Passages from one side of stoichiometry to the other. */
function switches(volts: Float64Array, mask: Uint8Array): number {
  let side = 0;
  let count = 0;
  for (let i = 0; i < volts.length; i++) {
    if (mask[i] === 0) {
      side = 0;
      continue;
    }
    const now = volts[i]! > UP ? 1 : volts[i]! < DOWN ? -1 : side;
    if (side !== 0 && now !== side) count++;
    side = now;
  }
  return count;
}

function disbeliefOf({ rear }: CatalystSensors, events: readonly StorageEvent[]): string | undefined {
  if (rear.quality.constant) return 'reads the same all the time: frozen, simulated or unplugged';
  if (quantile(rear.values, 0.99) - quantile(rear.values, 0.01) < DEAD)
    return 'hardly moves in the whole drive: frozen, simulated or unplugged';
  if (events.some(({ reached, air }) => !reached && air > IMPOSSIBLE))
    return 'stays rich in fuel cuts that no catalyst can bridge: simulated, unplugged or behind a spacer';
  const seen = events.filter(({ reached }) => reached);
  const flows = seen.map(({ flow }) => flow);
  if (seen.length >= 5 && Math.max(...flows) > 1.5 * Math.min(...flows)) {
    // Filling a store takes time by the flow (m / flow); a spacer or a tired sensor adds time of its own.
    const line = linearRegression(
      seen.map(({ flow }) => 1 / flow),
      seen.map(({ from, to }) => to - from),
    );
    if (line.intercept - ONE_SIDED * line.interceptError > SLUGGISH)
      return 'answers fuel cuts late whatever the air flow: a spacer, or a tired sensor';
  }
  return undefined;
}
