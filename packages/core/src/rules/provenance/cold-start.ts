import { spoken } from '../../channels/spoken.js';
import { exceeds } from '../../derived/exceeds.js';
import { SAMPLES } from '../../derived/samples.js';
import { ENGINE_STARTS } from '../../derived/starts.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Limit, type LimitDefinition, type Observed } from '../rule.js';
import { figure, listed } from '../wording.js';
import { type Beginning, FLUIDS, readBeginning } from './cold-start-reading.js';

const CP = 'common practice, no source';
const CONDITION =
  'the recording begun with the ignition on before the first start of the day, engine off for eight hours';

const limits: readonly LimitDefinition[] = [
  {
    name: 'apart',
    value: 6,
    unit: 'K',
    comparison: '>',
    source: CP,
    about: 'fluids apart from each other, and over the air outside',
  },
  { name: 'runTime', value: 10, unit: 's', comparison: '>', source: CP, about: 'engine running before the recording' },
];

/** K, standard uncertainty of a difference of two sensors: tolerance of 2 K each (rectangular), and steps of 1 K. */
const U = Math.hypot(Math.SQRT2 * (2 / Math.sqrt(3)), Math.SQRT2 / Math.sqrt(12));
/** degC: from here nobody takes it for cold; a recording that begins so is an ordinary one. */
const OPENLY_WARM = 60;
/** K over the air outside up to which sun or a warm garage explains fluids that agree. */
const SUN = 15;
/** K by which a block heater warms the coolant at most, and degC outside up to which one is used. */
const HEATER = 45;
const HEATER_BELOW = 10;

type Verdict = 'cold' | 'started-before' | 'sun' | 'heater' | 'half-warm' | 'warm' | 'open';

interface Weighed extends Beginning {
  readonly verdict: Verdict;
  /** K between fluids, and of the warmest over the air outside; NaN when not told. */
  readonly spread: number;
  readonly over: number;
  readonly near: boolean;
  /** The one fluid that reads colder than the air while the others stand at it: left out. */
  readonly doubted?: Beginning['fluids'][number];
}

export const coldStart = defineRule({
  id: 'provenance.cold-start',
  system: 'provenance',
  question: 'Was it really started cold?',
  why: 'Worn tensioners, valve seals, injectors and clutches show in the first minute after a night. Who warms the car up before hides it.',
  weight: 1,
  needs: {
    channels: [],
    optional: [...FLUIDS, 'ambientTemperature', 'intakeAirTemperature', 'engineRunTime', 'engineSpeed'],
    derived: [SAMPLES, ENGINE_STARTS],
    conditions: [CONDITION, 'temperatures of coolant, oil, transmission fluid and air outside; run time of the engine'],
  },
  limits,
  method:
    'After a night coolant, engine oil and transmission fluid stand at one temperature, that of the air outside. The first samples of the recording are compared, each difference at its 95 % bound. A recording that begins with a start while the coolant is neither cold nor openly warm was prepared; one that begins warm is an ordinary drive, unless the profile says that a cold start was agreed (claims.coldStart). One cold start among the recordings of a car is enough.',
  decoys: [
    'block heater in the cold: coolant warm, oil less, transmission fluid as cold as the air; told, not proven either way',
    'sun or a warm garage: all fluids agree and stand some kelvin over the air',
    'an intake air sensor over a warm engine: it stands in for the air outside only where nothing else tells, and only as an upper bound',
    'an outside sensor warmed by the sun: fluids below it are no sign of anything',
    'one fluid colder than the air while the others stand at it: a sensor in doubt, and nothing that was warmed up',
    'a recording of an ordinary warm drive',
  ],
  cautions: ['Feel the engine before you start it: a warm block needs no instrument. Hot parts burn.'],
  proves:
    'Begin the recording with the ignition on before the first start of the day, with temperatures of coolant, oil, transmission fluid and outside air, and the run time of the engine.',
  observe: (view) => readBeginning(view),
  judge,
});

