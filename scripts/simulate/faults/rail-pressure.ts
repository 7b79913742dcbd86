import { injectionOf } from '../fuel-system.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { heldMaximum, signalOf } from './settled.js';

/** Share of the pressure that is missing at rated flow; and too much of it. */
const MISSING = { under: [0.01, 0.06], watch: [0.115, 0.135], repair: [0.21, 0.32], stop: [0.22, 0.32] } as const;
const TOO_MUCH = [0.125, 0.25] as const;

/** fuel.rail-pressure: tank pump or high-pressure pump at its end, or a regulator that sticks. */
export const railPressure: FaultFamily = {
  rule: 'fuel.rail-pressure',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const [from, to] = MISSING[level];
    const missing = from + (to - from) * dial;
    prepare(draft);
    const kind = level === 'watch' && random.chance(0.3) ? 'high' : random.chance(0.5) ? 'rail' : 'feed';
    const direct = injectionOf(draft.car).kind === 'direct';
    draft.disturb.push((plant) => {
      if (kind === 'high' && direct) plant.railHigh = TOO_MUCH[0] + (TOO_MUCH[1] - TOO_MUCH[0]) * dial;
      else if (kind === 'rail' && direct) plant.railFade = missing;
      else plant.feedFade = missing;
      if (level === 'stop') {
        plant.fullLoadLean = 1.13;
        plant.sensorDelay = 0;
      }
    });
    return { rule: this.rule, level, note: `${kind} ${(100 * missing).toFixed(0)} %`, dialled: { missing } };
  },
  truth,
  decoys: {
    steps(draft) {
      prepare(draft);
      insertWarm(draft.script, [{ kind: 'tipIn', times: 6 }]);
    },
    cuts(draft) {
      prepare(draft);
      insertWarm(draft.script, [
        { kind: 'coast', to: 50 },
        { kind: 'cruise', speed: 90, duration: 8 },
        { kind: 'coast', to: 50 },
      ]);
    },
    manifoldReferenced(draft) {
      prepare(draft);
      draft.disturb.push((plant) => {
        plant.feedReferenced = true;
      });
    },
    /** Targets as absolute pressures, readings as gauge. */
    absoluteTarget(draft) {
      prepare(draft);
      for (const id of ['fuelRailPressureTarget', 'fuelFeedPressureTarget']) draft.tuned.set(id, { offset: 101.3 });
    },
  },
};

function prepare(draft: DriveDraft): void {
  // Half a second of pressure shows in three values.
  atLeast(draft, 10);
  for (const id of ['fuelRailPressure', 'pedalPosition', 'manifoldPressure', 'lambda']) draft.kept.add(id);
  for (const id of ['fuelRailPressureTarget', 'fuelFeedPressure', 'fuelFeedPressureTarget']) draft.added.add(id);
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm: 2300, toRpm: draft.car.engine.revLimit - 350 } as const;
  insertWarm(draft.script, [pull, { kind: 'cruise', speed: 80, duration: 15 }, pull]);
}

function truth(sim: Simulation): TrueFinding {
  const rpm = signalOf(sim, 'engineSpeed');
  const cut = signalOf(sim, 'fuelCut');
  const worst = { below: 0, above: 0 };
  const sides = ['fuelFeedPressure', ...(injectionOf(sim.car).kind === 'direct' ? ['fuelRailPressure'] : [])];
  const measures: Record<string, number> = {};
  const back = Math.round(0.35 * sim.rate);
  for (const id of sides) {
    const actual = signalOf(sim, id);
    const target = signalOf(sim, `${id}Target`);
    const manifold = signalOf(sim, 'manifoldPressure');
    const barometer = signalOf(sim, 'barometricPressure');
    const referenced = sim.plant.feedReferenced;
    let since = 0;
    const error = new Float32Array(sim.samples).fill(Number.NaN);
    for (let i = back; i < sim.samples; i++) {
      since = rpm[i]! < 600 || cut[i]! > 0.5 ? 0 : since + 1 / sim.rate;
      if (since < 3 || Math.abs(target[i]! - target[i - back]!) > 0.025 * target[i]!) continue;
      const seen = actual[i]! - (referenced ? manifold[i]! - barometer[i]! : 0);
      error[i] = (seen - target[i]!) / target[i]!;
    }
    const below = Math.max(
      0,
      heldMaximum(sim, (i) => -error[i]!, 0.5),
    );
    const above = Math.max(
      0,
      heldMaximum(sim, (i) => error[i]!, 0.5),
    );
    measures[id === 'fuelFeedPressure' ? 'feed.below' : 'rail.below'] = 100 * below;
    worst.below = Math.max(worst.below, 100 * below);
    worst.above = Math.max(worst.above, 100 * above);
  }
  const lean = sim.truth.lean.repair >= 0.5;
  const level = worst.below > 15 ? (lean ? 'stop' : 'repair') : worst.below > 8 || worst.above > 10 ? 'watch' : 'none';
  return { level, measures, margin: Math.min(nearest(worst.below, [8, 15]), nearest(worst.above, [10])) };
}
