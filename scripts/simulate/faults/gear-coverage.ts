import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** transmission.gear-coverage: a gear, or every second one, or all but one never engage. */
export const gearCoverage: FaultFamily = {
  rule: 'transmission.gear-coverage',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'stop'],
  apply(draft, level, dial, random) {
    const count = draft.car.transmission.gears.length;
    const all = Array.from({ length: count }, (_, k) => k + 1);
    const half = dial < 0.5 ? 0 : 1;
    const one = random.pick([2, 3]);
    const lost =
      level === 'under'
        ? []
        : level === 'watch'
          ? [random.pick([count, count - 1, 3])]
          : dial > 0.7
            ? all.filter((g) => g !== one)
            : all.filter((g) => g % 2 === half);
    draft.disturb.push((plant) => {
      plant.lostGears = new Set(lost);
    });
    insertWarm(draft.script, [
      { kind: 'motorway', speed: 130, duration: 80 },
      { kind: 'stop', stand: 3 },
      // Three chances at least, as the rule wants them before it calls a gear missing.
      ...[1, 2, 3].flatMap((): Phase[] => [
        { kind: 'gentleGears', to: 110 },
        { kind: 'stop', stand: 3 },
      ]),
    ]);
    draft.kept.add('wheelSpeed');
    return {
      rule: 'transmission.gear-coverage',
      level,
      note: `without ${lost.join(', ')}`,
      dialled: { lost: lost.length },
    };
  },
  truth,
  decoys: {
    shortTrip(draft) {
      draft.script.splice(2, draft.script.length - 3);
    },
    townOnly(draft) {
      draft.script.splice(1, draft.script.length - 2, { kind: 'town', duration: 300, limit: 45 });
    },
    noGearColumn(draft) {
      draft.dropped.add('gear');
    },
    skipShifts(draft, random) {
      insertWarm(draft.script, [{ kind: 'circuit', duration: 80, top: random.range(120, 150), corner: 60 }]);
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  const { lostGears } = sim.plant;
  const count = sim.car.transmission.gears.length;
  const gear = signalOf(sim, 'gear');
  const used = new Set<number>();
  for (let i = 0; i < sim.samples; i++) if (gear[i]! >= 1) used.add(gear[i]!);
  const all = Array.from({ length: count }, (_, k) => k + 1);
  const half = [0, 1].some((rest) => all.filter((g) => g % 2 === rest).every((g) => lostGears.has(g)));
  const stuck = lostGears.size > 0 && (half || lostGears.size === count - 1);
  return {
    level: stuck ? 'stop' : lostGears.size > 0 ? 'watch' : 'none',
    measures: { reverse: 0, lost: lostGears.size },
    margin: 1,
  };
}
