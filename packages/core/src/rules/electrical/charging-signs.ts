import { exceeds } from '../../derived/exceeds.js';
import { levelOf, limitOf } from '../ladder.js';
import type { Context, Observed, RuleEvent, Severity } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import type { JudgedCrank } from './charging-crank.js';
import { type ChargingReading, HELD, REACHED } from './charging-reading.js';

export interface Sign {
  readonly kind: 'flat' | 'high' | 'weak';
  readonly level: Severity;
  readonly text: string;
  readonly margin: number;
  readonly u: number;
  readonly samples: number;
  readonly event: RuleEvent;
}

export type Drives = readonly Observed<ChargingReading>[];

/** It never charged: low for a minute above 1500 rpm, summed over the drives, in none of which it reached the voltage of charging. */
export function flat(drives: Drives, named: ReturnType<Context['limits']>): Sign[] {
  const floor = limitOf(named, 'repair', 'low');
  const charges = named.charging!;
  const found: Sign[] = [];
  const low = drives.reduce((total, { observation }) => total + observation.low, 0);
  const never = drives.every(
    ({ observation: { reached, u } }) =>
      !Number.isNaN(reached.value) && exceeds(reached.value, u, charges.value, charges.comparison) === 'within',
  );
  const lead = drives.reduce<Drives[number] | undefined>(
    (a, b) => (a === undefined || b.observation.low > a.observation.low ? b : a),
    undefined,
  );
  if (lead !== undefined && never && low >= named['low-time']!.value) {
    const { lowFrom, lowTo, lowMedian, reached, u, hz } = lead.observation;
    found.push({
      kind: 'flat',
      level: 'repair',
      text: `it does not charge: ${figure(lowMedian, 2)} V over ${figure(low, 0)} s above 1500 rpm (limit ${figure(floor.value, 2)} V), never more than ${figure(Math.max(reached.value, lowMedian), 2)} V for ${REACHED} s`,
      margin: floor.value - lowMedian,
      u,
      samples: Math.max(1, Math.round(low * (hz > 0 ? hz : 1))),
      event: {
        input: lead.input,
        from: lowFrom,
        to: lowTo,
        severity: 'repair',
        peak: { value: lowMedian, unit: 'V' },
      },
    });
  }
  return found;
}

/** Voltages that stand for ten seconds beyond the limits of every system. */
export function standing(drives: Drives, named: ReturnType<Context['limits']>): Sign[] {
  return drives.flatMap(({ input, observation: { highest, lowest, u, hz } }) => {
    const found: Sign[] = [];
    const samples = Math.max(1, Math.round(HELD * (hz > 0 ? hz : 1)));
    const sign = (kind: 'flat' | 'high', what: 'low' | 'high', level: Severity, at: typeof highest): void => {
      const limit = limitOf(named, level, what);
      found.push({
        kind,
        level,
        text: `${figure(at.value, 2)} V ${what === 'low' ? 'while driving' : 'with the engine running'} at ${clockTime(at.at)} for ${HELD} s (limit ${figure(limit.value, 2)} V)`,
        margin: Math.abs(at.value - limit.value),
        u,
        samples,
        event: { input, from: at.at, to: at.at + HELD, severity: level, peak: { value: at.value, unit: 'V' } },
      });
    };
    const over = levelOf(highest.value, u, named, 'high');
    if (over !== undefined) sign('high', 'high', over, highest);
    const stop = limitOf(named, 'stop', 'low');
    if (!Number.isNaN(lowest.value) && exceeds(lowest.value, u, stop.value, stop.comparison) === 'beyond')
      sign('flat', 'low', 'stop', lowest);
    return found;
  });
}

export function weak(cranks: readonly ({ readonly input: number } & JudgedCrank)[]): Sign[] {
  return cranks
    .filter((each) => each.weak)
    .sort((a, b) => a.plateau.voltage - a.limit.value - (b.plateau.voltage - b.limit.value))
    .slice(0, 1)
    .map(({ input, plateau, limit, u }) => ({
      kind: 'weak',
      level: 'watch',
      text: `${figure(plateau.voltage, 2)} V while cranking at ${clockTime(plateau.from)}, battery at about ${figure(plateau.temperature, 0)} °C (a sound one holds ${figure(limit.value, 2)} V)`,
      margin: limit.value - plateau.voltage,
      u,
      samples: plateau.samples,
      event: {
        input,
        from: plateau.from,
        to: plateau.to,
        severity: 'watch',
        peak: { value: plateau.voltage, unit: 'V' },
        battery: { value: plateau.temperature, unit: 'degC' },
      },
    }));
}
