import type { TimeFormat } from '../recording/raw.js';
import { labelWords } from './label.js';
import { unbracket } from './unit-words.js';

type NumericFormat = Extract<TimeFormat, 'seconds' | 'milliseconds' | 'microseconds' | 'minutes'>;

const UNITS: Readonly<Record<string, NumericFormat>> = {
  s: 'seconds',
  sec: 'seconds',
  secs: 'seconds',
  second: 'seconds',
  seconds: 'seconds',
  sek: 'seconds',
  ms: 'milliseconds',
  msec: 'milliseconds',
  msecs: 'milliseconds',
  millis: 'milliseconds',
  millisecond: 'milliseconds',
  milliseconds: 'milliseconds',
  us: 'microseconds',
  µs: 'microseconds',
  μs: 'microseconds',
  usec: 'microseconds',
  micros: 'microseconds',
  microsecond: 'microseconds',
  microseconds: 'microseconds',
  min: 'minutes',
  mins: 'minutes',
  minute: 'minutes',
  minutes: 'minutes',
};

/** Unit of time that a unit cell or the label itself names. */
export function namedTimeUnit(label: string, unitCell: string): NumericFormat | undefined {
  const cell = unbracket(unitCell).toLowerCase().trim();
  if (Object.hasOwn(UNITS, cell)) return UNITS[cell];
  const words = labelWords(label);
  for (let i = words.length - 1; i >= 0; i--) {
    const word = words[i]!;
    if (Object.hasOwn(UNITS, word)) return UNITS[word];
  }
  return undefined;
}

const STRONG = new Set(
  'time timestamp timestamps zeit zeitstempel uhrzeit clock datetime epoch unixtime elapsed t utc systime'.split(' '),
);
const SECONDARY = new Set('seconds secs sec second date datum day ts'.split(' '));
/** Words that make a time something else than the axis: a duration, a delay, a counter. */
const OTHER = new Set(
  (
    'injection injector inj dwell mil dtc cleared codes clear delay response ignition spark shift fill filling pulse remaining lap best ' +
    'duration open opening closing ramp lag constant to until warm timestep step delta dt idle last max min_ average fault trouble'
  ).split(' '),
);

/** How much a label names the time axis: 1 = it says so alone, 0 = it does not. */
export function timeName(label: string): number {
  const words = labelWords(label).filter(
    (word) =>
      !Object.hasOwn(UNITS, word) || word === 'sec' || word === 'secs' || word === 'seconds' || word === 'second',
  );
  const all = labelWords(label);
  if (words.some((word) => OTHER.has(word))) return 0;
  // "engine run time", "time since engine start"; the first is also met misspelt in a public data set.
  if (words.includes('since') && !words.includes('start')) return 0;
  if (words.some((word) => STRONG.has(word))) return words.length <= 2 ? 1 : 0.8;
  if (words.some((word) => SECONDARY.has(word))) return 0.7;
  if (words.includes('run') && words.includes('engine')) return 0.6;
  // A column that is called by nothing but its unit: `s`, `ms`.
  return all.length === 1 && Object.hasOwn(UNITS, all[0]!) ? 0.7 : 0;
}

const COUNTER = new Set(
  'index idx row rows sample samples no nr number num count counter frame frames id record line n #'.split(' '),
);

export function isCounterName(label: string): boolean {
  const words = labelWords(label);
  return label.trim() === '#' || words.some((word) => COUNTER.has(word));
}

export const SECONDS_PER: Readonly<Record<NumericFormat, number>> = {
  seconds: 1,
  milliseconds: 1e-3,
  microseconds: 1e-6,
  minutes: 60,
};

/** Row spacing (s) that a log can have. */
const SPACING = { least: 0.001, most: 60 } as const;

export interface UnitGuess {
  readonly format: NumericFormat | 'day-serial';
  /** More than one unit would be plausible. */
  readonly doubt: boolean;
}

/**
 * Unit of an unnamed time from the spacing of its rows. Plausible is above 0.001 up to 60 s; when several units are, the one whose
 * spacing lies nearest the usual 0.02..2 s is taken and the doubt said.
 */
export function timeUnitFromSpacing(spacing: number, firstValue: number): UnitGuess | null {
  if (!(spacing > 0)) return null;
  if (firstValue > 20_000 && firstValue < 80_000 && spacing < 1e-3 && spacing * 86_400 >= SPACING.least) {
    return { format: 'day-serial', doubt: false };
  }
  const plausible = (['seconds', 'milliseconds', 'microseconds'] as const).filter((format) => {
    const seconds = spacing * SECONDS_PER[format];
    return seconds > SPACING.least && seconds <= SPACING.most;
  });
  if (plausible.length === 0) return null;
  const distance = (format: NumericFormat) => Math.abs(Math.log10(spacing * SECONDS_PER[format]) - Math.log10(0.2));
  const format = plausible.reduce((best, next) => (distance(next) < distance(best) ? next : best));
  return { format, doubt: plausible.length > 1 };
}
