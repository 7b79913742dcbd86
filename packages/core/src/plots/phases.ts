import type { Drive } from '../derived/recipe.js';
import { isRefusal } from '../derived/recipe.js';
import { SEGMENTS, type SegmentKind } from '../derived/segments.js';

/** How long the drive was in each kind of phase, and when. Phases may overlap: a pull is load as well. */
export interface PhaseRow {
  readonly kind: SegmentKind;
  /** Seconds in all. */
  readonly seconds: number;
  /** Stretches, s; those nearer to each other than can be drawn apart are joined. */
  readonly stretches: readonly (readonly [from: number, to: number])[];
  /** Why it cannot be told, instead of stretches. */
  readonly refused?: string;
}

const ORDER: readonly SegmentKind[] = ['standstill', 'idle', 'cruise', 'load', 'pull', 'overrun', 'braking'];

/** Gaps shorter than this share of the drive are not drawn. */
const JOINED = 1 / 800;

/** Every kind of phase, in one order, also those that never came. */
export function phaseRows(drive: Drive): PhaseRow[] {
  const all = drive.derive(SEGMENTS);
  if (isRefusal(all)) return [];
  const gap = JOINED * drive.recording.duration;
  return ORDER.map((kind) => {
    const segments = all[kind];
    if (isRefusal(segments)) return { kind, seconds: 0, stretches: [], refused: segments.reason };
    const stretches: [number, number][] = [];
    let seconds = 0;
    for (const { from, to } of segments) {
      seconds += to - from;
      const last = stretches[stretches.length - 1];
      if (last !== undefined && from - last[1] <= gap) last[1] = to;
      else stretches.push([from, to]);
    }
    return { kind, seconds, stretches };
  });
}
