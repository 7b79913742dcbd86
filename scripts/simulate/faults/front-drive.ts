import type { Simulation } from '../simulate.js';
import { atLeast, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { signalOf, stretchesOf } from './settled.js';

/** Slippery starts that spin the first axle. */
function spins(
  draft: Parameters<FaultFamily['apply']>[0],
  random: Parameters<FaultFamily['apply']>[3],
  times: number,
): void {
  for (let k = 0; k < times; k++)
    insertWarm(draft.script, [
      { kind: 'wheelspinIce', friction: random.range(0.22, 0.4), duration: random.range(3, 4.5) },
      { kind: 'stop', stand: 4 },
    ]);
  for (const id of ['wheelSpeed', 'couplingDuty']) draft.kept.add(id);
}

/** driveline.front-drive: the coupling is told to close and does not. */
export const frontDrive: FaultFamily = {
  rule: 'driveline.front-drive',
  suits: (car) => car.driveline.driven === 'all',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    // The share that arrives: next to nothing, or a weak but working coupling.
    const share = level === 'under' ? 0.75 + 0.25 * dial : 0.06 * (1 - dial);
    draft.disturb.push((plant) => {
      plant.couplingShare = share;
    });
    spins(draft, random, 3);
    atLeast(draft, random.pick([10, 20]));
    return {
      rule: 'driveline.front-drive',
      level,
      note: `coupling gives ${(100 * share).toFixed(0)} %`,
      dialled: { share },
    };
  },
  truth,
  decoys: {
    lowCommand(draft, random) {
      draft.disturb.push((plant) => {
        plant.couplingLimit = random.range(0.05, 0.3);
      });
      spins(draft, random, 2);
    },
    stabilityOpens(draft, random) {
      draft.disturb.push((plant) => {
        plant.couplingOpened = true;
      });
      spins(draft, random, 2);
    },
    speedCutOff(draft, random) {
      draft.disturb.push((plant) => {
        plant.couplingOffAbove = random.range(2, 5);
      });
      spins(draft, random, 2);
    },
    braking(draft, random) {
      insertWarm(draft.script, [{ kind: 'circuit', duration: 50, top: 130, corner: random.range(60, 80) }]);
    },
    corners(draft) {
      insertWarm(draft.script, [{ kind: 'fullLock', duration: 24 }]);
    },
  },
};

/** Spins of at least a second with command; nothing halves them. */
function truth(sim: Simulation): TrueFinding {
  if (sim.car.driveline.driven !== 'all') return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
  const wheels = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((w) => signalOf(sim, `wheelSpeed.${w}`));
  const command = signalOf(sim, 'couplingDuty');
  const steering = signalOf(sim, 'steeringAngle');
  const brake = signalOf(sim, 'brakeSwitch');
  const [fl, fr, rl, rr] = wheels as [Float32Array, Float32Array, Float32Array, Float32Array];
  const difference = (i: number) => Math.abs(rl[i]! + rr[i]! - fl[i]! - fr[i]!) / 2;
  const spinning = (i: number) =>
    command[i]! >= 60 &&
    brake[i]! === 0 &&
    Math.abs(steering[i]!) < 60 &&
    difference(i) > 5 &&
    difference(i) > (0.05 * Math.max(rl[i]! + rr[i]!, fl[i]! + fr[i]!)) / 2;
  const found = stretchesOf(sim, spinning, 1).filter(({ start, end }) => {
    let peak = 0;
    const until = Math.min(end, start + sim.rate);
    for (let i = start; i <= until; i++) {
      if (difference(i) <= 0.5 * peak) return false;
      peak = Math.max(peak, difference(i));
    }
    return true;
  });
  const n = found.length;
  return { level: n >= 2 ? 'repair' : 'none', measures: { notHalved: n }, margin: n === 1 ? 0 : Math.abs(n - 1) };
}
