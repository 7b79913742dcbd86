import { spoken } from '../../channels/spoken.js';
import { ENGINE_TORQUE } from '../../derived/engine-torque.js';
import { exceeds } from '../../derived/exceeds.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  type Contradicted,
  defineRule,
  type Judgement,
  type Limit,
  type LimitDefinition,
  type Observed,
} from '../rule.js';
import { clockTime, counted, figure, listed, signed } from '../wording.js';
import {
  type AgreementReading,
  COMPARED,
  type Comparison,
  type Pair,
  readAgreement,
} from './sensor-agreement-reading.js';

const CP = 'common practice, no source';
/** What is left of the confidence of a result that rests on a contradicted sensor: our own scale. */
const LEFT = 0.8;
const KEY_ON = 'ignition on for 3 s before the engine is started';
const LOADED = 'steady driving near full throttle, and a pull of >= 2 s';

const limits: readonly LimitDefinition[] = [
  {
    name: 'keyOn',
    value: 3,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: 'manifold or charge pressure apart from the barometric pressure, engine at rest',
  },
  {
    name: 'air',
    value: 10,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'air meter apart from the air by manifold pressure and filling, at the bound that an unknown filling leaves',
  },
  {
    name: 'torque',
    value: 10,
    unit: '%',
    comparison: '>',
    source: 'derived: sound estimates stand within 10 %, and a source that is 15 % off has to show',
    about: 'torque of the control unit apart from torque by air mass and mixture, under load',
  },
];
const NAMES: Readonly<Record<Pair, string>> = { 'key-on': 'keyOn', air: 'air', torque: 'torque' };
const MEASURES: Readonly<Record<Pair, string>> = { 'key-on': 'keyOn', air: 'air', torque: 'torque' };

export const sensorAgreement = defineRule({
  id: 'provenance.sensor-agreement',
  system: 'provenance',
  question: 'Do the sensors agree with each other?',
  why: 'Everything else rests on them. Two sensors that contradict each other say that one lies, not that the engine is ill.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: [...COMPARED],
    derived: [SAMPLES, ENGINE_TORQUE],
    conditions: [KEY_ON, LOADED],
  },
  limits,
  method:
    'Three pairs that physics ties together: pressures of the air path against the barometer while the engine stands; air meter against the air that the cylinders hold near full throttle without boost; torque of the control unit against torque from air and mixture under load. What lies beyond its limit, but not surely, stays open. A contradiction is never a fault of the car: it is told, the question stays unproven, and each result that reads one of the two sensors loses a fifth of its confidence. Where road load takes a side, only the sensor that stands alone loses it.',
  decoys: [
    'a manifold that is still filling after the engine has stopped: two seconds are left out',
    'a climb between two readings of the barometer: values of the same moment are compared',
    'an unknown filling: its uncertainty of 9 % widens the bound; valves that close early read as too little air',
    'torque that lags air, and shifts: steady stretches only',
    'ignition taken back by knock for a part of the pulls: the median counts',
    'a cold engine, whose friction takes more of its torque: only the warm one is compared',
  ],
  cautions: [],
  proves:
    'Ignition on for some seconds before the start, then steady driving and two pulls, with manifold, charge and barometric pressure, air mass, torque, engine speed and intake air temperature; displacement in the vehicle profile.',
  observe(view) {
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const reading = readAgreement(view, samples);
    if (reading.comparisons.length === 0)
      return refuse(`no two sensors could be compared: ${reading.open.join('; ')}`, {
        channels: ['manifoldPressure', 'barometricPressure'].filter(
          (id) => view.optional(id as 'manifoldPressure') === undefined,
        ),
        conditions: [KEY_ON, LOADED],
      });
    return reading;
  },
  judge,
});

interface Held extends Comparison {
  readonly input: number;
  readonly limit: Limit;
  readonly apart: boolean;
  /** Standard uncertainties by which it stays within its limit; negative beyond. */
  readonly spare: number;
}

