import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import type { DriveDraft, FaultFamily } from './fault.js';
import { signalOf } from './settled.js';

/** Makes the drive begin cold, and puts phases after the start and the selector. */
function fromCold(draft: DriveDraft, phases: readonly Phase[]): void {
  const [first] = draft.script;
  if (first?.kind !== 'coldStart') draft.script[0] = { kind: 'coldStart', keyOn: 2, duration: 15 };
  let at = 1;
  while (draft.script[at]?.kind === 'selectorExercise') at++;
  draft.script.splice(at, 0, ...phases);
}

/** Seconds of a running engine with oil below 60 degC at 70 % of the rated torque or 60 % of the rev limit. */
function hardCold(sim: Simulation): number {
  const oil = signalOf(sim, 'engineOilTemperature');
  const torque = signalOf(sim, 'engineTorque');
  const speed = signalOf(sim, 'engineSpeed');
  const { ratedTorque, revLimit } = sim.car.engine;
  let count = 0;
  for (let i = 0; i < sim.samples; i++)
    if (oil[i]! < 60 && speed[i]! >= 300 && (torque[i]! >= 0.7 * ratedTorque || speed[i]! >= 0.6 * revLimit)) count++;
  return count / sim.rate;
}

/** usage.cold-load: a driver who does not wait for the oil. */
export const coldLoad: FaultFamily = {
  rule: 'usage.cold-load',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const { revLimit } = draft.car.engine;
    const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
    // A manual gearbox may also simply be left in a low gear.
    const pull = (): Phase => ({
      kind: 'pull',
      gear,
      fromRpm: random.range(1900, 2500),
      toRpm: revLimit - random.range(400, 900),
    });
    const count = level === 'under' ? 1 : 2 + Math.round(2 * dial);
    const phases =
      level === 'under'
        ? [{ ...pull(), kind: 'pull', toRpm: revLimit * (0.5 + 0.22 * dial) } as Phase]
        : Array.from({ length: count }, pull);
    fromCold(draft, phases);
    return { rule: this.rule, level, note: `${count} pulls with cold oil`, dialled: { pulls: count } };
  },
  truth(sim) {
    const seconds = hardCold(sim);
    return {
      level: seconds > 10 ? 'watch' : 'none',
      measures: { hardCold: seconds },
      margin: Math.abs(seconds - 10),
    };
  },
  decoys: {
    gentleFromCold(draft, random) {
      fromCold(draft, [{ kind: 'cruise', speed: random.range(45, 65), duration: 60 }]);
    },
    calculatedLoad(draft, random) {
      // Full of load by the calculated load at low revs, without torque or air mass recorded.
      for (const id of ['engineTorque', 'airMassFlow']) draft.dropped.add(id);
      fromCold(draft, [{ kind: 'lug', gear: 4, fromRpm: 1100, toRpm: random.range(1500, 1800), pedal: 0.5 }]);
    },
    shortStab(draft, random) {
      fromCold(draft, [
        { kind: 'cruise', speed: 50, duration: 15 },
        { kind: 'pull', gear: 2, fromRpm: 2200, toRpm: random.range(3600, 4600) },
      ]);
    },
    deadOilSensor(draft) {
      // The sensor's lower end, with a warm engine that is then pulled hard.
      draft.disturbances.push({
        kind: 'value',
        channels: ['engineOilTemperature'],
        from: 0,
        to: 1e9,
        value: -40,
      });
    },
    noOilTemperature(draft) {
      draft.dropped.add('engineOilTemperature');
    },
  },
};
