import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { onlyStored, storePeak, withStored } from './stored-peaks.js';

const PEAK = { under: [122, 129.2], watch: [130.8, 139], repair: [141, 149], stop: [151, 162] } as const;
const LIMITS = [130, 140, 150] as const;
let serial = 0;

/** engine.oil-temperature: the oil cooler is lost in hard use; the oil climbs to a dialled peak. */
export const oilTemperature: FaultFamily = {
  rule: 'engine.oil-temperature',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const stored = onlyStored('engine.oil-temperature', level, dial);
    if (stored !== undefined)
      return { rule: this.rule, level, note: storePeak(draft, 'engine.oil-temperature', stored, dial), dialled: {} };
    const [low, high] = PEAK[level];
    const peak = low + (high - low) * dial;
    serial += 1;
    const tag = `oil-${serial}`;
    const phase: Phase = {
      kind: 'circuit',
      duration: 60,
      top: random.range(120, 160),
      corner: random.range(55, 80),
      tag,
    };
    draft.disturb.push((plant) =>
      plant.overheats.push({ tag, peak, dwell: random.range(8, 40), rise: random.range(0.35, 0.8), where: 'oil' }),
    );
    insertWarm(draft.script, [phase, { kind: 'cruise', speed: 80, duration: 40 }]);
    return { rule: this.rule, level, note: `peak ${peak.toFixed(1)} degC`, dialled: { peak } };
  },
  truth: (sim) => withStored('engine.oil-temperature', seenIn(sim), sim),
  decoys: {
    fahrenheit(draft) {
      draft.units.set('engineOilTemperature', 'degF');
    },
    sentinelHigh(draft, random) {
      const from = random.range(60, 300);
      draft.disturbances.push({
        kind: 'value',
        channels: ['engineOilTemperature'],
        from,
        to: from + random.range(5, 60),
        value: 215,
      });
    },
    spikes(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['engineOilTemperature'],
        from: 0,
        to: 1e9,
        value: random.range(150, 190),
        share: 0.0008,
      });
    },
  },
};

/** What the drive itself holds. */
function seenIn(sim: Simulation): TrueFinding {
  const oil = sim.signals.get('engineOilTemperature')!;
  const held = [0, 0, 0];
  const longest = [0, 0, 0];
  let peak = -99;
  for (let i = 0; i < sim.samples; i++) {
    peak = Math.max(peak, oil[i]!);
    for (let k = 0; k < 3; k++) {
      held[k] = oil[i]! >= LIMITS[k]! ? held[k]! + 1 / sim.rate : 0;
      longest[k] = Math.max(longest[k]!, held[k]!);
    }
  }
  const level = longest[2]! >= 2 ? 'stop' : longest[1]! >= 2 ? 'repair' : longest[0]! >= 2 ? 'watch' : 'none';
  return { level, measures: { peak }, margin: nearest(peak, LIMITS) };
}
