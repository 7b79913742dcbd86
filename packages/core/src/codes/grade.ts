import { MEANINGS } from './meaning.js';
import type { CodeSeverity } from './meaning-row.js';
import type { TroubleCode } from './structure.js';

/** Severity of a code that the table does not hold, by the part of the car that its letter and third character name. */
const UNKNOWN: Readonly<Record<TroubleCode['area'], CodeSeverity>> = {
  powertrain: 'repair',
  // Brakes, steering, suspension.
  chassis: 'repair',
  body: 'watch',
  network: 'watch',
};

/** What is known of a code. */
export interface GradedCode {
  /** Words for it; for a code that is not in the table, what its structure says. */
  readonly meaning: string;
  /** True when the words are those of the table. */
  readonly known: boolean;
  readonly severity: CodeSeverity;
  readonly rules: readonly string[];
}

/** Meaning and severity of a code by itself; never fails, because the structure always says something. */
export function gradeCode(code: TroubleCode): GradedCode {
  const row = MEANINGS.get(code.code);
  if (row !== undefined) return { meaning: row.text, known: true, severity: row.severity, rules: row.rules };
  const system = code.group === undefined ? code.area : `${code.area}: ${code.group}`;
  if (code.owner === 'maker') {
    // Only the maker knows what it means: it is looked up before anything is concluded from it.
    const severity = code.area === 'chassis' ? 'repair' : 'watch';
    return {
      meaning: `code of the maker (${code.area}): look it up in the service documents`,
      known: false,
      severity,
      rules: [],
    };
  }
  const severity = code.group?.startsWith('auxiliary') ? 'watch' : UNKNOWN[code.area];
  return { meaning: `standard code (${system}), not in our table: look it up`, known: false, severity, rules: [] };
}
