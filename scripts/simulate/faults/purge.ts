import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf, stretchesOf } from './settled.js';

/** Share that the canister adds to a cruise at full duty. */
const CANISTER = { under: [0.02, 0.2], watch: [1.15, 1.9] } as const;
/** kPa of tank pressure per kPa of boost. */
const PER_BOOST = [0.02, 0.06] as const;

/** fuel.purge: a canister full of fuel, a line that draws air, or boost that reaches the tank. */
export const purge: FaultFamily = {
  rule: 'fuel.purge',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    prepare(draft);
    if (level === 'repair') {
      const perBoost = PER_BOOST[0] + (PER_BOOST[1] - PER_BOOST[0]) * dial;
      draft.disturb.push((plant) => {
        plant.tankPerBoost = perBoost;
      });
      return { rule: this.rule, level, note: `${perBoost.toFixed(3)} kPa per kPa`, dialled: { perBoost } };
    }
    const [from, to] = CANISTER[level === 'under' ? 'under' : 'watch'];
    const share = (from + (to - from) * dial) * (random.chance(0.7) ? 1 : -0.75);
    draft.disturb.push((plant) => {
      plant.canister = share;
    });
    return { rule: this.rule, level, note: `canister ${share.toFixed(2)}`, dialled: { share } };
  },
  truth,
  decoys: {
    justRefuelled(draft, random) {
      prepare(draft);
      const share = random.range(0.1, 0.25);
      draft.disturb.push((plant) => {
        plant.canister = share;
      });
    },
    warmTank(draft, random) {
      prepare(draft);
      const base = random.range(0.5, 1.5);
      draft.disturb.push((plant) => {
        plant.tankBase = base;
      });
    },
    healthy: (draft) => prepare(draft),
  },
};

function prepare(draft: DriveDraft): void {
  for (const id of ['purgeDuty', 'fuelTankPressure']) draft.added.add(id);
  for (const id of ['manifoldPressure', 'fuelTrimShort', 'fuelTrimLong']) draft.kept.add(id);
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm: 2300, toRpm: draft.car.engine.revLimit - 600 } as const;
  insertWarm(draft.script, [pull, { kind: 'cruise', speed: 60, duration: 260 }, pull, pull]);
}

function truth(sim: Simulation): TrueFinding {
  const duty = signalOf(sim, 'purgeDuty');
  const status = signalOf(sim, 'fuelSystemStatus');
  const vapour = signalOf(sim, 'purgeVapour');
  const pressure = signalOf(sim, 'fuelTankPressure');
  const manifold = signalOf(sim, 'manifoldPressure');
  const barometer = signalOf(sim, 'barometricPressure');
  const open = stretchesOf(sim, (i) => duty[i]! > 15 && status[i] === 2, 9);
  const effects = open
    .map(({ start }) => {
      const later = start + 6 * sim.rate;
      return 100 * (1 / (1 + vapour[later]!) - 1 / (1 + vapour[start]!));
    })
    .sort((a, b) => a - b);
  const effect = effects.length === 0 ? 0 : effects[effects.length >> 1]!;
  const rises = stretchesOf(sim, (i) => manifold[i]! - barometer[i]! > 20, 2)
    .map(({ start, end }) => pressure[end]! - pressure[start]!)
    .sort((a, b) => a - b);
  const rise = rises.length < 3 ? 0 : rises[rises.length >> 1]!;
  const level = rise > 0.5 ? 'repair' : Math.abs(effect) > 15 ? 'watch' : 'none';
  return {
    level,
    measures: { effect, tankRise: rise },
    margin: Math.min(nearest(Math.abs(effect), [15]) / 4, nearest(rise, [0.5]) / 0.3),
  };
}
