import type { CarSpec } from '../car.js';
import { carById } from '../cars.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';

/** Torque of the map over the rating of the profile, per level; a reading carries about 6 % of doubt. */
const SHARE = { under: [0.95, 1.02], watch: [1.25, 1.27], repair: [1.5, 1.9] } as const;

/** engine.torque-load: a map that makes far more torque low down than the engine is rated for. */
export const torqueLoad: FaultFamily = {
  rule: 'engine.torque-load',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = SHARE[level === 'stop' ? 'repair' : level];
    const share = low + (high - low) * dial;
    tune(draft, share);
    lowPulls(draft, random.range(1500, 1700));
    return { rule: this.rule, level, note: `torque x ${share.toFixed(2)}`, dialled: { overRated: share } };
  },
  truth,
  decoys: {
    /** Works rating, driven hard low down. */
    standardMap(draft, random) {
      lowPulls(draft, random.range(1400, 1700));
    },
    /** The torque channel of an engine whose map was raised by a tenth reads a third too high: air and road disagree. */
    channelTooHigh(draft, random) {
      const scale = random.range(1.3, 1.4);
      for (const id of ['engineTorque', 'engineTorqueTarget']) draft.tuned.set(id, { scale });
      for (const id of ['engineTorque', 'airMassFlow', 'manifoldPressure']) draft.kept.add(id);
      lowPulls(draft, random.range(1500, 1700));
    },
    shifts(draft, random) {
      draft.tuned.set('engineTorque', { quantum: 5 });
      lowPulls(draft, random.range(1500, 1700));
    },
  },
};

/** The engine that drives is stronger low down; the profile keeps the name plate. */
function tune(draft: DriveDraft, share: number): void {
  const listed: CarSpec = draft.listed ?? draft.car;
  const { engine } = draft.car;
  draft.listed = listed;
  draft.car = {
    ...draft.car,
    engine: {
      ...engine,
      ratedTorque: listed.engine.ratedTorque * share,
      torqueFrom: Math.min(engine.torqueFrom, 1900),
      maximumMeter: engine.maximumMeter * Math.max(1, share),
    },
  };
  for (const id of ['engineTorque', 'airMassFlow', 'manifoldPressure']) draft.kept.add(id);
}

function lowPulls(draft: DriveDraft, fromRpm: number): void {
  const gear = draft.car.transmission.gears.length > 6 ? 6 : 5;
  const pull = { kind: 'pull', gear, fromRpm, toRpm: 3600 } as const;
  insertWarm(draft.script, [pull, pull]);
}

/** Highest mean effective pressure over the rating that was held for a second below 3000 rpm, off shifts. */
function truth(sim: Simulation): TrueFinding {
  const rated = carById(sim.car.id).engine.ratedTorque;
  const torque = sim.signals.get('engineTorque')!;
  const rpm = sim.signals.get('engineSpeed')!;
  const shifting = new Uint8Array(sim.samples);
  for (const { from, to } of sim.truth.shifts)
    shifting.fill(1, Math.max(0, Math.floor((from - 0.3) * sim.rate)), Math.ceil((to + 0.3) * sim.rate));
  let run = 0;
  let best = 0;
  for (let i = 0; i < sim.samples; i++) {
    run = rpm[i]! >= 900 && rpm[i]! < 3000 && shifting[i] === 0 ? run + 1 : 0;
    if (run < sim.rate || i % 2 !== 0) continue;
    let least = Number.POSITIVE_INFINITY;
    for (let k = i - sim.rate + 1; k <= i; k++) least = Math.min(least, torque[k]!);
    best = Math.max(best, least / rated);
  }
  return {
    level: best > 1.35 ? 'repair' : best > 1.15 ? 'watch' : 'none',
    measures: { overRated: best },
    margin: nearest(best, [1.15, 1.35]),
  };
}
