import type { CarSpec } from '../car.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';

/** Degrees of the crank off the target (a phaser that does not go on), and between the banks (a stretched chain). */
const FOLLOW = { under: [0.3, 1.8], watch: [4.3, 4.9], repair: [7.6, 14] } as const;
const OFFSET = { under: [1, 2.3], watch: [4.4, 4.8], repair: [9.6, 14] } as const;

/** engine.cam-timing: a phaser that sticks, or a chain that has grown. */
export const camTiming: FaultFamily = {
  rule: 'engine.cam-timing',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const grade = level === 'stop' ? 'repair' : level;
    keep(draft);
    const bank = draft.car.engine.banks === 2 ? random.int(0, 1) : 0;
    const sign = random.chance(0.5) ? 1 : -1;
    const [from, to] = random.chance(0.5) ? FOLLOW[grade] : OFFSET[grade];
    const value = sign * (from + (to - from) * dial);
    draft.disturb.push((plant) => {
      plant.camOffset[bank as 0 | 1] = value;
    });
    return {
      rule: this.rule,
      level,
      note: `bank ${bank + 1} by ${value.toFixed(1)} deg`,
      dialled: { deviation: value },
    };
  },
  truth,
  decoys: {
    camDegrees(draft) {
      keep(draft);
      draft.disturb.push((plant) => {
        plant.camDegrees = true;
      });
    },
    /** Hot idle: thin oil, little pressure, slow phasers. */
    hotIdle(draft, random) {
      keep(draft);
      draft.disturb.push((plant) => {
        plant.oilShare = random.range(0.5, 0.6);
      });
    },
    cold(draft, random) {
      keep(draft);
      draft.ambient.temperature = random.range(-15, -5);
    },
  },
};

function keep(draft: DriveDraft): void {
  for (const id of ['intakeCamAngle', 'intakeCamTarget', 'engineOilTemperature']) draft.kept.add(id);
}

/** Deviation from a target that was still for a second, held for two seconds; medians of the banks. */
function truth(sim: Simulation): TrueFinding {
  const { banks } = (sim.car as CarSpec).engine;
  const rpm = sim.signals.get('engineSpeed')!;
  const oil = sim.signals.get('engineOilTemperature')!;
  const target = sim.signals.get('intakeCamTarget.bank1')!;
  const middles: number[] = [];
  let held = 0;
  for (let bank = 0; bank < banks; bank++) {
    const actual = sim.signals.get(`intakeCamAngle.bank${bank + 1}`)!;
    const factor = sim.plant.camDegrees ? 2 : 1;
    const all: number[] = [];
    let still = 0;
    const runs = [0, 0];
    const lows = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
    let level = Number.NaN;
    for (let i = 0; i < sim.samples; i++) {
      if (!(Math.abs(target[i]! - level) <= 1)) {
        level = target[i]!;
        still = 0;
      }
      still++;
      const counts = still > sim.rate && oil[i]! >= 60 && rpm[i]! >= 1200;
      const off = actual[i]! * factor - target[i]!;
      if (counts) all.push(off);
      for (const [k, sign] of [1, -1].entries()) {
        if (!counts || sign * off <= 0) {
          runs[k] = 0;
          lows[k] = Number.POSITIVE_INFINITY;
          continue;
        }
        runs[k]!++;
        lows[k] = Math.min(lows[k]!, sign * off);
        if (runs[k]! >= 2 * sim.rate) {
          held = Math.max(held, lows[k]!);
          runs[k] = 0;
          lows[k] = Number.POSITIVE_INFINITY;
        }
      }
    }
    all.sort((a, b) => a - b);
    middles.push(all.length >= 20 * sim.rate ? all[all.length >> 1]! : Number.NaN);
  }
  const offset = banks === 2 ? Math.abs(middles[0]! - middles[1]!) : 0;
  const level = held > 6 || offset > 8 ? 'repair' : held > 3 || offset > 5 ? 'watch' : 'none';
  const margins = [nearest(held, [3, 6]), banks === 2 ? nearest(offset, [5, 8]) : 99];
  return {
    level,
    measures: banks === 2 && !Number.isNaN(offset) ? { deviation: held, offset } : { deviation: held },
    margin: Math.min(...margins.filter((x) => !Number.isNaN(x))),
  };
}
