import { injectionOf } from '../fuel-system.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { heldMaximum, signalOf } from './settled.js';

/** Size of the injectors over those that suit: 70 % or 150 degrees at rated power with those. */
const SCALE = {
  port: { under: [1.1, 0.95], watch: [0.79, 0.76], repair: [0.7, 0.62] },
  direct: { under: [1.1, 0.9], watch: [0.7, 0.66], repair: [0.585, 0.5] },
} as const;

/** fuel.injector-duty: injectors at their end. */
export const injectorDuty: FaultFamily = {
  rule: 'fuel.injector-duty',
  levels: ['watch', 'repair'],
  apply(draft, level, dial) {
    const { kind } = injectionOf(draft.car);
    const [from, to] = SCALE[kind][level === 'stop' ? 'repair' : level];
    const scale = from + (to - from) * dial;
    prepare(draft, scale);
    return { rule: this.rule, level, note: `${kind}, ${(100 * scale).toFixed(0)} % of their size`, dialled: { scale } };
  },
  truth,
  decoys: {
    healthy: (draft) => prepare(draft, 1),
    /** Long openings at low speed are no duty. */
    lugging(draft) {
      prepare(draft, 1);
      insertWarm(draft.script, [{ kind: 'lug', gear: 5, fromRpm: 1100, toRpm: 1800 }]);
    },
    secondSet(draft, random) {
      prepare(draft, 1);
      const share = random.range(0.2, 0.5);
      draft.disturb.push((plant) => {
        plant.secondSet = share;
      });
    },
    microseconds(draft) {
      prepare(draft, 1);
      draft.units.set('injectionTime', 'us');
    },
  },
};

function prepare(draft: DriveDraft, scale: number): void {
  for (const id of ['fuelRailPressure', 'pedalPosition']) draft.kept.add(id);
  draft.added.add('injectionTime');
  draft.disturb.push((plant) => {
    plant.injectorScale *= scale;
  });
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm: 2400, toRpm: draft.car.engine.revLimit - 350 } as const;
  insertWarm(draft.script, [pull, { kind: 'cruise', speed: 80, duration: 15 }, pull]);
}

function truth(sim: Simulation): TrueFinding {
  const { kind } = injectionOf(sim.car);
  const time = signalOf(sim, 'injectionTime');
  const rpm = signalOf(sim, 'engineSpeed');
  const per = kind === 'port' ? 1 / 1200 : 0.006;
  const held = heldMaximum(sim, (i) => (rpm[i]! >= 1000 ? time[i]! * rpm[i]! * per : 0), 0.35);
  const [watch, repair] = kind === 'port' ? [85, 95] : [200, 240];
  return {
    level: held > repair! ? 'repair' : held > watch! ? 'watch' : 'none',
    measures: kind === 'port' ? { duty: held } : { angle: held },
    margin: nearest(held / watch!, [1, repair! / watch!]),
  };
}
