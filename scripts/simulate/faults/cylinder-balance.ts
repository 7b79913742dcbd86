import { cylinderSet } from '../channel-sets.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

const CORRECTION = { under: [0.5, 3], watch: [6.8, 8], repair: [12.5, 18], stop: [12.5, 18] } as const;
const EXHAUST = { under: [4, 22], watch: [60, 68], repair: [115, 150], stop: [115, 150] } as const;

/** engine.cylinder-balance: one injector or plug apart from the others; at the worst its roughness agrees. */
export const cylinderBalance: FaultFamily = {
  rule: 'engine.cylinder-balance',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const hot = random.chance(0.4);
    const [low, high] = (hot ? EXHAUST : CORRECTION)[level];
    const size = (low + (high - low) * dial) * (random.chance(0.5) ? 1 : -1);
    const cylinder = random.int(1, draft.car.engine.cylinders);
    const apart = {
      cylinder,
      roughness: level === 'stop' ? 3 : 0,
      correction: hot ? 0 : size,
      exhaust: hot ? size : 0,
    };
    draft.disturb.push((plant) => plant.cylinders.push(apart));
    record(draft);
    return {
      rule: this.rule,
      level,
      note: `cylinder ${cylinder}: ${size.toFixed(1)} ${hot ? 'K' : '%'}`,
      dialled: { size },
    };
  },
  truth,
  decoys: {
    /** Thermocouples and injectors that all scatter: none stands apart. */
    spread(draft, random) {
      const all = draft.car.engine.cylinders;
      const places = Array.from({ length: all }, (_v, c) => (2 * c) / (all - 1) - 1);
      const size = random.range(34, 38);
      draft.disturb.push((plant) => {
        for (const [c, place] of places.entries())
          plant.cylinders.push({ cylinder: c + 1, roughness: 0, correction: 3.2 * place, exhaust: size * place });
      });
      record(draft);
    },
    spikes(draft, random) {
      record(draft);
      const cylinder = random.int(1, draft.car.engine.cylinders);
      const spike = { kind: 'spike', from: 0, to: 1e9, share: 0.02 } as const;
      draft.disturbances.push({ ...spike, channels: [`injectorCorrection.cylinder${cylinder}`], value: 60 });
      draft.disturbances.push({ ...spike, channels: [`exhaustGasTemperature.cylinder${cylinder}`], value: 1200 });
    },
    /** One cylinder knocks and is rough: other rules judge that. */
    knocks(draft, random) {
      const cylinder = random.int(1, draft.car.engine.cylinders);
      draft.disturb.push((plant) => {
        plant.knock.push({ cylinders: [cylinder], retard: 1.8, from: 2500, to: 5500, pulls: [1, 2, 3] });
        plant.cylinders.push({ cylinder, roughness: 3, correction: 0, exhaust: 0 });
      });
      record(draft);
    },
  },
};

function record(draft: DriveDraft): void {
  for (const id of cylinderSet(draft.car)) draft.added.add(id);
}

/** By the undisturbed signals: fuel correction warm, exhaust while it is at 600 degC or more, and what agrees with them. */
function truth(sim: Simulation): TrueFinding {
  const all = sim.car.engine.cylinders;
  const coolant = signalOf(sim, 'coolantTemperature');
  const rpm = signalOf(sim, 'engineSpeed');
  const of = (stem: string) => Array.from({ length: all }, (_v, c) => signalOf(sim, `${stem}.cylinder${c + 1}`));
  const corrections = of('injectorCorrection');
  const exhausts = of('exhaustGasTemperature');
  const roughness = of('engineRoughness');
  const running = (i: number): boolean => coolant[i]! >= 70 && rpm[i]! > 400;
  const hot = (i: number): boolean => running(i) && middle(exhausts.map((x) => x[i]!)) >= 600;
  const correction = apartOf(sim, corrections, running, 0.8);
  const exhaust = apartOf(sim, exhausts, hot, 8);
  const levels = roughness.map((x) => meanWhere(sim, x, (i) => running(i) && rpm[i]! < 1100));
  let worst = 0;
  let largest = 0;
  let hottest = 0;
  const missed = levelsOf(sim, all);
  for (let c = 0; c < all; c++) {
    const bySize = Math.max(stepOf(correction[c]!, 5), stepOf(exhaust[c]!, 40));
    const others = levels.filter((_x, k) => k !== c);
    const rough = Math.abs(levels[c]! - middle(others)) > 3 * Math.max(madnOf(others), middle(others) / 6);
    const signs = [correction[c]!.apart, exhaust[c]!.apart, rough, missed[c]!].filter(Boolean).length;
    worst = Math.max(worst, bySize === 0 ? 0 : Math.min(3, bySize + (signs >= 2 ? 1 : 0)));
    if (Math.abs(correction[c]!.value) > Math.abs(largest)) largest = correction[c]!.value;
    if (Math.abs(exhaust[c]!.value) > Math.abs(hottest)) hottest = exhaust[c]!.value;
  }
  return {
    level: (['none', 'watch', 'repair', 'stop'] as const)[worst]!,
    measures: { correction: largest, exhaust: hottest },
    margin: Math.min(nearest(Math.abs(largest) / 5, [1, 2]), nearest(Math.abs(hottest) / 40, [1, 2])),
  };
}

interface Place {
  readonly value: number;
  readonly apart: boolean;
}

function stepOf({ value, apart }: Place, watch: number): number {
  return !apart || Math.abs(value) <= watch ? 0 : Math.abs(value) > 2 * watch ? 2 : 1;
}

/** Each signal less the median of the others, mean over the samples that count; apart = beyond three scatters of the others. */
function apartOf(sim: Simulation, signals: Float32Array[], counts: (i: number) => boolean, sound: number): Place[] {
  const sums = signals.map(() => 0);
  const means = signals.map(() => 0);
  let n = 0;
  for (let i = 0; i < sim.samples; i += 10) {
    if (!counts(i)) continue;
    n++;
    for (let c = 0; c < signals.length; c++) {
      const x = signals[c]![i]!;
      means[c]! += x;
      sums[c]! += x - middle(signals.filter((_s, k) => k !== c).map((s) => s[i]!));
    }
  }
  return sums.map((sum, c) => {
    const others = means.filter((_m, k) => k !== c).map((m) => m / n);
    const value = n === 0 ? 0 : sum / n;
    return { value, apart: n > 0 && Math.abs(value) > 3 * Math.max(madnOf(others), sound) };
  });
}

/** Cylinders that miss far more of their firings than the others. */
function levelsOf(sim: Simulation, all: number): boolean[] {
  const wanted = signalOf(sim, 'wantedFirings')[sim.samples - 1]! / all;
  const rates = Array.from(
    { length: all },
    (_v, c) => (100 * signalOf(sim, `misfireCount.cylinder${c + 1}`)[sim.samples - 1]!) / wanted,
  );
  return rates.map((rate, c) => rate - middle(rates.filter((_r, k) => k !== c)) > Math.max(0.3, 1500 / wanted));
}

function meanWhere(sim: Simulation, signal: Float32Array, counts: (i: number) => boolean): number {
  let sum = 0;
  let n = 0;
  for (let i = 0; i < sim.samples; i++) {
    if (!counts(i)) continue;
    sum += signal[i]!;
    n++;
  }
  return sum / n;
}

function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

function madnOf(values: readonly number[]): number {
  const centre = middle(values);
  return 1.4826 * middle(values.map((x) => Math.abs(x - centre)));
}
