import { isRefusal } from '../derived/recipe.js';
import { mean } from '../math/mean.js';
import type { Measured } from './limit-check.js';
import type { MeasureDefinition } from './measure-definition.js';
import type { PullTrace } from './pull.js';
import type { LimitResult, Reported } from './verification.js';

/** Told on every sheet, whether or not a limit is set on them; in this order. */
const TOLD: readonly string[] = [
  'compressor.ratio',
  'compressor.outlet',
  'exhaust.unplaced',
  'protection.share',
  'ignition.latest',
  'power.peak',
  'torque.peak',
];

/** What pulls after the change showed of measures that have no limit, and of the fuel. */
export function reportedOf(
  pulls: readonly PullTrace[],
  measured: ReadonlyMap<MeasureDefinition, Measured>,
  limits: readonly LimitResult[],
): Reported[] {
  const after = pulls.filter(({ side }) => side === 'after');
  if (after.length === 0) return [];
  const found = TOLD.filter((id) => limits.every((each) => each.id !== id)).flatMap((id): Reported[] => {
    const entry = [...measured].find(([measure]) => measure.id === id);
    if (entry === undefined) return [];
    const [{ title, unit, worse }, readings] = entry;
    const told = after.flatMap((pull) => {
      const reading = readings.get(pull);
      return reading === undefined || isRefusal(reading) ? [] : [{ pull: pull.number, ...reading }];
    });
    const why = after.flatMap((pull) => {
      const reading = readings.get(pull);
      return reading !== undefined && isRefusal(reading) ? [reading.reason] : [];
    });
    const base = { id, title, unit, pulls: told.length };
    if (told.length === 0)
      return [{ ...base, mean: null, extreme: null, clipped: 0, notes: [...new Set(why)].slice(0, 1) }];
    const sign = worse === 'low' ? -1 : 1;
    const top = told.reduce((a, b) => (sign * b.value > sign * a.value ? b : a));
    return [
      {
        ...base,
        mean: mean(told.map(({ value }) => value)),
        extreme: { value: top.value, pull: top.pull },
        clipped: told.filter(({ clipped }) => clipped).length,
        notes: [],
      },
    ];
  });
  const ethanol = after.map(({ number, conditions }) => ({ pull: number, value: conditions.ethanol }));
  const known = ethanol.filter(({ value }) => !Number.isNaN(value));
  const base = { id: 'ethanol', title: 'ethanol in the fuel', unit: '%', pulls: known.length, clipped: 0 };
  const top = known.reduce<(typeof known)[number] | undefined>(
    (a, b) => (a === undefined || b.value > a.value ? b : a),
    undefined,
  );
  return [
    ...found,
    top === undefined
      ? { ...base, mean: null, extreme: null, notes: ['ethanolContent is not recorded'] }
      : { ...base, mean: mean(known.map(({ value }) => value)), extreme: top, notes: [] },
  ];
}
