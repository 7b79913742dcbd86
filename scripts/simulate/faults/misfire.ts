import { cylinderSet } from '../channel-sets.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** % of all firings, from just over each limit on. */
const RATES = { under: [0.1, 0.6], watch: [1.25, 1.5], repair: [2.4, 3], stop: [6.5, 12] } as const;

/** engine.misfire: a coil that gives out, or plugs that are worn on all cylinders. */
export const misfire: FaultFamily = {
  rule: 'engine.misfire',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const [low, high] = RATES[level];
    const rate = low + (high - low) * dial;
    const all = draft.car.engine.cylinders;
    const every = random.chance(0.25);
    const cylinder = random.int(1, all);
    draft.disturb.push((plant) => {
      const cylinders = every ? Array.from({ length: all }, (_v, c) => c + 1) : [cylinder];
      plant.misfires.push({ cylinders, share: (rate / 100) * (all / cylinders.length), when: 'always' });
    });
    counters(draft);
    return {
      rule: this.rule,
      level,
      note: `${rate.toFixed(2)} % on ${every ? 'all cylinders' : `cylinder ${cylinder}`}`,
      dialled: { rate },
    };
  },
  truth,
  decoys: {
    /** Counters that run on in overrun, at the limiter and in shifts. */
    cuts(draft) {
      draft.disturb.push((plant) => {
        plant.countsCuts = true;
      });
      counters(draft);
    },
    reset(draft, random) {
      const every = random.range(30, 90);
      draft.disturb.push((plant) => {
        plant.countsReset = every;
        plant.misfires.push({ cylinders: [2], share: 0.006, when: 'always' });
      });
      counters(draft);
    },
    /** Average over the last ten driving cycles: full of misfires, none of them today's. */
    tenCycleAverage(draft, random) {
      const before = Array.from({ length: draft.car.engine.cylinders }, () => random.int(0, 240));
      draft.disturb.push((plant) => {
        plant.countsBefore = before;
      });
      counters(draft);
    },
    cylinderShutOff(draft) {
      draft.disturb.push((plant) => {
        plant.shutsOff = true;
        plant.countsCuts = true;
      });
      counters(draft);
      draft.added.add('cylinderDeactivation');
    },
    tornReadings(draft, random) {
      counters(draft);
      const cylinder = random.int(1, draft.car.engine.cylinders);
      draft.disturbances.push({
        kind: 'spike',
        channels: [`misfireCount.cylinder${cylinder}`],
        from: 0,
        to: 1e9,
        value: 255,
        share: 0.003,
      });
    },
  },
};

function counters(draft: DriveDraft): void {
  for (const id of cylinderSet(draft.car)) draft.added.add(id);
}

/**
 * By the firings that were meant to be: the rate that two windows of 1000 revolutions, or for the catalyst one, reach.
 * These faults miss at an even rate, of which the worst of many windows of 200 revolutions is a chance.
 */
function truth(sim: Simulation): TrueFinding {
  const missed = signalOf(sim, 'missedFirings');
  const wanted = signalOf(sim, 'wantedFirings');
  const perRevolution = sim.car.engine.cylinders / 2;
  const twice = reached(missed, wanted, 1000 * perRevolution, 2);
  const once = reached(missed, wanted, 1000 * perRevolution, 1);
  const level = once >= 5 ? 'stop' : twice >= 2 ? 'repair' : twice >= 1 ? 'watch' : 'none';
  return {
    level,
    measures: { rate: once },
    margin: Math.min(nearest(twice, [1, 2]), Math.abs(once - 5)),
  };
}

/** Highest rate (%) that so many windows apart from each other reach; found by halving. */
function reached(missed: Float32Array, wanted: Float32Array, firings: number, windows: number): number {
  let low = 0;
  let high = 100;
  while (high - low > 0.005) {
    const rate = (low + high) / 2;
    if (count(missed, wanted, firings, rate) >= windows) low = rate;
    else high = rate;
  }
  return low;
}

function count(missed: Float32Array, wanted: Float32Array, firings: number, rate: number): number {
  let found = 0;
  let start = 0;
  for (let end = 0; end < wanted.length; end++) {
    while (wanted[end]! - wanted[start + 1]! >= firings) start++;
    const whole = wanted[end]! - wanted[start]!;
    if (whole < firings || (100 * (missed[end]! - missed[start]!)) / whole < rate) continue;
    found++;
    start = end;
  }
  return found;
}
