import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** Seconds of cranking before the engine catches. */
const COLD = { under: [0.5, 1.2], watch: [2.1, 3], repair: [4.2, 7] } as const;
const HOT = { under: [0.5, 0.8], watch: [1.7, 3], repair: [4.2, 7] } as const;

/** engine.start-quality: it has to be cranked for long, cold or warm. */
export const startQuality: FaultFamily = {
  rule: 'engine.start-quality',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const grade = level === 'stop' ? 'repair' : level;
    const hot = random.chance(0.5);
    const [from, to] = (hot ? HOT : COLD)[grade];
    const seconds = from + (to - from) * dial;
    prepare(draft);
    draft.disturb.push((plant) => {
      if (hot) plant.crankHot = seconds;
      else plant.crankCold = seconds;
    });
    return {
      rule: this.rule,
      level,
      note: `${hot ? 'warm' : 'cold'} start after ${seconds.toFixed(1)} s`,
      dialled: { seconds },
    };
  },
  truth,
  decoys: {
    automaticStops(draft, random) {
      prepare(draft);
      draft.script.push({ kind: 'automaticStop', load: 0, duration: random.range(8, 20), restarts: true });
    },
    beginsLate(draft) {
      prepare(draft);
      draft.script.splice(0, 1, { kind: 'idle', duration: 20 });
    },
    slowLog(draft) {
      prepare(draft);
      draft.tuned.set('engineSpeed', { refresh: 1 });
    },
  },
};

function prepare(draft: DriveDraft): void {
  draft.script.unshift({ kind: 'coldStart', keyOn: 3, duration: 20 });
  draft.script.push({ kind: 'restart', off: 8, duration: 15 });
  for (const id of ['coolantTemperature', 'selector']) draft.kept.add(id);
  atLeast(draft, 10);
}

/** From the first rotation to above 500 rpm for a second, out of every standstill. */
function truth(sim: Simulation): TrueFinding {
  const rpm = signalOf(sim, 'engineSpeed');
  const coolant = signalOf(sim, 'coolantTemperature');
  let cold = Number.NaN;
  let hot = Number.NaN;
  for (let i = 1; i < sim.samples; i++) {
    if (!(rpm[i]! >= 20 && rpm[i - 1]! < 20)) continue;
    let k = i;
    while (k < sim.samples && rpm[k]! < 500 && k - i < 30 * sim.rate) k++;
    if (k >= sim.samples || rpm[k]! < 500) continue;
    const seconds = (k - i) / sim.rate;
    if (coolant[i]! >= 60) hot = Number.isNaN(hot) ? seconds : Math.max(hot, seconds);
    else cold = Number.isNaN(cold) ? seconds : Math.max(cold, seconds);
    i = k;
  }
  const level = cold > 4 || hot > 4 ? 'repair' : cold > 2 || hot > 1.5 ? 'watch' : 'none';
  const margins = [nearest(cold, [2, 4]), nearest(hot, [1.5, 4])].filter((each) => Number.isFinite(each));
  return {
    level,
    measures: { ...(Number.isNaN(cold) ? {} : { cold }), ...(Number.isNaN(hot) ? {} : { hot }) },
    margin: Math.min(9, ...margins),
  };
}
