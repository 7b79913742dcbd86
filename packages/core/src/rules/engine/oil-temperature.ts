import { type Refusal, refuse } from '../../derived/recipe.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Measure,
  type Observed,
  type Severity,
} from '../rule.js';
import { type StoredPeak, storedPeakOf, storedTemperature } from '../stored-temperature.js';
import { storedAlone, withStored } from '../stored-value.js';
import { clockTime, counted, figure } from '../wording.js';
import { type OilReading, OPERATING, readOil } from './oil-temperature-reading.js';

const CP = 'common practice, no source';
/** Oil at working temperature for this long (s) before "it did not get too hot" says anything. */
const WARM_ENOUGH = 300;
/** A sensor that reads the same for this long (s) is not believed. Common practice, no source. */
const DEAD_AFTER = 900;
const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

const CAUSES = [
  'hard use without a break: a track drive with a cooler made for the road',
  'oil level too low, or old oil',
  'oil cooler or its thermostat blocked, air path to the cooler blocked',
  'coolant too hot, where the oil is cooled by it',
  'bearing or turbocharger friction',
];

const ADVICE = [
  'Change the oil: it has aged by the heat; choose the grade for hard use that the maker of the engine allows.',
  'Check the level, the oil cooler, its thermostat and its air path.',
  'Look at hot oil pressure in the same drive: oil this hot is thin.',
  'For track use fit or enlarge the oil cooler, and drive cool-down laps.',
];

const STOP_ADVICE = 'Take the load off now and let the engine cool down by driving gently; do not go on at full load.';

const STORED_WORDS = {
  what: 'oil temperature',
  causes: [
    'hard use without a break at some time in the past',
    'oil cooler, its thermostat or its air path blocked, or oil level too low',
    'a sensor or plug that read wrong for a moment',
  ],
  advice: [
    'Ask for track use, and when the oil was changed last; change it if that was before the heat.',
    'Record the oil temperature in a warm drive with a full-load pull: it shows whether the oil gets too hot today.',
    'Look at hot oil pressure: bearings that ran on thin oil show there.',
  ],
} as const;

const limits: readonly LimitDefinition[] = (
  [
    ['watch', 130],
    ['repair', 140],
    ['stop', 150],
  ] as const
).map(([name, value]) => ({ name, value, unit: 'degC', comparison: '>=', source: CP, about: 'engine oil, for 2 s' }));

export const oilTemperature = defineRule({
  id: 'engine.oil-temperature',
  system: 'engine',
  question: 'Did the engine oil get too hot?',
  why: 'Hot oil is thin and ages fast: bearings and turbochargers pay for it.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['engineOilTemperature'],
    optional: ['engineOilTemperatureMaximum'],
    derived: [],
    conditions: [`engine oil >= ${OPERATING} °C for >= ${WARM_ENOUGH} s`],
  },
  readOuts: true,
  limits,
  method:
    'The temperature is cleared of range ends, of leaps that no oil can make and of spikes, and smoothed over a second. An event enters at the lowest limit for at least two seconds and ends five kelvin below it; its severity is the highest limit at which the lower 95 % bound holds for two seconds with three fresh samples. A highest temperature that the control unit has stored counts one step less than one that was seen. Clear takes oil at working temperature for five minutes.',
  decoys: [
    'sensor at the ends of its range (-40, 215 degC): taken out',
    'a column in degF: converted when the file is read',
    'spikes and loose connectors: neither lasts two seconds in a way that oil can',
    'gaps: never counted as time above a limit',
  ],
  cautions: ['Break a hard drive off when the oil passes the watch limit; let the engine cool down by driving gently.'],
  proves:
    'A warm drive of ten minutes with one full-load pull where it is lawful and safe, engine oil temperature recorded at 1.5 Hz or faster.',
  observe(view, context): OilRecord | Refusal {
    const stored = storedPeakOf(view.optional('engineOilTemperatureMaximum'));
    const channel = view.optional('engineOilTemperature') ?? view.family('engineOilTemperature')[0];
    const seen = channel === undefined ? undefined : readOil(channel, view.time, context.limits());
    if (seen === undefined && stored === undefined)
      return refuse('the engine oil temperature holds no usable samples', { channels: ['engineOilTemperature'] });
    return { ...(seen === undefined ? {} : { seen }), ...(stored === undefined ? {} : { stored }) };
  },
  judge,
});

/** One recording: what it showed, and what the control unit has kept. */
interface OilRecord {
  /** Absent in a read-out. */
  readonly seen?: OilReading;
  readonly stored?: StoredPeak;
}

