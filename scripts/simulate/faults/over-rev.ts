import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';
import { onlyStored, storePeak, withStored } from './stored-peaks.js';

/** % over the rev limit that a wrong gear is dialled to; up to 5 of it are lost until the clutch has closed. */
const OVER = { under: [-3, 2.5], repair: [7.2, 9.4], stop: [15.5, 22] } as const;

/** Gear that reaches the limit at about 110 to 150 km/h. */
function gearOf(draft: DriveDraft): number {
  return draft.car.transmission.gears.length > 6 ? 3 : 2;
}

/** Relative pedal 0..1. */
function pedalOf(sim: Simulation): (i: number) => number {
  const raw = signalOf(sim, 'pedalPosition');
  const { pedalRest, pedalFull } = sim.car.sensors;
  return (i) => (raw[i]! - pedalRest) / (pedalFull - pedalRest);
}

/** % over the limit held for 0.2 s: with the foot off for 0.3 s on the move, and otherwise; NaN where never. */
function heldOver(sim: Simulation): { readonly wheels: number; readonly pedal: number } {
  const speed = signalOf(sim, 'engineSpeed');
  const road = signalOf(sim, 'vehicleSpeed');
  const pedal = pedalOf(sim);
  const width = Math.round(0.2 * sim.rate);
  const best = { wheels: Number.NaN, pedal: Number.NaN };
  let released = 0;
  let run = 0;
  let was: 'wheels' | 'pedal' | undefined;
  let before = 0; // rpm that the pedal brought it to in this stay over the limit
  for (let i = 0; i < sim.samples; i++) {
    released = pedal(i) <= 0.05 ? released + 1 / sim.rate : 0;
    const kind = released < 0.3 ? 'pedal' : road[i]! >= 10 ? 'wheels' : undefined;
    run = kind !== undefined && kind === was ? run + 1 : 1;
    was = kind;
    if (speed[i]! <= sim.car.engine.revLimit) before = 0;
    else if (kind === 'pedal') before = Math.max(before, speed[i]!);
    if (kind === undefined || run < width) continue;
    // The car in gear lets an engine down slowly: what the pedal brought up is not the wheels' doing.
    if (kind === 'wheels' && speed[i]! <= before) continue;
    let low = Number.POSITIVE_INFINITY;
    for (let k = i - width + 1; k <= i; k++) low = Math.min(low, speed[k]!);
    const over = 100 * (low / sim.car.engine.revLimit - 1);
    if (!(over <= best[kind])) best[kind] = over;
  }
  return best;
}

/** usage.over-rev: a gear too low at speed, or a limiter that was moved up. */
export const overRev: FaultFamily = {
  rule: 'usage.over-rev',
  levels: ['watch', 'repair', 'stop'],
  // Behind a converter the wheels push through oil: how far depends on the lock-up, not on the dial.
  suits: (car) => car.transmission.kind !== 'converter',
  apply(draft, level, dial, random) {
    const stored = onlyStored('usage.over-rev', level, dial);
    if (stored !== undefined)
      return { rule: this.rule, level, note: storePeak(draft, 'usage.over-rev', stored, dial), dialled: {} };
    atLeast(draft, 10);
    if (level === 'watch') {
      const over = 5.5 + 4.5 * dial;
      draft.disturb.push((plant) => {
        plant.limiterLate = (over / 100) * draft.car.engine.revLimit;
      });
      insertWarm(draft.script, [{ kind: 'limiter', gear: gearOf(draft), duration: random.range(1.5, 4) }]);
      return { rule: this.rule, level, note: `limiter ${over.toFixed(1)} % late`, dialled: { over } };
    }
    const [low, high] = OVER[level];
    const over = low + (high - low) * dial;
    insertWarm(draft.script, [
      { kind: 'wrongGear', gear: gearOf(draft), over },
      { kind: 'cruise', speed: 80, duration: 15 },
    ]);
    return { rule: this.rule, level, note: `${over.toFixed(1)} % over by the wheels`, dialled: { over } };
  },
  truth: (sim) => withStored('usage.over-rev', seenIn(sim), sim),
  decoys: {
    limiterContact(draft, random) {
      const over = random.range(0, 0.025);
      draft.disturb.push((plant) => {
        plant.limiterLate = over * draft.car.engine.revLimit;
      });
      for (let i = 0; i < 2; i++)
        insertWarm(draft.script, [{ kind: 'limiter', gear: gearOf(draft), duration: random.range(0.5, 3) }]);
    },
    spikes(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['engineSpeed'],
        from: 0,
        to: 1e9,
        value: random.range(8500, 11500),
        share: 0.002,
      });
    },
    revAtStandstill(draft, random) {
      insertWarm(draft.script, [
        { kind: 'stop', stand: 2 },
        { kind: 'revInNeutral', rpm: draft.car.engine.revLimit - random.range(50, 250), times: 3 },
        { kind: 'town', duration: 20 },
      ]);
    },
    shiftBlip(draft, random) {
      for (let i = 0; i < 2; i++)
        insertWarm(draft.script, [
          { kind: 'wrongGear', gear: gearOf(draft), over: -random.range(2, 6) },
          { kind: 'cruise', speed: 80, duration: 10 },
        ]);
    },
  },
};

/** What the drive itself holds. */
function seenIn(sim: Simulation): TrueFinding {
  const { wheels, pedal } = heldOver(sim);
  const level = wheels > 10 ? 'stop' : wheels > 3 || pedal > 10 ? 'repair' : pedal > 4 ? 'watch' : 'none';
  return {
    level,
    measures: { ...(wheels > 0 ? { mechanicalOver: wheels } : {}), pedalOver: pedal },
    margin: Math.min(nearest(wheels, [3, 10]), level === 'none' || level === 'watch' ? nearest(pedal, [4, 10]) : 99),
  };
}
