import { exceeds } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import type { Judgement, Limit, Measure } from '../rule.js';
import { STORED_UNCERTAINTY } from '../stored-temperature.js';
import { COUNTS } from '../stored-value.js';
import { figure } from '../wording.js';
import { ladderOf } from './over-temperature-reading.js';

interface Base {
  readonly measures: Readonly<Record<string, Measure>>;
  readonly limits: readonly Limit[];
  readonly notes: readonly string[];
}

/** What the highest stored temperature of the fluid says by itself; undefined when it is within the limits or was not read. */
export function storedFinding(
  stored: readonly number[],
  limits: Readonly<Record<string, Limit>>,
  base: Base,
  doubts: readonly number[],
): Judgement | undefined {
  const peak = Math.max(...stored);
  const beyond = ladderOf(limits).filter(
    (limit) => exceeds(peak, STORED_UNCERTAINTY, limit.value, limit.comparison) === 'beyond',
  );
  const limit = beyond[beyond.length - 1];
  if (limit === undefined) return undefined;
  return {
    ...base,
    measures: { ...base.measures, storedPeak: { value: peak, unit: 'degC' } },
    outcome: 'finding',
    severity: COUNTS[limit.name],
    confidence: confidenceOf({
      margin: peak - limit.value,
      uncertainty: STORED_UNCERTAINTY,
      samples: 4,
      channels: [],
      doubts,
    }),
    summary: `The control unit has stored a highest fluid temperature of ${figure(peak)} °C, beyond the ${limit.name} limit of ${figure(limit.value)} °C; when and for how long is not known.`,
    causes: [
      'repeated full-load starts or circuit driving without time to cool',
      'fluid cooler blocked, or too small for the power',
      'a sensor or plug that read wrong for a moment',
    ],
    advice: [
      'Ask when the fluid was changed last, and look at its colour and smell.',
      'Read the time spent above the limit and the over-temperature events, where the control unit keeps them.',
      'Look at clutch slip and clutch adaptation: heat leaves its mark there.',
    ],
  };
}

/** Only a read-out was given. */
export function storedOnly(
  stored: readonly number[],
  limits: Readonly<Record<string, Limit>>,
  doubts: readonly number[],
): Judgement {
  const measures = { storedPeak: { value: Math.max(...stored), unit: 'degC' } };
  const base = { measures, limits: ladderOf(limits), notes: [] };
  return (
    storedFinding(stored, limits, base, doubts) ?? {
      ...base,
      outcome: 'unproven',
      summary: `The stored highest fluid temperature of ${figure(Math.max(...stored))} °C is within the limits; how warm the fluid gets today was not recorded.`,
      missing: { channels: ['transmissionOilTemperature'], conditions: [] },
    }
  );
}
