import { exceeds } from '../../derived/exceeds.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Observed } from '../rule.js';
import { clockTime, figure, listed } from '../wording.js';

export interface SensorReading {
  readonly id: string;
  readonly channel: Channel;
  /** Seconds of each cut. */
  readonly times: readonly number[];
  readonly response: number;
  readonly u: number;
  readonly hz: number;
  /** Delay behind the target in closed loop, s; NaN when not known. */
  readonly lag: number;
  readonly ends: boolean;
  readonly first: number;
}

export interface SensorObservation {
  readonly readings: readonly SensorReading[];
  /** Fresh values a second that it takes. */
  readonly rate: number;
}

const CUTS = 3;
const CONDITION = '>= 3 overrun fuel cuts of >= 2 s';

/** The drive that shows most cuts of a sensor leads. */
export function judgeLambdaSensor(observed: readonly Observed<SensorObservation>[], context: Context): Judgement {
  const { watch, apart } = context.limits();
  const rate = observed[0]!.observation.rate;
  const best = new Map<string, SensorReading & { input: number }>();
  for (const { input, observation } of observed)
    for (const reading of observation.readings) {
      const before = best.get(reading.id);
      if (before === undefined || reading.times.length > before.times.length)
        best.set(reading.id, { ...reading, input });
    }
  const all = [...best.values()];
  const usable = all.filter((each) => each.times.length >= CUTS && each.hz >= 0.95 * rate && !each.ends);
  const base = {
    measures: Object.fromEntries(
      all.flatMap((each): [string, { value: number; unit: string }][] => [
        ...(Number.isNaN(each.response)
          ? []
          : [
              [`response.${nameOf(each.id)}`, { value: each.response, unit: 's' }] as [
                string,
                { value: number; unit: string },
              ],
            ]),
        ...(Number.isNaN(each.lag)
          ? []
          : [[`lag.${nameOf(each.id)}`, { value: each.lag, unit: 's' }] as [string, { value: number; unit: string }]]),
      ]),
    ),
    limits: [watch!, apart!],
  };
  const told = listed(usable.map((each) => `${spoken(each.id)} ${figure(each.response, 2)} s`));
  if (usable.length < all.length || usable.length === 0) {
    const slow = all.find(({ hz }) => hz < 0.95 * rate);
    const few = all.find(({ times }) => times.length < CUTS);
    if (usable.length === 0)
      return {
        ...base,
        outcome: 'unproven',
        summary:
          slow !== undefined
            ? `Lambda is recorded ${slow.hz.toPrecision(2)} times a second: its answer to a fuel cut would not be seen.`
            : few !== undefined
              ? `Only ${few.times.length} fuel cuts of two seconds and more.`
              : 'The reading ends below lambda 1.8: how fast it comes there is not seen.',
        missing: { channels: [], conditions: slow !== undefined ? [`lambda at >= ${rate} Hz`] : [CONDITION] },
      };
  }
  const slowest = usable.reduce((a, b) => (b.response > a.response ? b : a));
  const quickest = usable.reduce((a, b) => (b.response < a.response ? b : a));
  const times = slowest.response / quickest.response;
  const timesU = times * Math.hypot(slowest.u / slowest.response, quickest.u / quickest.response);
  const uneven = usable.length > 1 && exceeds(times, timesU, apart!.value, apart!.comparison) === 'beyond';
  const late = exceeds(slowest.response, slowest.u, watch!.value, watch!.comparison) === 'beyond';
  const channels = usable.map(({ channel }) => channel);
  if (uneven || late) {
    const margin = uneven ? times - apart!.value : slowest.response - watch!.value;
    return {
      ...base,
      outcome: 'finding',
      severity: uneven ? 'repair' : 'watch',
      confidence: confidenceOf({
        margin,
        uncertainty: uneven ? timesU : slowest.u,
        samples: slowest.times.length,
        channels,
      }),
      summary: uneven
        ? `After a fuel cut ${spoken(slowest.id)} takes ${figure(slowest.response, 2)} s to read air, ${figure(times)} times as long as ${spoken(quickest.id)} (limit ${figure(apart!.value)}; ${slowest.times.length} cuts from ${clockTime(slowest.first)}).`
        : `After a fuel cut it takes ${told} to read air (limit ${figure(watch!.value)} s; ${slowest.times.length} cuts from ${clockTime(slowest.first)}).`,
      events: [
        {
          input: slowest.input,
          from: slowest.first,
          to: slowest.first + slowest.response,
          severity: uneven ? 'repair' : 'watch',
          peak: { value: slowest.response, unit: 's' },
        },
      ],
      causes: [
        'sensor aged or coated (oil, silicone, leaded or additive fuel)',
        'sensor heater weak: fuse, supply, wiring',
        ...(uneven
          ? ['exhaust leak ahead of that sensor', 'sensor of another type fitted on one side']
          : ['both sensors of the same age']),
      ],
      advice: [
        'Read heater current or resistance and the stored codes of the sensors.',
        ...(uneven ? ['Swap the sensors between the banks: does the delay follow?'] : []),
        'Look for an exhaust leak ahead of the sensor; then renew it. Until then trims and full-load mixture are less sure than they look.',
      ],
    };
  }
  const open = all.length - usable.length;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch!.value - slowest.response,
      uncertainty: slowest.u,
      samples: slowest.times.length,
      channels,
      doubts: [open > 0 ? 0.8 : 1],
    }),
    summary: `After a fuel cut it takes ${told} to read air (limit ${figure(watch!.value)} s).${open > 0 ? ` ${open} sensor could not be judged.` : ''}`,
  };
}

function nameOf(id: string): string {
  return id.split('.')[1] ?? 'common';
}

function spoken(id: string): string {
  const bank = /bank(\d+)/.exec(id)?.[1];
  return bank === undefined ? 'the sensor' : `bank ${bank}`;
}
