import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { truePieces } from './full-load.js';
import { signalOf } from './settled.js';

const SHARE = { under: [1, 0.93], watch: [0.74, 0.66], repair: [0.54, 0.35], stop: [0.5, 0.35] } as const;

/** air.charge-cooling: a cooler that gives less of its heat away. */
export const chargeCooling: FaultFamily = {
  rule: 'air.charge-cooling',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [from, to] = SHARE[level];
    const share = from + (to - from) * dial;
    draft.disturb.push((plant) => {
      plant.coolerShare = share;
    });
    prepare(draft, random);
    return { rule: 'air.charge-cooling', level, note: `cooler at ${share.toFixed(2)}`, dialled: { share } };
  },
  truth,
  decoys: {
    /** Only a sensor in the air filter is recorded: it knows nothing of the charge. */
    beforeCompressor(draft, random) {
      prepare(draft, random);
      draft.added.delete('chargeAirTemperature');
    },
    /** Minutes of standing with the engine hot right before the pulls. */
    soak(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(24, 36) };
      insertWarm(draft.script, [{ kind: 'idle', duration: 150 }]);
      prepare(draft, random);
    },
    ambientUnknown(draft, random) {
      prepare(draft, random);
      draft.kept.delete('ambientTemperature');
      draft.dropped.add('ambientTemperature');
    },
    hotDay(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(33, 41) };
      prepare(draft, random);
    },
  },
};

function prepare(draft: DriveDraft, random: Random): void {
  for (const id of ['ambientTemperature', 'barometricPressure', 'boostPressure']) draft.kept.add(id);
  draft.added.add('chargeAirTemperature');
  draft.tuned.set('chargeAirTemperature', { refresh: random.pick([1, 2, 5]) });
  const gears = draft.car.transmission.gears.length;
  const pull = {
    kind: 'pull',
    gear: gears > 6 ? 5 : 4,
    fromRpm: random.range(2000, 2300),
    toRpm: draft.car.engine.revLimit - 700,
    grade: 0.05,
  } as const;
  insertWarm(draft.script, [pull, pull]);
}

/** Effectiveness at the end of each pull of 6 s, from the true temperatures; the compressor of the simulator is of 0.71. */
function truth(sim: Simulation): TrueFinding {
  const charge = signalOf(sim, 'chargeAirTemperature');
  const boost = signalOf(sim, 'boostPressure');
  const barometer = signalOf(sim, 'barometricPressure');
  const intake = signalOf(sim, 'intakeAirTemperature');
  const ambient = signalOf(sim, 'ambientTemperature');
  const values: number[] = [];
  let rise = 0;
  const pieces = truePieces(sim);
  const pulls = new Map<number, { began: number; end: number }>();
  for (const { pull, began, end } of pieces) pulls.set(pull, { began, end });
  for (const { began, end } of pulls.values()) {
    const peak = Math.max(...charge.subarray(end - sim.rate, Math.min(sim.samples, end + 2 * sim.rate)));
    if ((end - began) / sim.rate <= 10) rise = Math.max(rise, peak - charge[began]!);
    let i = began;
    while (i < end && boost[i]! < 1.3 * barometer[i]!) i++;
    const at = Math.max(began, end - Math.round(0.5 * sim.rate));
    const ratio = boost[at]! / (barometer[at]! * 0.985);
    if ((end - i) / sim.rate < 6 || ratio < 1.4 || peak < charge[began]! - 1) continue;
    const hot = (intake[at]! + 273.15) * (1 + (ratio ** 0.2857 - 1) / 0.71) - 273.15;
    values.push((hot - peak) / (hot - ambient[at]!));
  }
  values.sort((a, b) => a - b);
  const effectiveness = values[values.length >> 1];
  const low = effectiveness ?? 1;
  const level = low < 0.5 ? 'repair' : low < 0.65 || rise > 25 ? 'watch' : 'none';
  const margin = Math.min(nearest(low, [0.5, 0.65]), nearest(rise, [25]) / 60);
  return { level, measures: effectiveness === undefined ? { rise } : { effectiveness, rise }, margin };
}
