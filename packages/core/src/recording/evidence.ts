import type { Candidate, ProblemList } from './candidate.js';
import { changesOf } from './changes.js';
import { ABSURD, isPlausible, type Removal, removeImplausible, removeSentinels, removeSpikes } from './cleaning.js';
import { constantOf } from './constant.js';
import { refreshRate } from './refresh.js';
import { lazyRuns, type Runs, scanRuns } from './run.js';
import type { Trace } from './stillness.js';

/** Gives the candidate its values, with their runs. */
export function settle(candidate: Candidate, values: Float64Array, scratch: Int32Array, known?: Runs): void {
  const runs = known ?? scanRuns(values, scratch);
  candidate.values = values;
  candidate.changes = changesOf(runs, values.length);
  candidate.runs = lazyRuns(runs, values, scratch);
}

/**
 * Sets bad samples of a candidate to "no sample" and learns its refresh. Order: what no gauge can read, then lone
 * stretches on a sentinel, then spikes; every step counts and reports what it took.
 */
export function clean(candidate: Candidate, time: Float64Array, scratch: Int32Array, problems: ProblemList): void {
  const { raw, facts } = candidate;
  const { physics } = facts;
  let { values } = candidate;
  let runs = scanRuns(values, scratch);
  let outside = INSIDE;
  if (!isPlausible(runs.min, runs.max, physics)) {
    const removed = removeImplausible(values, raw, physics);
    outside = removed;
    ({ values } = removed);
    runs = scanRuns(values, scratch);
  }
  let period = periodOf(refreshRate(values, time, runs));
  let lone = NOTHING;
  let spikes = NOTHING;
  if (facts.kind === 'number') {
    const first = removeSentinels(values, time, physics, runs, period);
    if (first.removed.count > 0) runs = scanRuns(first.values, scratch);
    const second = removeSpikes(first.values, time, physics, runs, period);
    ({ values } = second);
    lone = first.removed;
    spikes = second.removed;
    if (lone.count + spikes.count > 0) {
      runs = scanRuns(values, scratch);
      period = periodOf(refreshRate(values, time, runs));
    }
  }
  settle(candidate, values, scratch, runs);
  candidate.rate = period > 0 ? 1 / period : Number.NaN;
  candidate.removed = {
    sentinel: outside.sentinel.count + lone.count,
    implausible: outside.implausible.count,
    spike: spikes.count,
    frozen: 0,
  };
  const range = `${physics.min} to ${physics.max} ${facts.unit}`;
  problems.removal(
    'sentinels-removed',
    candidate,
    time,
    merge(outside.sentinel, lone),
    'samples stand for "no signal"',
  );
  problems.removal('implausible-removed', candidate, time, outside.implausible, `samples lie outside ${range}`);
  problems.removal(
    'spikes-removed',
    candidate,
    time,
    spikes,
    'samples jump away and back faster than the channel can move',
  );
}

const NOTHING: Removal = { count: 0, first: -1, last: -1 };
const INSIDE: { readonly sentinel: Removal; readonly implausible: Removal } = {
  sentinel: NOTHING,
  implausible: NOTHING,
};

function merge(a: Removal, b: Removal): Removal {
  if (a.count === 0) return b;
  if (b.count === 0) return a;
  return { count: a.count + b.count, first: Math.min(a.first, b.first), last: Math.max(a.last, b.last) };
}

function periodOf(rate: number): number {
  return rate > 0 ? 1 / rate : 0;
}

/** A cleaned candidate as the tests for stuck and clipped values take it. */
export function traceOf(candidate: Candidate): Trace {
  return { values: candidate.values, runs: candidate.runs!, period: candidate.rate > 0 ? 1 / candidate.rate : 0 };
}

/**
 * Why a column that never changes is no evidence: it stands on a sentinel, outside its range, or on a bit pattern
 * that means "not supported". Undefined when the constant may be true (a distance of 0, a quiet knock channel).
 * At least three samples are needed to call anything constant.
 */
export function unsupportedConstant(candidate: Candidate): string | undefined {
  const { raw, values, facts } = candidate;
  const constant = constantOf(raw);
  if (constant === undefined || constant.samples < 3) return undefined;
  const { value: written, samples, row } = constant;
  const value = values[row]!;
  const all = `constant ${written} in all ${samples} samples`;
  if (Math.abs(written) >= ABSURD) return `${all} is the mark of a missing signal (${facts.id})`;
  if (candidate.pending !== undefined) return undefined;
  const { min, max, sentinels } = facts.physics;
  const means = [...sentinels, ...facts.constants];
  if (means.some((s) => Math.abs(s - value) <= 1e-6 * Math.max(1, Math.abs(s)))) {
    return `${all} is what a missing or unsupported signal reads (${facts.id})`;
  }
  if (value < min || value > max) return `${all} lies outside ${min} to ${max} ${facts.unit} (${facts.id})`;
  return undefined;
}
