import type { Context, Judgement, Observed } from '../rule.js';
import { type StoredPeak, storedTemperature } from '../stored-temperature.js';
import { storedAlone, withStored } from '../stored-value.js';
import { type CoolingObservation, judgeSeen } from './cooling-judgement.js';

/** One recording: what it showed, and what the control unit has kept. */
export interface CoolingRecord {
  /** Absent in a read-out. */
  readonly seen?: CoolingObservation;
  readonly stored?: StoredPeak;
}

const WORDS = {
  what: 'coolant temperature',
  causes: [
    'overheated at some time in the past: coolant lost, fan, thermostat or water pump failed and since mended, or not',
    'heat of the block that soaked in after a hard drive ended without a cool-down',
    'a sensor or plug that read wrong for a moment',
  ],
  advice: [
    'Ask what happened and what was mended; look for invoices for water pump, thermostat, radiator or cylinder head.',
    'Check the coolant level when cold, and look for leaks, white crust and oil in the coolant.',
    'Test the coolant for combustion gas: a head that was warped by heat shows there first.',
    'Record the coolant temperature in a drive with some standing at the end: it shows whether the cooling holds today.',
  ],
} as const;

/** Weighs what the drives showed, and the highest temperature that the control unit has kept. */
export function judgeCooling(observed: readonly Observed<CoolingRecord>[], context: Context): Judgement {
  const limits = context.limits();
  const peaks = observed.flatMap(({ observation }) => observation.stored ?? []);
  // The watch limit has to hold for half a minute, which a peak does not tell: heat soak reaches it in sound cars.
  const stored = storedTemperature(peaks, limits, ['repair', 'stop'], WORDS);
  const drives = observed.flatMap(({ input, observation: { seen } }) =>
    seen === undefined ? [] : [{ input, observation: seen }],
  );
  if (drives.length > 0) return withStored(judgeSeen(drives, context), stored);
  const summary =
    'No stored coolant temperature is beyond the limits; how warm the coolant gets today was not recorded.';
  return storedAlone(summary, ['coolantTemperature'], Object.values(limits), stored);
}
