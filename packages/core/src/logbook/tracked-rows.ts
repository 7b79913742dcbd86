import { DRIVELINE_ROWS } from './tracked-driveline.js';
import { ENGINE_ROWS } from './tracked-engine.js';
import { MIXTURE_ROWS } from './tracked-mixture.js';
import type { TrackedRow } from './tracked-row.js';

/**
 * What the logbook follows. Values are those of the rules: nothing is measured a second time. Directions of wear, what moves
 * a measure and what starts it anew are common practice, no source.
 */
export const TRACKED_ROWS: readonly TrackedRow[] = [...ENGINE_ROWS, ...MIXTURE_ROWS, ...DRIVELINE_ROWS];