function judge(observed: readonly Observed<OilRecord>[], context: Context): Judgement {
  const limits = context.limits();
  const peaks = observed.flatMap(({ observation }) => observation.stored ?? []);
  const stored = storedTemperature(peaks, limits, ['watch', 'repair', 'stop'], STORED_WORDS);
  const drives = observed.flatMap(({ input, observation: { seen } }) =>
    seen === undefined ? [] : [{ input, observation: seen }],
  );
  if (drives.length > 0) return withStored(judgeSeen(drives, context), stored);
  const summary = 'No stored oil temperature is beyond the limits; how warm the oil gets today was not recorded.';
  return storedAlone(summary, ['engineOilTemperature'], Object.values(limits), stored);
}

function judgeSeen(observed: readonly Observed<OilReading>[], context: Context): Judgement {
  const named = context.limits();
  const readings = observed.map(({ observation }) => observation);
  const events = observed.flatMap(({ input, observation }) =>
    observation.events.map((event) => ({ input, event, reading: observation })),
  );
  const top = readings.reduce((a, b) => (b.peak > a.peak ? b : a));
  const sum = (of: (reading: OilReading) => number): number =>
    readings.reduce((total, reading) => total + of(reading), 0);
  const measures: Record<string, Measure> = {
    peak: { value: top.peak, unit: 'degC' },
    events: { value: events.length },
    dwell: { value: sum(({ dwell }) => Math.max(...Object.values(dwell))), unit: 's' },
    warm: { value: sum(({ warm }) => warm), unit: 's' },
  };
  const base = {
    measures,
    events: events.map(({ input, event: { from, to, severity, peak } }) => ({
      input,
      from,
      to,
      severity,
      peak: { value: peak, unit: 'degC' },
    })),
    limits: Object.values(named),
  };
  const worst = events.reduce<(typeof events)[number] | undefined>((a, b) => {
    const rank = a === undefined ? 1 : RANK[b.event.severity] - RANK[a.event.severity];
    return rank > 0 || (rank === 0 && b.event.peak > a!.event.peak) ? b : a;
  }, undefined);
  if (worst !== undefined) {
    const { event, reading } = worst;
    const limit = named[event.severity]!;
    const seconds = sum(({ dwell }) => dwell[event.severity] ?? 0);
    return {
      ...base,
      outcome: 'finding',
      severity: event.severity,
      confidence: confidenceOf({
        margin: event.peak - limit.value,
        uncertainty: reading.uncertainty,
        samples: event.samples,
        channels: [reading],
        doubts: [event.leapt ? 0.6 : 1],
      }),
      summary: `Engine oil reached ${figure(event.peak)} °C at ${clockTime(event.peakAt)}, and stood ${figure(seconds, 0)} s at or above the limit of ${figure(limit.value)} °C${events.length > 1 ? ` (${counted(events.length, 'event')})` : ''}.`,
      causes: CAUSES,
      advice: event.severity === 'watch' ? ADVICE : [STOP_ADVICE, ...ADVICE],
    };
  }
  return calm(readings, top, named.watch!.value, base);
}

function calm(
  readings: readonly OilReading[],
  top: OilReading,
  limit: number,
  base: Pick<Judgement, 'measures'> & object,
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const dead = readings.find((reading) => reading.constant && reading.seen >= DEAD_AFTER);
  if (dead) {
    return open(
      `The engine oil temperature reads ${figure(dead.peak)} °C all the time: the sensor is not believed.`,
      ['engineOilTemperature'],
      [],
    );
  }
  if (readings.some(({ undecided }) => undecided)) {
    return open(
      'Oil was seen beyond the limit, but with too few samples to tell heat from a disturbed reading.',
      [],
      ['engineOilTemperature at >= 1.5 Hz'],
    );
  }
  const warm = readings.reduce((total, reading) => total + reading.warm, 0);
  if (warm < WARM_ENOUGH) {
    return open(
      `The oil was at its working temperature for ${figure(warm, 0)} s only.`,
      [],
      [`engine oil >= ${OPERATING} °C for >= ${WARM_ENOUGH} s`],
    );
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limit - top.peak,
      uncertainty: top.uncertainty,
      samples: Math.max(1, Math.round(warm * top.hz)),
      channels: readings,
    }),
    summary: `Engine oil peaked at ${figure(top.peak)} °C at ${clockTime(top.peakAt)} (limit ${figure(limit)} °C).`,
  };
}
