import type { OwnLoss } from '../../derived/oil-pressure-own.js';
import type { Limit, Severity } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import type { IdleReading, SpeedEvent, SpeedReading } from './oil-pressure-reading.js';

/** Likely first. */
export const CAUSES = [
  'oil level too low, or oil thinned by fuel or of too low a viscosity',
  'worn main and big-end bearings, which let the oil out faster than the pump brings it',
  'worn oil pump, or its control valve or solenoid stuck in the low stage',
  'pick-up strainer partly blocked by debris or sludge',
  'relief valve stuck open, filter housing leaking inside',
  'pressure sensor at fault',
];

export const OWN_CAUSES = [
  'oil thinned by fuel or foamed, or other oil filled in',
  'pump control valve or solenoid stuck in the low stage',
  'pick-up strainer beginning to block',
  'bearing damage that has just begun',
];

/** Cheapest first. */
export function adviceOf(severity: Severity): string[] {
  return [
    ...(severity === 'stop'
      ? ['Switch the engine off now and do not start it again before the pressure has been measured.']
      : []),
    'Check the oil level, and smell the dipstick for petrol; note the viscosity that was filled in.',
    'Measure the pressure with a mechanical gauge at hot idle and at 3000 rpm: it tells a lying sensor from a dying bearing.',
    'Cut the oil filter open and look for metal; have the oil analysed for bearing metals and fuel.',
    ...(severity === 'watch'
      ? []
      : [
          'Have the pump, its control valve, the strainer and the bearing clearances checked before the engine is loaded again.',
        ]),
  ];
}

export function idleWords(reading: IdleReading, limit: Limit): string {
  return `Hot idle at ${figure(reading.rpm, 0)} rpm holds ${figure(reading.pressure, 2)} bar of oil pressure (limit ${figure(limit.value, 2)} bar, at ${clockTime(reading.from)}).`;
}

export function speedWords(event: SpeedEvent, limits: Readonly<Record<string, Limit>>): string {
  const limit =
    event.level === 'stop'
      ? `limit ${figure(event.limit, 2)} bar`
      : `limit ${figure(event.limit, 2)} bar: ${figure(limits['speed-repair']!.value, 2)} bar per 1000 rpm, at most ${figure(limits.cap!.value)} bar`;
  const oil = event.cold ? ', with oil that is not even hot yet' : '';
  return `Oil pressure falls to ${figure(event.pressure, 2)} bar at ${figure(event.rpm, 0)} rpm (${limit}) at ${clockTime(event.from)}${oil}.`;
}

export function lossWords(loss: OwnLoss & { readonly at: number; readonly between: boolean }, limit: Limit): string {
  const when = loss.between ? 'since an earlier recording' : `from ${clockTime(loss.at)} on`;
  return `Oil pressure is ${figure(loss.loss, 0)} % below the car's own earlier values at the same engine speed and oil temperature (limit ${figure(limit.value, 0)} %), ${when}, at idle as well.`;
}

export function clearSummary(
  idle: IdleReading,
  nearest: SpeedReading['nearest'],
  limits: Readonly<Record<string, Limit>>,
): string {
  return `Hot idle holds at least ${figure(idle.pressure, 2)} bar (limit ${figure(limits['idle-watch']!.value, 2)} bar); at speed the lowest against its limit is ${figure(nearest.pressure, 2)} bar at ${figure(nearest.rpm, 0)} rpm (limit ${figure(nearest.limit, 2)} bar).`;
}

export function openSummary(
  idle: { readonly reading: IdleReading } | undefined,
  nearest: SpeedReading['nearest'] | undefined,
  unknown: boolean,
  wasHot: boolean,
): string {
  if (unknown) return 'Whether the oil was hot cannot be told: neither oil nor coolant temperature is recorded.';
  if (!wasHot) return 'The oil never got hot, so its pressure says little: cold oil hides worn bearings.';
  if (idle === undefined && nearest === undefined)
    return 'Neither a hot idle nor a hot engine above idle was held for long enough.';
  if (idle === undefined) {
    return `No hot idle was held for long enough; at speed the lowest against its limit is ${figure(nearest!.pressure, 2)} bar at ${figure(nearest!.rpm, 0)} rpm.`;
  }
  return `Hot idle holds ${figure(idle.reading.pressure, 2)} bar, but the engine was not seen long enough above idle with hot oil.`;
}
