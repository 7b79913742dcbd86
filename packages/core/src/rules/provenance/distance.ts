import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { TRIP } from '../../derived/trip.js';
import type { Odometer } from '../../recording/read-out.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Observed } from '../rule.js';
import { counted, figure } from '../wording.js';
import { compare, newest, REASONS, spreadOf } from './distance-comparison.js';

const CP = 'common practice, no source';
const READ = 'distance kept by several control units (instrument cluster, engine, transmission, brakes, restraint)';

/** A recording shorter than this (km) says nothing about its odometer: it counts in whole kilometres. */
const LEAST_TRIP = 10;
interface DistanceObservation {
  readonly odometers: readonly Odometer[];
  /** km that the odometer channel grew, and km by the integral of speed; NaN when one is absent. */
  readonly grown: number;
  readonly driven: number;
  /** km since codes were cleared. */
  readonly sinceClear: number;
}

export const distance = defineRule({
  id: 'provenance.distance',
  system: 'provenance',
  question: 'Do the odometers of the control units agree with each other and with what was driven?',
  why: 'The number on the instrument sets the price, and it is one of several that the car keeps.',
  weight: 1,
  needs: {
    channels: [],
    optional: ['odometer', 'distanceSinceClear', 'vehicleSpeed', 'wheelSpeed'],
    derived: [READ_OUT, TRIP],
    conditions: [READ],
  },
  readOuts: true,
  limits: [
    {
      name: 'watch',
      value: 0.3,
      unit: '%',
      comparison: '>',
      source: CP,
      about: 'difference between control units, share of the largest, and more than 100 km',
    },
    {
      name: 'watchDistance',
      value: 100,
      unit: 'km',
      comparison: '>',
      source: CP,
      about: 'the same difference as distance',
    },
    {
      name: 'repair',
      value: 2,
      unit: '%',
      comparison: '>',
      source: CP,
      about: 'instrument below another control unit, share of the largest, and more than 500 km',
    },
    {
      name: 'repairDistance',
      value: 500,
      unit: 'km',
      comparison: '>',
      source: CP,
      about: 'the same difference as distance',
    },
    {
      name: 'driven',
      value: 10,
      unit: '%',
      comparison: '>',
      source: CP,
      about: 'odometer against integrated speed over one recording',
    },
  ],
  method:
    'All distances that control units keep are set side by side; distances kept with an event of the past (a service, a launch, a code) may not lie beyond the present ones. The instrument showing less than another unit is the sign of a changed instrument; another unit showing less than all the rest that of an exchanged unit. Over a recording of some length the odometer is set against the integral of the road speed.',
  decoys: [
    'units round, and some count only with the ignition on: the limit leaves room',
    'an exchanged control unit starts from zero or from another car: told apart from a changed instrument',
    'one unit in miles: told, and not called fraud',
    'a short recording: the odometer counts in whole kilometres',
  ],
  cautions: [
    'Changing an odometer is an offence in most places; an exchanged unit with papers is not. Ask before accusing.',
  ],
  proves: `Read out the ${READ}, and the distances stored with codes, services and launches.`,
  observe(view) {
    const readOut = view.derive(READ_OUT);
    const trip = view.derive(TRIP);
    const odometer = view.optional('odometer');
    const ends = odometer === undefined ? undefined : endsOf(odometer);
    const own = isRefusal(readOut) ? [] : readOut.odometers;
    const odometers: readonly Odometer[] =
      own.length > 0 || ends === undefined ? own : [{ where: 'odometer', value: ends.last, past: false, line: 0 }];
    const observation: DistanceObservation = {
      odometers,
      grown: isRefusal(readOut) && ends !== undefined ? ends.last - ends.first : Number.NaN,
      driven: isRefusal(trip) ? Number.NaN : trip.distance,
      sinceClear: endsOf(view.optional('distanceSinceClear'))?.last ?? Number.NaN,
    };
    return odometers.length > 0
      ? observation
      : refuse('no odometer was read out', { channels: ['odometer'], conditions: [READ] });
  },
  judge,
});

