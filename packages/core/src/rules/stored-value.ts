import { rankOf } from './ladder.js';
import type { Judgement, Limit, Measure, Severity } from './rule.js';

/** A value of the past counts one step less than one that was seen: how long it lasted, and when, is not known. */
export const COUNTS: Readonly<Record<Severity, Severity>> = { watch: 'watch', repair: 'watch', stop: 'repair' };

type Finding = Extract<Judgement, { readonly outcome: 'finding' }>;

/** What the stored values of all recordings say by themselves. */
export interface StoredVerdict {
  readonly measures: Readonly<Record<string, Measure>>;
  readonly notes: readonly string[];
  /** Absent when the values are within the limits. */
  readonly finding?: Pick<Finding, 'severity' | 'confidence' | 'summary' | 'causes' | 'advice'>;
}

/** What the drives showed with the stored values beside it; the stored value leads only where it is the worse of the two. */
export function withStored(seen: Judgement, stored: StoredVerdict): Judgement {
  if (seen.outcome === 'not-applicable') return seen;
  const measures = { ...seen.measures, ...stored.measures };
  const notes = [...(seen.notes ?? []), ...stored.notes];
  const { finding } = stored;
  if (finding === undefined) return { ...seen, measures, notes };
  if (seen.outcome === 'finding' && rankOf(finding.severity) <= rankOf(seen.severity))
    return { ...seen, measures, notes: [...notes, finding.summary] };
  // What was seen is not lost: it stands in the notes.
  const told = seen.outcome === 'finding' ? [`Seen in the recordings: ${seen.summary}`] : [];
  return {
    ...finding,
    outcome: 'finding',
    measures,
    notes: [...notes, ...told],
    ...(seen.events === undefined ? {} : { events: seen.events }),
    ...(seen.limits === undefined ? {} : { limits: seen.limits }),
    ...(seen.details === undefined ? {} : { details: seen.details }),
  };
}

/** Only a read-out was given, with nothing beyond a limit. */
export function storedAlone(
  summary: string,
  channels: readonly string[],
  limits: readonly Limit[],
  stored: StoredVerdict,
): Judgement {
  return withStored(
    { outcome: 'unproven', summary, missing: { channels, conditions: [] }, measures: {}, limits },
    stored,
  );
}
