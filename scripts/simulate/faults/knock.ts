import type { Phase } from '../script.js';
import { type FaultFamily, insertWarm, type Level, nearest } from './fault.js';

/** engine.knock: one or more cylinders knock in a speed cell, in some of the pulls. */
export const knock: FaultFamily = {
  rule: 'engine.knock',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const already = draft.script.filter((p) => p.kind === 'pull').length;
    const pulls = Math.max(3, already);
    const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
    for (let i = already; i < pulls; i++) {
      const pull: Phase = { kind: 'pull', gear, fromRpm: 2200, toRpm: draft.car.engine.revLimit - 700 };
      insertWarm(draft.script, [pull]);
    }
    const all = draft.car.engine.cylinders;
    let retard: number;
    let cylinders: number[];
    if (level === 'under') {
      retard = 1.8 + 1 * dial;
      cylinders = [random.int(1, all)];
    } else if (level === 'watch') {
      retard = 3.3 + 1.3 * dial;
      cylinders = [random.int(1, all)];
    } else if (level === 'repair') {
      retard = 5.3 + 2.3 * dial;
      cylinders = [random.int(1, all)];
    } else {
      retard = 8.3 + 2 * dial;
      cylinders = [random.int(1, all)];
    }
    if (random.chance(0.3)) {
      const second = random.int(1, all);
      if (!cylinders.includes(second)) cylinders = [...cylinders, second].sort((a, b) => a - b);
    }
    const from = random.range(2800, 4300);
    const inPulls = Array.from({ length: pulls }, (_, i) => i + 1);
    draft.disturb.push((plant) =>
      plant.knock.push({ cylinders, retard, from, to: from + cellWidth(dial), pulls: inPulls }),
    );
    return {
      rule: 'engine.knock',
      level,
      note: `cylinders ${cylinders.join(', ')}, ${retard.toFixed(1)} deg from ${from.toFixed(0)} rpm in ${pulls} pulls`,
      dialled: { maxRetard: retard, cylinders: cylinders.length, firstCylinder: cylinders[0]!, from, pulls },
    };
  },
  truth(sim) {
    // Largest retard per pull and cylinder, and per pull and 500 rpm cell.
    const perPull = new Map<number, number>();
    const perCell = new Map<string, Set<number>>();
    const perCylinder = new Float64Array(sim.car.engine.cylinders);
    for (const e of sim.truth.knock) {
      if (e.pull === 0 || e.cause !== 'knock') continue;
      perPull.set(e.pull, Math.max(perPull.get(e.pull) ?? 0, e.peak));
      perCylinder[e.cylinder - 1] = Math.max(perCylinder[e.cylinder - 1]!, e.peak);
      if (e.peak < 3) continue;
      const cell = String(Math.floor(e.rpm / 500));
      const pulls = perCell.get(cell) ?? new Set<number>();
      perCell.set(cell, pulls.add(e.pull));
    }
    const peaks = [...perPull.values()].sort((a, b) => b - a);
    const second = peaks[1] ?? 0;
    const most = peaks[0] ?? 0;
    const pulls = sim.truth.pulls.length;
    let level: Level | 'none' = 'none';
    if (second >= 8 || (second >= 6 && perCylinder.every((p) => p >= 6))) level = 'stop';
    else if (pulls >= 3 && second >= 5) level = 'repair';
    else if ([...perCell.values()].some((p) => p.size >= 2) || most >= 3) level = 'watch';
    return {
      level,
      measures: { maxRetard: most, cylinders: perCylinder.filter((p) => p >= 2).length },
      margin: nearest(most, [3, 5, 8]),
    };
  },
  decoys: {
    tipIn(draft, random) {
      const retard = random.range(2.5, 4.5);
      draft.disturb.push((plant) => {
        plant.tipInRetard = retard;
      });
      insertWarm(draft.script, [{ kind: 'tipIn', times: random.int(2, 5) }]);
    },
    torqueReduction(draft) {
      draft.disturb.push((plant) => {
        plant.retardHoldsInterventions = true;
      });
    },
    traction(draft, random) {
      draft.disturb.push((plant) => {
        plant.retardHoldsInterventions = true;
      });
      insertWarm(draft.script, [{ kind: 'briskPullAway', acceleration: 2.5, to: 50, grip: random.range(0.28, 0.4) }]);
    },
    /** One real event in one pull only; the ramp back down must not count again. */
    decayTail(draft, random) {
      const retard = random.range(2.2, 2.8);
      const cylinder = random.int(1, draft.car.engine.cylinders);
      draft.disturb.push((plant) =>
        plant.knock.push({ cylinders: [cylinder], retard, from: 3000, to: 3100, pulls: [1] }),
      );
    },
    hotCharge(draft, random) {
      const retard = random.range(1.5, 2.6);
      draft.ambient.temperature = random.range(33, 40);
      draft.disturb.push((plant) => {
        plant.hotChargeRetard = retard;
      });
    },
  },
};
/** Width (rpm) of the speed cell in which the cylinder knocks. */
function cellWidth(dial: number): number {
  return 350 + 250 * dial;
}
