import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** g of oxygen; a fuel cut finds about half of it empty, and a gram of oxygen is 4.3 g of air. */
const STORE = { under: [2.9, 3.6], watch: [0.88, 1], repair: [0.02, 0.35] } as const;

/** exhaust.catalyst: the store is lost by age, or the catalyst is emptied. */
export const catalyst: FaultFamily = {
  rule: 'exhaust.catalyst',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const grade = level === 'stop' ? 'repair' : level;
    const [low, high] = STORE[grade];
    const narrow = random.chance(0.4);
    prepare(draft, narrow);
    const storage = low + (high - low) * (grade === 'repair' ? 1 - dial : dial);
    const emptied = grade === 'repair' && random.chance(0.6);
    draft.disturb.push((plant) => {
      plant.oxygenStorage = storage;
      if (emptied) plant.catalystBypass = 0.95;
    });
    return {
      rule: this.rule,
      level,
      note: `${storage.toFixed(2)} g of oxygen a bank${emptied ? ', emptied' : ''}`,
      dialled: { storage },
    };
  },
  truth,
  decoys: {
    soundSwitching: (draft) => prepare(draft, true),
    soundWide: (draft) => prepare(draft, false),
    simulatedRear(draft) {
      prepare(draft, false);
      draft.disturb.push((plant) => {
        plant.rearSimulated = true;
        plant.oxygenStorage = 0.05;
      });
    },
    spacer(draft, random) {
      prepare(draft, false);
      const spacer = random.range(2, 4);
      draft.disturb.push((plant) => {
        plant.rearSpacer = spacer;
      });
    },
    slowLog(draft) {
      prepare(draft, true);
      for (const id of ['oxygenSensorVoltage', 'lambda']) draft.tuned.set(id, { refresh: 1 });
    },
    coldStart(draft) {
      prepare(draft, false);
      draft.script.unshift({ kind: 'coldStart', keyOn: 2, duration: 15 });
    },
  },
};

function prepare(draft: DriveDraft, narrow: boolean): void {
  const cuts: Phase[] = [];
  for (let i = 0; i < 8; i++)
    cuts.push(
      { kind: 'cruise', speed: 95, duration: 14 },
      { kind: 'coast', to: 58 },
      { kind: 'cruise', speed: 60, duration: 6 },
    );
  insertWarm(draft.script, [...cuts, { kind: 'cruise', speed: 85, duration: 130 }]);
  for (let k = 1; k <= draft.car.engine.banks; k++) {
    draft.added.add(`oxygenSensorVoltage.bank${k}Sensor2`);
    if (narrow) draft.added.add(`oxygenSensorVoltage.bank${k}Sensor1`);
  }
  draft.added.add('catalystTemperature.bank1Sensor1');
  draft.kept.add('airMassFlow');
  draft.disturb.push((plant) => {
    plant.narrowBand = narrow;
  });
  atLeast(draft, 10);
}

function median(list: readonly number[]): number {
  const sorted = [...list].sort((a, b) => a - b);
  return sorted.length === 0 ? Number.NaN : sorted[sorted.length >> 1]!;
}

/** A true store or a true ratio beyond the limits of the rule catalogue; what is made up behind the catalyst shows nothing. */
function truth(sim: Simulation): TrueFinding {
  const { stored, switches } = sim.aftertreatment;
  const { plant } = sim;
  if (plant.rearSimulated || plant.rearSpacer > 0) return { level: 'none', measures: {}, margin: 9 };
  const storage = stored.length >= 5 ? median(stored) : Number.NaN;
  const ratio = plant.narrowBand && switches.seconds >= 60 ? switches.rear / Math.max(1, switches.front) : Number.NaN;
  const level = storage < 2 || ratio > 0.7 ? 'repair' : storage < 4 || ratio > 0.5 ? 'watch' : 'none';
  const shares = [
    Math.min(Math.abs(storage / 4 - 1), Math.abs(storage / 2 - 1)),
    Math.min(Math.abs(ratio / 0.5 - 1), Math.abs(ratio / 0.7 - 1)),
  ].filter((each) => !Number.isNaN(each));
  // With both signs the storage leads where it is beyond its limit.
  const margin = shares.length === 0 ? 9 : storage < 4 ? shares[0]! : Math.min(...shares);
  return {
    level,
    measures: {
      ...(Number.isNaN(storage) ? {} : { 'storage.bank1': storage }),
      ...(Number.isNaN(ratio) ? {} : { 'ratio.bank1': ratio }),
    },
    margin,
  };
}
