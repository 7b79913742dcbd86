import { exceeds } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Observed } from '../rule.js';
import { clockTime, figure, listed } from '../wording.js';
import { lateBank } from './lambda-sensor-lag.js';
import type { SensorObservation, SensorReading } from './lambda-sensor-reading.js';

const CUTS = 3;
const CONDITION = '>= 3 overrun fuel cuts of >= 2 s';

/** The drive that shows most cuts of a sensor leads. */
export function judgeLambdaSensor(observed: readonly Observed<SensorObservation>[], context: Context): Judgement {
  const named = context.limits();
  const { watch, apart } = named;
  const least = named['apart-least']!;
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
    limits: [watch!, apart!, least],
  };
  const behind = lateBank(all, apart!, least, spoken);
  const told = listed(usable.map((each) => `${spoken(each.id)} ${timeOf(each)}`));
  if (usable.length < all.length || usable.length === 0) {
    const slow = all.find(({ hz }) => hz < 0.95 * rate);
    const few = all.find(({ times }) => times.length < CUTS);
    if (usable.length === 0 && behind !== undefined)
      return { ...base, outcome: 'finding', severity: 'repair', ...behind, ...remedies(true) };
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
  // A ratio over a small time is nothing like normal: what one bank takes beyond so many times the other is (Fieller 1954, from memory).
  const more = slowest.response - apart!.value * quickest.response;
  const moreU = Math.hypot(slowest.u, apart!.value * quickest.u);
  const uneven =
    usable.length > 1 &&
    exceeds(more, moreU, 0, apart!.comparison) === 'beyond' &&
    exceeds(slowest.response, slowest.u, least.value, least.comparison) === 'beyond';
  const beyond = exceeds(slowest.response, slowest.u, watch!.value, watch!.comparison);
  const late =
    beyond === 'beyond' &&
    (!slowest.assumed || exceeds(slowest.rise, slowest.riseU, watch!.value, watch!.comparison) === 'beyond');
  // The least that is sure: where only the pedal tells the cut, the rise of the sensor.
  const surely = slowest.assumed && !uneven ? slowest.rise : slowest.response;
  const channels = usable.map(({ channel }) => channel);
  if (uneven || late) {
    const margin = uneven ? more : surely - watch!.value;
    return {
      ...base,
      outcome: 'finding',
      severity: uneven ? 'repair' : 'watch',
      confidence: confidenceOf({
        margin,
        uncertainty: uneven ? moreU : slowest.assumed ? slowest.riseU : slowest.u,
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
      ...remedies(uneven),
    };
  }
  if (behind !== undefined) return { ...base, outcome: 'finding', severity: 'repair', ...behind, ...remedies(true) };
  if (beyond === 'beyond')
    return {
      ...base,
      outcome: 'unproven',
      summary: `From the release of the pedal it takes ${told} to read air (limit ${figure(watch!.value)} s), but when fuel was cut is not recorded: the control unit may wait, and the sensors rise within ${figure(slowest.rise, 2)} s.`,
      missing: { channels: ['injectionTime', 'fuelCut'], conditions: [] },
    };
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
    summary: `After a fuel cut it takes ${told} to read air (limit ${figure(watch!.value)} s${slowest.response > watch!.value ? ', near the limit' : ''}).${usable.some(({ quick }) => quick) ? ' The sensor is quicker than the log shows.' : ''}${open > 0 ? ` ${open} sensor could not be judged.` : ''}`,
  };
}

function remedies(uneven: boolean): { readonly causes: string[]; readonly advice: string[] } {
  return {
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

/** Where the cut itself is not recorded, or the sensor quicker than the log, the time is the most it can be. */
function timeOf({ response, assumed, quick }: SensorReading): string {
  return `${assumed || quick ? 'at most ' : ''}${figure(response, 2)} s`;
}

function nameOf(id: string): string {
  return id.split('.')[1] ?? 'common';
}

function spoken(id: string): string {
  const bank = /bank(\d+)/.exec(id)?.[1];
  return bank === undefined ? 'the sensor' : `bank ${bank}`;
}
