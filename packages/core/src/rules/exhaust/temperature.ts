import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS } from '../../derived/segments.js';
import { quantile } from '../../math/quantile.js';
import { confidenceOf } from '../confidence.js';
import { rankOf, SEVERITIES } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import { type ExhaustPlace, type ExhaustReading, HOLDS, QUICK, readExhaust, SLOWEST } from './temperature-reading.js';

const CP = 'common practice, no source';
/** Full load that has to be seen (s), or a temperature (degC) that only load gives, before "not too hot" says anything. */
const LOADED = 5;
const LOAD_HEAT = 750;
const PULL = `full load for >= ${LOADED} s with the exhaust gas temperature`;

const limits: readonly LimitDefinition[] = (
  [
    ['before-turbine', [950, 1000, 1050]],
    ['after-turbine', [850, 900, 950]],
  ] as const
).flatMap(([place, values]) =>
  SEVERITIES.map((name, k) => ({
    name,
    value: values[k]!,
    unit: 'degC',
    comparison: '>' as const,
    source: CP,
    about: `exhaust gas ${place === 'before-turbine' ? 'before' : 'after'} the turbine, for ${HOLDS[name]} s; a model gives no more than watch`,
    when: { place },
  })),
);

/** What went with the heat, for the order of the causes. */
interface Evidence {
  readonly lambda: number;
  readonly retard: number;
}

interface ExhaustObservation {
  readonly readings: readonly ExhaustReading[];
  /** Seconds of pulls. */
  readonly pulled: number;
  readonly evidence: Evidence;
}

const LEAN = 'mixture too lean at full load: fuel pressure, injectors, calibration';
const LATE = 'ignition late: knock, poor fuel, hot charge air, or a calibration that burns in the exhaust';
const REST = [
  'back pressure: catalyst or filter blocked, turbine housing too small for the power',
  'long full load, or a map that asks for more air than the turbine side can take',
  'misfire that burns in the manifold',
] as const;

export const exhaustTemperature = defineRule({
  id: 'exhaust.temperature',
  system: 'exhaust',
  question: 'Does the exhaust get too hot?',
  why: 'Turbine wheel, manifold, valves and catalyst creep, crack and melt from here on.',
  weight: 2,
  needs: {
    channels: ['exhaustGasTemperature'],
    optional: ['exhaustGasTemperatureModelled', 'lambda', 'knockRetard'],
    instead: { exhaustGasTemperature: 'exhaustGasTemperatureModelled' },
    derived: [SAMPLES, PULLS],
    conditions: [PULL, `exhaustGasTemperature at >= ${SLOWEST} Hz`],
  },
  limits,
  method:
    'Each probe is judged by its place, which its heading, a map file or the cylinder it belongs to must say. The reading is cleared of spikes and of leaps that no probe can make; an event is a stay beyond the lowest limit, which ends twenty kelvin below it; its severity is the highest limit at which the lower 95 % bound holds for the time of that limit (five seconds at the lowest, two at the others) with three fresh samples. Shorter stays are told, and are no finding. Models give no more than watch. Mixture and retard during the event set the order of the causes.',
  decoys: [
    'place not known: not judged, because the same temperature is healthy before the turbine and not behind it',
    'a model of the control unit: watch at most, wider uncertainty',
    'open or stuck probes: at the end of their range, hot in every kind of driving, or without any movement',
    'peaks shorter than the time of their limit: told as near the limit; spikes, gaps',
  ],
  cautions: [
    'Lift the foot when the limit is passed; full load only on a closed course or a dynamometer, within the law.',
    'Exhaust parts burn skin and start fires for an hour after a run; never run an engine in a closed space.',
  ],
  proves:
    'Two full-load pulls of more than five seconds, where it is lawful and safe, with exhaust gas temperature at 2 Hz or faster and the place of the probe in its heading.',
  observe(view, context): ExhaustObservation | Refusal {
    const limitsAt = (place: ExhaustPlace) => context.limits({ place });
    const readings = [
      ...view.family('exhaustGasTemperature').map((channel) => readExhaust(channel, false, view.time, limitsAt)),
      ...view.family('exhaustGasTemperatureModelled').map((channel) => readExhaust(channel, true, view.time, limitsAt)),
    ].filter((each) => each !== undefined);
    if (readings.length === 0)
      return refuse('the exhaust gas temperature holds no usable samples', { channels: ['exhaustGasTemperature'] });
    const pulls = view.derive(PULLS);
    const led = leadOf(readings);
    return {
      readings,
      pulled: isRefusal(pulls) ? 0 : pulls.reduce((total, { from, to }) => total + to - from, 0),
      evidence: evidenceOf(
        view.family('lambda').map(({ id, values }) => ({ id, values })),
        view.family('knockRetard').map(({ values }) => values),
        view.time,
        led?.from ?? Number.NaN,
        led?.to ?? Number.NaN,
      ),
    };
  },
  judge,
});

