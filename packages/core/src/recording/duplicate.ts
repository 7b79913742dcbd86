import { medianSorted } from 'simple-statistics';
import type { Candidate, ProblemList, Rejection } from './candidate.js';
import type { Certainty } from './recording.js';

const CERTAINTY: Readonly<Record<Certainty, number>> = { user: 3, certain: 2, likely: 1, inferred: 0 };

/** Source cells of the control unit itself, as against a sensor of the logger's own. */
const CONTROL_UNIT = /\b(ecu|ecm|pcm|tcu|tcm|obd|can|control[ _-]?unit)\b/i;

/**
 * One candidate for each channel id. Of several columns that claim one channel the map file's choice wins, then one
 * that moves, then the control unit's own, then the surer name, then the fuller column, then the first; the others
 * are listed with the reason and how far they agree.
 */
export function resolveDuplicates(
  candidates: readonly Candidate[],
  problems: ProblemList,
): { readonly kept: Candidate[]; readonly rejections: Rejection[] } {
  const byId = new Map<string, Candidate[]>();
  for (const candidate of candidates) {
    const list = byId.get(candidate.facts.id);
    if (list === undefined) byId.set(candidate.facts.id, [candidate]);
    else list.push(candidate);
  }
  const kept: Candidate[] = [];
  const rejections: Rejection[] = [];
  for (const list of byId.values()) {
    const [best, ...others] = list.sort(compare);
    if (best === undefined) continue;
    kept.push(best);
    for (const other of others) {
      const reason = `duplicate of ${best.facts.id}, which was taken from column ${best.column.index + 1} "${best.column.label}"${why(best, other)}; ${agreement(best, other)}`;
      problems.add('duplicate-channel', other.column, best.facts.id, reason);
      rejections.push({
        column: other.column,
        channel: best.facts.id,
        reason,
        doubts: other.doubts,
        unrecognised: false,
      });
    }
  }
  kept.sort((a, b) => a.column.index - b.column.index);
  return { kept, rejections };
}

function compare(a: Candidate, b: Candidate): number {
  return (
    Number(b.certainty === 'user') - Number(a.certainty === 'user') ||
    Number(moves(b)) - Number(moves(a)) ||
    Number(isControlUnit(b)) - Number(isControlUnit(a)) ||
    CERTAINTY[b.certainty] - CERTAINTY[a.certainty] ||
    Math.sign(fill(b) - fill(a)) ||
    a.column.index - b.column.index
  );
}

function moves(candidate: Candidate): boolean {
  return candidate.runs!.count > 1;
}

function isControlUnit(candidate: Candidate): boolean {
  return CONTROL_UNIT.test(candidate.column.sourceCell);
}

/** Usable samples in steps of a tenth of the rows, so that a few lost samples decide nothing. */
function fill(candidate: Candidate): number {
  return Math.round((10 * candidate.runs!.samples) / Math.max(1, candidate.values.length));
}

function why(best: Candidate, other: Candidate): string {
  if (best.certainty === 'user' && other.certainty !== 'user') return ' by the map file';
  if (moves(best) && !moves(other)) return ' because this one never changes';
  if (isControlUnit(best) && !isControlUnit(other)) return " because it is the control unit's own";
  return '';
}

function agreement(best: Candidate, other: Candidate): string {
  const differences: number[] = [];
  const stride = Math.max(1, Math.floor(best.values.length / 2000));
  for (let i = 0; i < best.values.length; i += stride) {
    const d = Math.abs(best.values[i]! - other.values[i]!);
    if (!Number.isNaN(d)) differences.push(d);
  }
  if (differences.length === 0) return 'they share no samples';
  const typical = medianSorted(differences.sort((a, b) => a - b));
  if (differences[differences.length - 1] === 0) return 'they hold the same values';
  return `they differ typically by ${Number(typical.toPrecision(3))} ${best.facts.unit}`;
}
