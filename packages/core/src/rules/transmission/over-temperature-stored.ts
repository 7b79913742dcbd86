import type { Context, Judgement } from '../rule.js';
import { type StoredPeak, storedTemperature } from '../stored-temperature.js';
import { type StoredVerdict, storedAlone } from '../stored-value.js';
import { figure } from '../wording.js';
import { ladderOf, variantOf } from './over-temperature-reading.js';

const WORDS = {
  what: 'fluid temperature',
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
} as const;

/** What the highest stored temperature of the fluid says by itself, by the limits of the place that the control unit keeps it for. */
export function storedFluid(peaks: readonly StoredPeak[], context: Context): StoredVerdict {
  const limits = limitsOf(context);
  const ladder = ladderOf(limits);
  const severities = ladder.map(({ name }) => name);
  // Limits of an unknown kind, and of a manual gearbox, may lie higher.
  const doubts = ['dual-clutch', 'converter'].includes(context.vehicle.transmission.kind ?? '') ? [] : [0.85];
  const verdict = storedTemperature(peaks, limits, severities, WORDS, doubts);
  const peak = verdict.measures.storedPeak?.value;
  const lowest = ladder[0]!;
  if (verdict.finding !== undefined || typeof peak !== 'number' || peak < lowest.value) return verdict;
  const note = `The control unit has stored a peak of ${figure(peak)} °C: near the limit of ${figure(lowest.value)} °C, not beyond it for certain.`;
  return { ...verdict, notes: [...verdict.notes, note] };
}

/** Only a read-out was given. */
export function storedFluidAlone(stored: StoredVerdict, context: Context): Judgement {
  const summary = 'No stored fluid temperature is beyond the limits; how warm the fluid gets today was not recorded.';
  return storedAlone(summary, ['transmissionOilTemperature'], ladderOf(limitsOf(context)), stored);
}

function limitsOf(context: Context): ReturnType<Context['limits']> {
  const { kind, fluidPlace } = context.vehicle.transmission;
  return context.limits(variantOf(fluidPlace ?? 'sump', kind));
}
