import type { Change } from '@telltale/core';
import { changeOf } from '../../packages/core/src/verify/change.js';
import { groupsOf } from '../../packages/core/src/verify/groups.js';
import type { PullTrace } from '../../packages/core/src/verify/pull.js';
import { Random } from '../simulate/random.js';

/** How pulls of one map differ, and how their samples hang together. */
interface Law {
  readonly id: string;
  readonly mean: number;
  /** Standard deviation between pulls, and of the samples within a pull. */
  readonly between: number;
  readonly within: number;
  /** Correlation of neighbouring samples, 20 a second. */
  readonly rho: number;
  /** True differences are drawn up to this many deviations between pulls. */
  readonly reach: number;
  /** Pulls differ as an exponential law (mean `between`), not a normal one: knock is rare and one-sided. */
  readonly skewed?: true;
}

const LAWS: readonly Law[] = [
  { id: 'knock', mean: 0, between: 0.4, within: 0.2, rho: 0.95, reach: 5, skewed: true },
  { id: 'mixtureError', mean: 0.002, between: 0.004, within: 0.006, rho: 0.97, reach: 5 },
  { id: 'boostError', mean: -2, between: 2, within: 3, rho: 0.97, reach: 5 },
  { id: 'power', mean: 290, between: 4, within: 15, rho: 0.98, reach: 5 },
  { id: 'chargeTemperature', mean: 30, between: 1.5, within: 0.8, rho: 0.99, reach: 5 },
];

export interface SetResult {
  readonly change: Change;
  /** True difference of each quantity. */
  readonly truth: ReadonlyMap<string, number>;
}

const ROWS = 100;

/**
 * One simulated set: 5 to 12 pulls a side, the spread after up to twice that before, samples as first-order processes.
 * @param changed false = the same map before and after
 */
function simulatedSet(seed: number, changed: boolean): SetResult {
  const random = new Random(seed, 7);
  const truth = new Map(
    LAWS.map(({ id, between, reach }) => [id, changed ? random.range(-reach, reach) * between : 0]),
  );
  const wider = changed ? random.range(1, 2) : 1;
  const side = (which: 'before' | 'after'): PullTrace[] =>
    Array.from({ length: random.int(5, 12) }, (_, i) =>
      pull(which, i + 1, random, truth, which === 'after' ? wider : 1),
    );
  const [group] = groupsOf([...side('before'), ...side('after')]);
  return { change: changeOf(group!), truth };
}

function pull(
  side: 'before' | 'after',
  number: number,
  random: Random,
  truth: ReadonlyMap<string, number>,
  wider: number,
): PullTrace {
  const time = Float64Array.from({ length: ROWS }, (_, i) => i / 20);
  const speed = time.map((t) => 2400 + 820 * t + 10);
  const signals = LAWS.map((law): [string, PullTrace['signals'] extends ReadonlyMap<string, infer S> ? S : never] => {
    const spread = law.between * wider;
    // Centred, so that the true difference of the means is the drawn one.
    const own = law.skewed ? spread * (-Math.log(1 - random.next()) - 1) : spread * random.normal();
    const level = law.mean + own + (side === 'after' ? truth.get(law.id)! : 0);
    const values = new Float64Array(ROWS);
    let noise = law.within * random.normal();
    for (let i = 0; i < ROWS; i++) {
      noise = law.rho * noise + law.within * Math.sqrt(1 - law.rho ** 2) * random.normal();
      values[i] = level + noise;
    }
    return [law.id, [{ member: '', values, u: 0.01, relative: false, hz: 20, clipped: false }]];
  });
  const nothing = { refused: true as const, reason: 'not recorded', missing: { channels: [], conditions: [] } };
  return {
    side,
    number,
    input: side === 'before' ? 0 : 1,
    from: 0,
    to: time.at(-1)!,
    gear: 3,
    ratio: 45,
    speedFrom: speed[0]!,
    speedTo: speed.at(-1)!,
    conditions: {
      ambientTemperature: 18,
      ambientPressure: 99,
      chargeTemperature: Number.NaN,
      coolantTemperature: 92,
      oilTemperature: 95,
      fluidTemperature: 88,
      ethanol: Number.NaN,
    },
    time,
    speed,
    signals: new Map(signals),
    boost: nothing,
    taken: nothing,
  };
}

/** Endpoints whose true difference is the drawn one; a rise within the pull is none. */
const COVERED: Readonly<Record<string, string>> = {
  'knock.mean': 'knock',
  'mixture.error': 'mixtureError',
  'boost.error': 'boostError',
  'power.mean': 'power',
};

export interface Score {
  readonly sets: number;
  /** By endpoint: sets whose 95 % interval holds the true difference. */
  readonly covered: ReadonlyMap<string, number>;
  /** Of sets with the same map twice: those with any endpoint called changed. */
  readonly falseChanges: number;
  /** Of sets with a change: endpoints beyond the smallest detectable change, and those of them called changed. */
  readonly beyond: number;
  readonly found: number;
}

/** Scores `sets` simulated sets of each kind, from `seed` on. */
export function score(sets: number, seed: number): Score {
  const covered = new Map<string, number>(Object.keys(COVERED).map((id) => [id, 0]));
  let falseChanges = 0;
  let beyond = 0;
  let found = 0;
  for (let k = 0; k < sets; k++) {
    const { change, truth } = simulatedSet(seed + k, true);
    for (const { id, difference, detectable, outcome } of change.endpoints) {
      const quantity = COVERED[id];
      if (quantity === undefined || difference === undefined) continue;
      const real = truth.get(quantity)!;
      if (difference.low <= real && real <= difference.high) covered.set(id, covered.get(id)! + 1);
      if (detectable === undefined || Math.abs(real) < detectable) continue;
      beyond++;
      if (outcome === 'changed') found++;
    }
    const same = simulatedSet(seed + sets + k, false);
    if (same.change.endpoints.some(({ outcome }) => outcome === 'changed')) falseChanges++;
  }
  return { sets, covered, falseChanges, beyond, found };
}
