import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf, stretchesOf } from './settled.js';

/** Over the sensor's own time (it reads air after a quarter of a second). */
const SLOW = { under: [1.1, 1.7], watch: [7.2, 9], repair: [3.2, 6] } as const;

/** fuel.lambda-sensor: sensors that have become slow, both or one. */
export const lambdaSensor: FaultFamily = {
  suits: (car) => car.engine.banks === 2,
  rule: 'fuel.lambda-sensor',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [from, to] = SLOW[level === 'stop' ? 'repair' : level];
    const slow = from + (to - from) * dial;
    prepare(draft);
    const bank = random.int(0, 1);
    draft.disturb.push((plant) => {
      if (level === 'repair') plant.sensorSlow[bank as 0 | 1] = slow;
      else plant.sensorSlow = [slow, slow];
    });
    return { rule: this.rule, level, note: `${slow.toFixed(1)} times as slow`, dialled: { slow } };
  },
  truth,
  decoys: {
    healthy: (draft) => prepare(draft),
    /** The column ends at 1.6. */
    endsLow(draft) {
      prepare(draft);
      draft.tuned.set('lambda', { maximum: 1.6 });
    },
    fewSamples(draft) {
      prepare(draft);
      draft.tuned.set('lambda', { refresh: 2 });
    },
  },
};

function prepare(draft: DriveDraft): void {
  draft.added.add('fuelCut');
  draft.rate = Math.max(draft.rate ?? 0, 10);
  for (const id of ['lambda', 'pedalPosition']) draft.kept.add(id);
  const coast = [
    { kind: 'cruise', speed: 100, duration: 12 },
    { kind: 'coast', to: 60 },
  ] as const;
  insertWarm(draft.script, [...coast, ...coast, ...coast, ...coast]);
}

function truth(sim: Simulation): TrueFinding {
  const cut = signalOf(sim, 'fuelCut');
  const cuts = stretchesOf(sim, (i) => cut[i]! > 0.5, 2);
  const middles: number[] = [];
  const measures: Record<string, number> = {};
  for (let k = 1; k <= sim.car.engine.banks; k++) {
    const lambda = signalOf(sim, `lambda.bank${k}`);
    const times = cuts.map(({ start, end }) => {
      for (let i = start; i <= end; i++) if (lambda[i]! > 1.8) return (i - start) / sim.rate;
      return (end - start) / sim.rate;
    });
    times.sort((a, b) => a - b);
    if (times.length < 3) continue;
    const middle = times[times.length >> 1]!;
    middles.push(middle);
    measures[`response.bank${k}`] = middle;
  }
  if (middles.length === 0) return { level: 'none', measures, margin: 9 };
  const slow = Math.max(...middles);
  const times = slow / Math.min(...middles);
  const level = times > 2 && slow > 0.5 ? 'repair' : slow > 1.5 ? 'watch' : 'none';
  return { level, measures, margin: Math.min(nearest(slow, [1.5]), middles.length > 1 ? nearest(times, [2]) : 9) };
}
