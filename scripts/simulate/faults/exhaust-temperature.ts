import type { Simulation } from '../simulate.js';
import {
  atLeast,
  type DriveDraft,
  type FaultFamily,
  insertWarm,
  type Level,
  nearest,
  type TrueFinding,
} from './fault.js';
import { heldMaximum, signalOf } from './settled.js';

/** degC before the turbine at high load. */
const PEAK = { under: [880, 935], watch: [966, 990], repair: [1014, 1038], stop: [1064, 1120] } as const;
const BEFORE = [950, 1000, 1050] as const;
const AFTER = [850, 900, 950] as const;
/** Seconds for which each of them has to be held. */
const HOLDS = [5, 2, 2] as const;
const LEVELS: readonly Level[] = ['watch', 'repair', 'stop'];

/** exhaust.temperature: late ignition or a lean mixture heat the exhaust on a long climb at full load. */
export const exhaustTemperature: FaultFamily = {
  rule: 'exhaust.temperature',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const [low, high] = PEAK[level];
    const peak = low + (high - low) * dial;
    prepare(draft);
    draft.disturb.push((plant) => {
      plant.exhaustFull = peak;
    });
    insertWarm(draft.script, [
      {
        kind: 'automaticStop',
        load: random.range(15, 22),
        duration: 3,
        restarts: true,
        grade: random.range(0.08, 0.12),
      },
    ]);
    return { rule: this.rule, level, note: `${peak.toFixed(0)} degC before the turbine`, dialled: { tendsTo: peak } };
  },
  truth,
  decoys: {
    openProbe(draft, random) {
      prepare(draft);
      const from = random.range(40, 500);
      draft.disturbances.push({
        kind: 'value',
        channels: ['exhaustGasTemperature.bank1'],
        from,
        to: from + random.range(15, 90),
        value: random.pick([1372, 1250, 1024]),
      });
    },
    spikes(draft, random) {
      prepare(draft);
      draft.disturbances.push({
        kind: 'spike',
        channels: ['exhaustGasTemperature.bank1', 'exhaustGasTemperature.sensor2'],
        from: 20,
        to: 900,
        value: random.pick([1100, 1300]),
        share: 0.004,
      });
    },
    shortPeaks(draft, random) {
      prepare(draft);
      draft.disturb.push((plant) => {
        // Seen only as long as the pedal is down in a short pull; the probe follows in two and a half seconds.
        plant.exhaustFull = random.range(900, 935);
      });
      draft.script.push({ kind: 'tipIn', times: 3 });
    },
  },
};

function prepare(draft: DriveDraft): void {
  for (let k = 1; k <= draft.car.engine.banks; k++) draft.added.add(`exhaustGasTemperature.bank${k}`);
  draft.added.add('exhaustGasTemperature.sensor2');
  atLeast(draft, 5);
}

/** Limits of the rule catalogue, over the true gas. */
function truth(sim: Simulation): TrueFinding {
  const before = signalOf(sim, 'exhaustGasTemperature.bank1');
  const last = sim.car.engine.banks === 2 ? signalOf(sim, 'exhaustGasTemperature.bank2') : before;
  const after = signalOf(sim, 'exhaustGasTemperature.sensor2');
  const held = (of: (i: number) => number) => HOLDS.map((seconds) => heldMaximum(sim, of, seconds));
  const hot = held((i) => Math.max(before[i]!, last[i]!));
  const behind = held((i) => after[i]!);
  const reached = (values: readonly number[], limits: readonly number[]) =>
    limits.reduce((rank, limit, k) => (values[k]! > limit ? k + 1 : rank), 0);
  const rank = Math.max(reached(hot, BEFORE), reached(behind, AFTER));
  let peak = -99;
  for (let i = 0; i < sim.samples; i++) peak = Math.max(peak, before[i]!, last[i]!);
  return {
    level: rank === 0 ? 'none' : LEVELS[rank - 1]!,
    measures: { peak },
    margin: Math.min(...HOLDS.flatMap((_, k) => [nearest(hot[k]!, [BEFORE[k]!]), nearest(behind[k]!, [AFTER[k]!])])),
  };
}