function leadOf(readings: readonly ExhaustReading[]) {
  return readings
    .flatMap(({ events }) => events)
    .reduce<ExhaustReading['events'][number] | undefined>(
      (a, b) => (a === undefined || rankOf(b.severity) > rankOf(a.severity) ? b : a),
      undefined,
    );
}

function evidenceOf(
  lambdas: readonly { readonly id: string; readonly values: Float64Array }[],
  retards: readonly Float64Array[],
  time: Float64Array,
  from: number,
  to: number,
): Evidence {
  const during = (values: Float64Array, share: number): number =>
    quantile(
      values.filter((x, i) => time[i]! >= from - 3 && time[i]! <= to && !Number.isNaN(x)),
      share,
    );
  const leanest = lambdas
    .filter(({ id }) => !/sensor[2-9]|cylinder/i.test(id))
    .map(({ values }) => during(values, 0.5));
  const latest = retards.map((values) => Math.abs(during(values, 0.75)));
  return { lambda: Math.max(...leanest, Number.NEGATIVE_INFINITY), retard: Math.max(...latest, 0) };
}

function causesBy({ lambda, retard }: Evidence): string[] {
  // 1.03 and 3 deg: beyond what a sound full load shows (common practice, no source).
  if (lambda > 1.03) return [LEAN, LATE, ...REST];
  if (retard >= 3) return [LATE, LEAN, ...REST];
  return lambda < 0.9 ? [LATE, ...REST, LEAN] : [LATE, LEAN, ...REST];
}

function name({ channel, place, modelled }: ExhaustReading): string {
  const where =
    place === 'before-turbine' ? ' before the turbine' : place === 'after-turbine' ? ' after the turbine' : '';
  const which =
    /\.(.+)$/
      .exec(channel.id)?.[1]
      ?.replace(/(\D)(\d)/g, '$1 $2')
      .replace('.', ', ') ?? '';
  return `Exhaust gas${where}${which === '' ? '' : ` (${which})`}${modelled ? ', by the model of the control unit,' : ''}`;
}

