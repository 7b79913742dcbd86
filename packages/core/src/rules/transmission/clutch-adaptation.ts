import { refuse } from '../../derived/recipe.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { median } from '../../math/quantile.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Limit, type LimitDefinition, type Observed } from '../rule.js';
import { figure, listed } from '../wording.js';

const RANGE = 'derived: range of the value; the band of the car belongs in the profile';
const ends = (what: string, unit: string, low: number, high: number, about: string): LimitDefinition[] => [
  { name: `${what}-low`, value: low, unit, comparison: '<', source: RANGE, about: `${about}, lower end of its band` },
  { name: `${what}-high`, value: high, unit, comparison: '>', source: RANGE, about: `${about}, upper end of its band` },
];

const KINDS = [
  { base: 'clutchTouchPoint', what: 'touch-point', words: 'touch point', unit: 'bar' },
  { base: 'clutchTouchPointTravel', what: 'travel', words: 'touch point travel', unit: 'mm' },
  { base: 'clutchAdaptation', what: 'adaptation', words: 'correction', unit: '%' },
] as const;
type Kind = (typeof KINDS)[number];

/** Values are compared over at least this distance, km. */
const APART = 500;

interface Value {
  readonly kind: Kind;
  readonly id: string;
  readonly value: number;
  readonly quantum: number;
  readonly certainty: Certainty;
}
interface Observation {
  readonly values: readonly Value[];
  /** km, NaN when not recorded. */
  readonly odometer: number;
}

export const clutchAdaptation = defineRule({
  id: 'transmission.clutch-adaptation',
  system: 'transmission',
  question: 'How far have the touch points of the clutches moved?',
  why: 'The control unit follows the wear of each clutch; where it has run out of room, or moves fast, the clutch is near its end.',
  weight: 2,
  readOuts: true,
  needs: {
    channels: [],
    optional: ['clutchTouchPoint', 'clutchTouchPointTravel', 'clutchAdaptation', 'odometer'],
    derived: [],
    conditions: ['adaptation values of the clutches, read or recorded, and their bands in the vehicle profile'],
  },
  limits: [
    ...ends('touch-point', 'bar', -5, 60, 'touch point as pressure'),
    ...ends('travel', 'mm', -5, 60, 'touch point as travel'),
    ...ends('adaptation', '%', -200, 200, 'learned correction'),
    {
      name: 'drift-watch',
      value: 20,
      unit: '%',
      comparison: '>',
      source: 'common practice, no source',
      about: 'drift, share of the band per 5000 km',
    },
  ],
  method:
    'Each touch point and correction is held against the band that the profile names for this car: outside is a repair. Over several recordings with their odometer readings the drift is taken per 5000 km. Both clutches are set side by side. Values that all stand at their default have just been relearned and prove nothing.',
  decoys: [
    'right after a relearn: both clutches at the same value, or all corrections exactly zero; left open, with a question to the seller',
    'a band of another car: only a band of the profile is judged against',
    'steps of the value: part of the uncertainty',
  ],
  cautions: ['Read only: no adaptation run on the move, and none before the old values are written down.'],
  proves:
    'The stored touch points and corrections of both clutches with the odometer, and their bands from the service documents in the vehicle profile.',
  notApplicable: ({ transmission: { kind } }) =>
    kind === 'manual' ? 'The driver works the clutch himself: nothing is adapted.' : undefined,
  observe(view) {
    const values = KINDS.flatMap((kind) =>
      view.family(kind.base).flatMap((channel): Value[] => {
        const value = median(channel.values);
        return Number.isNaN(value)
          ? []
          : [{ kind, id: channel.id, value, quantum: channel.quality.quantum, certainty: channel.certainty }];
      }),
    );
    if (values.length === 0)
      return refuse('no adaptation value of a clutch is recorded', {
        channels: ['clutchTouchPoint', 'clutchAdaptation'],
      });
    const odometer = view.optional('odometer');
    return { values, odometer: odometer === undefined ? Number.NaN : median(odometer.values) };
  },
  judge,
});

/** Two clutches at one value, or corrections of zero throughout: nothing has been learned yet. */
function relearned(values: readonly Value[]): boolean {
  const corrections = values.filter(({ kind }) => kind.base === 'clutchAdaptation');
  if (corrections.length > 0 && corrections.every(({ value }) => value === 0)) return true;
  const points = values.filter(({ kind }) => kind.base !== 'clutchAdaptation');
  return points.length > 1 && points.every(({ value }) => value === points[0]!.value);
}

interface Band {
  readonly low: Limit;
  readonly high: Limit;
}

interface Outside {
  readonly value: Value;
  readonly band: Band;
}

