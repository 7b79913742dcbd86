import { injectionOf } from '../fuel-system.js';
import type { Simulation } from '../simulate.js';
import type { DriveDraft, FaultFamily, TrueFinding } from './fault.js';

/** Claimed over fitted, minus 1: the interval of the rule is at least 12 % wide. */
const OFF = { under: [0, 0.05], watch: [0.34, 0.8] } as const;
/** kg/L */
const DENSITY = 0.75;

/** fuel.injector-size: other injectors than the seller names. */
export const injectorSize: FaultFamily = {
  rule: 'fuel.injector-size',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const [low, high] = OFF[level === 'under' ? 'under' : 'watch'];
    const off = low + (high - low) * dial;
    const factor = random.chance(0.6) ? 1 + off : 1 / (1 + off);
    prepare(draft, factor, random.range(0.95, 1.3));
    return { rule: this.rule, level, note: `claimed ${(100 * factor).toFixed(0)} % of fitted`, dialled: { factor } };
  },
  truth,
  decoys: {
    /** Rail pressure differs from that of the name. */
    feedReferenced(draft) {
      prepare(draft, 1, 1);
      draft.disturb.push((plant) => {
        plant.feedReferenced = true;
      });
    },
    ethanolCorrected(draft, random) {
      prepare(draft, 1, 1.2);
      const need = 1 + random.range(0, 0.03);
      draft.disturb.push((plant) => {
        plant.fuelNeed = need;
      });
    },
    secondSet(draft, random) {
      const factor = random.range(0.5, 0.7);
      prepare(draft, 1, 1);
      draft.disturb.push((plant) => {
        plant.secondSet = 1 - factor;
      });
    },
    noClaim(draft) {
      prepare(draft, Number.NaN, 1.2);
    },
  },
};

function prepare(draft: DriveDraft, factor: number, scale: number): void {
  const { flow, kind } = injectionOf(draft.car);
  for (const id of ['fuelRailPressure', 'airMassFlow', 'manifoldPressure']) draft.kept.add(id);
  for (const id of ['injectionTime']) draft.added.add(id);
  draft.disturb.push((plant) => {
    plant.injectorScale = scale;
    // Over the injectors of the car as built: another fault of the drive may put in others.
    plant.injectorClaim = factor * scale;
  });
  if (Number.isNaN(factor)) return;
  const named = ((flow * scale * 60) / DENSITY) * factor;
  draft.claims = {
    ...draft.claims,
    injectors: `${named.toFixed(1)} cc/min`,
    injectorPressure: kind === 'port' ? '300 kPa' : '100 bar',
  };
}

function truth(sim: Simulation): TrueFinding {
  const { injectorClaim, injectorScale, secondSet } = sim.plant;
  const off = Number.isNaN(injectorClaim) ? 0 : Math.abs(Math.log(injectorClaim / injectorScale));
  const flow = (injectionOf(sim.car).flow * injectorScale * 60) / DENSITY;
  return {
    level: off > 0.12 && secondSet === 0 ? 'watch' : 'none',
    measures: secondSet === 0 ? { flow } : {},
    margin: Math.abs(off - 0.12),
  };
}
