/** Every problem that the reading of columns can report, with what it means; the error catalogue is made from it. */
export const PROBLEM_CODES = {
  'unit-inferred':
    'The column names no unit (or an impossible one); exactly one unit makes its values plausible and was used.',
  'unit-doubtful': 'The values do not fit the unit that the header states; say in a map file which unit is meant.',
  'unit-assumed': 'Columns name no unit and their values are plausible in the unit of the channel, which was taken.',
  'unit-ambiguous':
    'The column names no unit and several fit its values; it was not used. Name the unit in a map file.',
  'unit-unknown':
    'The header or map file names a unit that is not known or does not fit the channel; the column was not used.',
  'channel-unknown': 'The map file names a channel that the catalogue does not have; the column was not used.',
  'map-unmatched': 'An entry of the map file matches no column of the recording.',
  'sentinels-removed': 'Samples hold a value that stands for "no signal"; they were set aside.',
  'spikes-removed': 'Single samples jump away and back faster than the channel can move; they were set aside.',
  'implausible-removed': 'Samples lie outside what the channel can physically read; they were set aside.',
  frozen: 'The channel stood exactly still while it should have moved; that stretch was set aside.',
  leap: 'A fluid temperature leaps to another level and stays there, which no fluid can; the samples are kept, and one side is not true.',
  saturated: 'The channel sat at the end of its range; the true value may lie beyond. The samples are kept as a bound.',
  'constant-unsupported': 'The whole column holds one value that stands for "not supported"; it was not used.',
  'duplicate-channel': 'Two columns describe the same channel; the better one was used.',
  'empty-column': 'Columns have a name but no values.',
  'sign-inferred': 'The column logs retard as negative numbers; the sign was turned so that retard is positive.',
  'sign-ambiguous': 'The column uses both signs, so retard cannot be told from advance; it was not used.',
  'afr-base': 'An air-fuel ratio was divided by the base ratio of the display to give lambda.',
  'gauge-base': 'A pressure relative to the atmosphere was made absolute with the stated atmospheric pressure.',
  'pressure-reference':
    'The header does not say whether the pressure is absolute or relative; it was concluded from the values.',
  'pressure-ambiguous': 'Neither header nor values tell whether the pressure is absolute or relative; it was not used.',
  'trim-factor': 'A fuel trim was logged as a factor around 1.00 and turned into percent.',
  'reverse-doubtful':
    'A gear column says reverse at speeds that nobody drives backwards; those samples were set aside.',
  'state-unknown': 'Texts of a state column are not known; those samples were set aside.',
  'state-inferred':
    'A state column holds only 0 and 1, so it was read as a switch; a map file with a scale says otherwise.',
  'private-left-out': 'A value that names the car or a person (identification number, owner) was not kept.',
  'readiness-unreadable':
    'Readiness bytes that cannot be read. Give the four bytes of parameter 01, or each monitor by name.',
  'text-in-number': 'A numeric channel holds texts; those samples were set aside.',
} as const satisfies Readonly<Record<string, string>>;

export type ProblemCode = keyof typeof PROBLEM_CODES;

/** Faults that stop the reading of columns. */
export const FAULT_CODES = {
  'no-channel': 'Not one column of the recording was recognised as a channel.',
} as const satisfies Readonly<Record<string, string>>;
