import type { CodeSeverity } from './meaning-row.js';
import { AIR_MEANINGS } from './meanings-air.js';
import { CONTROL_MEANINGS } from './meanings-control.js';
import { FUEL_MEANINGS } from './meanings-fuel.js';
import { IGNITION_MEANINGS } from './meanings-ignition.js';
import { TRANSMISSION_MEANINGS } from './meanings-transmission.js';

/** What one generic code says. */
export interface CodeMeaning {
  /** In our own words, no full stop. */
  readonly text: string;
  readonly severity: CodeSeverity;
  /** Ids of the rules that look at the same thing in a recording; the nearest first. */
  readonly rules: readonly string[];
}

/** Generic codes in our own words: SAE J2012 / ISO 15031-6 descriptors read in secondary lists or known by heart, none copied. */
export const MEANINGS: ReadonlyMap<string, CodeMeaning> = new Map(
  [...AIR_MEANINGS, ...FUEL_MEANINGS, ...IGNITION_MEANINGS, ...CONTROL_MEANINGS, ...TRANSMISSION_MEANINGS].map(
    ([code, severity, rules, text]) => [code, { text, severity, rules: rules === '' ? [] : rules.split(' ') }],
  ),
);
