import type { Simulation } from '../simulate.js';
import { type FaultFamily, nearest, type TrueFinding } from './fault.js';

/** Hot idle pressure (bar) per level. */
const IDLE = { under: [1.03, 1.2], watch: [0.73, 0.95], repair: [0.53, 0.66], stop: [0.25, 0.46] } as const;
/** Pressure (bar) at which a stuck relief valve opens: felt at speed first. */
const RELIEF = { under: [2.15, 3], repair: [1.2, 1.85], stop: [0.4, 0.85] } as const;

/** engine.oil-pressure: worn bearings lower it everywhere, a stuck relief valve or a weak pump at speed. */
export const oilPressure: FaultFamily = {
  rule: 'engine.oil-pressure',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    draft.script.push({ kind: 'hotIdle', duration: random.range(30, 50) });
    const idle = draft.car.engine.idle / 1000;
    if (level !== 'watch' && random.chance(0.4)) {
      const [low, high] = RELIEF[level];
      const opens = low + (high - low) * (level === 'under' ? 1 - dial : dial);
      draft.disturb.push((plant) => {
        plant.oilRelief = opens;
      });
      return { rule: this.rule, level, note: `relief opens at ${opens.toFixed(2)} bar`, dialled: { relief: opens } };
    }
    const [low, high] = IDLE[level];
    const wanted = high - (high - low) * dial;
    draft.disturb.push((plant) => {
      // Pressure of a healthy engine at hot idle, oil about 98 degC.
      plant.oilShare = Math.min(1, wanted / ((0.35 + 1.45 * idle) * 0.884));
    });
    return { rule: this.rule, level, note: `idle ${wanted.toFixed(2)} bar`, dialled: { hotIdle: wanted } };
  },
  truth: oilPressureTruth,
  decoys: {
    /** Low stage of a two-stage pump: a level of its own at light load, and wanted. */
    twoStage(draft, random) {
      const stage = random.range(2.1, 2.6);
      draft.disturb.push((plant) => {
        plant.oilLowStage = stage;
      });
    },
    coldOil(draft, random) {
      draft.ambient.temperature = random.range(-12, 0);
      draft.disturb.push((plant) => {
        plant.oilShare = 0.95;
      });
    },
    spikes(draft) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['engineOilPressure'],
        from: 0,
        to: 1e9,
        value: 0.1,
        share: 0.0008,
      });
    },
  },
};

/** What the undisturbed pressure shows with oil at 80 degC and more. */
function oilPressureTruth(sim: Simulation): TrueFinding {
  const pressure = sim.signals.get('engineOilPressure')!;
  const rpm = sim.signals.get('engineSpeed')!;
  const oil = sim.signals.get('engineOilTemperature')!;
  const speed = sim.signals.get('vehicleSpeed')!;
  const pedal = sim.signals.get('pedalPosition')!;
  const rest = sim.car.sensors.pedalRest + 0.5;
  const second = sim.rate;
  let idle = Number.NaN;
  let stretch: number[] = [];
  // Highest pressure over limit within each second, and the lowest of these: what lasted for a second.
  let spare = Number.NaN;
  let lowest = Number.NaN;
  let count = 0;
  for (let i = 0; i < sim.samples; i++) {
    const hot = oil[i]! >= 80 && rpm[i]! > 400;
    if (hot && speed[i]! < 1 && pedal[i]! < rest) stretch.push(pressure[i]!);
    else if (stretch.length > 0) {
      idle = lower(idle, medianOf(stretch, second));
      stretch = [];
    }
    count = hot && rpm[i]! > 2000 ? count + 1 : 0;
    if (count < second || i % 5 !== 0) continue;
    let most = Number.NEGATIVE_INFINITY;
    let top = Number.NEGATIVE_INFINITY;
    for (let k = i - second + 1; k <= i; k++) {
      most = Math.max(most, pressure[k]! - Math.min(0.00069 * rpm[k]!, 2));
      top = Math.max(top, pressure[k]!);
    }
    spare = lower(spare, most);
    lowest = lower(lowest, top);
  }
  idle = lower(idle, medianOf(stretch, second));
  const level = idle < 0.5 || lowest < 1 ? 'stop' : idle < 0.7 || spare < 0 ? 'repair' : idle < 1 ? 'watch' : 'none';
  const margins = [nearest(idle, [1, 0.7, 0.5]), Math.abs(spare), Math.abs(lowest - 1)];
  return {
    level,
    measures: { hotIdle: idle },
    margin: Math.min(...margins.filter((x) => !Number.isNaN(x)), 9),
  };
}

function lower(a: number, b: number): number {
  return Number.isNaN(a) || b < a ? b : a;
}

function medianOf(stretch: number[], rate: number): number {
  if (stretch.length < 13 * rate) return Number.NaN;
  // The first two seconds are still coming down.
  const held = stretch.slice(2 * rate).sort((a, b) => a - b);
  return held[held.length >> 1]!;
}