function judge(observed: readonly Observed<Beginning>[], context: Context): Judgement {
  const named = context.limits();
  const agreed = context.vehicle.claims.coldStart === true;
  const all = observed.map(({ observation }) => weigh(observation, named));
  const order: readonly Verdict[] = ['cold', 'half-warm', 'heater', 'sun', 'started-before', 'open', 'warm'];
  const leading = [...all].sort((a, b) => order.indexOf(a.verdict) - order.indexOf(b.verdict))[0]!;
  const { fluids, outside, spread, over, runTime, verdict, byIntake, doubted } = leading;
  const numbers = numbersOf(leading);
  const base = {
    measures: {
      ...Object.fromEntries(
        [...fluids, ...(doubted === undefined ? [] : [doubted])].map(({ channel, value }) => [
          channel,
          { value, unit: 'degC' },
        ]),
      ),
      ...(Number.isNaN(outside) ? {} : { outside: { value: outside, unit: 'degC' } }),
      ...(Number.isNaN(spread) ? {} : { spread: { value: spread, unit: 'K' } }),
      ...(Number.isNaN(over) ? {} : { over: { value: over, unit: 'K' } }),
      ...(Number.isNaN(runTime) ? {} : { runTime: { value: runTime, unit: 's' } }),
    },
    limits: Object.values(named),
    notes: [
      ...(byIntake && !Number.isNaN(outside)
        ? ['Outside temperature not recorded: that of the intake air stands in.']
        : []),
      ...(doubted === undefined
        ? []
        : [
            `Left out: ${spoken(doubted.channel)} reads ${figure(doubted.value, 0)} °C, ${figure(outside - doubted.value, 0)} K under the air outside. No fluid is colder than the air after a night: its sensor, plug or scaling is in doubt.`,
          ]),
    ],
  };
  const limit = figure(named.apart!.value);
  const channels = leading.channels;
  if (verdict === 'cold') {
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: named.apart!.value - Math.max(spread, Math.abs(Math.min(over, spread))),
        uncertainty: U,
        samples: 3 * fluids.length,
        channels,
        doubts: [
          byIntake ? 0.8 : 1,
          Number.isNaN(runTime) && !leading.started ? 0.8 : 1,
          leading.near ? 0.8 : 1,
          doubted === undefined ? 1 : 0.8,
        ],
      }),
      summary: `Started cold: ${numbers} (within ${limit} K${leading.near ? ', near the limit' : ''}).`,
    };
  }
  if (verdict === 'half-warm' || (agreed && verdict === 'warm')) {
    const says =
      verdict === 'half-warm'
        ? 'It was warmed up before the recording'
        : 'A cold start was agreed, and the recording begins with a warm engine';
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: Math.max(...[over, spread].filter((x) => !Number.isNaN(x))) - named.apart!.value,
        uncertainty: U,
        samples: 3 * fluids.length,
        channels,
        doubts: [byIntake ? 0.8 : 1, agreed ? 1 : 0.85],
      }),
      summary: `${says}: ${numbers}; cold would be all of them within ${limit} K.`,
      causes: [
        'engine run before the visit, so that the first start is not seen',
        'driven some hours before',
        'engine heater',
      ],
      advice: [
        'Come back for a start after a night; say so beforehand, and feel the engine before it is started.',
        'Listen in the first ten seconds for rattle, and look for smoke, then read the cold-start counters if there are any.',
      ],
    };
  }
  const reasons: Readonly<Record<Exclude<Verdict, 'cold' | 'half-warm'>, string>> = {
    heater: `Coolant warm and transmission fluid cold, as with an engine heater in the cold, or after a minute of running: ${numbers}.`,
    sun: `All fluids agree, but stand over the air outside, as in the sun or out of a warm garage: ${numbers}.`,
    'started-before': `The engine had run for ${figure(runTime, 0)} s before the recording (limit ${figure(named.runTime!.value)} s): the first seconds are not shown.`,
    warm: `The recording begins with a warm engine: ${numbers}. A cold start is not shown.`,
    open: `Too little tells whether it was cold: ${numbers}.`,
  };
  return {
    ...base,
    outcome: 'unproven',
    summary: reasons[verdict],
    missing: {
      channels:
        verdict === 'open'
          ? [...FLUIDS, 'ambientTemperature'].filter(
              (id) => !fluids.some(({ channel }) => channel === id) && (id !== 'ambientTemperature' || byIntake),
            )
          : [],
      conditions: [CONDITION],
    },
  };
}