function judge(observed: readonly Observed<ExhaustObservation>[], context: Context): Judgement {
  const all = observed.flatMap(({ input, observation }) => observation.readings.map((reading) => ({ input, reading })));
  const placed = all.filter(({ reading }) => !isRefusal(reading.place));
  const believed = placed.filter(({ reading }) => reading.disbelief === undefined);
  const events = believed.flatMap(({ input, reading }) => reading.events.map((event) => ({ input, event, reading })));
  const places = new Set(placed.map(({ reading }) => reading.place as ExhaustPlace));
  const top = (believed.length > 0 ? believed : all).reduce((a, b) => (b.reading.peak > a.reading.peak ? b : a));
  const base = {
    measures: {
      peak: { value: top.reading.peak, unit: 'degC' },
      events: { value: events.length },
      dwell: { value: Math.max(0, ...believed.map(({ reading }) => reading.dwell.watch ?? 0)), unit: 's' },
    },
    limits: [...places].flatMap((place) => Object.values(context.limits({ place }))),
    events: events.map(({ input, event: { from, to, severity, peak }, reading }) => ({
      input,
      from,
      to,
      severity,
      peak: { value: peak, unit: 'degC' },
      channel: reading.channel.id,
    })),
    notes: [
      ...new Set([
        ...all.flatMap(({ reading }) =>
          reading.disbelief === undefined ? [] : [`${name(reading)} ${reading.disbelief}: not believed.`],
        ),
        ...(believed.some(({ reading }) => reading.assumed)
          ? ['Probes of single cylinders taken as standing before the turbine.']
          : []),
        ...(all.length > placed.length ? ['Probes whose place is not known were not judged.'] : []),
      ]),
    ],
  };
  const worst = events.reduce<(typeof events)[number] | undefined>((a, b) => {
    const rank = a === undefined ? 1 : rankOf(b.event.severity) - rankOf(a.event.severity);
    return rank > 0 || (rank === 0 && b.event.peak > a!.event.peak) ? b : a;
  }, undefined);
  if (worst !== undefined) {
    const { event, reading, input } = worst;
    const limit = context.limits({ place: reading.place as ExhaustPlace })[event.severity]!;
    const { evidence } = observed.find((each) => each.input === input)!.observation;
    return {
      ...base,
      outcome: 'finding',
      severity: event.severity,
      confidence: confidenceOf({
        margin: event.peak - limit.value,
        uncertainty: reading.uncertainty,
        samples: event.samples,
        channels: [reading.channel],
        doubts: [event.leapt ? 0.6 : 1, reading.assumed ? 0.9 : 1, reading.modelled ? 0.8 : 1],
      }),
      summary: `${name(reading)} reached ${figure(event.peak, 0)} °C at ${clockTime(event.peakAt)}, ${figure(event.beyond)} s beyond the limit of ${figure(limit.value, 0)} °C${events.length > 1 ? ` (${counted(events.length, 'event')})` : ''}.`,
      causes: causesBy(evidence),
      advice: [
        ...(event.severity === 'stop' ? ['No more full load until the cause is found.'] : []),
        'Compare mixture with its target and ignition with its base map at the same moment of the recording.',
        'Fuel pressure and injector duty at full load; back pressure before the catalyst.',
        'Look at turbine wheel, manifold and catalyst for cracks and melting; have the calibration checked on a dynamometer.',
      ],
    };
  }
  return calm(observed, all, believed, top.reading, context, base);
}

type Placed = readonly { readonly input: number; readonly reading: ExhaustReading }[];

function calm(
  observed: readonly Observed<ExhaustObservation>[],
  all: Placed,
  believed: Placed,
  top: ExhaustReading,
  context: Context,
  base: Pick<Judgement, 'measures'> & object,
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  if (believed.length === 0) {
    const [{ reading }] = all as [Placed[number]];
    return isRefusal(reading.place)
      ? open(
          `${name(reading)} peaked at ${figure(reading.peak, 0)} °C, but it is not known where that is measured.`,
          [],
          reading.place.missing.conditions,
        )
      : open(`${name(reading)} ${reading.disbelief}: the probe is not believed.`, ['exhaustGasTemperature'], []);
  }
  if (believed.some(({ reading }) => reading.undecided))
    return open(
      'The exhaust was seen beyond the limit, but with too few samples to tell heat from a disturbed reading.',
      [],
      [`exhaustGasTemperature at >= ${QUICK} Hz`],
    );
  const pulled = observed.reduce((total, { observation }) => total + observation.pulled, 0);
  if (pulled < LOADED && top.peak < LOAD_HEAT)
    return open(
      `Peak ${figure(top.peak, 0)} °C, but only ${figure(pulled, 0)} s of full load were driven.`,
      [],
      [PULL],
    );
  const limit = context.limits({ place: top.place as ExhaustPlace }).watch!;
  const brief = Math.max(...believed.map(({ reading }) => reading.brief));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(...believed.map(({ reading }) => reading.room)),
      uncertainty: top.uncertainty,
      samples: Math.max(1, Math.round(Math.max(pulled, LOADED) * top.hz)),
      channels: believed.map(({ reading }) => reading.channel),
      doubts: believed.every(({ reading }) => reading.modelled) ? [0.8] : [],
    }),
    summary: `${name(top)} peaked at ${figure(top.peak, 0)} °C at ${clockTime(top.peakAt)} (limit ${figure(limit.value, 0)} °C for ${HOLDS.watch} s)${brief > 0 ? `; beyond that limit for ${figure(brief)} s at most: near the limit` : ''}.`,
  };
}
