import type { Problem } from '../../../src/recording/problem.js';
import { recording } from '../../../src/rules/provenance/recording.js';
import { driveOf, runRule, type Signal } from '../helpers.js';

export const RATE = 5;

/** Reproducible noise (mulberry32, public domain), -1..1. */
export function noise(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2147483648 - 1;
  };
}

export type Columns = Record<string, Float64Array>;

/** A drive of `seconds` with noise of its own: warm-up, changing speed, pressures, run time. */
export function drive(seconds = 600, seed = 1): { time: Float64Array; columns: Columns } {
  const n = seconds * RATE + 1;
  const time = Float64Array.from({ length: n }, (_, i) => i / RATE);
  const random = noise(seed);
  const column = (f: (t: number) => number, spread: number, step: number): Float64Array =>
    time.map((t) => Math.round((f(t) + spread * random()) / step) * step);
  const v = (t: number): number => 60 + 25 * Math.sin(t / 17) + 8 * Math.sin(t / 4.3);
  const warm = (end: number, tau: number) => (t: number) => 20 + (end - 20) * (1 - Math.exp(-t / tau));
  return {
    time,
    columns: {
      engineSpeed: column((t) => 33 * v(t), 6, 0.25),
      vehicleSpeed: column(v, 0.08, 0.01),
      'wheelSpeed.frontLeft': column(v, 0.08, 0.01),
      'wheelSpeed.frontRight': column(v, 0.08, 0.01),
      manifoldPressure: column((t) => 60 + 20 * Math.sin(t / 6), 0.8, 0.1),
      airMassFlow: column((t) => 30 + 12 * Math.sin(t / 6), 0.5, 0.01),
      pedalPosition: column((t) => 30 + 14 * Math.sin(t / 5), 0.3, 0.4),
      coolantTemperature: column(warm(92, 160), 0.05, 1),
      engineOilTemperature: column(warm(98, 260), 0.05, 1),
      transmissionOilTemperature: column(warm(80, 420), 0.05, 1),
      engineRunTime: column((t) => Math.floor(t) + 4, 0, 1),
    },
  };
}

/** Step in which each column of {@link drive} is written. */
export const STEP: Readonly<Record<string, number>> = {
  engineSpeed: 0.25,
  vehicleSpeed: 0.01,
  'wheelSpeed.frontLeft': 0.01,
  'wheelSpeed.frontRight': 0.01,
  manifoldPressure: 0.1,
  airMassFlow: 0.01,
  pedalPosition: 0.4,
  coolantTemperature: 1,
  engineOilTemperature: 1,
  transmissionOilTemperature: 1,
  engineRunTime: 1,
};

export function judged(
  time: Float64Array,
  columns: Readonly<Record<string, Signal>>,
  problems: readonly Problem[] = [],
) {
  const made = driveOf(time, columns);
  (made.recording.problems as Problem[]).push(...problems);
  return runRule(recording, made);
}

export const measure = (result: ReturnType<typeof judged>, name: string): unknown =>
  'measures' in result ? result.measures?.[name]?.value : undefined;
