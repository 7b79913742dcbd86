import { convert } from '../units/index.js';
import { type Candidate, mapLine, type ProblemList, type Rejection } from './candidate.js';
import { type MixtureBase, mixtureBase, USUAL_BASE } from './mixture.js';
import { keyOnPressure, pressureReference, STANDARD_ATMOSPHERE } from './pressure-reference.js';

/** Channels that are already settled, by id. */
type Settled = ReadonlyMap<string, Candidate>;

/**
 * Divides air-fuel ratios by the base of their display. Each column is judged by its own closed loop; one that does not
 * tell takes the base that another column of the same display confirmed.
 */
export function settleMixtures(candidates: readonly Candidate[], settled: Settled, problems: ProblemList): void {
  const seen = candidates.map(({ values }) =>
    mixtureBase(values, {
      ...witness('engineSpeed', settled, 'engineSpeed'),
      ...witness('engineLoad', settled, 'engineLoad'),
      ...witness('manifoldPressure', settled, 'manifoldPressure'),
      ...witness('coolantTemperature', settled, 'coolantTemperature'),
    }),
  );
  const confirmed = seen.find((found) => found.confirmed);
  candidates.forEach((candidate, k) => {
    const own = seen[k]!;
    const found = own.confirmed ? own : (confirmed ?? own);
    candidate.values = candidate.values.map((x) => x / found.base);
    candidate.pending = undefined;
    reportBase(candidate, found, own, problems);
  });
}

function reportBase(candidate: Candidate, found: MixtureBase, own: MixtureBase, problems: ProblemList): void {
  const { column, facts } = candidate;
  if (found.confirmed) {
    const where = own.confirmed ? '' : ' of another column';
    const median = `median of ${round(found.median)} in ${found.samples} closed-loop samples${where}`;
    problems.add('afr-base', column, facts.id, `air-fuel ratio divided by ${found.base}: ${median}`);
    candidate.reasons.push(`divided by ${found.base}, confirmed from closed loop${where}`);
    return;
  }
  const seen = Number.isNaN(own.median)
    ? 'no closed-loop running in the recording'
    : `closed-loop median ${round(own.median)}`;
  const message = `air-fuel ratio divided by the usual display base ${USUAL_BASE}, not confirmed (${seen})`;
  problems.add('afr-base', column, facts.id, message);
  candidate.doubts.push(`${message}; if the display uses base B, ${mapLine(column, 'unit: lambda, scale: 1/B')}`);
}

function witness(key: string, settled: Settled, id: string): Record<string, Float64Array> {
  const values = settled.get(id)?.values;
  return values === undefined ? {} : { [key]: values };
}

/** Atmospheric pressure to add to gauge readings, and where it is from. */
interface Atmosphere {
  readonly series: Float64Array | undefined;
  readonly value: number;
  readonly source: string;
  readonly known: boolean;
}

function atmosphere(settled: Settled): Atmosphere {
  const barometer = settled.get('barometricPressure');
  if (barometer !== undefined && barometer.runs!.samples > 0) {
    return { series: barometer.values, value: middleOf(barometer.values), source: 'barometricPressure', known: true };
  }
  const keyOn = keyOnPressure(settled.get('manifoldPressure')?.values, settled.get('engineSpeed')?.values);
  if (!Number.isNaN(keyOn))
    return { series: undefined, value: keyOn, source: 'intake pressure with the engine at rest', known: true };
  return { series: undefined, value: STANDARD_ATMOSPHERE, source: 'standard atmosphere', known: false };
}

function middleOf(values: Float64Array): number {
  const present = values.filter((x) => !Number.isNaN(x)).sort();
  return present[present.length >> 1] ?? Number.NaN;
}

/** Decides whether an intake pressure of unknown reference is absolute; a rejection when nothing tells. */
export function settleReference(candidate: Candidate, settled: Settled, problems: ProblemList): Rejection | undefined {
  const { column, facts } = candidate;
  const namedBoost = /boost|lade/i.test(column.label);
  const found = pressureReference(candidate.values, settled.get('engineSpeed')?.values);
  const reference = found.reference ?? (namedBoost ? undefined : 'absolute');
  if (reference === undefined) {
    const message = `neither header nor values tell whether this pressure is absolute or relative (${found.evidence}); not used`;
    problems.add('pressure-ambiguous', column, facts.id, message);
    const doubt = `${message}; ${mapLine(column, `unit: ${candidate.sourceUnit} abs`)} or "gauge"`;
    return { column, channel: facts.id, reason: message, doubts: [doubt], unrecognised: false };
  }
  candidate.pending = reference === 'gauge' ? 'gauge' : undefined;
  // Absolute is what the term means by SAE J1979; only the surprise is worth a line.
  if (reference === 'gauge' || namedBoost) {
    problems.add('pressure-reference', column, facts.id, `read as ${reference}: ${found.evidence}`);
    candidate.certainty = candidate.certainty === 'user' ? 'user' : 'inferred';
  }
  if (found.reference !== undefined) candidate.reasons.push(`${reference}: ${found.evidence}`);
  return undefined;
}

/**
 * Moves the zero of a pressure: a gauge reading becomes absolute, an absolute reading of a channel that is carried
 * relative to the atmosphere (oil pressure) becomes relative.
 */
export function settleGauge(candidate: Candidate, settled: Settled, problems: ProblemList): void {
  const { column, facts } = candidate;
  const values = new Float64Array(candidate.values.length);
  const air = atmosphere(settled);
  const toRelative = candidate.pending === 'absolute';
  const factor = (toRelative ? -1 : 1) * convert(1, 'kPa', facts.unit);
  let last = air.value;
  for (let i = 0; i < values.length; i++) {
    const here = air.series?.[i] ?? Number.NaN;
    if (!Number.isNaN(here)) last = here;
    values[i] = candidate.values[i]! + last * factor;
  }
  candidate.values = values;
  candidate.pending = undefined;
  const change = toRelative ? 'absolute pressure made relative' : 'relative pressure made absolute';
  const message = `${change} with ${round(air.value)} kPa (${air.source})`;
  problems.add('gauge-base', column, facts.id, message);
  candidate.reasons.push(message);
  if (!air.known)
    candidate.doubts.push(`${message}: the true atmosphere may differ by several kPa with altitude and weather`);
}

function round(x: number): number {
  return Math.round(x * 100) / 100;
}
