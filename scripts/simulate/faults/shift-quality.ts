import type { Simulation } from '../simulate.js';
import type { ShiftRecord } from '../transmission-records.js';
import { type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** transmission.shift-quality: a clutch that takes over late (the engine runs over) or slowly (the shift drags). */
export const shiftQuality: FaultFamily = {
  rule: 'transmission.shift-quality',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    draft.rate = random.pick([20, 25]);
    const gears = new Set([random.pick([2, 3])]);
    const drag = level === 'watch' && random.chance(0.4);
    const rpm = level === 'under' ? 30 + 60 * dial : level === 'watch' ? 200 + 120 * dial : 520 + 400 * dial;
    const factor = 4 + 4 * dial;
    draft.disturb.push((plant) => {
      if (drag) plant.shiftFactor = { gears, factor };
      else plant.flare = { gears, rpm };
    });
    insertWarm(draft.script, [
      { kind: 'rollingAcceleration', from: 30, to: 110, acceleration: 1.6, repeats: 5 },
      { kind: 'town', duration: 120, limit: 60 },
    ]);
    for (const id of ['wheelSpeed', 'vehicleSpeed']) draft.kept.add(id);
    const dialled: Record<string, number> = drag ? { factor } : { flare: rpm };
    return { rule: 'transmission.shift-quality', level, note: `out of gear ${[...gears].join()}`, dialled };
  },
  truth,
  decoys: {
    /** Foot off and on in the middle of everything. */
    liftOff(draft, random) {
      draft.rate = 20;
      insertWarm(draft.script, [{ kind: 'tipIn', times: random.int(6, 12) }]);
    },
    limiter(draft) {
      draft.rate = 20;
      insertWarm(draft.script, [{ kind: 'circuit', duration: 90, top: 150, corner: 60 }]);
    },
    slowLog(draft, random) {
      draft.rate = random.pick([2, 5]);
    },
    wholeKilometres(draft) {
      draft.rate = 20;
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed', 'wheelSpeed']) draft.dropped.add(id);
      draft.tuned.set('vehicleSpeed', { quantum: 1 });
    },
  },
};

/** Same words as the rule catalogue, on the true state: pairs at steady pedal are not told apart here, hence the border. */
function truth(sim: Simulation): TrueFinding {
  const { kind } = sim.car.transmission;
  const real = sim.truth.shifts.filter(({ t10, t90 }) => t90 > t10);
  const on = real.filter(({ pedal, gearAfter, gearBefore }) => pedal > 0.1 && gearAfter > gearBefore);
  const flare = on.reduce((most, shift) => Math.max(most, shift.flare), 0);
  const slow = kind === 'manual' ? 0 : slowest(on);
  const level = kind === 'manual' ? 'none' : flare > 400 ? 'repair' : flare > 150 || slow > 0 ? 'watch' : 'none';
  const edge = Math.min(Math.abs(flare - 150), Math.abs(flare - 400));
  return { level, measures: { flare }, margin: flare > 150 ? edge : Math.min(edge, slow > 0 ? 500 * slow : edge) };
}

/** Seconds by which the second slowest shift exceeds what is normal for its like; 0 when it does not. */
function slowest(on: readonly ShiftRecord[]): number {
  const bands = [on.filter(({ pedal }) => pedal < 0.3), on.filter(({ pedal }) => pedal >= 0.3 && pedal < 0.7)];
  let most = 0;
  for (const band of bands) {
    if (band.length < 8) continue;
    const sorted = band.map(({ t10, t90 }) => t90 - t10).sort((a, b) => a - b);
    const usual = sorted[sorted.length >> 1]!;
    const away = sorted.map((x) => Math.abs(x - usual)).sort((a, b) => a - b);
    const normal = Math.max(2 * usual, usual + 3 * 1.4826 * away[away.length >> 1]!, usual + 0.15);
    most = Math.max(most, sorted[sorted.length - 2]! - normal);
  }
  return most;
}
