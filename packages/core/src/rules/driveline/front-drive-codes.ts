import { gradeCode } from '../../codes/grade.js';
import type { StoredCode } from '../../recording/read-out.js';

/** How read-outs name the control unit of the coupling; all-wheel steering is another one. Common practice, no source. */
const COUPLING = /(?:all|four)[- ]?wheel(?![- ]?steer)|\b(?:awd|4wd)\b|transfer case|\bcoupling\b|axle clutch/i;
/** Supply voltage: stored by every control unit when the battery is weak, and says nothing of a coupling. */
const VOLTAGE = /^P056[0-3]$|^P088[02-4]$|^P250[2-4]$/;

/**
 * Codes that say that the second axle may not be driven: those that the table of meanings joins to the rule, and codes
 * that the control unit of the coupling itself has stored. Pending codes and those kept as history say too little.
 */
export function couplingCodes(codes: readonly StoredCode[], rule: string): readonly string[] {
  const found = codes.filter(
    ({ code, statuses, module }) =>
      (statuses.includes('stored') || statuses.includes('permanent')) &&
      (gradeCode(code).rules.includes(rule) ||
        // On the data bus a control unit complains of others.
        (COUPLING.test(module) && code.area !== 'network' && !VOLTAGE.test(code.code))),
  );
  return [...new Set(found.map(({ code }) => code.code))].sort();
}
