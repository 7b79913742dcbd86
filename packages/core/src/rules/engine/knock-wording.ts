import { KNOCK_CELL, type KnockCell } from '../../derived/knock-map.js';
import { KNOCK_SPEED } from '../../derived/knock-signal.js';
import type { Missing } from '../../derived/recipe.js';
import type { RuleEvent } from '../rule.js';
import { clockTime } from '../wording.js';
import { HOT_AIR } from './knock-advice.js';
import type { KnockObservation, SeenKnock } from './knock-observation.js';
import { type KnockGround, PULLS_AGREE, PULLS_REPAIR } from './knock-verdict.js';

/** Below this the count is a lower bound; below the second a clean recording proves nothing (common practice). */
export const COUNTS = 5;
/** Clocks of loggers wander by this much: 4.99 Hz is 5 Hz. */
export const SLACK = 0.95;
const SHOWS = 2;

export function sum(
  all: readonly KnockObservation[],
  key: 'lowLoad' | 'explained' | 'fresh' | 'freshInEvents',
): number {
  return all.reduce((total, o) => total + o[key], 0);
}

export function counted(n: number, noun: string): string {
  return `${n} ${noun}${n === 1 ? '' : 's'}`;
}

export function foundSummary(
  ground: KnockGround,
  pulls: number,
  maxRetard: number,
  cylinders: readonly number[],
): string {
  const { limit, value, where, events } = ground;
  const first = events[0];
  const which =
    cylinders.length === 0
      ? ''
      : ` Events on ${cylinders.length === 1 ? 'cylinder' : 'cylinders'} ${cylinders.join(', ')}.`;
  const when = first ? `, first at ${clockTime(first.from)} and ${Math.round(first.speed)} rpm` : '';
  const third =
    limit.name === 'repair' && ground.severity === 'watch' && pulls < PULLS_REPAIR
      ? ' A third pull would decide whether it is a repair.'
      : '';
  const what = limit.name === 'cylinderSpread' ? 'retards by' : 'Knock control takes back';
  const head =
    limit.name === 'cylinderSpread'
      ? `${where[0]!.toUpperCase()}${where.slice(1)} ${what} ${value.toFixed(1)}° more than the others`
      : `${what} ${value.toFixed(1)}° in ${where}`;
  return `${head} (${ground.severity} from ${limit.value}°), at most ${maxRetard.toFixed(1)}°${when}.${which}${third}`;
}

/** Places that are told, worst first; the whole map stands in the details. */
const PLACES = 4;

/** Where on engine speed x load it knocks, in words; undefined where no cell holds an event. */
export function placesNote(map: readonly KnockCell[]): string | undefined {
  const places = new Map<string, { speed: number; load: number | null; max: number; events: number; visits: number }>();
  for (const { speed, load, max, events, visits } of map) {
    if (events === 0) continue;
    const key = `${speed}/${load}`;
    const seen = places.get(key);
    if (seen === undefined) places.set(key, { speed, load, max, events, visits });
    else {
      seen.max = Math.max(seen.max, max);
      seen.events += events;
      seen.visits = Math.max(seen.visits, visits);
    }
  }
  const worst = [...places.values()].sort((a, b) => b.max - a.max || a.speed - b.speed).slice(0, PLACES);
  if (worst.length === 0) return undefined;
  const told = worst.map(({ speed, load, max, events, visits }) => {
    const at = load === null ? '' : ` at load ${load.toFixed(1)} to ${(load + KNOCK_CELL.load).toFixed(1)}`;
    return `${speed} to ${speed + KNOCK_CELL.speed} rpm${at} up to ${max.toFixed(1)}°, ${counted(events, 'event')} in ${counted(visits, 'passage')}`;
  });
  return `Knock map, worst first: ${told.join('; ')}.`;
}

/** Why a recording without a finding proves nothing, or undefined when it does. */
export function openReason(
  pulls: number,
  rate: number,
  struck: number,
  maxRetard: number,
  watch: number,
): { summary: string; missing: Missing } | undefined {
  const seen = struck > 0 || maxRetard >= watch ? ` What was seen is not nothing: up to ${maxRetard.toFixed(1)}°.` : '';
  if (pulls < PULLS_AGREE) {
    const conditions = [`full-load pull >= 2 s at ${KNOCK_SPEED} rpm or more: ${PULLS_AGREE} needed, ${pulls} seen`];
    return {
      summary: `${counted(pulls, 'pull')} at high load: absence of knock takes at least ${PULLS_AGREE}.${seen}`,
      missing: { channels: [], conditions },
    };
  }
  if (rate < SHOWS) {
    return {
      summary: `Knock retard brings ${rate.toPrecision(2)} fresh values a second: an event can pass between two of them.${seen}`,
      missing: { channels: [], conditions: [`knockRetard at >= ${COUNTS} Hz`] },
    };
  }
  if (struck === 1 && pulls < PULLS_REPAIR) {
    return {
      summary: `One of ${pulls} pulls reached ${maxRetard.toFixed(1)}° (watch from ${watch}° in 2 pulls): a third decides.`,
      missing: { channels: [], conditions: [`full-load pull >= 2 s: ${PULLS_REPAIR} needed, ${pulls} seen`] },
    };
  }
  return undefined;
}

export function notesOf(all: readonly KnockObservation[], rate: number, offset: number, hot: boolean): string[] {
  const notes: string[] = [];
  if (rate < SLACK * COUNTS) {
    notes.push(
      `Knock retard at ${rate.toPrecision(2)} Hz: the number of events and the highest retard are lower bounds (${COUNTS} Hz count them).`,
    );
  }
  if (all.some((o) => !o.signal.rateCertain))
    notes.push('Knock retard moves too seldom to tell how often it is read: the rate of engine speed is taken.');
  if (offset > 0)
    notes.push(
      `Steady learned offset of ${offset.toFixed(1)}° at low load as well: taken off; fuel and learning are another question.`,
    );
  if (hot) notes.push(`Charge air of ${HOT_AIR} °C or more at the events: confidence lowered.`);
  const explained = sum(all, 'explained');
  if (explained > 0)
    notes.push(`${counted(explained, 'step')} not counted: tip-in, shift, traction control or low load.`);
  for (const blind of new Set(all.flatMap((o) => o.signal.blind))) notes.push(`Could not be told apart: ${blind}.`);
  if (all.some((o) => o.signal.loadBasis === 'pedal'))
    notes.push('No load recorded: full-pedal pulls stand for high load.');
  if (all.some((o) => o.signal.loadBasis === 'calculated-load'))
    notes.push('Calculated load only: high load is 85 % at 2500 rpm or more with the pedal down.');
  if (all.some((o) => o.signal.pullBasis === 'load'))
    notes.push('No pedal recorded: 2 s of high load stand for a pull.');
  return notes;
}

export function eventOf(event: SeenKnock, input: number): RuleEvent {
  return {
    input,
    from: event.from,
    to: event.to,
    peak: { value: event.peak, unit: 'deg' },
    ...(event.cylinder === undefined ? {} : { cylinder: event.cylinder }),
    engineSpeed: { value: event.speed, unit: 'rpm' },
    ...(Number.isNaN(event.load) ? {} : { load: { value: event.load, unit: '1' } }),
  };
}
