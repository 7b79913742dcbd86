import type { Simulation } from '../simulate.js';
import { atLeast, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { signalOf, stretchesOf } from './settled.js';

/** Amplitude of the swing (rpm), and rpm over the target. */
const SWING = { under: [2, 20], watch: [36, 50], repair: [68, 100] } as const;
const HIGH = { under: [5, 38], watch: [63, 88], repair: [116, 180] } as const;

/** engine.idle: an idle that hunts, or one that air drawn past the throttle holds up. */
export const idle: FaultFamily = {
  rule: 'engine.idle',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const name = level === 'stop' ? 'repair' : level;
    const high = random.chance(0.35);
    const [low, top] = (high ? HIGH : SWING)[name];
    const size = low + (top - low) * dial;
    const frequency = random.range(0.35, 1.8);
    draft.disturb.push((plant) => {
      if (high) plant.idleHigh = size;
      else plant.idleHunt = { amplitude: size, frequency };
    });
    draft.added.add('idleSpeedTarget');
    draft.script.push({ kind: 'hotIdle', duration: 60, selector: 'P' });
    atLeast(draft, 5);
    return {
      rule: this.rule,
      level,
      note: high
        ? `${size.toFixed(0)} rpm over the target`
        : `swings ${size.toFixed(0)} rpm at ${frequency.toFixed(1)} Hz`,
      dialled: { size },
    };
  },
  truth,
  decoys: {
    /** Compressor that comes and goes. */
    accessory(draft, random) {
      const torque = random.range(6, 12);
      const period = random.range(14, 30);
      draft.disturb.push((plant) => {
        plant.accessory = { torque, period };
      });
      draft.script.push({ kind: 'hotIdle', duration: 90, selector: 'P' });
    },
    fastIdleWhenCold(draft, random) {
      draft.ambient.temperature = random.range(-12, 2);
      draft.script.unshift({ kind: 'coldStart', keyOn: 2, duration: 150 });
      draft.added.add('idleSpeedTarget');
    },
    revving(draft) {
      draft.script.push(
        { kind: 'hotIdle', duration: 45, selector: 'P' },
        { kind: 'revInNeutral', rpm: 3000, times: 4 },
        { kind: 'hotIdle', duration: 45, selector: 'P' },
      );
    },
  },
};

/** Swing and distance to the target of the undisturbed signal, over each settled warm idle of half a minute. */
function truth(sim: Simulation): TrueFinding {
  const rpm = signalOf(sim, 'engineSpeed');
  const target = signalOf(sim, 'idleSpeedTarget');
  const speed = signalOf(sim, 'vehicleSpeed');
  const pedal = signalOf(sim, 'pedalPosition');
  const coolant = signalOf(sim, 'coolantTemperature');
  const selector = signalOf(sim, 'selector');
  const rest = sim.car.sensors.pedalRest + 0.5;
  let swing = 0;
  let off = 0;
  let before = -1;
  for (const idling of stretchesOf(sim, (i) => speed[i]! < 0.9 && pedal[i]! < rest && rpm[i]! > 300, 40)) {
    let start = idling.start + 10 * sim.rate;
    for (let i = start; i <= idling.end + 1; i++) {
      const same = i <= idling.end && selector[i] === before && coolant[i]! >= 70;
      if (same) continue;
      if (i - start >= 30 * sim.rate) {
        swing = Math.max(swing, swingOf(rpm, start, i, sim.rate));
        const over = middle(Array.from({ length: i - start }, (_v, k) => rpm[start + k]! - target[start + k]!));
        if (Math.abs(over) > Math.abs(off)) off = over;
      }
      start = before === -1 ? i : i + 3 * sim.rate;
      before = selector[i] ?? -1;
      if (start < i) start = i;
    }
    before = -1;
  }
  const level = swing > 60 || Math.abs(off) > 100 ? 'repair' : swing > 30 || Math.abs(off) > 50 ? 'watch' : 'none';
  return {
    level,
    measures: { swing, offTarget: off },
    margin: Math.min(nearest(swing, [30, 60]), nearest(Math.abs(off), [50, 100])),
  };
}

/** 1.4826 times the median deviation from the median of 10 s, of ten samples a second. */
function swingOf(rpm: Float32Array, from: number, to: number, rate: number): number {
  const values: number[] = [];
  for (let i = from; i < to; i += rate / 10) values.push(rpm[i]!);
  const deviations = values.map((x, k) => Math.abs(x - middle(values.slice(Math.max(0, k - 50), k + 51))));
  return 1.4826 * middle(deviations);
}

function middle(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
}
