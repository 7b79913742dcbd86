import { type Candidate, mapLine, ProblemList, type Rejection } from './candidate.js';
import { resolveDuplicates } from './duplicate.js';
import { clean, settle, unsupportedConstant } from './evidence.js';
import { settleGauge, settleMixtures, settleReference } from './reference-settling.js';
import { scanRuns } from './run.js';
import { signConvention } from './sign.js';

/** Columns that hold one value that means "not supported". */
export function rejectConstants(
  candidates: readonly Candidate[],
  rejections: Rejection[],
  problems: ProblemList,
): Candidate[] {
  return candidates.filter((candidate) => {
    const reason = unsupportedConstant(candidate);
    if (reason === undefined) return true;
    const { column, facts } = candidate;
    problems.add('constant-unsupported', column, facts.id, `${reason}; not used`, { count: column.filled });
    rejections.push({ column, channel: facts.id, reason, doubts: candidate.doubts, unrecognised: false });
    return false;
  });
}

/** Retards that sources write with either sign; the columns of one kind share a convention. */
const SIGNED: readonly string[] = ['knockRetard', 'knockRetardMean', 'knockLearned'];

/** Makes knock retard positive, from the values of all columns of a kind together; mixed signs are not used. */
export function settleSigns(
  candidates: readonly Candidate[],
  rejections: Rejection[],
  problems: ProblemList,
): Candidate[] {
  const mixed = new Set<Candidate>();
  for (const base of SIGNED) {
    const retards = candidates.filter((c) => c.facts.base === base && !c.userScaled);
    const convention = signConvention(retards.map((c) => c.values));
    if (convention === 'negative') for (const candidate of retards) turnSign(candidate, problems);
    if (convention === 'mixed') for (const candidate of retards) mixed.add(candidate);
  }
  for (const { column, facts } of mixed) {
    const message = 'both signs occur, so retard cannot be told from advance; not used';
    problems.add('sign-ambiguous', column, facts.id, message);
    const doubt = `${message}; if positive is retard, ${mapLine(column, 'scale: 1')}, if negative is, scale: -1`;
    rejections.push({ column, channel: facts.id, reason: message, doubts: [doubt], unrecognised: false });
  }
  return candidates.filter((candidate) => !mixed.has(candidate));
}

function turnSign(candidate: Candidate, problems: ProblemList): void {
  const { column, facts, reasons } = candidate;
  // 0 - x keeps +0, which -x would not.
  candidate.values = candidate.values.map((x) => 0 - x);
  problems.add(
    'sign-inferred',
    column,
    facts.id,
    'retard is logged as negative degrees; turned so that retard is positive',
  );
  reasons.push('sign turned: retard logged as negative');
}

/** Cleans what stands alone first, then what needs other channels to be understood, and settles duplicates. */
export function settleAll(
  candidates: readonly Candidate[],
  time: Float64Array,
  scratch: Int32Array,
  rejections: Rejection[],
  problems: ProblemList,
): Candidate[] {
  const ready = candidates.filter((c) => c.pending === undefined);
  for (const candidate of ready) clean(candidate, time, scratch, problems);
  const first = new Map(resolveDuplicates(usable(ready), new ProblemList()).kept.map((c) => [c.facts.id, c]));
  const order = { reference: 0, gauge: 1, absolute: 2, afr: 3 } as const;
  const ratios = candidates.filter((c) => c.pending === 'afr');
  const waiting = candidates
    .filter((c) => c.pending !== undefined && c.pending !== 'afr')
    .sort((a, b) => order[a.pending!] - order[b.pending!] || a.column.index - b.column.index);
  const settled: Candidate[] = [];
  for (const candidate of waiting) {
    if (candidate.pending === 'reference') {
      const rejection = settleReference(candidate, first, problems);
      if (rejection !== undefined) {
        rejections.push(rejection);
        continue;
      }
    }
    if (candidate.pending !== undefined) settleGauge(candidate, first, problems);
    clean(candidate, time, scratch, problems);
    settled.push(candidate);
    if (!first.has(candidate.facts.id)) first.set(candidate.facts.id, candidate);
  }
  settleMixtures(ratios, first, problems);
  for (const candidate of ratios) clean(candidate, time, scratch, problems);
  const all = [...ready, ...settled, ...ratios];
  for (const candidate of all) {
    if (candidate.runs!.samples > 0) continue;
    const reason = `no usable sample is left of ${candidate.facts.id}`;
    rejections.push({
      column: candidate.column,
      channel: candidate.facts.id,
      reason,
      doubts: candidate.doubts,
      unrecognised: false,
    });
  }
  const { kept, rejections: duplicates } = resolveDuplicates(usable(all), problems);
  rejections.push(...duplicates);
  return kept;
}

function usable(candidates: readonly Candidate[]): Candidate[] {
  return candidates.filter((c) => c.runs!.samples > 0);
}

/** A channel of which freezing left nothing is no channel. */
export function rejectFrozen(candidates: readonly Candidate[], rejections: Rejection[]): Candidate[] {
  return candidates.filter((candidate) => {
    if (candidate.frozen.length === 0 || candidate.runs!.samples > 1) return true;
    const { column, facts, doubts } = candidate;
    const reason = `${facts.id}, but it stood still from start to end while it should have moved`;
    rejections.push({ column, channel: facts.id, reason, doubts, unrecognised: false });
    return false;
  });
}

/** Nobody drives backwards faster (km/h; common practice, no source): there, 14 or 15 meant "no gear". */
const FASTEST_REVERSE = 40;

/** Sets reverse gear at driving speed aside. */
export function doubtReverse(candidates: readonly Candidate[], scratch: Int32Array, problems: ProblemList): void {
  const speed = candidates.find((c) => c.facts.id === 'vehicleSpeed')?.values;
  if (speed === undefined) return;
  for (const candidate of candidates) {
    if (candidate.facts.base !== 'gear' || !(candidate.runs!.min <= -1)) continue;
    const kept = candidate.values.map((gear, i) => (gear === -1 && speed[i]! > FASTEST_REVERSE ? Number.NaN : gear));
    const runs = scanRuns(kept, scratch);
    const count = candidate.runs!.samples - runs.samples;
    if (count === 0) continue;
    settle(candidate, kept, scratch, runs);
    candidate.removed.implausible += count;
    const message = `${count} samples say reverse above ${FASTEST_REVERSE} km/h: taken as "no gear known" and set aside`;
    problems.add('reverse-doubtful', candidate.column, candidate.facts.id, message, { count });
  }
}