function weigh(beginning: Beginning, named: Readonly<Record<string, Limit>>): Weighed {
  const doubted = tooCold(beginning, named.apart!);
  if (doubted === undefined) return weighAll(beginning, named);
  const rest = { ...beginning, fluids: beginning.fluids.filter((fluid) => fluid !== doubted) };
  return { ...weighAll(rest, named), doubted };
}

/** The only fluid surely colder than the air outside, where all others stand at it; the intake is warmer than the air by itself. */
function tooCold({ fluids, outside, byIntake }: Beginning, limit: Limit): Beginning['fluids'][number] | undefined {
  if (byIntake || Number.isNaN(outside)) return undefined;
  const apart = (x: number): boolean => exceeds(x, U, limit.value, limit.comparison) === 'beyond';
  const cold = fluids.filter(({ value }) => apart(outside - value));
  const warm = fluids.filter(({ value }) => apart(value - outside));
  return cold.length === 1 && fluids.length > 1 && warm.length === 0 ? cold[0] : undefined;
}

function weighAll(beginning: Beginning, named: Readonly<Record<string, Limit>>): Weighed {
  const { fluids, outside, byIntake, runTime, started } = beginning;
  const values = fluids.map(({ value }) => value);
  const spread = values.length > 1 ? Math.max(...values) - Math.min(...values) : Number.NaN;
  const over = Math.max(...values) - outside;
  const limit = named.apart!;
  const beyond = (x: number): boolean => !Number.isNaN(x) && exceeds(x, U, limit.value, limit.comparison) === 'beyond';
  const result = (verdict: Verdict): Weighed => ({
    ...beginning,
    verdict,
    spread,
    over,
    near: spread > limit.value || over > limit.value,
  });
  const of = (id: string): number => fluids.find(({ channel }) => channel === id)?.value ?? Number.NaN;
  const warmest = Math.max(...values);
  if (!beyond(spread) && !beyond(over)) {
    // Fluids that agree with a soaked intake sensor may all be warm.
    if (Number.isNaN(spread) || Number.isNaN(outside) || (byIntake && warmest > 40))
      return result(warmest >= OPENLY_WARM ? 'warm' : 'open');
    return result(runTime > named.runTime!.value && !started ? 'started-before' : 'cold');
  }
  if (warmest >= OPENLY_WARM) return result('warm');
  // One fluid alone is one sensor alone.
  if (values.length < 2) return result('open');
  if (Number.isNaN(outside)) return result(beyond(spread) && started ? 'half-warm' : 'open');
  if (!beyond(spread) && over < SUN && values.length > 1) return result('sun');
  const [coolant, oil, fluid] = [
    of('coolantTemperature'),
    of('engineOilTemperature'),
    of('transmissionOilTemperature'),
  ];
  const heated =
    outside < HEATER_BELOW &&
    coolant - outside < HEATER &&
    !(oil - outside > 0.6 * (coolant - outside)) &&
    !(Math.abs(fluid - outside) > limit.value);
  if (heated) return result('heater');
  // Running already, and nobody says for how long: it may have been started for the recording.
  if (!started && !(runTime <= named.runTime!.value)) return result('warm');
  return result('half-warm');
}

function numbersOf({ fluids, outside, byIntake, runTime }: Beginning): string {
  return `${listed(fluids.map(({ channel, value }) => `${spoken(channel)} ${figure(value, 0)} °C`))}${
    Number.isNaN(outside) ? '' : ` against ${figure(outside, 0)} °C ${byIntake ? 'in the intake' : 'outside'}`
  }${Number.isNaN(runTime) ? '' : `, engine running for ${figure(runTime, 0)} s`}`;
}