function judge(observed: readonly Observed<DistanceObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const readings = all.flatMap(({ odometers }) => odometers);
  // Only what was read together is compared: a drive of next month rightly shows more than the read-out of today.
  const sets = all.map(({ odometers, sinceClear }) => ({
    present: newest(odometers.filter(({ past }) => !past)),
    bound: [
      ...odometers.filter(({ past }) => past),
      ...(Number.isNaN(sinceClear)
        ? []
        : [{ where: 'distance since codes were cleared', value: sinceClear, past: true, line: 0 }]),
    ],
  }));
  const { present, bound } = sets.reduce((a, b) =>
    b.present.length + b.bound.length > a.present.length + a.bound.length ? b : a,
  );
  const past = bound.filter(({ line }) => line > 0);
  const trips = all.filter(({ grown, driven }) => driven >= LEAST_TRIP && !Number.isNaN(grown));
  const base = {
    measures: {
      units: { value: present.length },
      ...(present.length > 0 ? { largest: { value: Math.max(...present.map(({ value }) => value)), unit: 'km' } } : {}),
      ...(present.length > 1 ? { spread: { value: spreadOf(present), unit: 'km' } } : {}),
    },
    limits: Object.values(named),
    details: {
      odometers: readings.slice(0, 40).map(({ where, value, past: then }) => ({
        where: where.slice(0, 60),
        value: { value, unit: 'km' },
        past: then,
      })),
    },
  };
  const found = sets
    .flatMap((set) => compare(set.present, set.bound, named.watch!.value, named.watchDistance!.value) ?? [])
    .sort((x, y) => y.difference - x.difference)[0];
  const off = trips
    .map(({ grown, driven }) => ({ grown, driven, share: 100 * Math.abs(grown / driven - 1), u: (100 * 1) / driven }))
    .filter(({ share, u }) => share - u > named.driven!.value)
    .sort((a, b) => b.share - a.share)[0];
  if (found !== undefined) {
    const { low, high, kind, difference } = found;
    const share = (100 * difference) / high.value;
    const severity =
      kind === 'instrument' && share > named.repair!.value && difference > named.repairDistance!.value
        ? ('repair' as const)
        : ('watch' as const);
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 19,
        channels: [],
        doubts: [kind === 'instrument' ? 1 : 0.8],
      }),
      summary: `${capital(low.where)} shows ${figure(low.value, 0)} km, ${high.where} ${figure(high.value, 0)} km: ${figure(difference, 0)} km apart (${figure(share)} %; watch beyond ${figure(named.watch!.value)} % and ${figure(named.watchDistance!.value)} km).${kind === 'miles' ? ' The ratio is that of miles to kilometres.' : ''}`,
      ...REASONS[kind],
    };
  }
  if (off !== undefined) {
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: off.share - named.driven!.value,
        uncertainty: off.u,
        samples: 9,
        channels: [],
      }),
      summary: `The odometer grew by ${figure(off.grown)} km while the speed adds up to ${figure(off.driven)} km: ${figure(off.share, 0)} % apart (limit ${figure(named.driven!.value)} %).`,
      causes: [
        'tyres or final drive of another size than the instrument is set for',
        'a device that slows the odometer down',
        'speed channel of another unit',
      ],
      advice: [
        'Compare speed and distance with a satellite receiver over some kilometres.',
        'Look for a device between the instrument and its plug.',
      ],
    };
  }
  if (present.length + bound.length < 2) {
    if (trips.length > 0)
      return clear(
        base,
        `The odometer grew as the speed says over ${figure(trips[0]!.driven)} km; only one distance was read, so whether it was changed before is not shown.`,
        0.5,
      );
    return {
      ...base,
      outcome: 'unproven',
      summary: `One distance was read (${figure(present[0]?.value ?? Number.NaN, 0)} km), and nothing to compare it with.`,
      missing: { channels: [], conditions: [READ] },
    };
  }
  return clear(
    base,
    `${counted(present.length, 'control unit')} agree${present.length === 1 ? 's' : ''} on ${figure(Math.max(...present.map(({ value }) => value)), 0)} km${present.length > 1 ? ` within ${figure(spreadOf(present), 0)} km` : ''}${past.length > 0 ? `, and ${counted(past.length, 'earlier distance')} lie${past.length === 1 ? 's' : ''} below` : ''}.`,
    1,
  );
}

function clear(base: Pick<Judgement, 'measures'>, summary: string, doubt: number): Judgement {
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: 9, channels: [], doubts: [doubt] }),
    summary,
  };
}

function endsOf(channel: Channel | undefined): { readonly first: number; readonly last: number } | undefined {
  const values = channel?.values.filter((x) => !Number.isNaN(x));
  if (values === undefined || values.length === 0) return undefined;
  return { first: values[0]!, last: values[values.length - 1]! };
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
