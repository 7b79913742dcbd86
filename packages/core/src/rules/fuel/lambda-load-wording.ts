import type { Limit, Severity } from '../rule.js';
import { clockTime, figure, listed } from '../wording.js';
import type { MixtureEvent, MixtureReading } from './lambda-load-reading.js';

/** Likely first. */
export const LEAN_CAUSES = [
  'fuel supply at its end: pump, filter or pressure regulator (fuel pressure falls with load)',
  'injectors too small, dirty or at the end of their opening time',
  'air meter reads too little, or its scaling was changed',
  'fuel calibration not matched to the hardware or the fuel (ethanol)',
  'misfire or an exhaust leak in front of the sensor: the sensor sees air that was not burnt',
];

export const RICH_CAUSES = [
  'over-enriched calibration',
  'leaking or oversized injectors, fuel pressure too high',
  'air meter reads too much',
];

/** Cheapest first. */
export function mixtureAdvice(severity: Severity, rich: boolean): string[] {
  if (rich) {
    return [
      'Look for black smoke and soot at the tail pipe; read the fuel trims.',
      'Have the calibration checked: too rich washes the cylinder walls and costs power.',
    ];
  }
  return [
    ...(severity === 'stop'
      ? ['No more full load: lean at boost burns pistons and exhaust valves within seconds.']
      : []),
    'Record rail and feed pressure, injection time and both banks together in the same pull.',
    'Check the fuel trims at load: lean there as well points to supply or air meter.',
    'Check feed pump, filter and pressure regulator; then the injectors.',
    'Have the calibration checked by its maker before the next pull.',
  ];
}

/** `bank 1` or nothing for the plain channel. */
export function bankOf(id: string): string {
  const bank = /bank(\d+)/.exec(id)?.[1];
  return bank === undefined ? '' : `bank ${bank}`;
}

export function mixtureSummary(
  event: MixtureEvent,
  banks: readonly string[],
  limits: Readonly<Record<string, Limit>>,
  count: number,
  total: number,
): string {
  const named = banks.filter((bank) => bank !== '');
  const where = named.length === 0 ? '' : ` on ${listed(named)}`;
  const speed = Number.isNaN(event.rpm) ? '' : ` and ${figure(event.rpm, 0)} rpm`;
  const often = total > count ? `, ${count} of ${total} times beyond a limit` : count > 1 ? `, ${count} times` : '';
  const at = `at full load${speed} at ${clockTime(event.from)}${often}`;
  const lambda = figure(event.lambda, 2);
  switch (event.kind) {
    case 'rich':
      return `Lambda ${lambda}${where} ${at} (limit ${figure(limits['rich-watch']!.value, 2)}): richer than power or cooling need, it smokes.`;
    case 'untargeted':
      return `Lambda ${lambda}${where} ${at}; no target is recorded. Too lean if this engine is enriched at full load (limit ${figure(limits['untargeted-watch']!.value, 2)} above ${figure(limits['untargeted-boost']!.value, 0)} kPa of boost).`;
    case 'lean':
      return `Lambda ${lambda}${where} ${at} where ${figure(event.target, 2)} is wanted (limit ${figure(limits['lean-stop']!.value, 2)}): lean under load.`;
    default:
      return `Lambda ${lambda}${where} ${at}, ${figure(event.lambda - event.target, 2)} leaner than the target of ${figure(event.target, 2)} (limit ${figure(limits[event.kind]!.value, 2)}).`;
  }
}

export function clearSummary(leading: MixtureReading, seconds: number, limit: Limit): string {
  if (!leading.targeted) {
    return `Lambda holds ${figure(leading.median, 2)} over ${figure(seconds)} s of full load, enriched as a boosted engine needs; no target is recorded.`;
  }
  const excess = Number.isNaN(leading.excess)
    ? ''
    : `, at most ${figure(leading.excess, 2)} over its target (limit ${figure(limit.value, 2)})`;
  return `Lambda follows its target over ${figure(seconds)} s of full load: ${figure(leading.median, 2)} in the middle${excess}.`;
}