function bandOf(kind: Kind, limits: Readonly<Record<string, Limit>>): Band | undefined {
  const low = limits[`${kind.what}-low`]!;
  const high = limits[`${kind.what}-high`]!;
  return low.source === 'profile' && high.source === 'profile' && high.value > low.value ? { low, high } : undefined;
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  // By distance, the newest last; without an odometer in the order of the inputs.
  const drives = observed.map(({ observation }) => observation).sort((a, b) => a.odometer - b.odometer || 0);
  const last = drives[drives.length - 1]!;
  const measures = Object.fromEntries(last.values.map(({ id, value, kind }) => [id, { value, unit: kind.unit }]));
  const bands = KINDS.map((kind) => ({ kind, band: bandOf(kind, limits) })).filter(({ band }) => band !== undefined);
  const base = { measures, limits: [...bands.flatMap(({ band }) => [band!.low, band!.high]), limits['drift-watch']!] };
  const told = listed(
    last.values.map(({ id, kind, value }) => `${nameOf(id)} ${kind.words} ${figure(value, 2)} ${kind.unit}`),
  );
  const judged = last.values.flatMap((value) => {
    const band = bands.find(({ kind }) => kind === value.kind)?.band;
    if (band === undefined) return [];
    const u = Math.max(value.quantum / Math.sqrt(12), 0.01 * (band.high.value - band.low.value));
    const beyond = Math.max(band.low.value - value.value, value.value - band.high.value);
    return [{ value, band, u, beyond, drift: driftOf(value, band, drives) }];
  });
  const outside = judged.filter(({ beyond, u }) => beyond - ONE_SIDED_95 * u > 0);
  const channels = last.values;
  if (outside.length > 0) {
    const worst = outside.reduce((a, b) => (b.beyond / b.u > a.beyond / a.u ? b : a));
    return {
      ...base,
      outcome: 'finding',
      severity: 'repair',
      confidence: confidenceOf({ margin: worst.beyond, uncertainty: worst.u, samples: 9, channels }),
      summary: `${[worst, ...outside.filter((each) => each !== worst)].map(outsideText).join('; ')}.`,
      causes: [
        'clutch facings worn',
        'adaptation run never done after work on the gearbox',
        'pressure sensor or valve off',
      ],
      advice: [
        'Have an adaptation run done with warm fluid and read the values again.',
        'If it runs out of its band again, the clutch is due.',
      ],
    };
  }
  const relearnt = relearned(last.values);
  const drifting = judged.filter(({ drift }) => Math.abs(drift) > limits['drift-watch']!.value);
  if (drifting.length > 0 && !relearnt) {
    const worst = drifting.reduce((a, b) => (Math.abs(b.drift) > Math.abs(a.drift) ? b : a));
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: Math.abs(worst.drift) - limits['drift-watch']!.value,
        uncertainty: 5,
        samples: drives.length,
        channels,
      }),
      summary: `The ${worst.value.kind.words} of ${nameOf(worst.value.id)} moves by ${figure(Math.abs(worst.drift), 0)} % of its band per 5000 km (limit ${figure(limits['drift-watch']!.value)} %).`,
      causes: ['hard use, launches, towing', 'fluid spent', 'clutch facings wearing fast'],
      advice: ['Change the fluid when due, and read the values again after 1000 km.'],
    };
  }
  if (relearnt) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The adaptation values stand at their default (${told}): relearned not long ago, so they say nothing about wear.`,
      missing: {
        channels: [],
        conditions: ['ask the seller when and why the clutches were adapted, and read the values again after 500 km'],
      },
    };
  }
  if (judged.length === 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Read: ${told}. What is normal for this car is not known: its band is not in the profile.`,
      missing: { channels: [], conditions: ['bands of the adaptation values in the vehicle profile'] },
    };
  }
  const nearest = judged.reduce((a, b) => (b.beyond / b.u > a.beyond / a.u ? b : a));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ margin: -nearest.beyond, uncertainty: nearest.u, samples: 9, channels }),
    summary:
      nearest.beyond > 0
        ? `At the edge of the bands, near the limit but not surely beyond: ${told}.`
        : `Inside the bands: ${told}.`,
  };
}

function outsideText({ value: { id, kind, value }, band: { low, high } }: Outside, at: number): string {
  return `${at === 0 ? 'The' : 'the'} ${kind.words} of ${nameOf(id)} stands at ${figure(value, 2)} ${kind.unit}, outside its band of ${figure(low.value, 2)} to ${figure(high.value, 2)} ${kind.unit}`;
}

/** % of the band per 5000 km from the earliest to the latest reading; NaN when they are not far enough apart. */
function driftOf(value: Value, band: Band, drives: readonly Observation[]): number {
  const known = drives.flatMap(({ values, odometer }) => {
    const same = values.find(({ id }) => id === value.id);
    return same === undefined || Number.isNaN(odometer) ? [] : [{ odometer, value: same.value }];
  });
  const first = known[0];
  const last = known[known.length - 1];
  if (first === undefined || last === undefined || last.odometer - first.odometer < APART) return Number.NaN;
  const share = (100 * (last.value - first.value)) / (band.high.value - band.low.value);
  return (share * 5000) / (last.odometer - first.odometer);
}

function nameOf(id: string): string {
  const number = /\d+$/.exec(id)?.[0];
  return number === undefined ? 'the clutch' : `clutch ${number}`;
}
