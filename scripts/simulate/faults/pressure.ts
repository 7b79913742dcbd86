import type { Simulation } from '../simulate.js';
import { type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { heldMaximum, signalOf } from './settled.js';

/** transmission.pressure: a worn pump or valve that delivers a share of what is commanded. */
export const pressure: FaultFamily = {
  rule: 'transmission.pressure',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = level === 'under' ? [0, 5] : level === 'watch' ? [13.5, 17] : [25, 45];
    const percent = low + (high - low) * dial;
    const sign = level === 'watch' && random.chance(0.25) ? -1 : 1;
    draft.disturb.push((plant) => {
      plant.pressureFactor = 1 - (sign * percent) / 100;
    });
    draft.kept.add('transmissionOilPressure');
    return { rule: this.rule, level, note: `${(-sign * percent).toFixed(0)} % off`, dialled: { percent } };
  },
  truth,
  decoys: {
    coldFluid(draft) {
      draft.ambient = { ...draft.ambient, temperature: -12 };
    },
    sensorOff(draft, random) {
      draft.tuned.set('transmissionOilPressure', { scale: 1 + random.range(-0.025, 0.025) });
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  if (sim.car.transmission.kind === 'manual') return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
  const actual = signalOf(sim, 'transmissionOilPressure');
  const target = signalOf(sim, 'transmissionOilPressureTarget');
  const fluid = signalOf(sim, 'transmissionOilTemperature');
  const back = Math.round(0.2 * sim.rate);
  const usable = new Uint8Array(sim.samples);
  let wait = 0;
  for (let i = back; i < usable.length; i++) {
    if (Math.abs(target[i]! - target[i - back]!) > 1) wait = Math.round(0.3 * sim.rate);
    if (wait-- <= 0 && target[i]! > 0.5 && fluid[i]! >= 40) usable[i] = 1;
  }
  const off = (i: number, share: number, bar: number) =>
    usable[i] === 1 ? Math.abs(actual[i]! - target[i]!) / Math.max(share * target[i]!, bar) : Number.NaN;
  const watch = heldMaximum(sim, (i) => off(i, 0.1, 0.5), 1);
  const repair = heldMaximum(sim, (i) => off(i, 0.2, 1), 1);
  const level = repair > 1 ? 'repair' : watch > 1 ? 'watch' : 'none';
  return {
    level,
    measures: Number.isNaN(watch) ? {} : { overLimit: watch },
    margin: Number.isNaN(watch) ? 0 : nearest(watch, [1, 2]),
  };
}
