import type { RuleEvent } from '../rule.js';
import { clockTime } from '../wording.js';
import type { JudgedStart } from './launches-start.js';

export interface Placed {
  readonly input: number;
  readonly start: JudgedStart;
}

export function counted(n: number, noun: string): string {
  if (n === 1) return `${n} ${noun}`;
  return `${n} ${noun}${noun.endsWith('ch') ? 'es' : 's'}`;
}

export function eventOf({ input, start }: Placed): RuleEvent {
  return {
    input,
    from: start.from,
    to: start.to,
    ...(Number.isNaN(start.acceleration) ? {} : { acceleration: { value: start.acceleration, unit: 'm/s2' } }),
    ...(Number.isNaN(start.heldEngineSpeed) ? {} : { heldEngineSpeed: { value: start.heldEngineSpeed, unit: 'rpm' } }),
    ...(Number.isNaN(start.pedal) ? {} : { pedal: { value: start.pedal, unit: '%' } }),
    ...(Number.isNaN(start.speedReached) ? {} : { speedReached: { value: start.speedReached, unit: 'km/h' } }),
    ...(start.byFlag ? { shownBy: 'launch flag' } : {}),
  };
}

/** `at 1:28, 5.6 m/s² from 3200 rpm` */
export function described(start: JudgedStart): string {
  const held = Number.isNaN(start.heldEngineSpeed) ? '' : ` from ${Math.round(start.heldEngineSpeed)} rpm`;
  const gain = Number.isNaN(start.acceleration) ? '' : `, ${start.acceleration.toFixed(1)} m/s²${held}`;
  return `at ${clockTime(start.from)}${gain}`;
}

export function perThousand(value: number): string {
  return value >= 10 ? value.toFixed(0) : value.toFixed(1);
}

export const CAUSES = [
  'launch function or brake-stall starts used for sport or for show',
  'standing-start measurements by a previous owner, a dealer or a tuner',
];

/** Cheapest first. */
export const ADVICE = [
  'Ask the seller how the car was started from rest, and who drove it.',
  'Read the stored launch counter and the distance out of the transmission control unit.',
  'Look at clutch slip and clutch adaptation, and feel for judder on take-up: that is where launches leave their mark.',
  'Have the transmission fluid and its filter looked at for clutch debris before buying.',
];
