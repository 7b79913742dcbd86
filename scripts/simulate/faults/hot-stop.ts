import type { Simulation } from '../simulate.js';
import type { FaultFamily } from './fault.js';
import { signalOf } from './settled.js';

/** Seconds of the last minute before each key-off at more than 12 bar (4 pi T / Vd) or 50 kPa of boost: the most of any; NaN without one. */
function hottestStop(sim: Simulation): number {
  const speed = signalOf(sim, 'engineSpeed');
  const key = signalOf(sim, 'ignitionSwitch');
  const torque = signalOf(sim, 'engineTorque');
  const manifold = signalOf(sim, 'manifoldPressure');
  const barometer = signalOf(sim, 'barometricPressure');
  const vd = sim.car.engine.displacement;
  let worst = Number.NaN;
  for (let i = 1; i < sim.samples; i++) {
    if (!(key[i - 1]! > 0 && key[i]! === 0) || speed[i - 1]! < 300) continue;
    let count = 0;
    for (let k = Math.max(0, i - 60 * sim.rate); k < i; k++)
      if ((4 * Math.PI * torque[k]!) / vd / 100 > 12 || manifold[k]! - barometer[k]! > 50) count++;
    if (!(count / sim.rate <= worst)) worst = count / sim.rate;
  }
  return worst;
}

/** usage.hot-stop: up a hill at full load, to the kerb, key off. */
export const hotStop: FaultFamily = {
  rule: 'usage.hot-stop',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const load = level === 'under' ? 2 + 5 * dial : 17 + 10 * dial;
    const cool = level === 'under' ? random.range(1, 20) : random.range(1, 12);
    draft.script.push({
      kind: 'hotStop',
      load,
      cool,
      duration: random.range(8, 40),
      grade: random.range(0.06, 0.12),
    });
    return { rule: this.rule, level, note: `${load.toFixed(0)} s of load before key off`, dialled: { load } };
  },
  truth(sim) {
    const seconds = hottestStop(sim);
    const pumped = sim.plant.afterRun > 0;
    return {
      level: seconds >= 10 && !pumped ? 'watch' : 'none',
      measures: Number.isNaN(seconds) ? {} : { highLoad: seconds },
      margin: Number.isNaN(seconds) || pumped ? 99 : Math.abs(seconds - 10),
    };
  },
  decoys: {
    endOfRecording(draft) {
      draft.script.push({ kind: 'pull', gear: 4, fromRpm: 2200, toRpm: draft.car.engine.revLimit - 400, grade: 0.1 });
    },
    automaticStop(draft, random) {
      draft.script.push(
        {
          kind: 'automaticStop',
          load: random.range(16, 24),
          duration: random.range(10, 60),
          restarts: true,
          grade: 0.08,
        },
        { kind: 'town', duration: 40 },
      );
    },
    automaticStopAtEnd(draft, random) {
      draft.script.push({
        kind: 'automaticStop',
        load: random.range(16, 24),
        duration: random.range(10, 60),
        restarts: false,
        grade: 0.08,
      });
    },
    cooledDown(draft, random) {
      draft.script.push({ kind: 'hotStop', load: 20, cool: random.range(60, 120), duration: 20, grade: 0.08 });
    },
    afterRunPump(draft, random) {
      draft.added.add('coolantPumpDuty');
      const seconds = random.range(30, 120);
      draft.disturb.push((plant) => {
        plant.afterRun = seconds;
      });
      draft.script.push({ kind: 'hotStop', load: 22, cool: 2, duration: 60, grade: 0.08 });
    },
    stopStartFlag(draft, random) {
      draft.added.add('startStopActive');
      draft.dropped.add('selector');
      draft.script.push({
        kind: 'automaticStop',
        load: random.range(16, 24),
        duration: 20,
        restarts: false,
        grade: 0.08,
      });
    },
  },
};
