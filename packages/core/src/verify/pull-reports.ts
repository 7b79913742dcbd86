import { isRefusal } from '../derived/recipe.js';
import { madn } from '../math/madn.js';
import { median } from '../math/quantile.js';
import type { Measure } from '../rules/rule.js';
import type { PullGroup } from './groups.js';
import type { Measured } from './limit-check.js';
import type { MeasureDefinition } from './measure-definition.js';
import { MEASURES } from './measures.js';
import type { PullConditions, PullTrace } from './pull.js';
import type { PullReport } from './verification.js';

/** Pulls of a side from which one can be told to stand out. */
const OUTLIERS_FROM = 5;
/** Robust deviations: modified z of 3.5 (Iglewicz & Hoaglin, How to Detect and Handle Outliers, 1993, from memory). */
const STANDS_OUT = 3.5;

/** What is compared between before and after. */
const COMPARED = MEASURES.filter(({ primary }) => primary !== undefined);

const UNITS: Readonly<Record<keyof PullConditions, string>> = {
  ambientTemperature: 'degC',
  ambientPressure: 'kPa',
  chargeTemperature: 'degC',
  coolantTemperature: 'degC',
  oilTemperature: 'degC',
  fluidTemperature: 'degC',
  ethanol: '%',
};

/** Every pull with what it gave; one that stands out is named, and stays in. */
export function pullReports(
  pulls: readonly PullTrace[],
  groups: readonly PullGroup[],
  measured: ReadonlyMap<MeasureDefinition, Measured>,
): PullReport[] {
  const group = groups[0];
  const outliers = group === undefined ? new Map<PullTrace, string[]>() : outliersOf(group);
  return pulls.map((pull) => {
    const matched = group?.[pull.side].includes(pull) ?? false;
    const why = groups.map(({ left }) => left.get(pull)).find((each) => each !== undefined);
    return {
      side: pull.side,
      number: pull.number,
      input: pull.input,
      from: pull.from,
      to: pull.to,
      gear: pull.gear >= 1 ? pull.gear : null,
      ratio: pull.ratio > 0 ? pull.ratio : null,
      engineSpeed: { from: pull.speedFrom, to: pull.speedTo },
      conditions: conditionsOf(pull),
      matched,
      notes: [
        ...(outliers.get(pull) ?? []),
        ...(group === undefined || matched ? [] : [why ?? 'another gear than the pulls that are compared']),
      ],
      measures: measuresOf(pull, measured),
    };
  });
}

function conditionsOf({ conditions }: PullTrace): Record<string, Measure> {
  const found: Record<string, Measure> = {};
  for (const [id, unit] of Object.entries(UNITS) as [keyof PullConditions, string][])
    if (!Number.isNaN(conditions[id])) found[id] = { value: conditions[id], unit };
  return found;
}

function measuresOf(pull: PullTrace, measured: ReadonlyMap<MeasureDefinition, Measured>): Record<string, Measure> {
  const found: Record<string, Measure> = {};
  for (const [{ id, unit }, readings] of measured) {
    const reading = readings.get(pull);
    if (reading !== undefined && !isRefusal(reading)) found[id] = { value: reading.value, unit };
  }
  return found;
}

/** Pulls whose number lies far from the others of its side, measure by measure. */
function outliersOf(group: PullGroup): Map<PullTrace, string[]> {
  const found = new Map<PullTrace, string[]>();
  for (const side of ['before', 'after'] as const) {
    for (const measure of COMPARED) {
      const values = group[side].flatMap((pull) => {
        const reading = measure.read(pull, group.range);
        return isRefusal(reading) ? [] : [{ pull, value: reading.value, u: reading.u }];
      });
      if (values.length < OUTLIERS_FROM) continue;
      const centre = median(values.map(({ value }) => value));
      const spread = madn(values.map(({ value }) => value));
      for (const { pull, value, u } of values) {
        // Values that all but agree have no spread: what the sensor cannot tell apart stands out nowhere.
        if (!(Math.abs(value - centre) > STANDS_OUT * Math.max(spread, u))) continue;
        const notes = found.get(pull) ?? [];
        notes.push(`stands out: ${measure.title}`);
        found.set(pull, notes);
      }
    }
  }
  return found;
}
