import { spoken } from '../../channels/spoken.js';
import type { RuleEvent } from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import type { Bridge } from './recording-bridges.js';
import type { Copy } from './recording-copies.js';
import type { CounterFault } from './recording-counters.js';
import type { Seam } from './recording-jumps.js';
import type { OffSteps } from './recording-steps.js';
import type { Apart } from './recording-whole.js';
import type { Edit } from './recording-windows.js';

/** One sign that a recording is not what was driven. */
export interface Sign {
  readonly kind: 'joined' | 'missing' | 'paused' | 'copied' | 'bridged' | 'edited' | 'apart' | 'clock';
  readonly text: string;
  /** `watch` when an honest logger does the same. */
  readonly severity: 'watch' | 'repair';
  readonly event: RuleEvent;
}

export function seamSign(seam: Seam, input: number): Sign {
  const sorted = [...seam.leaps].sort((a, b) => b.times - a.times);
  // One wheel stands for all of them.
  const base = ({ channel }: (typeof sorted)[number]): string => channel.split('.')[0]!;
  const told = sorted.filter((each, k) => sorted.findIndex((other) => base(other) === base(each)) === k).slice(0, 3);
  const parts = told.map(
    ({ channel, before, after, unit }) =>
      `${spoken(channel)} from ${figure(before, 0)} to ${figure(after, 0)}${unitText(unit)}`,
  );
  return {
    kind: 'joined',
    severity: 'repair',
    text: `at ${clockTime(seam.to)} ${listed(parts)} within ${figure(Math.max(0.1, seam.to - seam.from))} s, which no car can do`,
    event: { input, from: seam.from, to: seam.to, severity: 'repair', sign: 'joined' },
  };
}

export function counterSign(fault: CounterFault, input: number): Sign {
  const { kind, from, to, before, after, value } = fault;
  const event = (sign: string, severity: 'watch' | 'repair'): RuleEvent => ({ input, from, to, severity, sign });
  switch (kind) {
    case 'lost':
      return {
        kind: 'missing',
        severity: 'repair',
        text: `at ${clockTime(to)} the run time of the engine goes from ${clockTime(before)} to ${clockTime(after)} while the clock of the file counts ${figure(to - from)} s: ${clockTime(value)} min are missing without a gap`,
        event: event('missing', 'repair'),
      };
    case 'back':
      return {
        kind: 'joined',
        severity: 'repair',
        text: `at ${clockTime(to)} the run time of the engine goes back from ${clockTime(before)} to ${clockTime(after)} while the engine runs`,
        event: event('joined', 'repair'),
      };
    case 'rate':
      return {
        kind: 'clock',
        severity: 'watch',
        text: `the car counted ${clockTime(after)} min of engine running while the clock of the file counted ${clockTime(before)} min (${figure(100 * value, 0)} %)`,
        event: event('clock', 'watch'),
      };
    case 'gap':
      return {
        kind: 'paused',
        severity: 'watch',
        text: `${clockTime(value)} min are missing at ${clockTime(from)} although the engine ran on (its run time goes from ${clockTime(before)} to ${clockTime(after)})`,
        event: event('paused', 'watch'),
      };
    case 'odometer':
      return {
        kind: 'joined',
        severity: 'repair',
        text: `at ${clockTime(to)} the odometer goes from ${figure(before, 0)} to ${figure(after, 0)} km within ${figure(to - from)} s`,
        event: event('joined', 'repair'),
      };
  }
}

export function copySign(copy: Copy, input: number): Sign {
  return {
    kind: 'copied',
    severity: 'repair',
    text: `${clockTime(copy.from)} to ${clockTime(copy.to)} repeats ${clockTime(copy.twin)} value by value (${counted(copy.rows, 'row')}, ${copy.changes} changes of ${counted(copy.channels.length, 'column')})`,
    event: {
      input,
      from: copy.from,
      to: copy.to,
      severity: 'repair',
      sign: 'copied',
      twin: { value: copy.twin, unit: 's' },
    },
  };
}

export function bridgeSign({ from, to, channels }: Bridge, input: number): Sign {
  return {
    kind: 'bridged',
    severity: 'repair',
    text: `${clockTime(from)} to ${clockTime(to)} ${counted(channels.length, 'column')} run along straight lines together, without the noise of their sensors: computed rows, not measured ones`,
    event: { input, from, to, severity: 'repair', sign: 'bridged' },
  };
}

export function editSign(edit: Edit, input: number): Sign {
  const { channel, from, to, factor, kin } = edit;
  const where = `${clockTime(from)} to ${clockTime(to)}`;
  return {
    kind: 'edited',
    severity: 'repair',
    text:
      edit.kind === 'scaled'
        ? `${spoken(channel)} reads ${figure(factor, 2)} times what ${listed(kin.slice(0, 2).map(spoken))} say from ${where}, and 1.00 times before and after`
        : `${spoken(channel)} has ${figure(100 * factor, 0)} % of its usual noise from ${where}, while ${counted(kin.length, 'other column')} kept theirs`,
    event: { input, from, to, severity: 'repair', sign: 'edited', channel },
  };
}

export function stepsSign({ channel, unit, step, from, to, share }: OffSteps, input: number): Sign {
  return {
    kind: 'edited',
    severity: 'repair',
    text: `${spoken(channel)} is written in steps of ${figure(step, 3)}${unitText(unit)}, and from ${clockTime(from)} to ${clockTime(to)} ${figure(100 * share, 0)} % of its values lie between them`,
    event: { input, from, to, severity: 'repair', sign: 'edited', channel },
  };
}

/** One mile in km, and its inverse: units mistaken for each other. */
const MILE = 1.609344;

export function apartSign(apart: Apart, input: number, duration: number): Sign {
  const { kind, channel, other, factor, agreeing, cut } = apart;
  const miles = [MILE, 1 / MILE].some((x) => Math.abs(factor / x - 1) < 0.03);
  const side = agreeing.filter((id) => id !== other);
  const scaledText = `${spoken(channel)} reads ${figure(factor, 2)} times ${spoken(other)} over the whole recording${
    side.length > 0 ? `, and ${listed(side.map(spoken))} ${side.length > 1 ? 'side' : 'sides'} with the latter` : ''
  }${miles ? '; that is the step from miles to kilometres, so look at its unit first' : ''}`;
  return {
    kind: 'apart',
    severity: 'watch',
    text:
      cut !== undefined
        ? `${spoken(channel)} lies flat on ${figure(cut.top, 0)} rpm ${counted(cut.times, 'time')} while the car gathers speed (${spoken(other)} reads ${figure(cut.reached, 0)} ${other === 'inputShaftSpeed' ? 'rpm' : 'km/h'} at ${clockTime(cut.at)}): it was cut off there`
        : kind === 'scaled'
          ? scaledText
          : `${spoken(channel)} has ${figure(100 * factor, 0)} % of the noise of ${counted(agreeing.length, 'other wheel')} over the whole recording`,
    event: { input, from: 0, to: duration, severity: 'watch', sign: 'apart', channel },
  };
}

function unitText(unit: string): string {
  return unit === '' ? '' : ` ${unit === 'degC' ? '°C' : unit}`;
}
