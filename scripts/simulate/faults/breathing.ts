import type { Simulation } from '../simulate.js';
import { type FaultFamily, nearest, type TrueFinding } from './fault.js';

/** Filling at idle over healthy; a healthy engine idles at about 27 % of the barometric pressure. */
const FILLING = { under: [0.95, 0.6], watch: [0.39, 0.36], repair: [0.285, 0.24] } as const;
/** Crankcase over ambient at full load, kPa. */
const CRANKCASE = { under: [1, 2], watch: [3.1, 4.4], repair: [5.7, 9] } as const;

/** engine.breathing: leaks, tired rings or wrong timing raise the idle pressure; blow-by fills the crankcase. */
export const breathing: FaultFamily = {
  rule: 'engine.breathing',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const grade = level === 'stop' ? 'repair' : level;
    draft.script.push({ kind: 'hotIdle', duration: random.range(45, 60), selector: 'P' });
    for (const id of ['manifoldPressure', 'crankcasePressure', 'barometricPressure']) draft.kept.add(id);
    if (random.chance(0.5)) {
      const [from, to] = CRANKCASE[grade];
      const wanted = from + (to - from) * dial;
      draft.disturb.push((plant) => {
        plant.blowBy = (wanted + 0.8) / 1.45;
      });
      return { rule: this.rule, level, note: `crankcase ${wanted.toFixed(1)} kPa`, dialled: { crankcase: wanted } };
    }
    const [from, to] = FILLING[grade];
    const filling = from + (to - from) * dial;
    draft.disturb.push((plant) => {
      plant.idleFilling = filling;
    });
    return { rule: this.rule, level, note: `idle filling ${filling.toFixed(2)}`, dialled: { filling } };
  },
  truth,
  decoys: {
    valveThrottled(draft) {
      draft.kept.add('manifoldPressure');
      draft.disturb.push((plant) => {
        plant.valveThrottled = true;
      });
    },
    /** High up the same engine idles at a higher share of a lower pressure, still inside. */
    altitude(draft, random) {
      draft.ambient = { ...draft.ambient, altitude: random.range(1500, 2300) };
      for (const id of ['manifoldPressure', 'barometricPressure']) draft.kept.add(id);
    },
    coldIdle(draft, random) {
      draft.ambient.temperature = random.range(-10, 0);
      draft.kept.add('manifoldPressure');
      draft.script.splice(0, draft.script.length, { kind: 'coldStart', keyOn: 3, duration: 150 });
    },
  },
};

/** Median share at settled warm idle up to 900 rpm, and the crankcase held for two seconds, warm. */
function truth(sim: Simulation): TrueFinding {
  const manifold = sim.signals.get('manifoldPressure')!;
  const barometer = sim.signals.get('barometricPressure')!;
  const crankcase = sim.signals.get('crankcasePressure')!;
  const rpm = sim.signals.get('engineSpeed')!;
  const coolant = sim.signals.get('coolantTemperature')!;
  const speed = sim.signals.get('vehicleSpeed')!;
  const pedal = sim.signals.get('pedalPosition')!;
  const rest = sim.car.sensors.pedalRest + 0.5;
  const shares: number[] = [];
  let still = 0;
  let running = 0;
  let held = 0;
  let crank = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < sim.samples; i++) {
    running = rpm[i]! >= 300 ? running + 1 : 0;
    still = speed[i]! < 1 && pedal[i]! < rest && running > 0 ? still + 1 : 0;
    const warm = coolant[i]! >= 70;
    // An engine that was running when the recording began was started long before.
    const settled = running > 90 * sim.rate || running > i;
    if (warm && settled && still > 5 * sim.rate && rpm[i]! <= 900 && !sim.plant.valveThrottled)
      shares.push(manifold[i]! / barometer[i]!);
    held = warm && running > 0 ? held + 1 : 0;
    if (held < 2 * sim.rate || i % 10 !== 0) continue;
    let least = Number.POSITIVE_INFINITY;
    for (let k = i - 2 * sim.rate + 1; k <= i; k += 5) least = Math.min(least, crankcase[k]!);
    crank = Math.max(crank, least);
  }
  shares.sort((a, b) => a - b);
  const share = shares.length >= 20 * sim.rate ? shares[shares.length >> 1]! : Number.NaN;
  const level = share > 0.55 || crank > 5 ? 'repair' : share > 0.45 || crank > 2.5 ? 'watch' : 'none';
  // Both quantities in units of the share's border: 0.04 of the share, 0.3 kPa of the crankcase.
  const margins = [nearest(share, [0.45, 0.55]), (nearest(crank, [2.5, 5]) * 0.04) / 0.3];
  return {
    level,
    measures: { manifoldShare: share, crankcase: crank },
    margin: Math.min(...margins.filter((each) => Number.isFinite(each)), 9),
  };
}