function judge(observed: readonly Observed<AgreementReading>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation }) =>
    observation.comparisons.map((each): Held => {
      const limit = named[NAMES[each.pair]]!;
      const size = Math.abs(each.difference);
      const apart = exceeds(size, each.u, limit.value, limit.comparison) === 'beyond';
      return { ...each, input, limit, apart, spare: (limit.value - size) / each.u };
    }),
  );
  const apart = all.filter((each) => each.apart);
  const worst = (pair: Pair): Held | undefined =>
    all
      .filter((each) => each.pair === pair)
      .reduce<Held | undefined>((a, b) => (a === undefined || b.spare < a.spare ? b : a), undefined);
  const leading = (['key-on', 'air', 'torque'] as const).flatMap((pair) => worst(pair) ?? []);
  const open = [...new Set(observed.flatMap(({ observation }) => observation.open))];
  const base = {
    measures: {
      contradictions: { value: new Set(apart.map(({ first, second }) => `${first}/${second}`)).size },
      ...Object.fromEntries(
        leading.flatMap(({ pair, difference, u, limit }) => [
          [MEASURES[pair], { value: difference, unit: limit.unit }],
          [`${MEASURES[pair]}.uncertainty`, { value: u, unit: limit.unit }],
        ]),
      ),
    },
    limits: Object.values(named).filter((limit) => all.some((each) => each.limit === limit)),
    notes: open.map((each) => `Not compared: ${each}.`),
  };
  if (apart.length > 0) {
    const told = leading.filter((each) => each.apart);
    return {
      ...base,
      outcome: 'unproven',
      summary: `Sensors contradict each other: ${told.map(sentenceOf).join('; ')}. No fault of the car is drawn from it; what rests on them is less sure.`,
      missing: { channels: [], conditions: told.map(settles) },
      events: apart.flatMap(({ input, at, difference, limit }) =>
        Number.isNaN(at) ? [] : [{ input, from: at, to: at, peak: { value: difference, unit: limit.unit } }],
      ),
      contradicted: apart.flatMap(doubtsOf),
    };
  }
  const near = leading.filter(({ spare }) => spare < 0);
  if (near.length > 0) {
    const agreeing = leading.filter((each) => !near.includes(each));
    const rest =
      agreeing.length === 0
        ? ''
        : ` ${counted(agreeing.length, 'pair')} agree${agreeing.length === 1 ? 's' : ''}: ${listed(agreeing.map(pairText))}.`;
    return {
      ...base,
      outcome: 'unproven',
      summary: `Further apart than the limit, but not surely: ${near.map(sentenceOf).join('; ')}.${rest}`,
      missing: { channels: [], conditions: near.map(settles) },
    };
  }
  const closest = all.reduce((a, b) => (b.spare < a.spare ? b : a));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: closest.spare,
      uncertainty: 1,
      samples: Math.min(...all.map(({ samples }) => samples)),
      channels: observed.flatMap(({ observation }) => observation.channels),
      doubts: [0.7 + 0.1 * leading.length],
    }),
    summary: `${counted(leading.length, 'pair')} of sensors compared, none contradicts the other: ${listed(leading.map(pairText))}.`,
  };
}

/** With the reach of its one-sided 95 % bound. */
function pairText({ first, second, difference, u, limit }: Held): string {
  return `${spoken(first)} ${signed(difference)} ${limit.unit} ± ${figure(ONE_SIDED_95 * u)} against ${spoken(second)} (limit ${figure(limit.value)} ${limit.unit})`;
}

function sentenceOf(each: Held): string {
  const when = Number.isNaN(each.at) ? 'under load' : `from ${clockTime(each.at)}`;
  const side = each.odd === undefined ? '' : `; road load sides against ${spoken(each.odd)}`;
  return `${pairText(each)} ${when}${side}`;
}

function settles({ pair, first, second }: Held): string {
  return pair === 'key-on'
    ? `${first} and ${second} read again with the ignition on and the engine at rest, beside a reference gauge or the weather report of that altitude`
    : `${first} and ${second} recorded again with their units and scaling checked, after the meter or map was looked at`;
}

function doubtsOf({ first, second, odd, pair, difference, limit }: Held): Contradicted[] {
  const note = `Less sure: ${spoken(first)} and ${spoken(second)} contradict each other by ${figure(Math.abs(difference))} ${limit.unit}${pair === 'key-on' ? ' with the engine at rest' : ''} (provenance.sensor-agreement).`;
  return [first, second]
    .filter((channel) => odd === undefined || odd === channel)
    .map((channel) => ({ channel, factor: LEFT, note }));
}
